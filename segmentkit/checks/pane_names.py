"""Names of pictures beside one another, as they were drawn."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import shots_of
from segmentkit.checks.say import quoted
from segmentkit.findings import Severity
from segmentkit.plan.short_names import shorter_names


@check("name-shortened", Severity.NOTE)
def name_shortened(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A person's name that a pane has no room for is shortened: given name and initials, given name, initials alone.

    Whoever is shown may mind, and two people may come out alike, so a producer should know. What is plainly no name
    ("Our demonstrator") is never shortened.
    """
    del limits
    said: set[tuple[str, str]] = set()
    for text in (one for one in context.texts if one.kind == "pane_label"):
        for number, shot in enumerate(shots_of(context, text.beat)):
            labels = {pane.label for pane in shot.panes if pane.label}
            whole = next((name for name in labels if text.text in tuple(shorter_names(name))), None)
            if whole is None or text.text in labels or (text.beat, whole) in said:
                continue
            said.add((text.beat, whole))
            yield Remark(
                where=f"beat {text.beat}, shot {number + 1}",
                what=f"the name {quoted(whole, 40)} was shortened to {quoted(text.text, 40)} — its pane has no room "
                f"for all of its {len(whole)} characters",
                remedy="write a label of your own for that side, or leave it so",
                path=("beats", context.index_of(text.beat), "show", number),
                numbers=(("characters", len(whole)), ("shown", len(text.text))),
            )

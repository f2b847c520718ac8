"""What people read about the checks, made from the checks; `segmentkit schema --write` keeps it in `templates`."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from segmentkit.checks.check import Check
from segmentkit.checks.limits import LIMITS
from segmentkit.checks.registry import ALL, SUBJECTS
from segmentkit.checks.say import number

_WIDTH = 118


def checks_page() -> str:
    """The list of all checks, in Markdown."""
    return "\n".join(_page()) + "\n"


def _page() -> Iterator[str]:
    locked = sum(check.locked for check in ALL)
    yield "# The checks"
    yield ""
    yield from _wrapped(
        f"{len(ALL)} checks look at a storyboard and its plan. An **error** stops a render, a **warning** is shown, a "
        "**note** informs. A single finding may weigh less or more than its check where the text says so. House rules "
        f"(`rules/house.yaml`) can tune all but the {locked} **locked** ones, which guard people: those may be made to "
        "weigh more, never less."
    )
    for subject, checks in SUBJECTS:
        yield ""
        yield f"## {subject}"
        for check in checks:
            yield ""
            yield f"### `{check.id}`"
            yield ""
            yield f"*{', '.join(_marks(check))}*"
            for paragraph in check.why.split("\n\n"):
                yield ""
                yield from _wrapped(" ".join(paragraph.split()))
    yield ""
    yield "## From the planner"
    yield ""
    yield "### `moment-missing`"
    yield ""
    yield "*error*"
    yield ""
    yield from _wrapped(
        "A position, time, frame or point that a clip does not have. The planner finds these while it works, puts "
        "another "
        "picture in their place so that all of them are found at once, and nothing is rendered."
    )
    yield ""
    yield "## Limits"
    yield ""
    yield "Set them under `limits` in house rules. Common practice without a source, unless the entry names one."
    yield ""
    yield "| name | value | unit | from – to | what it limits |"
    yield "|---|---|---|---|---|"
    for limit in LIMITS:
        bounds = f"{number(limit.lowest)} – {number(limit.highest)}"
        yield f"| `{limit.name}` | {number(limit.default)} | {limit.unit} | {bounds} | {limit.says} |"


def _marks(check: Check) -> Iterator[str]:
    yield check.severity.value
    if check.locked:
        yield "locked"
    if check.gate is not None:
        yield "before any clip is opened"


def house_rules() -> str:
    """The shipped house rules: every check and limit at its own value, to be changed."""
    return "\n".join(_rules()) + "\n"


def _rules() -> Iterator[str]:
    yield "# House rules: how much each check weighs, its limits, and words the house does not want."
    yield "# This file changes nothing as it stands. Copy it, and change what your house sees otherwise."
    yield "# What each check is about stands in CHECKS.md."
    yield ""
    yield "# How much a check weighs: error (stops a render), warning, note or off. Without a line here each check"
    yield "# decides for itself, and some let a finding weigh more or less; with one, all its findings weigh the same."
    yield "# Checks that guard people are locked: they can only be made to weigh more."
    yield "#"
    yield "# severity:"
    for subject, checks in SUBJECTS:
        yield f"#   # {subject}"
        for check in checks:
            yield f"#   {check.id}: {check.severity.value}{'  # locked' if check.locked else ''}"
    yield ""
    yield "# The numbers the checks judge by."
    yield "limits:"
    for limit in LIMITS:
        says = f"{limit.says} ({limit.unit}, {number(limit.lowest)} to {number(limit.highest)})"
        yield from (f"  # {line}" for line in textwrap.wrap(says, _WIDTH - 4))
        yield f"  {limit.name}: {number(limit.default)}"
    yield ""
    yield "# Words the house does not want, beside the shipped ones; matched as whole words, in any language."
    yield "forbidden: []"
    yield "# forbidden:"
    yield "#   - words: banana ball"
    yield "#     why: nobody's shot is fruit here"
    yield '#     rather: write "slice"'
    yield "#     severity: note"


def _wrapped(text: str) -> list[str]:
    return textwrap.wrap(text, _WIDTH, break_long_words=False, break_on_hyphens=False)

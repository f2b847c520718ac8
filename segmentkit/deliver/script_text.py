"""The words as plain text, to be edited anywhere; `script_read` reads it back.

    == impact
    professional: Now the downswing. Stop it at impact, and there's [hip_gap] daylight
        between your hips and that line. {And don't mind the lines.}

A line that starts with `==` names a beat, `speaker:` at the left edge starts a line of words, what follows belongs to
it, and lines that start with `#` are for reading only. Marks in brackets are strokes and cards; braces hold words that
may be left out.
"""

from __future__ import annotations

import textwrap

from segmentkit.plan.speech import speaker_of
from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Scalar
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.words import Line

_WIDTH = 92
Path = tuple[str | int, ...]


def words_text(loaded: LoadedStoryboard) -> str:
    """All words of a storyboard, or of a version of it, as plain text."""
    board = loaded.board
    parts = [
        f"# {board.segment.title}: the words.\n# Change words, and where [marks] and {{braces}} stand; keep the beats, "
        "the speakers and each mark.\n# Lines that start with # are not read back."
    ]
    for index, beat in enumerate(board.beats):
        lines = [f"== {beat.beat}"]
        if not beat.say:
            lines.append("# no words")
        for line in beat.say:
            if line.after is not None:
                lines.append(f"# {'pause' if line.after >= 0 else 'overlap'} of {float(abs(line.after)):g} s")
            said = f"{speaker_of(board, line)[0]}: {written(loaded, path_of(index, line))}"
            lines += textwrap.wrap(
                said, _WIDTH, subsequent_indent="    ", break_long_words=False, break_on_hyphens=False
            )
        parts.append("\n".join(lines))
    return "\n\n".join(parts) + "\n"


def path_of(index: int, line: Line) -> Path:
    """Where a line of a beat is written in the storyboard."""
    return ("beats", index, "say") if line.item is None else ("beats", index, "say", line.item, line.speaker or "")


def written(loaded: LoadedStoryboard, path: Path) -> str:
    """The words of a line as they are written, marks and braces included, on one line."""
    found = locate.find(loaded.tree, locate.written_at(path, loaded.moved))
    assert isinstance(found.node, Scalar)
    return " ".join((found.node.text or "").split())

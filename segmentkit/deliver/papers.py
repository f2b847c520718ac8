"""The papers that go with a segment, written into one folder: rights, cues, timeline; pictures come from outside."""

from __future__ import annotations

from pathlib import Path

from segmentkit.deliver.rights import CUES_HEAD, RIGHTS_HEAD, as_csv, as_text, cue_rows, rights_rows
from segmentkit.deliver.timeline import timeline_text
from segmentkit.facts import Facts
from segmentkit.media import safe
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard


def write_rights(folder: Path, stem: str, plan: Plan, board: Storyboard) -> tuple[Path, ...]:
    """Writes rights sheet and music cue sheet, each as CSV and as text.

    Raises:
        OutputFailed: when a file cannot be written.
    """
    sheets = (
        (
            "rights",
            f"{plan.title}: who is seen and heard, and by what permission",
            RIGHTS_HEAD,
            rights_rows(plan, board),
        ),
        ("music-cues", f"{plan.title}: music", CUES_HEAD, cue_rows(plan, board)),
    )
    written = []
    for name, title, head, rows in sheets:
        for suffix, text in (("csv", as_csv(head, rows)), ("txt", as_text(title, head, rows))):
            written.append(_write(folder / f"{stem}-{name}.{suffix}", text))
    return tuple(written)


def write_timeline(folder: Path, stem: str, plan: Plan, facts: Facts) -> Path:
    """Writes the timeline for an editing system; media are named from the folder it lies in.

    Raises:
        OutputFailed: when it cannot be written.
    """
    return _write(folder / f"{stem}.otio", timeline_text(plan, facts, folder))


def _write(target: Path, text: str) -> Path:
    with safe.writing(target) as partial:
        partial.write_bytes(text.encode())
    return target

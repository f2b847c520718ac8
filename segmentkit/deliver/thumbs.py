"""Three stills proposed as thumbnails: comparison, fault, drill. A person chooses, since nothing here sees a face."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.deliver.frozen import FrozenPicture, frozen_pictures
from segmentkit.geometry import Rect
from segmentkit.media import safe
from segmentkit.media.stills import Rgb, write_png
from segmentkit.plan.model import ClipPicture, Plan
from segmentkit.timebase import label_of_frame

_SAFE = 0.05
"""Margin of each side: SMPTE ST 2046-1 safe title (90 %)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Thumbnail:
    """A still that is proposed.

    Attributes:
        name: comparison, fault or drill.
        frame: of the segment.
        why: why this one.
        inside: whether all that is drawn on it lies in the title-safe area.
    """

    name: str
    frame: int
    why: str
    inside: bool


def thumbnails(plan: Plan) -> tuple[Thumbnail, ...]:
    """What is proposed: as much of the three as the segment has, each from the fullest frame of its picture."""
    frozen = [one for one in frozen_pictures(plan) if not one.softened]
    made: list[Thumbnail] = []
    pairs = [one for one in frozen if len(one.clips) > 1]
    if one := max(pairs, key=lambda one: (_inside(plan, one), len(one.strokes)), default=None):
        made.append(_of(plan, one, "comparison", "both players side by side, all strokes drawn"))
    alone = [one for one in frozen if len(one.clips) == 1 and any(stroke.role == "fault" for stroke in one.strokes)]
    if one := max(alone, key=lambda one: (_inside(plan, one), len(one.strokes)), default=None):
        made.append(_of(plan, one, "fault", "the fault with its strokes"))
    if (frame := _drill_frame(plan)) is not None:
        why = "the middle of the drill's first picture"
        made.append(Thumbnail(name="drill", frame=frame, why=why, inside=True))
    return tuple(made)


def _of(plan: Plan, one: FrozenPicture, name: str, why: str) -> Thumbnail:
    return Thumbnail(name=name, frame=one.frame, why=why, inside=_inside(plan, one))


def _inside(plan: Plan, one: FrozenPicture) -> bool:
    """Whether what is drawn lies in the title-safe area."""
    safe_area = plan.canvas.inset(_SAFE * plan.size.width, _SAFE * plan.size.height)
    points = (one.shot.resting(stroke.pane).to_canvas(point) for stroke in one.strokes for point in stroke.points)
    return all(_within(safe_area, point.x, point.y) for point in points)


def _within(area: Rect, x: float, y: float) -> bool:
    return area.x <= x <= area.right and area.y <= y <= area.bottom


def _drill_frame(plan: Plan) -> int | None:
    beat = next((card.beat for card in plan.cards if card.kind == "drill"), None)
    shot = next(
        (
            shot
            for shot in plan.shots
            if shot.beat == beat and any(isinstance(p.picture, ClipPicture) for p in shot.panes)
        ),
        None,
    )
    return None if shot is None else (shot.span.start + shot.span.end) // 2


def write_thumbnails(
    folder: Path, stem: str, plan: Plan, chosen: Sequence[Thumbnail], pictures: Mapping[int, Rgb]
) -> tuple[Path, ...]:
    """Writes the proposals as PNGs whose names say so, with a text that says why; returns what was written.

    Raises:
        OutputFailed: when one cannot be written.
    """
    written = []
    lines = [f"{plan.title}: thumbnails, proposed — a person looks at faces and consent, and chooses", ""]
    for one in chosen:
        target = folder / f"{stem}-thumbnail-{one.name}-proposal.png"
        write_png(target, pictures[one.frame])
        written.append(target)
        safe_text = "strokes inside the title-safe area" if one.inside else "strokes reach OUT of the title-safe area"
        lines.append(f"{target.name}  {label_of_frame(one.frame, plan.rate)}  {one.why}; {safe_text}")
    note = folder / f"{stem}-thumbnails.txt"
    with safe.writing(note) as partial:
        partial.write_text("\n".join(lines) + "\n", "utf-8")
    return (*written, note)

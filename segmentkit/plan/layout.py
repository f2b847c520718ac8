"""Where pictures lie on the canvas: full frame, split screen, and split screens matched to one scale and one ground."""

from __future__ import annotations

from dataclasses import dataclass, replace

from segmentkit.geometry import Placement, Point, Rect, Size, cover
from segmentkit.plan.moments import Footage

DIVIDER = 8
"""Width of the bar between two pictures, in pixels at a picture height of 1080."""
MATCHED_AT = "address"
"""The position whose points set scale and ground: posture is the fault, so standing height is not to be trusted."""


def _even(value: float) -> int:
    return 2 * round(value / 2)


def full_frame(footage: Footage, canvas: Rect, *, mirrored: bool, zoom: float | None, focus: Point | None) -> Placement:
    """A clip that fills the canvas."""
    return snapped(
        cover(
            footage.facts.size,
            canvas,
            focus or footage.spec.focus or Point(0.5, 0.5),
            mirrored=mirrored != footage.spec.mirrored,
            zoom=zoom or footage.spec.zoom or 1.0,
        )
    )


def snapped(placement: Placement) -> Placement:
    """The same placement on whole even pixels: a source of the canvas's own size is then copied, not resampled."""
    return replace(placement, dx=float(_even(placement.dx)), dy=float(_even(placement.dy)))


def split_windows(canvas: Rect) -> tuple[Rect, Rect]:
    """Left and right window of a split screen, on even pixels, a divider apart; above one another on a tall canvas."""
    gap = max(2, _even(DIVIDER * min(canvas.width, canvas.height) / 1080))
    if canvas.height > canvas.width:
        first = _even((canvas.height - gap) / 2)
        return (
            Rect(canvas.x, canvas.y, canvas.width, first),
            Rect(canvas.x, canvas.y + first + gap, canvas.width, canvas.height - first - gap),
        )
    first = _even((canvas.width - gap) / 2)
    return (
        Rect(canvas.x, canvas.y, first, canvas.height),
        Rect(canvas.x + first + gap, canvas.y, canvas.width - first - gap, canvas.height),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """One side of a split screen before it has its place."""

    footage: Footage
    mirrored: bool

    @property
    def flipped(self) -> bool:
        """Whether the file's picture is turned over on the canvas."""
        return self.mirrored != self.footage.spec.mirrored

    def point(self, name: str) -> Point | None:
        """A named point of the matching position, in fractions of the picture."""
        return self.footage.spec.points.get(MATCHED_AT, {}).get(name)

    @property
    def focus(self) -> Point:
        """What should be in the middle of the window."""
        if self.footage.spec.focus is not None:
            return self.footage.spec.focus
        body = [p for name in ("heel", "belt", "ball") if (p := self.point(name)) is not None]
        if not body:
            return Point(0.5, 0.5)
        belt = self.point("belt")  # half a standing player's height is near the belt
        return Point(sum(p.x for p in body) / len(body), belt.y if belt else 0.5)


def split_placements(
    left: Half, right: Half, canvas: Rect, *, ground: bool, belt: bool, zoom: float | None = None
) -> tuple[Placement, Placement]:
    """Places both sides; one scale factor for both axes of each, aspect unchanged.

    With `belt` the distance from heel line to belt at address becomes equal; with `ground` the heel lines at address
    lie at one height. `zoom` comes closer than filling the windows; else each clip's own holds. Where a clip lacks the
    points, that match is left out (the checks say so).
    """
    windows = split_windows(canvas)
    halves = (left, right)
    bases = [
        cover(h.footage.facts.size, w, h.focus, mirrored=h.flipped, zoom=zoom or h.footage.spec.zoom or 1.0)
        for h, w in zip(halves, windows, strict=True)
    ]
    scales = [base.scale for base in bases]
    heels = [h.point("heel") for h in halves]
    belts = [h.point("belt") for h in halves]
    if belt and all(heels) and all(belts):
        rises = [
            (heel.y - top.y) * h.footage.facts.size.height
            for h, heel, top in zip(halves, heels, belts, strict=True)
            if heel is not None and top is not None
        ]
        if all(rise > 0 for rise in rises):
            wanted = max(scale * rise for scale, rise in zip(scales, rises, strict=True))
            scales = [wanted / rise for rise in rises]
    placed = [_placed(h, w, s) for h, w, s in zip(halves, windows, scales, strict=True)]
    if ground and heels[0] is not None and heels[1] is not None:
        placed = _on_one_ground(placed, [heels[0], heels[1]])
    return placed[0], placed[1]


def _placed(half: Half, window: Rect, scale: float) -> Placement:
    size = half.footage.facts.size
    zoom = scale / max(window.width / size.width, window.height / size.height)
    placed = cover(size, window, half.focus, mirrored=half.flipped, zoom=zoom)
    return replace(placed, dx=float(_even(placed.dx)))


def _on_one_ground(placed: list[Placement], heels: list[Point]) -> list[Placement]:
    """Shifts both pictures so that their heels lie equally far below their windows' upper edges, windows full."""
    rises = [h.y * p.source.height * p.scale for h, p in zip(heels, placed, strict=True)]
    lows = [r - (p.source.height * p.scale - p.window.height) for r, p in zip(rises, placed, strict=True)]
    low, high = max(lows), min(rises)
    natural = sum(r + p.dy - p.window.y for r, p in zip(rises, placed, strict=True)) / len(placed)
    level = min(max(natural, low), high) if low <= high else (low + high) / 2
    # The first picture goes to whole pixels, so that one of the canvas's own size is copied; the other follows exactly.
    level += _even(level - rises[0]) - (level - rises[0])
    return [replace(p, dy=p.window.y + level - r) for r, p in zip(rises, placed, strict=True)]


def still_placement(size: Size, canvas: Rect) -> Placement:
    """A still picture that fills the canvas."""
    return snapped(cover(size, canvas))

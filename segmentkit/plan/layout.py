"""Where pictures lie on the canvas: full frame, in columns, in one place, in a corner."""

from __future__ import annotations

from dataclasses import replace

from segmentkit.geometry import Placement, Point, Rect, Size, cover
from segmentkit.plan.moments import Footage
from segmentkit.storyboard.shots import Corner

DIVIDER = 8
"""Width of the bar between two pictures, in pixels at a picture height of 1080."""
THREE_UP_TOP, THREE_UP_HEIGHT = 0.24, 0.735
"""Upper edge and height of three columns, as parts of a wide picture's height; the names stand above."""
INSET_MARGIN = 0.06
"""From an inset to the edges of the picture, as a part of the shorter side: just inside the title-safe area."""
INSET_SHAPE = 4 / 3
"""Width of an inset against its height."""


def even(value: float) -> int:
    """The nearest even number: chroma samples lie two pixels apart."""
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
    return replace(placement, dx=float(even(placement.dx)), dy=float(even(placement.dy)))


def windows(canvas: Rect, count: int) -> tuple[Rect, ...]:
    """Windows side by side, on even pixels, a divider apart; above one another on a tall canvas.

    Three columns of the whole height would be too slim for a player with a club; they are lower, which shows more to
    the sides, and stand on the look's ground with their names above them.
    """
    if count > 2 and canvas.width >= canvas.height:
        top, high = even(THREE_UP_TOP * canvas.height), even(THREE_UP_HEIGHT * canvas.height)
        canvas = Rect(canvas.x, canvas.y + top, canvas.width, high)
    gap = max(2, even(DIVIDER * min(canvas.width, canvas.height) / 1080))
    tall = canvas.height > canvas.width
    whole = canvas.height if tall else canvas.width
    each = (whole - gap * (count - 1)) / count
    starts = [even(k * (each + gap)) for k in range(count)]
    ends = [*(start - gap for start in starts[1:]), whole]
    if tall:
        return tuple(Rect(canvas.x, canvas.y + s, canvas.width, e - s) for s, e in zip(starts, ends, strict=True))
    return tuple(Rect(canvas.x + s, canvas.y, e - s, canvas.height) for s, e in zip(starts, ends, strict=True))


def still_placement(size: Size, canvas: Rect) -> Placement:
    """A still picture that fills the canvas."""
    return snapped(cover(size, canvas))


def inset_window(canvas: Rect, corner: Corner, size: float) -> Rect:
    """The window of a close-up in a corner, on even pixels and clear of the picture's edges.

    Args:
        canvas: the whole picture.
        corner: where it lies.
        size: its height as a part of the picture's shorter side.
    """
    short = min(canvas.width, canvas.height)
    height = even(size * short)
    width, margin = min(even(height * INSET_SHAPE), even(canvas.width * 0.9)), even(INSET_MARGIN * short)
    left = corner in {Corner.UPPER_LEFT, Corner.LOWER_LEFT}
    upper = corner in {Corner.UPPER_LEFT, Corner.UPPER_RIGHT}
    return Rect(
        canvas.x + margin if left else canvas.right - margin - width,
        canvas.y + margin if upper else canvas.bottom - margin - height,
        width,
        height,
    )

"""Where pictures lie on the canvas: full frame, in columns, in one place, in a corner."""

from __future__ import annotations

from dataclasses import replace

from segmentkit.geometry import Placement, Point, Rect, Size, box_of, cover
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


def clamped(value: float, limits: tuple[float, float]) -> float:
    """The value, or the nearest end of its limits; itself where there is nothing between them."""
    low, high = limits
    return value if low > high else min(max(value, low), high)


def wanted_shift(placed: Placement, seen: Rect | None, axis: Point) -> float:
    """Pixels along an axis by which a picture would have to move for its window to show what should be seen.

    What is larger than the window is brought to its middle.

    Args:
        placed: where the picture lies.
        seen: the box around what should be seen, in fractions of the picture; None when that is not known.
        axis: (1, 0) for across, (0, 1) for down.
    """
    if seen is None:
        return 0.0
    box = box_of(placed.to_canvas(corner) for corner in seen.corners)
    window = placed.window
    across = axis.x != 0
    start, end = (box.x, box.right) if across else (box.y, box.bottom)
    low, high = (window.x, window.right) if across else (window.y, window.bottom)
    if end - start > high - low:
        return (low + high) / 2 - (start + end) / 2
    return low - start if start < low else min(0.0, high - end)


def showing(placed: Placement, seen: Rect | None, axis: Point) -> Placement:
    """Moves a picture along an axis, no further than needed, so that all that should be seen lies in its window."""
    shift = clamped(wanted_shift(placed, seen, axis), placed.room(axis))
    if abs(shift) < 0.5:
        return placed
    if placed.scale == 1.0 and not placed.rotate:
        shift = clamped(float(even(shift)), placed.room(axis))
    return placed.shifted(shift * axis.x, shift * axis.y)


def full_frame(
    footage: Footage, canvas: Rect, *, mirrored: bool, zoom: float | None, focus: Point | None, seen: Rect | None = None
) -> Placement:
    """A clip that fills the canvas.

    Args:
        footage: the clip.
        canvas: the whole picture.
        mirrored: whether its sides are swapped.
        zoom: the shot's own; else the clip's.
        focus: the shot's own; else the clip's; else the middle, from where it moves to show what should be `seen`.
        seen: the box around player and club over all of the clip, so that all its shots are framed alike.
    """
    placed = cover(
        footage.facts.size,
        canvas,
        focus or footage.spec.focus or Point(0.5, 0.5),
        mirrored=mirrored != footage.spec.mirrored,
        zoom=zoom or footage.spec.zoom or 1.0,
    )
    if focus is None and footage.spec.focus is None:
        placed = showing(showing(placed, seen, Point(1.0, 0.0)), seen, Point(0.0, 1.0))
    return snapped(placed)


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

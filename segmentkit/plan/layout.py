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


_AIR = 0.02
"""Part of a window kept free between its edge and what should be seen; common practice, no source."""
AIRY = 1 - 2 * _AIR
"""Part of a window that what should be seen may fill."""
TITLE_SAFE = 0.05
"""Margin of each side: EBU R 95 graphics safe area; SMPTE ST 2046-1 safe title (90 %)."""
TALL_TOP, TALL_BOTTOM = 0.12, 0.20
"""Margins of upright pictures, where players lay their controls; common practice, no source."""
_TALL = 1.5
_CAPTIONS = 0.1
"""Height of two lines of captions at the foot of an upright picture, as a part of its own."""


def unit_of(canvas: Rect | Size) -> float:
    """How many canvas pixels one pixel of the look is: 1 on a picture whose shorter side has 1080."""
    return min(canvas.width, canvas.height) / 1080


def title_safe(canvas: Rect, margin: float = TITLE_SAFE) -> Rect:
    """Where text may stand: within the margins, and in upright pictures clear of a player's controls."""
    width, height = canvas.width, canvas.height
    if height < _TALL * width:
        return canvas.inset(margin * width, margin * height)
    top, high = TALL_TOP * height, (1 - TALL_TOP - TALL_BOTTOM) * height
    return Rect(canvas.x + margin * width, canvas.y + top, (1 - 2 * margin) * width, high)


def even(value: float) -> int:
    """The nearest even number: chroma samples lie two pixels apart."""
    return 2 * round(value / 2)


def clamped(value: float, limits: tuple[float, float]) -> float:
    """The value, or the nearest end of its limits; itself where there is nothing between them."""
    low, high = limits
    return value if low > high else min(max(value, low), high)


def wanted_shift(placed: Placement, seen: Rect | None, axis: Point, body: Rect | None = None) -> float:
    """Pixels along an axis by which a picture would have to move for its window to show what should be seen.

    What is larger than the window is brought to its middle, but never so that the body is cut.

    Args:
        placed: where the picture lies.
        seen: the box around what should be seen, in fractions of the picture; None when that is not known.
        axis: (1, 0) for across, (0, 1) for down.
        body: the box around what comes first; None when that is not known.
    """
    if seen is None:
        return 0.0
    across = axis.x != 0
    wanted, window = _along(box_of(map(placed.to_canvas, seen.corners)), across), _along(placed.window, across)
    shift = _into(wanted, window)
    if body is None or wanted[1] - wanted[0] <= window[1] - window[0]:
        return shift
    start, end = _along(box_of(map(placed.to_canvas, body.corners)), across)
    return shift + _into((start + shift, end + shift), window)


def _along(box: Rect, across: bool) -> tuple[float, float]:
    return (box.x, box.right) if across else (box.y, box.bottom)


def _into(box: tuple[float, float], window: tuple[float, float]) -> float:
    """How far a stretch has to move to lie in another one; to its middle when it is longer."""
    (start, end), (low, high) = box, window
    air = _AIR * (high - low)
    if end - start > high - low - 2 * air:
        return (low + high) / 2 - (start + end) / 2
    return low + air - start if start < low + air else min(0.0, high - air - end)


def showing(placed: Placement, seen: Rect | None, axis: Point, body: Rect | None = None) -> Placement:
    """Moves a picture along an axis, no further than needed, so that all that should be seen lies in its window."""
    shift = clamped(wanted_shift(placed, seen, axis, body), placed.room(axis))
    if abs(shift) < 0.5:
        return placed
    if placed.scale == 1.0 and not placed.rotate:
        shift = clamped(float(even(shift)), placed.room(axis))
    return placed.shifted(shift * axis.x, shift * axis.y)


def full_frame(
    footage: Footage, canvas: Rect, *, mirrored: bool, zoom: float | None, focus: Point | None,
    seen: Rect | None = None, body: Rect | None = None, hidden: float = 0.0, head: float = 0.0,
) -> Placement:  # fmt: skip
    """A clip that fills the canvas.

    Args:
        footage: the clip.
        canvas: the whole picture.
        mirrored: whether its sides are swapped.
        zoom: the shot's own; else the clip's.
        focus: the shot's own; else the clip's; else the middle, from where it moves to show what should be `seen`.
        seen: the box around player and club over all of the clip, so that all its shots are framed alike.
        body: the box around the body, which stays in the window when `seen` is larger than that.
        hidden: pixels at the foot of the canvas that something lies over.
        head: pixels at its head that something lies over; the clip makes room, less close if that helps. Not where the
            shot says itself what it shows.
    """
    closer = zoom or footage.spec.zoom or 1.0
    if seen is None or closer < 1 or focus is not None:
        head = 0.0
    elif head and zoom is None:
        closer = _clear_of_head(footage.facts.size, canvas, seen, closer, head)
    placed = cover(
        footage.facts.size,
        canvas if closer >= 1 or hidden else band(canvas, closer),
        focus or footage.spec.focus or Point(0.5, 0.5),
        mirrored=mirrored != footage.spec.mirrored,
        zoom=max(1.0, closer),
    )
    if hidden:
        seen, body = (None if box is None else _deeper(box, hidden, placed) for box in (seen, body))
    if (focus is None and footage.spec.focus is None) or hidden:
        placed = showing(showing(placed, seen, Point(1.0, 0.0), body), seen, Point(0.0, 1.0), body)
    if head:
        up, trunk = (None if box is None else _higher(box, head, placed) for box in (seen, body))
        placed = showing(placed, up, Point(0.0, 1.0), trunk)
    return snapped(placed)


def _clear_of_head(source: Size, canvas: Rect, seen: Rect, closer: float, head: float) -> float:
    """The zoom, smaller where all that should be seen finds room only so below the head; never below 1."""
    whole = max(canvas.width / source.width, canvas.height / source.height)
    fits = (AIRY * canvas.height - head) / (seen.height * source.height * whole)
    return max(1.0, min(closer, fits))


def band(canvas: Rect, height: float) -> Rect:
    """A window as wide as an upright canvas and lower, on even pixels; captions have room below where it leaves some.

    What is left above and below is the look's ground.

    Args:
        canvas: the whole picture.
        height: of the window, as a part of the canvas's.
    """
    high = even(height * canvas.height)
    foot = title_safe(canvas).bottom - _CAPTIONS * canvas.height
    top = even(max(0.0, min(foot - high, (canvas.height - high) / 2)))
    return Rect(canvas.x, canvas.y + top, canvas.width, high)


def kept_beside(placed: Placement, free: Rect, seen: Rect | None, body: Rect | None) -> Placement:
    """The picture moved across so that player and ball lie in the part that a panel leaves free, if it can be.

    Args:
        placed: where it lies; its window stays as it is, and full.
        free: that part.
        seen: the box around what should be seen, in fractions of the picture; None when that is not known.
        body: the box within it that comes first.
    """
    across = Point(1.0, 0.0)
    shift = wanted_shift(replace(placed, window=free), seen or body, across, body)
    return placed.shifted(dx=clamped(float(even(shift)), placed.room(across)))


def _deeper(box: Rect, hidden: float, placed: Placement) -> Rect:
    """A box that reaches as much further down as is hidden at the foot."""
    return Rect(box.x, box.y, box.width, box.height + hidden / (placed.scale * placed.source.height))


def _higher(box: Rect, head: float, placed: Placement) -> Rect:
    """A box that reaches as much further up as is taken at the head."""
    more = head / (placed.scale * placed.source.height)
    return Rect(box.x, box.y - more, box.width, box.height + more)


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
    # Text keeps off a player's controls altogether; a picture only needs to be seen beside them.
    tall = canvas.height >= _TALL * canvas.width
    high, low = (even(part * canvas.height) if tall else margin for part in (INSET_MARGIN, TALL_BOTTOM))
    return Rect(
        canvas.x + margin if left else canvas.right - margin - width,
        canvas.y + high if upper else canvas.bottom - low - height,
        width,
        height,
    )

"""Points, rectangles and similarities of the picture; plain numbers, no arrays.

Points of a clip are fractions of its upright picture: (0, 0) is the top left corner, (1, 1) the bottom right one.
Points of the canvas are pixels of the output, same orientation; pixel centres lie at half numbers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Point:
    """A spot in a picture; whether fractions or pixels is said by who holds it."""

    x: float
    y: float

    def __add__(self, other: Point) -> Point:
        return Point(self.x + other.x, self.y + other.y)

    def __sub__(self, other: Point) -> Point:
        return Point(self.x - other.x, self.y - other.y)

    def scaled(self, fx: float, fy: float | None = None) -> Point:
        """The point with x times `fx` and y times `fy` (or `fx`)."""
        return Point(self.x * fx, self.y * (fx if fy is None else fy))

    def distance(self, other: Point) -> float:
        """Straight distance to another point."""
        return math.hypot(self.x - other.x, self.y - other.y)


@dataclass(frozen=True, slots=True)
class Size:
    """Width and height in whole pixels."""

    width: int
    height: int

    def __str__(self) -> str:
        return f"{self.width}x{self.height}"


@dataclass(frozen=True, slots=True)
class Rect:
    """An upright rectangle; half-open on the right and below."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """X of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Y of the lower edge."""
        return self.y + self.height

    @property
    def centre(self) -> Point:
        """The middle."""
        return Point(self.x + self.width / 2, self.y + self.height / 2)

    def contains(self, point: Point) -> bool:
        """Whether a point lies inside."""
        return self.x <= point.x < self.right and self.y <= point.y < self.bottom

    def inset(self, dx: float, dy: float | None = None) -> Rect:
        """The rectangle with `dx` taken off left and right and `dy` (or `dx`) above and below."""
        dy = dx if dy is None else dy
        return Rect(self.x + dx, self.y + dy, self.width - 2 * dx, self.height - 2 * dy)

    def overlaps(self, other: Rect) -> bool:
        """Whether two rectangles share any area."""
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom


@dataclass(frozen=True, slots=True)
class Placement:
    """Where a clip's upright picture lies on the canvas: one scale for both axes, a shift, perhaps mirrored.

    Attributes:
        scale: canvas pixels for one pixel of the upright source.
        dx: canvas x of the source picture's left edge (after mirroring).
        dy: canvas y of its upper edge.
        source: size of the upright source picture in pixels.
        window: the canvas rectangle that shows it; what falls outside is cut off.
        mirrored: whether left and right are swapped.
    """

    scale: float
    dx: float
    dy: float
    source: Size
    window: Rect
    mirrored: bool = False

    def to_canvas(self, point: Point) -> Point:
        """A point given in fractions of the source, in canvas pixels."""
        x = 1 - point.x if self.mirrored else point.x
        return Point(self.dx + x * self.source.width * self.scale, self.dy + point.y * self.source.height * self.scale)

    def to_source(self, point: Point) -> Point:
        """A canvas point in fractions of the source."""
        x = (point.x - self.dx) / (self.source.width * self.scale)
        y = (point.y - self.dy) / (self.source.height * self.scale)
        return Point(1 - x if self.mirrored else x, y)


def cover(
    source: Size, window: Rect, focus: Point = Point(0.5, 0.5), *, mirrored: bool = False, zoom: float = 1.0
) -> Placement:
    """Fills a window with a source, cutting off what does not fit and keeping `focus` as near the middle as it can.

    Args:
        source: size of the upright source in pixels.
        window: the canvas rectangle to fill.
        focus: the point of the source, in fractions, that should be in the middle.
        mirrored: whether left and right are swapped.
        zoom: 1 for the smallest scale that fills the window, more to come closer.
    """
    scale = zoom * max(window.width / source.width, window.height / source.height)
    width, height = source.width * scale, source.height * scale
    fx = 1 - focus.x if mirrored else focus.x
    dx = min(window.x, max(window.right - width, window.centre.x - fx * width))
    dy = min(window.y, max(window.bottom - height, window.centre.y - focus.y * height))
    return Placement(scale, dx, dy, source, window, mirrored)

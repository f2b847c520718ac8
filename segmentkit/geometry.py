"""Points, rectangles and similarities of the picture; plain numbers, no arrays.

Points of a clip are fractions of its upright picture: (0, 0) is the top left corner, (1, 1) the bottom right one.
Points of the canvas are pixels of the output, same orientation; pixel centres lie at half numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace


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

    @property
    def edges(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom."""
        return self.x, self.y, self.right, self.bottom

    @property
    def corners(self) -> tuple[Point, Point, Point, Point]:
        """Clockwise from the upper left."""
        return (
            Point(self.x, self.y),
            Point(self.right, self.y),
            Point(self.right, self.bottom),
            Point(self.x, self.bottom),
        )

    def joined(self, other: Rect) -> Rect:
        """The smallest rectangle around both."""
        return box_of((*self.corners, *other.corners))

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
    """Where a clip's upright picture lies on the canvas: one scale for both axes, a shift, perhaps mirrored or turned.

    Attributes:
        scale: canvas pixels for one pixel of the upright source.
        dx: canvas x of the source picture's left edge (after mirroring).
        dy: canvas y of its upper edge.
        source: size of the upright source picture in pixels.
        window: the canvas rectangle that shows it; what falls outside is cut off.
        mirrored: whether left and right are swapped.
        rotate: degrees clockwise about (`dx`, `dy`), after mirroring; a few at most, to level a crooked camera.
    """

    scale: float
    dx: float
    dy: float
    source: Size
    window: Rect
    mirrored: bool = False
    rotate: float = 0.0

    def to_canvas(self, point: Point) -> Point:
        """A point given in fractions of the source, in canvas pixels."""
        x = (1 - point.x if self.mirrored else point.x) * self.source.width * self.scale
        y = point.y * self.source.height * self.scale
        return Point(self.dx, self.dy) + turned(Point(x, y), self.rotate)

    def to_source(self, point: Point) -> Point:
        """A canvas point in fractions of the source."""
        at = turned(point - Point(self.dx, self.dy), -self.rotate)
        x, y = at.x / (self.source.width * self.scale), at.y / (self.source.height * self.scale)
        return Point(1 - x if self.mirrored else x, y)

    def shifted(self, dx: float = 0.0, dy: float = 0.0) -> Placement:
        """The same picture moved under its window, in canvas pixels."""
        return replace(self, dx=self.dx + dx, dy=self.dy + dy)

    def room(self, axis: Point) -> tuple[float, float]:
        """How far the picture may be moved along a unit vector before its window shows an edge: least and most pixels.

        Where the window is not covered even now, least exceeds most.
        """
        least, most = -math.inf, math.inf
        width, height = self.source.width * self.scale, self.source.height * self.scale
        along = turned(axis, -self.rotate)
        for corner in self.window.corners:
            at = turned(corner - Point(self.dx, self.dy), -self.rotate)
            for place, step, size in ((at.x, along.x, width), (at.y, along.y, height)):
                if abs(step) < 1e-12:
                    continue
                # Moving by t puts the corner at place - t * step, which must stay within 0 and size.
                ends = sorted(((place - size) / step, place / step))
                least, most = max(least, ends[0]), min(most, ends[1])
        return least, most


def turned(point: Point, degrees: float) -> Point:
    """A vector turned clockwise, as seen on a canvas whose y goes down."""
    if not degrees:
        return point
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return Point(point.x * cos - point.y * sin, point.x * sin + point.y * cos)


def cover(
    source: Size,
    window: Rect,
    focus: Point = Point(0.5, 0.5),
    *,
    mirrored: bool = False,
    zoom: float = 1.0,
    rotate: float = 0.0,
) -> Placement:
    """Fills a window with a source, cutting off what does not fit and keeping `focus` as near the middle as it can.

    Args:
        source: size of the upright source in pixels.
        window: the canvas rectangle to fill.
        focus: the point of the source, in fractions, that should be in the middle.
        mirrored: whether left and right are swapped.
        zoom: 1 for the smallest scale that fills the window, more to come closer.
        rotate: degrees clockwise that the picture is turned; the smallest scale grows with it.
    """
    cos, sin = abs(math.cos(math.radians(rotate))), abs(math.sin(math.radians(rotate)))
    # Seen from the turned picture, the window is a turned rectangle; what must be covered is the box around it.
    wide, high = window.width * cos + window.height * sin, window.width * sin + window.height * cos
    scale = zoom * max(wide / source.width, high / source.height)
    width, height = source.width * scale, source.height * scale
    fx = 1 - focus.x if mirrored else focus.x
    middle = turned(window.centre, -rotate)
    left = min(middle.x - wide / 2, max(middle.x + wide / 2 - width, middle.x - fx * width))
    top = min(middle.y - high / 2, max(middle.y + high / 2 - height, middle.y - focus.y * height))
    corner = turned(Point(left, top), rotate)
    return Placement(scale, corner.x, corner.y, source, window, mirrored, rotate)


def between(first: Placement, last: Placement, part: float) -> Placement:
    """A placement on the way from one to another: scale, shift, turn and window change in step.

    Every point of the picture goes straight across the canvas, and a picture that covers its window at both ends covers
    it all the way when it is not turned. The window keeps to even pixels.

    Args:
        first: where it starts.
        last: where it arrives; of the same source, mirrored alike.
        part: 0 at the start, 1 at the end.
    """
    if part <= 0:
        return first
    if part >= 1:
        return last

    def mixed(start: float, end: float) -> float:
        return start + (end - start) * part

    edges = [
        2.0 * round(mixed(start, end) / 2) for start, end in zip(first.window.edges, last.window.edges, strict=True)
    ]
    return Placement(
        mixed(first.scale, last.scale),
        mixed(first.dx, last.dx),
        mixed(first.dy, last.dy),
        last.source,
        Rect(edges[0], edges[1], edges[2] - edges[0], edges[3] - edges[1]),
        last.mirrored,
        mixed(first.rotate, last.rotate),
    )


def box_of(points: Iterable[Point]) -> Rect:
    """The smallest upright rectangle around points; there is at least one."""
    spots = list(points)
    left, top = min(p.x for p in spots), min(p.y for p in spots)
    return Rect(left, top, max(p.x for p in spots) - left, max(p.y for p in spots) - top)


@dataclass(frozen=True, slots=True)
class Projection:
    """A plane seen anew: maps fractions of one frame's picture to fractions of another's.

    Attributes:
        rows: a 3x3 matrix, row by row; the last entry is 1.
    """

    rows: tuple[float, float, float, float, float, float, float, float, float]

    def of(self, point: Point) -> Point:
        """Where a point lies in the other picture."""
        a, b, c, d, e, f, g, h, i = self.rows
        depth = g * point.x + h * point.y + i
        return Point((a * point.x + b * point.y + c) / depth, (d * point.x + e * point.y + f) / depth)

    def after(self, first: Projection) -> Projection:
        """This one applied after another one."""
        m, n = self.rows, first.rows
        made = [sum(m[3 * r + k] * n[3 * k + c] for k in range(3)) for r in range(3) for c in range(3)]
        return _normal(made)

    @property
    def inverse(self) -> Projection:
        """The way back."""
        a, b, c, d, e, f, g, h, i = self.rows
        # The adjugate: the inverse but for a factor, which does not matter to a projection.
        return _normal([
            e * i - f * h, c * h - b * i, b * f - c * e,
            f * g - d * i, a * i - c * g, c * d - a * f,
            d * h - e * g, b * g - a * h, a * e - b * d,
        ])  # fmt: skip


STAYS = Projection((1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0))
"""The projection of a camera that stands still."""


def _normal(rows: Iterable[float]) -> Projection:
    a, b, c, d, e, f, g, h, i = rows
    return Projection((a / i, b / i, c / i, d / i, e / i, f / i, g / i, h / i, 1.0))

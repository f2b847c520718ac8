"""What each kind of stroke looks like: paths on the canvas, and how much of them is there at a stage of the drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Placement, Point
from segmentkit.plan.model import Stroke
from segmentkit.render import paths
from segmentkit.render.paths import Path
from segmentkit.render.raster import Ink

# All in line widths; common practice, no source, judged by eye at 1920x1080.
HEAD_LENGTH, HEAD_HALF, HEAD_NOTCH = 4.4, 2.1, 0.8
DASH_ON, DASH_GAP = 2.8, 3.0
DOT_WIDTH, DOT_PERIOD = 1.3, 2.5
SPOT_RADIUS = 1.7
CORNER = 2.0
SHORT, OUTSIDE = 2.9, 1.9
"""In heads: a double arrow shorter than the first is drawn from outside, each part as long as the second."""
TAPER, FINEST, TAPER_STEPS = 2.6, 0.45, 5
"""The soft tip of a line being drawn: its length in widths, its width at the very tip, and in how many steps."""
RAMP = 0.12
"""Part of the drawing time in which the pen gathers speed; the same at the end."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """A stroke's shape.

    Attributes:
        trails: paths in canvas pixels, drawn one after the other.
        closed: whether the path ends where it starts.
        head: whether an arrowhead leads; `tail` whether one looks back, which makes it grow from the middle.
        line: solid, dashed or dotted.
        width: of the line in pixels.
        inward: whether the trails are two arrows that point at one another from outside, both drawn at once.
        pattern: factor of the lengths of dashes and gaps.
    """

    trails: tuple[Path, ...]
    width: float
    line: str
    closed: bool = False
    head: bool = False
    tail: bool = False
    inward: bool = False
    pattern: float = 1.0

    @property
    def length(self) -> float:
        """Length of all trails in pixels."""
        return sum(paths.length(trail) for trail in self.trails)


def drawing_of(stroke: Stroke, placement: Placement, width: float, line: str) -> Drawing:
    """The shape of a stroke on the canvas; dot and shade have none of their own.

    Args:
        stroke: of a kind that is drawn as a line.
        placement: where its clip lies on the canvas.
        width: of the line in canvas pixels.
        line: style of its role.
    """
    return replace(_shape_of(stroke, placement, width, line), pattern=pattern_of(placement))


def pattern_of(placement: Placement) -> float:
    """Factor of dashes and gaps: they belong to the picture, not to the canvas.

    So a line has the same dashes wherever its picture is shown larger or smaller, and none of them crawls while the
    picture comes closer. 1 where the picture just fills its window.
    """
    fills = max(placement.window.width / placement.source.width, placement.window.height / placement.source.height)
    return min(3.0, max(0.75, placement.scale / fills))


def _shape_of(stroke: Stroke, placement: Placement, width: float, line: str) -> Drawing:
    points = [placement.to_canvas(point) for point in stroke.points]
    match stroke.kind:
        case "line":
            return Drawing((paths.path_of(points),), width, line)
        case "arrow" | "double_arrow":
            return _arrow(points, width, line, double=stroke.kind == "double_arrow")
        case "curve" | "curve_arrow":
            return Drawing((paths.curve_through(points),), width, line, head=stroke.kind == "curve_arrow")
        case "ring":
            return Drawing((paths.circle(points[0], radius_of(stroke, placement)),), width, line, closed=True)
        case "box":
            return Drawing((paths.box(points[0], points[1], CORNER * width),), width, line, closed=True)
        case "angle":
            return Drawing((paths.path_of(points), _corner_arc(points, width)), width, line)
        case _:
            raise ValueError(f"{stroke.kind} has no line")


def _arrow(points: list[Point], width: float, line: str, *, double: bool) -> Drawing:
    """An arrow; a double one that is too short for its two heads points at its gap from outside."""
    if double and points[0].distance(points[1]) < SHORT * HEAD_LENGTH * width:
        return Drawing(_from_outside(points[0], points[1], width), width, "solid", head=True, inward=True)
    return Drawing((paths.path_of(points),), width, line, head=True, tail=double)


def _from_outside(first: Point, last: Point, width: float) -> tuple[Path, Path]:
    """Two arrows that point at a short gap from both sides, as draughtsmen mark one; along the gap's own direction."""
    along = last - first
    size = along.distance(Point(0, 0)) or 1.0
    reach = Point(along.x / size, along.y / size).scaled(OUTSIDE * HEAD_LENGTH * width)
    return paths.path_of([first - reach, first]), paths.path_of([last + reach, last])


def radius_of(stroke: Stroke, placement: Placement) -> float:
    """The radius of a ring or shade in canvas pixels."""
    return (stroke.radius or 0.0) * placement.source.height * placement.scale


def _corner_arc(points: list[Point], width: float) -> Path:
    """The small arc that marks an angle, on its inner side, with room to both arms."""
    first, corner, last = points
    arms = first - corner, last - corner
    radius = min(0.38 * min(math.hypot(arm.x, arm.y) for arm in arms), 12 * width)
    start, end = (math.atan2(arm.y, arm.x) for arm in arms)
    sweep = (end - start + math.pi) % (2 * math.pi) - math.pi
    return paths.arc(corner, max(radius, 1.0), start, sweep)


def pen_travel(time: float) -> float:
    """Part of the way that the pen has gone at a part of the time: steady, with a gentle start and stop.

    Speed rises evenly over `RAMP` of the time, stays, and falls evenly; at half of the time it is half way.
    """
    time = min(1.0, max(0.0, time))
    top = 1 / (1 - RAMP)
    if time < RAMP:
        return top * time * time / (2 * RAMP)
    if time > 1 - RAMP:
        return 1 - top * (1 - time) ** 2 / (2 * RAMP)
    return top * (time - RAMP / 2)


def inks(drawing: Drawing, drawn: float, wiped: float) -> list[Ink]:
    """What is to be inked when a part of the way is drawn and a part wiped off.

    Args:
        drawing: the shape.
        drawn: 0 to 1, how far the pen has come.
        wiped: 0 to 1, how far the wiping has followed from the start.
    """
    if drawing.inward:
        return _inward_inks(drawing, drawn, wiped)
    total = drawing.length
    low, high = wiped * total, drawn * total
    if drawing.tail:
        low, high = total * (0.5 - drawn / 2 + wiped / 2), total * (0.5 + drawn / 2 - wiped / 2)
    if high - low < 0.01:
        return []
    found: list[Ink] = []
    before = 0.0
    for trail in drawing.trails:
        size = paths.length(trail)
        start, end = max(low - before, 0.0), min(high - before, size)
        if end > start:
            found += _trail_inks(drawing, trail, start, end, soft=end < size - 0.01)
        before += size
    return found


def _inward_inks(drawing: Drawing, drawn: float, wiped: float) -> list[Ink]:
    """Both arrows at once: each grows from its outer end and is wiped off from there."""
    found: list[Ink] = []
    for trail in drawing.trails:
        size = paths.length(trail)
        if (drawn - wiped) * size >= 0.01:
            found += _trail_inks(drawing, trail, wiped * size, drawn * size, soft=False)
    return found


def _trail_inks(drawing: Drawing, trail: Path, start: float, end: float, *, soft: bool) -> list[Ink]:
    width, visible = drawing.width, end - start
    heads: list[Ink] = []
    if drawing.head:
        # A head never takes more than its share of a short arrow, and grows with what is there of it.
        both = 2 if drawing.tail else 1
        soft = False
        room = 0.8 * paths.length(trail) / both
        size = min(1.0, room / (HEAD_LENGTH * width)) * min(1.0, visible / both / (1.5 * HEAD_LENGTH * width))
        reach = HEAD_LENGTH * width * size
        heads.append(_head(trail, end, end - reach, width * size))
        # A solid line runs into the notch; a broken one stops short of the head, so that no half dash touches it.
        under = 0.75 * reach if drawing.line == "solid" else reach + 1.1 * width
        end -= under
        if drawing.tail:
            heads.append(_head(trail, start, start + reach, width * size))
            start += under
    if end < start:
        return heads
    if soft and drawing.line != "dotted":
        return _soft_inks(drawing, trail, start, end)
    return [*_line_inks(drawing, trail, start, end), *heads]


def _soft_inks(drawing: Drawing, trail: Path, start: float, end: float) -> list[Ink]:
    """A line whose pen is still under way: it thins out towards its tip, as a brush does.

    The thinning goes when the pen comes near the end, so that nothing jumps there.
    """
    left = paths.length(trail) - end
    strength = min(1.0, left / (2 * TAPER * drawing.width))
    length = min(TAPER * drawing.width, 0.6 * (end - start))
    found = _line_inks(drawing, trail, start, end - length)
    for k in range(TAPER_STEPS):
        a, b = (end - length * (1 - part / TAPER_STEPS) for part in (k, k + 1))
        thin = 1 - strength * (1 - FINEST) * (k + 1) / TAPER_STEPS
        found += [
            Ink(ink.paths, ink.width * thin) for ink in _line_inks(drawing, trail, a, b) if any(map(len, ink.paths))
        ]
    return found


def _head(trail: Path, tip_at: float, base_at: float, width: float) -> Ink:
    """A filled arrowhead with rounded corners and a notch, its very tip at a length along the trail."""
    tip, base = paths.point_at(trail, tip_at), paths.point_at(trail, base_at)
    back = base - tip
    size = math.hypot(back.x, back.y) or 1.0
    back = Point(back.x / size, back.y / size)
    side = Point(-back.y, back.x)
    rim = 0.5 * width
    # The rim rounds the corners and reaches half its width further out on all sides, also at the tip.
    depth, half = HEAD_LENGTH * width - rim / 2, HEAD_HALF * width - rim / 2
    corners = [
        (rim / 2, 0.0),
        (depth, half),
        (depth - HEAD_NOTCH * width, 0.0),
        (depth, -half),
    ]
    outline = np.array([(tip.x + back.x * d + side.x * s, tip.y + back.y * d + side.y * s) for d, s in corners])
    return Ink((outline,), rim, filled=True)


def _line_inks(drawing: Drawing, trail: Path, start: float, end: float) -> list[Ink]:
    width = drawing.width
    match drawing.line:
        case "dashed":
            laid = paths.dashes(
                paths.length(trail),
                DASH_ON * width * drawing.pattern,
                DASH_GAP * width * drawing.pattern,
                drawing.closed,
            )
            stretches = [
                paths.part(trail, max(start, at), min(end, at + laid.on))
                for at in laid.starts
                if at < end and at + laid.on > start
            ]
            return [Ink(tuple(stretches), width)] if stretches else []
        case "dotted":
            laid = paths.dashes(paths.length(trail), 0.0, DOT_PERIOD * width * drawing.pattern, drawing.closed)
            return _dots(trail, laid.starts, start, end, width)
        case _:
            return [Ink((paths.part(trail, start, end),), width)]


def _dots(trail: Path, at: NDArray[np.float64], start: float, end: float, width: float) -> list[Ink]:
    """Beads; the one under the pen and the one under the wiper are as large as they have passed it."""
    whole: list[Path] = []
    partial: list[Ink] = []
    for centre in at:
        share = min(1.0, (end - centre) / width + 0.5, (centre - start) / width + (1.0 if start <= 0 else 0.5))
        spot = np.array([[*_xy(paths.point_at(trail, float(centre)))]])
        if share >= 1:
            whole.append(spot)
        elif share > 0.1:
            partial.append(Ink((spot,), DOT_WIDTH * width * math.sqrt(share)))
    return [Ink(tuple(whole), DOT_WIDTH * width), *partial] if whole else partial


def _xy(point: Point) -> tuple[float, float]:
    return point.x, point.y

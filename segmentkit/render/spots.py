"""Where a label of a stroke lies: beside it in free air, else on free ground, else further off with a line to it.

Everything near a stroke is tried first, in one row and in two. Only what covers a player, a card, another label or a
stroke there is worth a line that leads to a spot further off.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point, Rect, Size
from segmentkit.render.paths import Path

GAP = 14
"""From a stroke to its label, in pixels of the look."""
_SIDES = ((0, 0.5), (1, 0.5), (0, 1), (1, 1), (0, 0), (1, 0), (0.5, 1), (0.5, 0))
"""Which part of the label lies next to the stroke: 0 its left or upper edge, 1 its right or lower one."""
_FURTHER = (0, 3, 6)
"""How much further away than next to the stroke it may lie, in gaps."""
_COLUMNS, _ROWS = 9, 21
"""Spots further off that are tried."""
_MORE_ROWS = 60
"""How much worse each further row is; this and all costs below are judged by eye."""
_GOOD = 600
"""A spot next to the stroke that costs less covers nothing, and no better one is looked for."""
_ON_BODY, _MORE_ON_BODY, _WHOLLY = 700, 2_400, 0.12
"""How much worse a label is that covers a part of a player, in full from that share of the label on, and how much more
one that lies on a player altogether."""
_TAKEN, _UNCLEAR, _NEARER = 2_000, 10_000, 1_600
_LED, _LED_PIXEL, _LED_ON_BODY, _LED_ACROSS = 500, 0.8, 2.0, 500
"""How much worse a label with a line to it is; that line's length, and what of it lies on players, a pixel each; each
stroke that it crosses."""
_STEP = 6.0
"""From one point looked at of a line to the next, in pixels of the look."""
_LEAST_LED = 2
"""A line to a label is at least so long, in gaps."""
_APART = 0.7
"""From a label to a card or another label at least, in gaps."""
_SMALL = 0.1
"""Part of a label that may lie in a player's box without a word, since its corners hold nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What a label has to do with.

    Attributes:
        outline: float64, shape (n, 2), canvas points along its stroke.
        reach: how far the stroke's ink lies on each side of the outline, in pixels.
        area: where the label may lie.
        taken: rectangles that it keeps off where it can.
        others: points of other strokes, which it keeps off where it can; float64, shape (m, 2).
        bodies: rectangles around players, which it keeps off where it can.
        gap: from a stroke to its label, in pixels; the measure of all others, for a preview to look like the film.
    """

    outline: Path
    reach: float
    area: Rect
    taken: Sequence[Rect]
    others: Path
    bodies: Sequence[Rect]
    gap: float

    @property
    def unit(self) -> float:
        """Canvas pixels for one pixel of the look."""
        return self.gap / GAP


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A place for a label.

    Attributes:
        rect: canvas rectangle that it covers.
        cost: how bad it is.
        clear: whether it keeps off its own stroke and inside its area.
        over: what it covers, in words; empty where it covers nothing.
        led: from its stroke to its edge, where a line leads to it.
    """

    rect: Rect
    cost: float
    clear: bool
    over: tuple[str, ...]
    led: tuple[Point, Point] | None = None


_known: OrderedDict[bytes, tuple[Spot, int]] = OrderedDict()
_KEPT = 256


def best_spot(around: Around, sizes: Sequence[Size]) -> tuple[Spot, int]:
    """The best spot, and which of the label's sizes lies there; the first size is the one it has by itself.

    Checks, captions and the picture ask for the same spots, so those found last are kept.
    """
    key = _key(around, sizes)
    if key not in _known:
        _known[key] = _searched(around, sizes)
        while len(_known) > _KEPT:
            _known.popitem(last=False)
    return _known[key]


def _key(around: Around, sizes: Sequence[Size]) -> bytes:
    told = [around.reach, around.gap, *around.area.edges, len(around.outline), len(around.others)]
    for rect in (*around.taken, Rect(0, 0, 0, 0), *around.bodies):
        told += rect.edges
    told += [side for size in sizes for side in (size.width, size.height)]
    return b"".join(np.ascontiguousarray(one, np.float64).tobytes() for one in (told, around.outline, around.others))


def _searched(around: Around, sizes: Sequence[Size]) -> tuple[Spot, int]:
    best = min(_near(around, sizes[0]), key=lambda spot: spot.cost)
    if best.cost < _GOOD:
        return best, 0
    chosen, cost = 0, best.cost
    for index, size in enumerate(sizes):
        more = _MORE_ROWS * index
        near = list(_near(around, size))
        rects = dict.fromkeys([*(spot.rect for spot in near if spot.clear), *_all_over(around.area, size)])
        led = (_led(around, rect, cost - more) for rect in rects)
        for spot in (*near, *led):
            if spot is not None and spot.cost + more < cost:
                best, chosen, cost = spot, index, spot.cost + more
    return best, chosen


def _near(around: Around, size: Size) -> Iterator[Spot]:
    """Spots next to a stroke: near its end rather than its start, and level with it."""
    outline, area, gap = around.outline, around.area, around.gap
    # What a stroke encloses is what it points at: rings and boxes keep their middle free.
    middle = outline.mean(axis=0)
    steps = np.unique(np.linspace(0, len(outline) - 1, 9).astype(int))
    for share, (x, y) in ((k / max(1, len(outline) - 1), outline[k]) for k in steps):
        for (ax, ay), further in product(_SIDES, _FURTHER):
            distance = around.reach + gap * (1 + further)
            left = x + distance * (1 if ax == 0 else -1 if ax == 1 else 0) - ax * size.width
            top = y + distance * (1 if ay == 0 else -1 if ay == 1 else 0) - ay * size.height
            kept = _within(Rect(left, top, size.width, size.height), area)
            inward = (kept.centre.x - x) * (middle[0] - x) + (kept.centre.y - y) * (middle[1] - y)
            moved = abs(kept.x - left) + abs(kept.y - top)
            fits = kept.right <= area.right + 1 and kept.bottom <= area.bottom + 1
            clearance = _clearance(outline, kept) - around.reach
            clear = bool(clearance >= gap * 0.5 and fits)
            nearer = bool(further) and _nearer(around.others, kept, clearance + around.reach)
            cost, over = _covered(around, kept)
            cost += (
                (0 if clear else _UNCLEAR - 10 * min(clearance, gap) / around.unit)
                + (_NEARER if nearer else 0)
                + (300 if inward > 0 and len(outline) > 2 else 0)
                + 160 * (1 - share) + moved / around.unit
                + 50 * further + (40 if ax == 0.5 else 0) + (25 if ay != 0.5 else 0)
            )  # fmt: skip
            yield Spot(rect=kept, cost=cost, clear=clear, over=over)


def _all_over(area: Rect, size: Size) -> Iterator[Rect]:
    """Spots all over the area."""
    if size.width > area.width or size.height > area.height:
        return
    across = np.linspace(area.x, area.right - size.width, _COLUMNS)
    for x, y in product(across, np.linspace(area.y, area.bottom - size.height, _ROWS)):
        yield Rect(float(x), float(y), size.width, size.height)


def _led(around: Around, rect: Rect, most: float) -> Spot | None:
    """A spot with a line to it, from the nearest point of the stroke or from one of its ends, whichever is better.

    None where it lies too near for a line, or where all cost more than `most`.
    """
    cost, over = _covered(around, rect)
    cost += _LED
    starts = dict.fromkeys((_nearest(around.outline, rect), 0, len(around.outline) - 1))
    if np.hypot(*(around.outline[0] - around.outline[-1])) < around.gap:
        starts = dict.fromkeys([next(iter(starts))])  # a ring has no end, and its middle stays free
    best: Spot | None = None
    for at in starts:
        start = Point(float(around.outline[at, 0]), float(around.outline[at, 1]))
        end = Point(min(max(start.x, rect.x), rect.right), min(max(start.y, rect.y), rect.bottom))
        if start.distance(end) - around.reach < _LEAST_LED * around.gap:
            return None
        bound = (most if best is None else best.cost) - cost
        more = _line_cost(around, start, end, bound)
        if more < bound:
            best = Spot(rect=rect, cost=cost + more, clear=True, over=over, led=(start, end))
    return best


def _line_cost(around: Around, start: Point, end: Point, most: float) -> float:
    """How bad a line to a label is; not worked out to the end where it is more than `most`."""
    gap, length = around.gap, start.distance(end)
    cost = _LED_PIXEL * length / around.unit
    if cost >= most:
        return cost
    steps = np.linspace(0, 1, max(2, int(length / (_STEP * around.unit))))[:, None]
    way = np.array([[start.x, start.y]]) * (1 - steps) + np.array([[end.x, end.y]]) * steps
    # Where it begins it lies on what the stroke shows, and may touch the stroke beside.
    free = way[np.hypot(way[:, 0] - start.x, way[:, 1] - start.y) > gap]
    on_body = _STEP * int(np.logical_or.reduce([_inside(free, body) for body in around.bodies], initial=False).sum())
    hidden = sum(bool(_inside(free, other).any()) for other in around.taken)
    cost += _LED_ON_BODY * on_body + _TAKEN * hidden
    return cost if cost >= most else cost + _LED_ACROSS * _crossings(free, around)


def _crossings(way: Path, around: Around) -> int:
    """How often a line meets other strokes, or lies along one for three gaps."""
    if not len(way) or not len(around.others):
        return 0
    apart = way[:, None, :] - around.others[None, :, :]
    meets = np.hypot(apart[..., 0], apart[..., 1]).min(axis=1) < 0.6 * around.gap
    met = int(meets[0]) + int((meets[1:] & ~meets[:-1]).sum())
    return max(met, math.ceil(_STEP * int(meets.sum()) / (3 * GAP)))


def _covered(around: Around, rect: Rect) -> tuple[float, tuple[str, ...]]:
    """What a label would cover: how bad that is, and in words."""
    near = rect.inset(-_APART * around.gap)
    lost = sum(near.overlaps(other) for other in around.taken)
    # Strokes are sampled by pixels of the canvas.
    crossed = min(1_500, 150 * _points_in(around.others, rect.inset(-around.gap)) / around.unit)
    shares = [_shared(rect, body) for body in around.bodies]
    on_body = sum(_ON_BODY * min(1.0, share / _WHOLLY) + _MORE_ON_BODY * share for share in shares)
    # A label had better lie beside the player, who mostly stands in the middle where it is not known better.
    central = max(0.0, 1 - abs(rect.centre.x - around.area.centre.x) / max(1.0, 0.24 * around.area.width))
    said = (
        *(("a card, a name, a face or another label",) if lost else ()),
        *(("the player",) if max(shares, default=0.0) > _SMALL else ()),
    )
    return _TAKEN * lost + crossed + on_body + (0.0 if around.bodies else 420 * central), said


def _within(rect: Rect, area: Rect) -> Rect:
    return Rect(
        min(max(rect.x, area.x), max(area.x, area.right - rect.width)),
        min(max(rect.y, area.y), max(area.y, area.bottom - rect.height)),
        rect.width,
        rect.height,
    )


def _nearest(outline: Path, rect: Rect) -> int:
    """Which point of a stroke is nearest to a rectangle."""
    x = np.clip(outline[:, 0], rect.x, rect.right)
    y = np.clip(outline[:, 1], rect.y, rect.bottom)
    return int(np.argmin(np.hypot(outline[:, 0] - x, outline[:, 1] - y)))


def _shared(rect: Rect, other: Rect) -> float:
    """Part of a rectangle that lies in another one."""
    wide = min(rect.right, other.right) - max(rect.x, other.x)
    high = min(rect.bottom, other.bottom) - max(rect.y, other.y)
    return max(0.0, wide) * max(0.0, high) / (rect.width * rect.height)


def _nearer(others: Path, rect: Rect, distance: float) -> bool:
    """Whether another stroke is nearer than a distance, so that a label seems to belong to that one."""
    return bool(len(others)) and _clearance(others, rect) < distance


def _inside(points: Path, rect: Rect) -> NDArray[np.bool_]:
    """For each point whether it lies in a rectangle; bool, shape (n,)."""
    x, y = points[:, 0], points[:, 1]
    found: NDArray[np.bool_] = (x > rect.x) & (x < rect.right) & (y > rect.y) & (y < rect.bottom)
    return found


def _points_in(points: Path, rect: Rect) -> int:
    return int(_inside(points, rect).sum())


def _clearance(outline: Path, rect: Rect) -> float:
    """Least distance from a stroke to a rectangle; 0 when it runs through."""
    dx = np.maximum(np.maximum(rect.x - outline[:, 0], outline[:, 0] - rect.right), 0)
    dy = np.maximum(np.maximum(rect.y - outline[:, 1], outline[:, 1] - rect.bottom), 0)
    return float(np.hypot(dx, dy).min())

"""Small labels beside strokes: placed inside the picture, off the stroke, and off what else is in the way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from segmentkit.geometry import Rect, Size
from segmentkit.render.blend import Colour, YuvPatch
from segmentkit.render.characters import character_of
from segmentkit.render.layout import least_size, safe_area
from segmentkit.render.paint import Painting
from segmentkit.render.paths import Path
from segmentkit.render.text import SetText, Typesetter
from segmentkit.storyboard.look import Look

_ON_BODY = 4.0
"""How much worse a label on a body is than one in the middle of the picture; judged by eye."""
_SIDES = ((0, 0.5), (1, 0.5), (0, 1), (1, 1), (0, 0), (1, 0), (0.5, 1), (0.5, 0))
"""Which part of the label lies next to the stroke: 0 its left or upper edge, 1 its right or lower one."""
_FURTHER = (0, 3, 6)
"""How much further away than next to the stroke it may lie, in gaps."""
LABEL_OPACITY = 1.0
"""A label is small: nothing of the picture shows through it."""


@dataclass(frozen=True, slots=True)
class Tag:
    """A label as it is laid.

    Attributes:
        rect: canvas rectangle that it covers.
        text: what it says, as set.
        clear: whether it keeps off the stroke and inside its area; if not, there was no such spot.
    """

    rect: Rect
    text: SetText
    clear: bool
    painting: Painting

    def patches(self, window: Rect) -> tuple[YuvPatch, ...]:
        """The label as patches; `window` is the pane it stays within."""
        return (self.painting.patch(),) if self.rect.overlaps(window) else ()


class TagMaker:
    """Sets, places and paints labels."""

    def __init__(self, look: Look, canvas: Size, unit: float, setter: Typesetter) -> None:
        self.look = look
        self.unit = unit
        self.setter = setter
        self.safe = safe_area(canvas)

    def beside(
        self, label: str, colour: Colour, outline: Path, reach: float, window: Rect, taken: Sequence[Rect],
        others: Path, bodies: Sequence[Rect] = (),
    ) -> Tag:  # fmt: skip
        """Lays a label beside a stroke.

        Args:
            label: a few words.
            colour: of the stroke; it underlines the label.
            outline: float64, shape (n, 2), canvas points along the stroke.
            reach: how far the stroke's ink lies on each side of the outline, in pixels.
            window: the pane it belongs to.
            taken: rectangles that it keeps off where it can.
            others: points of other strokes, which it keeps off where it can; float64, shape (m, 2).
            bodies: rectangles around players, which it rather lies beside.
        """
        area = _common(self.safe, window.inset(8 * self.unit))
        pad_x, pad_y, rule = 18 * self.unit, 15 * self.unit, 6 * self.unit
        text = self._fitted(label, max(40.0, area.width - 2 * pad_x))
        size = Size(round(text.width + 2 * pad_x), round(text.height + 2 * pad_y + rule))
        rect, clear = _spot(outline, reach, size, area, taken, others, bodies, gap=14 * self.unit)
        painting = Painting(round(rect.x), round(rect.y), size.width, size.height)
        left, top = painting.x, painting.y
        laid = Rect(left, top, size.width, size.height)
        character_of(self.look.character).tag(painting, laid, self.unit, self.look.palette, colour)
        painting.text(self.setter, text, left + pad_x, top + pad_y + text.cap, self.look.palette.label_ink)
        return Tag(laid, text, clear, painting)

    def _fitted(self, label: str, room: float) -> SetText:
        text = self.setter.set(label, "medium", self.look.type.small * self.unit, min(room, 620 * self.unit))
        if text.broken or len(text.lines) > 2:
            least = least_size(self.setter, "medium", secondary=True)
            text = self.setter.set(label, "medium", least * self.unit, room)
        return text


def _common(first: Rect, second: Rect) -> Rect:
    left, top = max(first.x, second.x), max(first.y, second.y)
    right, bottom = min(first.right, second.right), min(first.bottom, second.bottom)
    return Rect(left, top, max(0.0, right - left), max(0.0, bottom - top))


def _spot(
    outline: Path, reach: float, size: Size, area: Rect, taken: Sequence[Rect], others: Path, bodies: Sequence[Rect],
    gap: float,
) -> tuple[Rect, bool]:  # fmt: skip
    """The best of many spots around a stroke: clear of it first, then near its end, then level with it."""
    best: tuple[float, Rect, bool] | None = None
    # What a stroke encloses is what it points at: rings and boxes keep their middle free.
    middle = outline.mean(axis=0)
    steps = np.unique(np.linspace(0, len(outline) - 1, 9).astype(int))
    for share, (x, y) in ((k / max(1, len(outline) - 1), outline[k]) for k in steps):
        for (ax, ay), further in product(_SIDES, _FURTHER):
            distance = reach + gap * (1 + further)
            left = x + distance * (1 if ax == 0 else -1 if ax == 1 else 0) - ax * size.width
            top = y + distance * (1 if ay == 0 else -1 if ay == 1 else 0) - ay * size.height
            kept = Rect(
                min(max(left, area.x), max(area.x, area.right - size.width)),
                min(max(top, area.y), max(area.y, area.bottom - size.height)),
                size.width,
                size.height,
            )
            fits = kept.x + size.width <= area.right + 1 and kept.y + size.height <= area.bottom + 1
            clearance = _clearance(outline, kept) - reach
            clear = bool(clearance >= gap * 0.5 and fits)
            inward = (kept.centre.x - x) * (middle[0] - x) + (kept.centre.y - y) * (middle[1] - y)
            # A label had better lie beside the player, who mostly stands in the middle where it is not known better.
            central = max(0.0, 1 - abs(kept.centre.x - area.centre.x) / max(1.0, 0.24 * area.width))
            if bodies:
                central = _ON_BODY * sum(_shared(kept, body) for body in bodies)
            moved = abs(kept.x - left) + abs(kept.y - top)
            score = (
                (0 if clear else 10_000 - 10 * min(clearance, gap))
                + 2_000 * sum(kept.overlaps(other) for other in taken)
                + min(1_500, 150 * _points_in(others, kept.inset(-gap)))
                + (1_600 if further and _nearer(others, kept, clearance + reach) else 0)
                + (300 if inward > 0 and len(outline) > 2 else 0)
                + 160 * (1 - share) + 420 * central + moved
                + 50 * further + (40 if ax == 0.5 else 0) + (25 if ay != 0.5 else 0)
            )  # fmt: skip
            if best is None or score < best[0]:
                best = score, kept, clear
    assert best is not None  # an outline has at least one point
    return best[1], best[2]


def _shared(rect: Rect, other: Rect) -> float:
    """Part of a rectangle that lies in another one."""
    wide = min(rect.right, other.right) - max(rect.x, other.x)
    high = min(rect.bottom, other.bottom) - max(rect.y, other.y)
    return max(0.0, wide) * max(0.0, high) / (rect.width * rect.height)


def _nearer(others: Path, rect: Rect, distance: float) -> bool:
    """Whether another stroke is nearer than a distance, so that a label seems to belong to that one."""
    return bool(len(others)) and _clearance(others, rect) < distance


def _points_in(points: Path, rect: Rect) -> int:
    x, y = points[:, 0], points[:, 1]
    return int(((x > rect.x) & (x < rect.right) & (y > rect.y) & (y < rect.bottom)).sum())


def _clearance(outline: Path, rect: Rect) -> float:
    """Least distance from a stroke to a rectangle; 0 when it runs through."""
    dx = np.maximum(np.maximum(rect.x - outline[:, 0], outline[:, 0] - rect.right), 0)
    dy = np.maximum(np.maximum(rect.y - outline[:, 1], outline[:, 1] - rect.bottom), 0)
    return float(np.hypot(dx, dy).min())

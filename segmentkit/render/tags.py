"""Small labels beside strokes: set, laid where `spots` says, and painted, with a line to those that lie further off."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from segmentkit.geometry import Point, Rect, Size
from segmentkit.render.blend import Colour, YuvPatch
from segmentkit.render.characters import character_of
from segmentkit.render.layout import least_size, safe_area
from segmentkit.render.paint import Painting
from segmentkit.render.paths import Path, resampled
from segmentkit.render.spots import GAP, Around, best_spot
from segmentkit.render.text import SetText, Typesetter
from segmentkit.storyboard.look import Look

LABEL_OPACITY = 1.0
"""A label is small: nothing of the picture shows through it."""
_LINE, _RIM, _END = 2.4, 1.4, 4.5
"""Width of the line to a label, of the dark edge on each side, and radius of its end, in pixels of the look."""
_NARROWER = ((2, 0.68), (3, 0.5))
"""Rows in which a label of one row is tried besides, and the part of its width that they may have."""


@dataclass(frozen=True, slots=True)
class Tag:
    """A label as it is laid.

    Attributes:
        rect: canvas rectangle that it covers.
        text: what it says, as set.
        clear: whether it keeps off the stroke and inside its area; if not, there was no such spot.
        over: what it covers because no spot was free, in words; empty where it covers nothing.
        led: canvas points along the line that leads to it; float64, shape (n, 2), empty where it lies at its stroke.
    """

    rect: Rect
    text: SetText
    clear: bool
    painting: Painting
    over: tuple[str, ...]
    led: Path
    line: Painting | None

    def patches(self, window: Rect) -> tuple[YuvPatch, ...]:
        """The label as patches, its line first; `window` is the pane it stays within."""
        if not self.rect.overlaps(window):
            return ()
        return (*(() if self.line is None else (self.line.patch(),)), self.painting.patch())


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
            bodies: rectangles around players, which it keeps off where it can.
        """
        area = _common(self.safe, window.inset(8 * self.unit))
        around = Around(
            outline=outline, reach=reach, area=area, taken=taken, others=others, bodies=bodies, gap=GAP * self.unit
        )
        pad_x, pad_y, rule = 18 * self.unit, 15 * self.unit, 6 * self.unit
        room = max(40.0, area.width - 2 * pad_x)
        texts = [self._fitted(label, room)]
        for rows, part in _NARROWER:
            narrower = self.setter.set(label, "medium", texts[0].size, part * texts[0].width)
            if len(texts[0].lines) == 1 and len(narrower.lines) == rows and not narrower.broken:
                texts.append(narrower)
        sizes = [Size(round(text.width + 2 * pad_x), round(text.height + 2 * pad_y + rule)) for text in texts]
        spot, chosen = best_spot(around, sizes)
        text, size = texts[chosen], sizes[chosen]
        painting = Painting(round(spot.rect.x), round(spot.rect.y), size.width, size.height)
        left, top = painting.x, painting.y
        laid = Rect(left, top, size.width, size.height)
        character_of(self.look.character).tag(painting, laid, self.unit, self.look.palette, colour)
        painting.text(self.setter, text, left + pad_x, top + pad_y + text.cap, self.look.palette.label_ink)
        way, line = (np.empty((0, 2)), None) if spot.led is None else self._line(spot.led, colour)
        return Tag(laid, text, spot.clear, painting, spot.over, way, line)

    def _line(self, led: tuple[Point, Point], colour: Colour) -> tuple[Path, Painting]:
        """The line that leads to a label: its points, and painted, thin, in its stroke's colour with a dark edge."""
        start, end = led
        line, rim, radius = (one * self.unit for one in (_LINE, _RIM, _END))
        reach = radius + rim + 2
        left, top = int(min(start.x, end.x) - reach), int(min(start.y, end.y) - reach)
        right, bottom = int(max(start.x, end.x) + reach) + 1, int(max(start.y, end.y) + reach) + 1
        painting = Painting(left, top, right - left, bottom - top)
        path = np.array([[start.x, start.y], [end.x, end.y]])
        strokes = self.look.strokes
        painting.stroke(path, line + 2 * rim, strokes.edge_colour, strokes.edge_opacity)
        painting.spot(start.x, start.y, radius + rim, strokes.edge_colour, strokes.edge_opacity)
        painting.stroke(path, line, colour)
        painting.spot(start.x, start.y, radius, colour)
        return resampled(path, 6.0), painting

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

"""Columns of text that always fit: at the look's sizes, smaller when they must be, saying so when it was too much."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from segmentkit.geometry import Rect, Size
from segmentkit.media.bidi import base_level
from segmentkit.plan.layout import TITLE_SAFE, title_safe, unit_of
from segmentkit.render.blend import Colour
from segmentkit.render.paint import Painting
from segmentkit.render.text import SetText, Typesetter

__all__ = ["Bullet", "Column", "Item", "Placed", "column", "least_size", "safe_area", "unit_of"]

MAIN_CAPS, SECONDARY_CAPS = 45.0, 37.5
"""Least height of capitals at 1080: 24 lines of standard definition for text on television and 20 for subtitles
(tiresias.org, as quoted in the reference of values). What is read second may have the size of subtitles."""
LEAST_CAPS = 30.0
"""Least height of capitals of any text, in the same pixels: the 16 lines of BCAP guidance note 1."""
_STEP = 0.96
_FIRMEST = 0.25


def safe_area(canvas: Size, margin: float = TITLE_SAFE) -> Rect:
    """Where text may stand on a canvas, by the look's margin."""
    return title_safe(Rect(0, 0, canvas.width, canvas.height), margin)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One text of a column.

    Attributes:
        text: what is written.
        weight: regular, medium or bold.
        size: in pixels of the look.
        tint: its colour.
        gap: distance to the text above, in pixels of the look.
        bullet: whether a small mark stands before it.
        secondary: whether it is read second and may be set in smaller capitals.
    """

    text: str
    weight: str
    size: float
    tint: Colour
    gap: float = 0.0
    bullet: bool = False
    secondary: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """A set text of a column: `baseline` of its first line from the column's top, `indent` from its left edge.

    `mark` is where a bullet's middle stands, from the left edge.
    """

    item: Item
    text: SetText
    baseline: float
    indent: float
    mark: float = 0.0

    def area(self, left: float, top: float) -> Rect:
        """Its ink, roughly: from the capitals to the last baseline; the column's corner is at (left, top)."""
        return Rect(left + self.indent, top + self.baseline - self.text.cap, self.text.width, self.text.height)


Bullet = Callable[[Painting, float, float, float, Colour], None]
"""Draws the mark before a line: painting, middle (x, y), size of the type, colour."""


@dataclass(frozen=True, slots=True)
class Column:
    """Texts under one another, from the capitals of the first to the last baseline.

    Attributes:
        placed: from top to bottom.
        width: of the widest, indent included.
        height: in canvas pixels.
        overflow: whether it had to be set smaller than the look allows, or a word had to be cut.
        leftwards: whether it is read from right to left, even on the right, its bullets there.
    """

    placed: tuple[Placed, ...]
    width: float
    height: float
    overflow: bool
    leftwards: bool = False

    def paint(
        self, painting: Painting, setter: Typesetter, left: float, top: float, accent: Colour, bullet: Bullet
    ) -> None:
        """Writes the column with its upper left corner at a canvas point."""
        for one in self.placed:
            baseline = top + one.baseline
            if one.item.bullet:
                # The marks sit on the middle of the small letters.
                centre = baseline - one.text.cap * 0.42
                bullet(painting, left + one.mark, centre, one.text.size, accent)
            painting.text(setter, one.text, left + one.indent, baseline, one.item.tint)


def column(setter: Typesetter, unit: float, items: Sequence[Item], width: float, height: float) -> Column:
    """Sets texts under one another within a width and a height, as large as they fit.

    All shrink together, none below the published floors (see `MAIN_CAPS`); what still does not fit is set smaller than
    that and reported as overflow, for a person to shorten.

    Args:
        setter: of the look's fonts.
        unit: canvas pixels for one pixel of the look.
        items: from top to bottom.
        width: room across, in canvas pixels.
        height: room downwards, in canvas pixels.
    """
    floors = [least_size(setter, item.weight, secondary=item.secondary) for item in items]
    scale, short_of_least = 1.0, False
    while True:
        sized = [
            replace(i, size=i.size * scale if short_of_least else max(i.size * scale, floor))
            for i, floor in zip(items, floors, strict=True)
        ]
        made = _stacked(setter, unit, sized, width, scale)
        broken = any(one.text.broken for one in made.placed)
        if (made.height <= height and not broken) or scale < _FIRMEST:
            return replace(made, overflow=short_of_least or broken)
        if not short_of_least and all(i.size <= floor for i, floor in zip(sized, floors, strict=True)):
            short_of_least = True
            scale = min(1.0, *(floor / i.size for i, floor in zip(items, floors, strict=True))) if items else 1.0
        scale *= _STEP


def least_size(setter: Typesetter, weight: str, *, secondary: bool) -> float:
    """The smallest size, in pixels of the look, whose capitals reach the published floor; a hair above it."""
    floor = SECONDARY_CAPS if secondary else MAIN_CAPS
    return (floor + 0.05) / setter.book.cap_height(weight, 1.0)


def _stacked(setter: Typesetter, unit: float, items: Sequence[Item], width: float, scale: float) -> Column:
    placed: list[Placed] = []
    y = widest = 0.0
    for index, item in enumerate(items):
        size = item.size * unit
        indent = 0.62 * size if item.bullet else 0.0
        text = setter.set(item.text, item.weight, size, width - indent)
        y += item.gap * unit * max(scale, 0.5) if index else 0.0
        placed.append(Placed(item, text, y + text.cap, indent, 0.17 * size))
        y += text.height + 0.22 * size  # below the last baseline, for g and y
        widest = max(widest, indent + text.width)
    last = 0.22 * items[-1].size * unit if items else 0.0
    leftwards = bool(items) and base_level(items[0].text) == 1
    if leftwards:
        placed = [replace(one, indent=widest - one.indent - one.text.width, mark=widest - one.mark) for one in placed]
    return Column(tuple(placed), widest, y - last, overflow=False, leftwards=leftwards)

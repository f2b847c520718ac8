"""Columns of text that always fit: at the look's sizes, smaller when they must be, saying so when it was too much."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from segmentkit.geometry import Rect, Size
from segmentkit.render.blend import Colour
from segmentkit.render.paint import Painting
from segmentkit.render.text import SetText, Typesetter
from segmentkit.storyboard.look import Look

TITLE_SAFE = 0.05
"""Margin of each side: EBU R 95 graphics safe area; SMPTE ST 2046-1 safe title (90 %)."""
TALL_TOP, TALL_BOTTOM = 0.12, 0.20
"""Margins of upright pictures, where players lay their controls; common practice, no source."""
_TALL = 1.5
_STEP = 0.96
_FIRMEST = 0.25


def unit_of(canvas: Size) -> float:
    """How many canvas pixels one pixel of the look is: 1 on a picture whose shorter side has 1080."""
    return min(canvas.width, canvas.height) / 1080


def safe_area(canvas: Size, margin: float = TITLE_SAFE) -> Rect:
    """Where text may stand: within the margins, and in upright pictures clear of a player's controls."""
    width, height = canvas.width, canvas.height
    if height >= _TALL * width:
        return Rect(margin * width, TALL_TOP * height, (1 - 2 * margin) * width, (1 - TALL_TOP - TALL_BOTTOM) * height)
    return Rect(0, 0, width, height).inset(margin * width, margin * height)


@dataclass(frozen=True, slots=True, kw_only=True)
class Item:
    """One text of a column.

    Attributes:
        text: what is written.
        weight: regular, medium or bold.
        size: in pixels of the look.
        tint: its colour.
        gap: distance to the text above, in pixels of the look.
        bullet: whether a small disc stands before it.
    """

    text: str
    weight: str
    size: float
    tint: Colour
    gap: float = 0.0
    bullet: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """A set text of a column: `baseline` of its first line and `indent`, from the column's top left corner."""

    item: Item
    text: SetText
    baseline: float
    indent: float

    def area(self, left: float, top: float) -> Rect:
        """Its ink, roughly: from the capitals to the last baseline; the column's corner is at (left, top)."""
        return Rect(left + self.indent, top + self.baseline - self.text.cap, self.text.width, self.text.height)


@dataclass(frozen=True, slots=True)
class Column:
    """Texts under one another, from the capitals of the first to the last baseline.

    Attributes:
        placed: from top to bottom.
        width: of the widest, indent included.
        height: in canvas pixels.
        overflow: whether it had to be set smaller than the look allows, or a word had to be cut.
    """

    placed: tuple[Placed, ...]
    width: float
    height: float
    overflow: bool

    def paint(self, painting: Painting, setter: Typesetter, left: float, top: float, accent: Colour) -> None:
        """Writes the column with its upper left corner at a canvas point."""
        for one in self.placed:
            baseline = top + one.baseline
            if one.item.bullet:
                # The discs sit on the middle of the small letters.
                centre = baseline - one.text.cap * 0.42
                painting.spot(left + one.text.size * 0.17, centre, one.text.size * 0.13, accent)
            painting.text(setter, one.text, left + one.indent, baseline, one.item.tint)


def column(setter: Typesetter, look: Look, unit: float, items: Sequence[Item], width: float, height: float) -> Column:
    """Sets texts under one another within a width and a height, as large as they fit.

    All shrink together, none below the look's least size; what still does not fit is set smaller than that and
    reported as overflow, for a person to shorten.

    Args:
        setter: of the look's fonts.
        look: for its least size.
        unit: canvas pixels for one pixel of the look.
        items: from top to bottom.
        width: room across, in canvas pixels.
        height: room downwards, in canvas pixels.
    """
    least = look.type.least
    scale, short_of_least = 1.0, False
    while True:
        sized = [
            replace(i, size=i.size * scale if short_of_least else max(i.size * scale, min(least, i.size)))
            for i in items
        ]
        made = _stacked(setter, unit, sized, width, scale)
        broken = any(one.text.broken for one in made.placed)
        if (made.height <= height and not broken) or scale < _FIRMEST:
            return replace(made, overflow=short_of_least or broken)
        if not short_of_least and all(i.size <= least for i in sized):
            short_of_least = True
            scale = min(1.0, *(least / i.size for i in items)) if items else 1.0
        scale *= _STEP


def _stacked(setter: Typesetter, unit: float, items: Sequence[Item], width: float, scale: float) -> Column:
    placed: list[Placed] = []
    y = widest = 0.0
    for index, item in enumerate(items):
        size = item.size * unit
        indent = 0.62 * size if item.bullet else 0.0
        text = setter.set(item.text, item.weight, size, width - indent)
        y += item.gap * unit * max(scale, 0.5) if index else 0.0
        placed.append(Placed(item, text, y + text.cap, indent))
        y += text.height + 0.22 * size  # below the last baseline, for g and y
        widest = max(widest, indent + text.width)
    last = 0.22 * items[-1].size * unit if items else 0.0
    return Column(tuple(placed), widest, y - last, overflow=False)

"""What a card is made of: layers that move on their own, a column of text, and what was written how."""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

from segmentkit.geometry import Rect, Size
from segmentkit.plan.model import Card
from segmentkit.plan.sheets import WIDE
from segmentkit.render.blend import Colour
from segmentkit.render.characters import character_of
from segmentkit.render.contrast import worst_contrast
from segmentkit.render.fonts import FontBook
from segmentkit.render.layer import Layer
from segmentkit.render.layout import Column, Item, column, safe_area, unit_of
from segmentkit.render.paint import Painting, Unpainted
from segmentkit.render.text import Typesetter
from segmentkit.storyboard.look import Look


@dataclass(frozen=True, slots=True)
class Written:
    """A text of a card as drawn: its ink, its capitals' height and its contrast at the worst.

    `secondary` says that it is a second line, for which smaller capitals will do.
    """

    text: str
    area: Rect
    cap: float
    contrast: float
    overflow: bool
    secondary: bool = False


@dataclass(frozen=True, slots=True)
class Design:
    """A card ready to be shown: layers from back to front, what is written, and the canvas rectangle of it all."""

    layers: tuple[Layer, ...]
    written: tuple[Written, ...]
    area: Rect


class Stage:
    """Where cards are drawn: a look on a canvas.

    Attributes:
        unit: canvas pixels for one pixel of the look.
        safe: where text may stand.
        room: the part of it that other cards leave free; all of it unless told otherwise.
        wide: whether a panel fits beside the player.
        character: whose forms are drawn.
    """

    def __init__(self, look: Look, canvas: Size, *, measuring: bool = False) -> None:
        """With `measuring`, cards are laid out but not painted, which takes a millisecond or two a card."""
        self._painter = Unpainted if measuring else Painting
        self.look = look
        self.canvas = canvas
        self.unit = unit_of(canvas)
        self.safe = safe_area(canvas, look.margin)
        self.room = self.safe
        self.character = character_of(look.character)
        self.book = FontBook(look)
        self.setter = Typesetter(self.book)
        self.wide = canvas.width >= WIDE * canvas.height

    def within(self, room: Rect) -> Stage:
        """The same stage with less room for cards that can give way."""
        narrowed = copy(self)
        narrowed.room = room
        return narrowed

    def painting(self, x: int, y: int, width: int, height: int) -> Painting:
        """A bare rectangle of the canvas to paint on."""
        return self._painter(x, y, width, height)

    def column(self, items: Sequence[Item], width: float, height: float) -> Column:
        """Sets texts under one another within a width and a height in canvas pixels."""
        return column(self.setter, self.unit, items, width, height)

    def assembled(
        self, layers: Sequence[Layer], set_: Column, left: float, top: float, under: Colour, opacity: float,
        slide: tuple[float, float] = (0.0, 0.0), delay: float = 0.3, area: Rect | None = None,
    ) -> Design:  # fmt: skip
        """Panel layers with a column of text on top, which comes in a little later.

        `area` is what counts as covered; all that is painted unless told otherwise.
        """
        unit = self.unit
        # Room for what hangs over the capitals and the last baseline: accents, g and y.
        painting = self.painting(
            int(left - 40 * unit), int(top - 60 * unit), int(set_.width + 80 * unit), int(set_.height + 120 * unit)
        )
        set_.paint(painting, self.setter, left, top, self.look.palette.accent, self.character.bullet)
        areas = [
            Rect(layer.painting.x, layer.painting.y, layer.painting.width, layer.painting.height) for layer in layers
        ]
        x0, y0 = min(a.x for a in areas), min(a.y for a in areas)
        whole = Rect(x0, y0, max(a.right for a in areas) - x0, max(a.bottom for a in areas) - y0)
        return Design(
            (*layers, Layer(painting, slide, delay)), self.written(set_, left, top, under, opacity), area or whole
        )

    def written(self, set_: Column, left: float, top: float, under: Colour, opacity: float) -> tuple[Written, ...]:
        """What a column says of itself when its corner is at (left, top) on a panel of that colour and opacity."""
        return tuple(
            Written(
                one.item.text,
                one.area(left, top),
                one.text.cap,
                worst_contrast(one.item.tint, under, opacity),
                set_.overflow,
                one.item.secondary,
            )
            for one in set_.placed
        )


def text_of(card: Card, name: str) -> str:
    """The first text of a card's field; empty without one."""
    return next((text for field, text in card.fields if field == name), "")


def texts_of(card: Card, name: str) -> list[str]:
    """All texts of a card's field, in order."""
    return [text for field, text in card.fields if field == name]

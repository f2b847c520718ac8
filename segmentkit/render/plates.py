"""Plates: key words, cautions, disclosures, labels and the sign of the guide voice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from segmentkit.geometry import Rect
from segmentkit.plan.model import Card
from segmentkit.plan.sheets import SIDE
from segmentkit.plan.short_names import shorter_names
from segmentkit.render.characters.base import around, rounded_rect, warning_sign
from segmentkit.render.design import Design, Stage, Written
from segmentkit.render.layer import Layer
from segmentkit.render.layout import LEAST_CAPS, Column, Item


def key_words(stage: Stage, card: Card) -> Design:
    """Big words on plates of their own, one after the other."""
    kind, palette, unit, lean = stage.look.type, stage.look.palette, stage.unit, stage.character.lean
    on_left = card.side == "left"
    area = stage.room
    x, room = area.x, area.width
    if stage.wide:
        beside = stage.canvas.width * (1 - SIDE)
        if not on_left and area.x < beside < area.right - 0.2 * area.width:
            x = beside
        room = min(area.right - x, stage.canvas.width * SIDE)
    room -= 72 * unit
    words = [(name, text) for name, text in card.fields if name in {"title", "line"}]
    gap, pad_y = 18 * unit, 30 * unit
    most = (area.height * 0.8 - gap * len(words)) / max(1, len(words)) - 2 * pad_y
    big, small = kind.title * 0.86, kind.title * 0.6
    columns: list[Column] = []
    for name, word in words:
        size, tint = (big, palette.ink) if name == "line" else (small, palette.accent)
        across = max(40 * unit, room - lean * (most + 2 * pad_y))
        columns.append(stage.column([Item(text=word, weight="bold", size=size, tint=tint)], across, most))
    pads = [36 * unit + lean * (one.height + 2 * pad_y) for one in columns]
    total = sum(one.height + 2 * pad_y for one in columns) + gap * (len(columns) - 1)
    # In narrow pictures they stand above the room that a lower third or a caution takes.
    y = area.y + (area.height - total) / 2
    if not stage.wide:
        y = max(area.y, min(area.bottom - total, stage.safe.bottom - total - 330 * unit))
    layers: list[Layer] = []
    written: list[Written] = []
    start = y
    for k, (one, pad_x) in enumerate(zip(columns, pads, strict=True)):
        rect = Rect(x, y, one.width + 2 * pad_x, one.height + 2 * pad_y)
        painting = stage.character.word(stage, rect)
        one.paint(painting, stage.setter, x + pad_x, y + pad_y, palette.accent, stage.character.bullet)
        layers.append(Layer(painting, ((-56 if on_left else 56) * unit, 0), 0.5 * k / max(1, len(columns))))
        written += stage.written(one, x + pad_x, y + pad_y, palette.ground, stage.look.panel_opacity)
        y = rect.bottom + gap
    widest = max((one.width + 2 * pad for one, pad in zip(columns, pads, strict=True)), default=0.0)
    return Design(tuple(layers), tuple(written), Rect(x, start, widest, total))


def caution(stage: Stage, text: str) -> Design:
    """A strip in the caution colour, low in the picture, with a warning sign."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    pad, icon = 32 * unit, 84 * unit
    items = [Item(text=text, weight="bold", size=kind.body, tint=palette.caution_ink)]
    room = stage.room
    set_ = stage.column(items, max(40 * unit, room.width - 2 * pad - icon), min(0.3 * stage.safe.height, room.height))
    rect = _low(room, set_.width + 2 * pad + icon, set_.height + 2 * pad)
    painting = stage.character.strip(stage, rect)
    sign = pad + icon * 0.33
    x = rect.right - sign if set_.leftwards else rect.x + sign
    warning_sign(painting, x, rect.centre.y, icon * 0.7, palette.caution_ink)
    left = rect.x + pad + (0.0 if set_.leftwards else icon)
    return stage.assembled(
        [Layer(painting, (0, 36 * unit))], set_, left, rect.y + pad, palette.caution, 1.0,
        slide=(0, 36 * unit), delay=0.0, area=rect,
    )  # fmt: skip


def _low(room: Rect, width: float, height: float) -> Rect:
    """A rectangle in the middle of the lower edge."""
    return Rect(room.x + (room.width - width) / 2, room.bottom - height, width, height)


def disclosure(stage: Stage, text: str) -> Design:
    """In the colours of what is not editorial."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    pad, room = 34 * unit, stage.room
    items = [Item(text=text, weight="medium", size=kind.body, tint=palette.paper_ink)]
    set_ = stage.column(items, max(40 * unit, min(room.width, 1000 * unit) - 2 * pad), 0.3 * stage.safe.height)
    width, height = set_.width + 2 * pad, set_.height + 2 * pad
    rect = Rect(room.right - width, room.y, width, height)
    return stage.assembled(
        [Layer(stage.character.notice(stage, rect), (0, -28 * unit))], set_, rect.x + pad, rect.y + pad, palette.paper,
        1.0, slide=(0, -28 * unit), delay=0.0, area=rect,
    )  # fmt: skip


def plate(stage: Stage, text: str, note: str | None, at: tuple[float, float], window: Rect | None = None) -> Design:
    """A small plate with a text and a quieter note.

    Args:
        stage: where it is drawn.
        text: the name; that of a person is shortened where its pane has no room for all of it.
        note: second, smaller text; or None.
        at: where in the safe part of the window: (0, 0) its upper left corner, (0.5, 1) its lower middle.
        window: the pane it belongs to; the whole canvas unless given.
    """
    kind, palette, unit, lean = stage.look.type, stage.look.palette, stage.unit, stage.character.lean
    area = stage.room if window is None else _common(stage.safe, window.inset(20 * unit))
    pad_y = 24 * unit
    below = (
        [Item(text=note, weight="medium", size=kind.small, tint=palette.quiet, gap=18, secondary=True)] if note else []
    )
    high = 0.34 * stage.safe.height
    if window is not None:
        high = max(0.5 * high, min(high, area.height - 2 * pad_y - 8 * unit))

    def fitted(said: str, *, second: bool) -> tuple[Column, float]:
        items = [Item(text=said, weight="bold", size=kind.body, tint=palette.ink, secondary=second), *below]
        # Leaning edges take room by the height, which depends on the room: set plainly, then with what that took.
        plain = stage.column(items, max(40 * unit, area.width - 60 * unit), high)
        pad_x = 30 * unit + lean * (plain.height + 2 * pad_y + 8 * unit)
        return (stage.column(items, max(40 * unit, area.width - 2 * pad_x), high) if lean else plain), pad_x

    set_, pad_x = fitted(text, second=False)
    if window is not None and set_.overflow:
        # The name of a pane gets smaller, then shorter, before it is reported as too long.
        tried = [fitted(said, second=second) for said in (text, *shorter_names(text)) for second in (False, True)]
        fits = next((one for one in tried if not one[0].overflow), None)
        set_, pad_x = fits or max(tried, key=lambda one: one[0].placed[0].text.cap)
        # Small, which a check says; but whole, and no smaller than is allowed at the least.
        small = all(one.text.cap >= LEAST_CAPS * unit and not one.text.broken for one in set_.placed)
        set_ = replace(set_, overflow=set_.overflow and not small)
    height = set_.height + 2 * pad_y + 8 * unit
    width = min(set_.width + 2 * pad_x, max(area.width, set_.width))
    rect = Rect(area.x + at[0] * (area.width - width), area.y + at[1] * (area.height - height), width, height)
    return stage.assembled(
        [Layer(stage.character.plate(stage, rect))], set_, rect.x + (width - set_.width) / 2, rect.y + pad_y,
        palette.ground, stage.look.panel_opacity, delay=0.0, area=rect,
    )  # fmt: skip


def guide_mark(stage: Stage, text: str) -> Design:
    """Hatched like a building site: this is not the finished sound."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    pad, hatch, room = 22 * unit, 74 * unit, stage.room
    items = [Item(text=text, weight="bold", size=kind.small, tint=palette.caution, secondary=True)]
    set_ = stage.column(items, max(40 * unit, room.width - 2 * (pad + hatch)), 0.2 * stage.safe.height)
    width, height = set_.width + 2 * (pad + hatch), set_.height + 2 * pad
    # Narrow pictures have no room between a label and a disclosure: the mark then hangs below them.
    top = max(room.y, stage.safe.y + (0.0 if stage.wide else 148 * unit))
    rect = Rect(room.x + (room.width - width) / 2, top, width, height)
    painting = around(stage, rect)
    outline = rounded_rect(rect, 6 * unit)
    painting.shape(outline, palette.caution_ink)
    stripes = stage.painting(painting.x, painting.y, painting.width, painting.height)
    step = 26 * unit
    for side in (rect.x, rect.right - hatch):
        bars = stage.painting(int(side), painting.y, int(hatch), painting.height)
        for k in range(-6, 8):
            x = side + k * step
            bars.stroke(np.array([[x, rect.bottom + 4], [x + height, rect.y - 4]]), step * 0.46, palette.caution)
        stripes.cover(bars)
    stripes.clip(outline)
    painting.cover(stripes)
    return stage.assembled(
        [Layer(painting)], set_, rect.x + pad + hatch, rect.y + pad, palette.caution_ink, 1.0, delay=0.0, area=rect
    )


def _common(first: Rect, second: Rect) -> Rect:
    left, top = max(first.x, second.x), max(first.y, second.y)
    return Rect(
        left, top, max(1.0, min(first.right, second.right) - left), max(1.0, min(first.bottom, second.bottom) - top)
    )

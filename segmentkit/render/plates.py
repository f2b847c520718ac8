"""Plates: key words, cautions, disclosures, labels and the sign of the guide voice."""

from __future__ import annotations

import numpy as np

from segmentkit.geometry import Rect
from segmentkit.plan.model import Card
from segmentkit.render import dunes
from segmentkit.render.design import SIDE, Design, Layer, Stage, Written
from segmentkit.render.grounds import warning_sign
from segmentkit.render.layout import Item
from segmentkit.render.paint import rounded


def key_words(stage: Stage, card: Card) -> Design:
    """Big words on plates of their own, one after the other."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    room = stage.canvas.width * SIDE - 64 * unit if stage.wide else stage.safe.width - 72 * unit
    words = [(name, text) for name, text in card.fields if name in {"title", "line"}]
    most = stage.safe.height * 0.8 / max(1, len(words)) - 76 * unit
    big, small = kind.title * 0.86, kind.title * 0.6
    columns = []
    for name, word in words:
        size, tint = (big, palette.ink) if name == "line" else (small, palette.accent)
        columns.append(stage.column([Item(text=word, weight="bold", size=size, tint=tint)], room, most))
    pad_x, pad_y, gap = 36 * unit, 30 * unit, 18 * unit
    total = sum(one.height + 2 * pad_y for one in columns) + gap * (len(columns) - 1)
    x = stage.canvas.width * (1 - SIDE) if stage.wide else stage.safe.x
    # In narrow pictures they stand above the room that a lower third or a caution takes.
    y = stage.safe.y + (stage.safe.height - total) / 2
    if not stage.wide:
        y = max(stage.safe.y, stage.safe.bottom - total - 330 * unit)
    layers: list[Layer] = []
    written: list[Written] = []
    start = y
    for k, one in enumerate(columns):
        height, width = one.height + 2 * pad_y, one.width + 2 * pad_x
        painting = stage.painting(int(x) - 2, int(y) - 2, int(width) + 6, int(height) + 6)
        painting.shape(rounded(x, y, x + width, y + height, 10 * unit), palette.ground, stage.look.panel_opacity)
        one.paint(painting, stage.setter, x + pad_x, y + pad_y, palette.accent)
        layers.append(Layer(painting, (56 * unit, 0), 0.5 * k / max(1, len(columns))))
        written += stage.written(one, x + pad_x, y + pad_y, palette.ground, stage.look.panel_opacity)
        y += height + gap
    return Design(
        tuple(layers),
        tuple(written),
        Rect(x, start, max((one.width for one in columns), default=0.0) + 2 * pad_x, total),
    )


def caution(stage: Stage, text: str) -> Design:
    """A strip in the caution colour, low in the picture, with a warning sign."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    pad, icon = 32 * unit, 84 * unit
    items = [Item(text=text, weight="bold", size=kind.body, tint=palette.caution_ink)]
    set_ = stage.column(items, stage.safe.width - 2 * pad - icon, 0.3 * stage.safe.height)
    width, height = set_.width + 2 * pad + icon, set_.height + 2 * pad
    left, top = stage.safe.x + (stage.safe.width - width) / 2, stage.safe.bottom - height
    painting = stage.painting(int(left) - 4, int(top) - 4, int(width) + 10, int(height) + 10)
    painting.shape(
        rounded(left - 3 * unit, top - 3 * unit, left + width + 3 * unit, top + height + 3 * unit, 12 * unit),
        palette.caution_ink,
        0.85,
    )
    painting.shape(rounded(left, top, left + width, top + height, 10 * unit), palette.caution)
    warning_sign(painting, left + pad + icon * 0.33, top + height / 2, icon * 0.7, palette.caution_ink)
    return stage.assembled(
        [Layer(painting, (0, 36 * unit))],
        set_,
        left + pad + icon,
        top + pad,
        palette.caution,
        1.0,
        slide=(0, 36 * unit),
        delay=0.0,
    )


def disclosure(stage: Stage, text: str) -> Design:
    """Dark on dry sand with a fine double border: unlike anything editorial."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    pad = 34 * unit
    items = [Item(text=text, weight="medium", size=kind.body, tint=palette.paper_ink)]
    set_ = stage.column(items, min(stage.safe.width, 1000 * unit) - 2 * pad, 0.3 * stage.safe.height)
    width, height = set_.width + 2 * pad, set_.height + 2 * pad
    left, top = stage.safe.right - width, stage.safe.y
    painting = stage.painting(int(left) - 2, int(top) - 2, int(width) + 6, int(height) + 6)
    painting.shape(rounded(left, top, left + width, top + height, 4 * unit), palette.paper)
    inset = 9 * unit
    painting.stroke(
        rounded(left + inset, top + inset, left + width - inset, top + height - inset, 0),
        2.5 * unit,
        palette.paper_ink,
    )
    return stage.assembled(
        [Layer(painting, (0, -28 * unit))],
        set_,
        left + pad,
        top + pad,
        palette.paper,
        1.0,
        slide=(0, -28 * unit),
        delay=0.0,
    )


def plate(stage: Stage, text: str, note: str | None, at: tuple[float, float], window: Rect | None = None) -> Design:
    """A small plate with a text and a quieter note.

    Args:
        stage: where it is drawn.
        text: the name.
        note: second, smaller text; or None.
        at: where in the safe part of the window: (0, 0) its upper left corner, (0.5, 1) its lower middle.
        window: the pane it belongs to; the whole canvas unless given.
    """
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    area = stage.safe if window is None else _common(stage.safe, window.inset(20 * unit))
    pad_x, pad_y = 30 * unit, 24 * unit
    items = [Item(text=text, weight="bold", size=kind.body, tint=palette.ink)]
    if note:
        items.append(Item(text=note, weight="medium", size=kind.least, tint=palette.quiet, gap=18))
    set_ = stage.column(items, max(40 * unit, area.width - 2 * pad_x), 0.34 * stage.safe.height)
    width, height = set_.width + 2 * pad_x, set_.height + 2 * pad_y + 8 * unit
    left = area.x + at[0] * (area.width - width)
    top = area.y + at[1] * (area.height - height)
    painting = stage.painting(int(left) - 2, int(top) - 2, int(width) + 6, int(height) + 6)
    outline = rounded(left, top, left + width, top + height, 10 * unit)
    painting.shape(outline, palette.ground, stage.look.panel_opacity)
    foot = stage.painting(painting.x, painting.y, painting.width, painting.height)
    foot.shape(
        dunes.body(
            dunes.ridge(left - 0.3 * width, left + 1.2 * width, top + height, 15 * unit, 0.62), top + height + 20
        ),
        palette.accent,
    )
    foot.clip(outline)
    painting.cover(foot)
    return stage.assembled(
        [Layer(painting, (0, 0))],
        set_,
        left + pad_x,
        top + pad_y,
        palette.ground,
        stage.look.panel_opacity,
        delay=0.0,
    )


def guide_mark(stage: Stage, text: str) -> Design:
    """Hatched like a building site: this is not the finished sound."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    pad, hatch = 22 * unit, 74 * unit
    items = [Item(text=text, weight="bold", size=kind.small, tint=palette.caution)]
    set_ = stage.column(items, stage.safe.width - 2 * (pad + hatch), 0.2 * stage.safe.height)
    width, height = set_.width + 2 * (pad + hatch), set_.height + 2 * pad
    # Narrow pictures have no room between a label and a disclosure: the mark then hangs below them.
    left = stage.safe.x + (stage.safe.width - width) / 2
    top = stage.safe.y + (0.0 if stage.wide else 148 * unit)
    painting = stage.painting(int(left) - 2, int(top) - 2, int(width) + 6, int(height) + 6)
    outline = rounded(left, top, left + width, top + height, 6 * unit)
    painting.shape(outline, palette.caution_ink)
    stripes = stage.painting(painting.x, painting.y, painting.width, painting.height)
    step = 26 * unit
    for side in (left, left + width - hatch):
        bars = stage.painting(int(side), painting.y, int(hatch), painting.height)
        for k in range(-6, 8):
            x = side + k * step
            bars.stroke(np.array([[x, top + height + 4], [x + height, top - 4]]), step * 0.46, palette.caution)
        stripes.cover(bars)
    stripes.clip(outline)
    painting.cover(stripes)
    return stage.assembled([Layer(painting)], set_, left + pad + hatch, top + pad, palette.caution_ink, 1.0, delay=0.0)


def _common(first: Rect, second: Rect) -> Rect:
    left, top = max(first.x, second.x), max(first.y, second.y)
    return Rect(
        left, top, max(1.0, min(first.right, second.right) - left), max(1.0, min(first.bottom, second.bottom) - top)
    )

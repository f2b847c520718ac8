"""Boards and panels: titles, end boards, lower thirds, lists, drills."""

from __future__ import annotations

from collections.abc import Sequence

from segmentkit.plan.model import Card
from segmentkit.render.design import SIDE, Design, Layer, Stage, text_of, texts_of
from segmentkit.render.grounds import board_layers, low_dune, sheet_ground, side_ground, warning_sign
from segmentkit.render.layout import Item
from segmentkit.render.paint import rounded


def board(stage: Stage, card: Card) -> Design:
    """Type on the foremost dune, over a picture or the plain background."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    items: list[Item] = []
    if item := text_of(card, "item"):
        items.append(Item(text=item, weight="medium", size=kind.body, tint=palette.accent))
    items.append(Item(text=text_of(card, "main"), weight="bold", size=kind.title, tint=palette.ink, gap=30))
    if sub := text_of(card, "sub"):
        items.append(Item(text=sub, weight="regular", size=kind.heading, tint=palette.ink, gap=34))
    for k, line in enumerate(texts_of(card, "line")):
        items.append(Item(text=line, weight="medium", size=kind.heading * 0.9, tint=palette.ink, gap=24 if k else 40))
    if programme := text_of(card, "programme"):
        items.append(Item(text=programme, weight="medium", size=kind.small, tint=palette.quiet, gap=44))
    width = stage.safe.width * (0.86 if stage.wide else 1.0)
    set_ = stage.column(items, width, stage.safe.height * 0.72)
    left = stage.safe.x
    bottom = stage.safe.bottom - 26 * unit
    top = bottom - set_.height
    crest = min(top - 112 * unit, 0.58 * stage.canvas.height)
    panel = board_layers(stage, crest, mirrored=card.kind == "end_board")
    return stage.assembled(panel, set_, left, top, palette.ground, 1.0, slide=(0, 24 * unit))


def lower_third(stage: Stage, card: Card) -> Design:
    """Name and line on a low dune that runs in from the left edge."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    items = [Item(text=text_of(card, "name"), weight="bold", size=kind.heading, tint=palette.ink)]
    if line := text_of(card, "line"):
        items.append(Item(text=line, weight="medium", size=kind.small, tint=palette.quiet, gap=26))
    pad = 40 * unit
    slope = 190 * unit
    room = stage.safe.width - (slope if stage.wide else slope * 0.45)
    set_ = stage.column(items, room, 0.4 * stage.safe.height)
    bottom = stage.safe.bottom
    top = bottom - set_.height - 2 * pad
    end = stage.safe.x + set_.width + slope
    painting = low_dune(stage, stage.safe.x + set_.width + 28 * unit, top, end, bottom)
    layers = [Layer(painting, (-64 * unit, 0))]
    return stage.assembled(
        layers, set_, stage.safe.x, top + pad, palette.ground, stage.look.panel_opacity, slide=(-28 * unit, 0)
    )


def _list_items(stage: Stage, card: Card) -> list[Item]:
    kind, palette = stage.look.type, stage.look.palette
    items: list[Item] = []
    if title := text_of(card, "title"):
        items.append(Item(text=title, weight="bold", size=kind.heading, tint=palette.accent))
    weight = "medium" if card.kind == "key_points" else "regular"
    for k, line in enumerate(texts_of(card, "line")):
        items.append(Item(text=line, weight=weight, size=kind.body, tint=palette.ink, gap=34 if k else 52, bullet=True))
    return items


def drill(stage: Stage, card: Card) -> Design:
    """Name, count and equipment; below them the safety lines in a block of their own colour."""
    kind, palette = stage.look.type, stage.look.palette
    items = [Item(text=text_of(card, "name"), weight="bold", size=kind.heading, tint=palette.accent)]
    for k, name in enumerate(name for name in ("count", "equipment") if text_of(card, name)):
        weight = "medium" if name == "count" else "regular"
        items.append(
            Item(text=text_of(card, name), weight=weight, size=kind.body, tint=palette.ink, gap=26 if k else 44)
        )
    safety = [
        Item(
            text=text,
            weight="bold" if not k else "medium",
            size=kind.body * (1 if not k else 0.9),
            tint=palette.caution_ink,
            gap=24,
        )
        for k, text in enumerate([*texts_of(card, "safety"), *texts_of(card, "line")])
    ]
    return _side_panel(stage, items, safety)


def _side_panel(stage: Stage, items: list[Item], safety: Sequence[Item] | None) -> Design:
    """A column beside the player; in upright and square pictures a sheet below."""
    unit, palette = stage.unit, stage.look.palette
    opacity = stage.look.panel_opacity
    pad = 64 * unit
    if stage.wide:
        x0 = stage.canvas.width * (1 - SIDE)
        left, room = x0 + pad, stage.safe.right - x0 - pad
        height = stage.safe.height * (0.9 if safety is None else 0.97)
    else:
        left, room = stage.safe.x, stage.safe.width
        height = stage.safe.height * (0.5 if safety is None else 0.62)
    inner, icon = 30 * unit, 62 * unit
    block_room = room - 2 * inner - icon
    share = 1.0 if safety is None else 0.56
    set_ = stage.column(items, room, height * share)
    block = stage.column(safety, block_room, height - set_.height - 2 * inner - 56 * unit) if safety else None
    block_height = block.height + 2 * inner if block else 0.0
    total = set_.height + (56 * unit + block_height if block else 0.0)
    if stage.wide:
        top = stage.safe.y + max(0.0, (stage.safe.height * (0.88 if not block else 1.0) - total) / 2)
        layers = [Layer(side_ground(stage, stage.canvas.width * (1 - SIDE)), (72 * unit, 0))]
        slide = (32 * unit, 0.0)
    else:
        top = stage.safe.bottom - total - 8 * unit
        layers = [Layer(sheet_ground(stage, top - 72 * unit), (0, 72 * unit))]
        slide = (0.0, 32 * unit)
    design = stage.assembled(layers, set_, left, top, palette.ground, opacity, slide=slide)
    if block is None:
        return design
    y = top + set_.height + 56 * unit
    painting = stage.painting(int(left) - 2, int(y) - 2, int(room) + 6, int(block_height) + 6)
    painting.shape(rounded(left, y, left + room, y + block_height, 10 * unit), palette.caution)
    warning_sign(
        painting,
        left + inner + icon * 0.36,
        y + inner + block.placed[0].text.cap / 2,
        icon * 0.72,
        palette.caution_ink,
    )
    block.paint(painting, stage.setter, left + inner + icon, y + inner, palette.caution_ink)
    return Design(
        (*design.layers, Layer(painting, slide, 0.4)),
        (*design.written, *stage.written(block, left + inner + icon, y + inner, palette.caution, 1.0)),
        design.area,
    )


def list_panel(stage: Stage, card: Card) -> Design:
    """A heading and short lines beside or below the player."""
    return _side_panel(stage, _list_items(stage, card), None)

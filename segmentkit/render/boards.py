"""Boards and panels: titles, end boards, lower thirds, lists, drills."""

from __future__ import annotations

from collections.abc import Sequence

from segmentkit.geometry import Rect
from segmentkit.plan.model import Card
from segmentkit.render.characters.base import warning_sign
from segmentkit.render.design import SIDE, Design, Stage, text_of, texts_of
from segmentkit.render.layer import Layer
from segmentkit.render.layout import Item


def board(stage: Stage, card: Card) -> Design:
    """Type on the character's board, over a picture or the plain background."""
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
        items.append(Item(text=programme, weight="medium", size=kind.small, tint=palette.quiet, gap=44, secondary=True))
    mirrored = card.kind == "end_board"
    room, low = stage.character.board_room(stage, mirrored)
    set_ = stage.column(items, room.width, room.height)
    top = room.y + low * max(0.0, room.height - set_.height)
    text = Rect(room.x, top, set_.width, set_.height)
    panel = stage.character.board(stage, text, mirrored)
    return stage.assembled(panel, set_, room.x, top, palette.ground, 1.0, slide=(0, 24 * unit))


def lower_third(stage: Stage, card: Card) -> Design:
    """Name and line on a low ground that runs in from the edge."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    items = [Item(text=text_of(card, "name"), weight="bold", size=kind.heading, tint=palette.ink)]
    if line := text_of(card, "line"):
        items.append(Item(text=line, weight="medium", size=kind.small, tint=palette.quiet, gap=26, secondary=True))
    pad = 40 * unit
    free = stage.room.x > stage.safe.x + 1  # a panel stands to the left: the ground starts beside it
    left = stage.room.x + (pad if free else 0.0) + stage.character.hoist * unit
    tail = stage.character.tail * unit * (1.0 if stage.wide else 0.45)
    set_ = stage.column(items, max(pad, stage.room.right - left - tail - pad), 0.4 * stage.room.height)
    top = stage.room.bottom - set_.height - pad
    text = Rect(left, top, set_.width, set_.height)
    start = stage.room.x if free else 0.0
    painting = stage.character.name(stage, text, start)
    area = Rect(start, top - pad, text.right + tail - start, set_.height + 2 * pad)
    return stage.assembled(
        [Layer(painting, (-64 * unit, 0))], set_, left, top, palette.ground, stage.look.panel_opacity,
        slide=(-28 * unit, 0), area=area,
    )  # fmt: skip


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
            secondary=bool(k),
        )
        for k, text in enumerate([*texts_of(card, "safety"), *texts_of(card, "line")])
    ]
    return _side_panel(stage, items, safety, card.side == "left")


def list_panel(stage: Stage, card: Card) -> Design:
    """A heading and short lines beside or below the player."""
    return _side_panel(stage, _list_items(stage, card), None, card.side == "left")


def _side_panel(stage: Stage, items: list[Item], safety: Sequence[Item] | None, on_left: bool) -> Design:
    """A column beside the player; in upright and square pictures a sheet below."""
    unit, palette, safe, canvas = stage.unit, stage.look.palette, stage.safe, stage.canvas
    opacity = stage.look.panel_opacity
    pad = 64 * unit
    if stage.wide:
        inner = canvas.width * (SIDE if on_left else 1 - SIDE)
        left = safe.x if on_left else inner + pad
        room = (inner - pad if on_left else safe.right) - left
        height = safe.height * (0.9 if safety is None else 0.97)
    else:
        inner, left, room = 0.0, safe.x, safe.width
        height = safe.height * (0.5 if safety is None else 0.62)
    inset, icon = 30 * unit, 62 * unit
    block_room = room - 2 * inset - icon
    share = 1.0 if safety is None else 0.56
    set_ = stage.column(items, room, height * share)
    block = stage.column(safety, block_room, height - set_.height - 2 * inset - 56 * unit) if safety else None
    block_height = block.height + 2 * inset if block else 0.0
    total = set_.height + (56 * unit + block_height if block else 0.0)
    slide: tuple[float, float]
    if stage.wide:
        top = safe.y + max(0.0, (safe.height * (0.88 if not block else 1.0) - total) / 2)
        way = -1 if on_left else 1
        layers = [Layer(stage.character.side(stage, inner, on_left), (way * 72 * unit, 0))]
        slide = (way * 32 * unit, 0.0)
        edge = 40 * unit  # forms may bulge a little towards the player
        area = Rect(0, 0, inner + edge, canvas.height) if on_left else Rect(
            inner - edge, 0, canvas.width - inner + edge, canvas.height
        )  # fmt: skip
    else:
        top = safe.bottom - total - 8 * unit
        layers = [Layer(stage.character.sheet(stage, top - 72 * unit), (0, 72 * unit))]
        slide = (0.0, 32 * unit)
        area = Rect(0, top - 110 * unit, canvas.width, canvas.height - top + 110 * unit)
    design = stage.assembled(layers, set_, left, top, palette.ground, opacity, slide=slide, area=area)
    if block is None:
        return design
    ground = Rect(left, top + set_.height + 56 * unit, room, block_height)
    painting = stage.character.block(stage, ground)
    warning_sign(
        painting, left + inset + icon * 0.36, ground.y + inset + block.placed[0].text.cap / 2, icon * 0.72,
        palette.caution_ink,
    )  # fmt: skip
    x, y = left + inset + icon, ground.y + inset
    block.paint(painting, stage.setter, x, y, palette.caution_ink, stage.character.bullet)
    return Design(
        (*design.layers, Layer(painting, slide, 0.4)),
        (*design.written, *stage.written(block, x, y, palette.caution, 1.0)),
        design.area,
    )

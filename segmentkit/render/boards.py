"""Boards and panels: titles, end boards, lower thirds, lists, drills."""

from __future__ import annotations

from collections.abc import Sequence

from segmentkit.geometry import Rect
from segmentkit.plan.model import Card
from segmentkit.plan.sheets import FOOT, HEAD, SIDE
from segmentkit.render.characters.base import warning_sign
from segmentkit.render.design import Design, Stage, text_of, texts_of
from segmentkit.render.layer import Layer
from segmentkit.render.layout import Column, Item

_INSET, _ICON, _BETWEEN = 30, 62, 56
"""Around safety lines, for their sign, and above their block, in pixels of the look."""
_TRIES = tuple((share, tight) for tight in (1.0, 0.75) for share in (0.56, 0.5, 0.62, 0.44, 0.68, 0.38, 0.74))
"""Parts of a panel's height that the texts above its safety lines may take, and how close it is set: the first pair
with which all of it fits holds."""


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
    """Name and line on a ground that runs in from the edge, low in the picture or at its head."""
    kind, palette, unit = stage.look.type, stage.look.palette, stage.unit
    items = [Item(text=text_of(card, "name"), weight="bold", size=kind.heading, tint=palette.ink)]
    if line := text_of(card, "line"):
        items.append(Item(text=line, weight="medium", size=kind.small, tint=palette.quiet, gap=26, secondary=True))
    pad = 40 * unit
    free = stage.room.x > stage.safe.x + 1  # a panel stands to the left: the ground starts beside it
    left = stage.room.x + (pad if free else 0.0) + stage.character.hoist * unit
    tail = stage.character.tail * unit * (1.0 if stage.wide else 0.45)
    set_ = stage.column(items, max(pad, stage.room.right - left - tail - pad), 0.4 * stage.room.height)
    top = stage.room.y + pad if card.high else stage.room.bottom - set_.height - pad
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
        first = name == "count"
        items.append(
            Item(
                text=text_of(card, name),
                weight="medium" if first else "regular",
                size=kind.body * (1 if first else 0.9),
                tint=palette.ink,
                gap=26 if k else 44,
                secondary=not first,
            )
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
    return _side_panel(stage, items, safety, card)


def list_panel(stage: Stage, card: Card) -> Design:
    """A heading and short lines beside or below the player."""
    return _side_panel(stage, _list_items(stage, card), None, card)


def _two_columns(
    stage: Stage, items: Sequence[Item], safety: Sequence[Item] | None, room: float, height: float
) -> tuple[Column, Column | None, float]:
    """The texts of a panel, its safety lines if it has any, and how close they had to be set for all of it to fit."""
    if not safety:
        return stage.column(items, room, height), None, 1.0
    found = []
    for share, tight in _TRIES:
        inset, icon, between = (one * tight * stage.unit for one in (_INSET, _ICON, _BETWEEN))
        set_ = stage.column(items, room, height * share)
        block = stage.column(safety, room - 2 * inset - icon, height - set_.height - 2 * inset - between)
        found.append((set_, block, tight))
        if not set_.overflow and not block.overflow:
            break
    return found[-1]


def _side_panel(stage: Stage, items: list[Item], safety: Sequence[Item] | None, card: Card) -> Design:
    """A column beside the player; in upright and square pictures a sheet below, from where the plan says."""
    on_left = card.side == "left"
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
        if card.sheet is not None:
            height = safe.bottom - card.sheet * canvas.height - (HEAD + FOOT) * unit
    set_, block, tight = _two_columns(stage, items, safety, room, height)
    inset, icon, between = (one * tight * unit for one in (_INSET, _ICON, _BETWEEN))
    block_height = block.height + 2 * inset if block else 0.0
    total = set_.height + (between + block_height if block else 0.0)
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
        top = safe.bottom - total - FOOT * unit
        edge = top - HEAD * unit
        if card.sheet is not None:
            edge = card.sheet * canvas.height
            top = edge + HEAD * unit + max(0.0, (height - total) / 2)
        layers = [Layer(stage.character.sheet(stage, edge), (0, HEAD * unit))]
        slide = (0.0, 32 * unit)
        area = Rect(0, edge - 38 * unit, canvas.width, canvas.height - edge + 38 * unit)
    # What is read from right to left begins at the right edge of its panel.
    start = left + (room - set_.width if set_.leftwards else 0.0)
    design = stage.assembled(layers, set_, start, top, palette.ground, opacity, slide=slide, area=area)
    if block is None:
        return design
    ground = Rect(left, top + set_.height + between, room, block_height)
    painting = stage.character.block(stage, ground)
    sign = inset + icon * 0.36
    warning_sign(
        painting, left + (room - sign if block.leftwards else sign), ground.y + inset + block.placed[0].text.cap / 2,
        icon * 0.72, palette.caution_ink,
    )  # fmt: skip
    x = left + (room - inset - icon - block.width if block.leftwards else inset + icon)
    y = ground.y + inset
    block.paint(painting, stage.setter, x, y, palette.caution_ink, stage.character.bullet)
    return Design(
        (*design.layers, Layer(painting, slide, 0.4)),
        (*design.written, *stage.written(block, x, y, palette.caution, 1.0)),
        design.area,
    )

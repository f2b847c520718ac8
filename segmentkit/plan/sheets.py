"""Panels and the pictures that make room for them: player and ball stay in sight while one is seen.

In an upright or square picture there is no room beside a player. There a panel is a sheet at the foot, and the clip
fills what it leaves free above. In a wide picture the clip moves aside, as far as its frame stays full. Both go back
when the panel goes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from segmentkit.geometry import Rect
from segmentkit.plan.layout import even, title_safe, unit_of
from segmentkit.plan.model import Card, Move, Pane
from segmentkit.timebase import Span

PANELS = frozenset({"information", "key_points", "drill"})
WIDE = 1.3
"""A picture at least this much wider than tall has room for a panel at its side."""
SIDE = 0.40
"""Part of a wide picture's width that a panel beside the player takes."""
HEAD = 72
"""From a sheet's upper edge to its first capitals, in pixels at a shorter side of 1080; `FOOT` below its last line."""
FOOT = 8
_UNDER = 64
"""How far a picture reaches under the edge of its sheet, which may be a wave or a slant."""
_HIDDEN = 96
"""What counts as hidden at its foot: that, and the height of the wave."""
_HIGHEST, _LOWEST = 0.31, 0.62
"""Where a sheet's edge may lie, as parts of the picture's height."""
_HEADING, _BODY, _BOLD, _LEADING, _LETTER = 84, 70, 76, 1.16, 0.5
"""Sizes of type of the shipped looks, roughly; a letter is half its size wide. The text is set to fit in any case."""
_GAP, _BLOCK, _SIGN = 40, 101, 122
"""Between texts; around the safety lines of a drill; what their sign takes across."""
_ONE_ROW, _AMONG, _UNDER_LAST = 0.92, 26, 15
"""Of a text of one row, from its capitals to what hangs below, in its size; between safety lines; below the last."""
WAY = 15
"""Frames that a picture takes to move, at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A panel: when it is seen, how long its going takes, and the part of the canvas that it leaves free, in pixels.

    `foot` says that it lies at the foot of the picture, and not at a side.
    """

    span: Span
    leave: int
    free: Rect
    foot: bool


def with_sheets(cards: Sequence[Card], canvas: Rect) -> list[Card]:
    """Cards of a beat, panels knowing where their sheet begins; unchanged in a wide picture."""
    if canvas.width >= WIDE * canvas.height:
        return list(cards)
    return [replace(card, sheet=_edge(card, canvas)) if card.kind in PANELS else card for card in cards]


def sheets_of(cards: Sequence[Card], canvas: Rect) -> tuple[Sheet, ...]:
    """The panels among the cards of a beat."""
    return tuple(
        Sheet(span=card.span, leave=card.leave_frames, free=_free(card, canvas), foot=card.sheet is not None)
        for card in cards
        if card.kind in PANELS
    )


def _free(card: Card, canvas: Rect) -> Rect:
    """What a panel leaves of the canvas; above a sheet on even pixels and a little under its edge."""
    if card.sheet is None:
        left = SIDE * canvas.width if card.side == "left" else 0.0
        return Rect(canvas.x + left, canvas.y, (1 - SIDE) * canvas.width, canvas.height)
    edge = even(card.sheet * canvas.height + _UNDER * unit_of(canvas))
    return Rect(canvas.x, canvas.y, canvas.width, min(edge, canvas.height))


def _edge(card: Card, canvas: Rect) -> float:
    """Where a sheet begins, as a part of the picture's height: as low as its text allows."""
    safe, unit = title_safe(canvas), unit_of(canvas)
    heads = [text for name, text in card.fields if name in {"title", "name"}]
    warned = [text for name, text in card.fields if card.kind == "drill" and name in {"safety", "line"}]
    plain = [text for name, text in card.fields if text not in heads and text not in warned]
    wide = safe.width / unit
    height = sum(_high(text, _HEADING, wide) for text in heads)
    height += sum(_high(text, _BODY, wide - 0.62 * _BODY) + _GAP for text in plain)
    height += sum(_high(text, _BOLD, wide - _SIGN) for text in warned)
    height += _BLOCK * bool(warned) + _AMONG * max(0, len(warned) - 1) - _UNDER_LAST
    top = (safe.bottom - (height + HEAD + FOOT) * unit - canvas.y) / canvas.height
    return round(min(_LOWEST, max(_HIGHEST, top)), 4)


def _high(text: str, size: float, wide: float) -> float:
    """What a text takes downwards: its capitals, the rows after the first, and what hangs below the last one."""
    rows = max(1, math.ceil(len(text) * _LETTER * size / wide))
    return (_ONE_ROW + _LEADING * (rows - 1)) * size


def hidden(canvas: Rect) -> float:
    """Pixels at the foot of the part above a sheet that its edge may hide."""
    return _HIDDEN * unit_of(canvas)


def sheet_of_shot(sheets: Sequence[Sheet], span: Span) -> Sheet | None:
    """The first panel that is seen in a shot."""
    return next((sheet for sheet in sheets if sheet.span.overlap(span)), None)


def made_room(whole: Sequence[Pane], up: Sequence[Pane], sheet: Sheet, span: Span) -> tuple[Pane, ...]:
    """Panes that make room for a panel: from their first frame, or on their way there and back while it is seen.

    Args:
        whole: the panes as they are without it.
        up: the same beside or above it.
        sheet: when it is seen.
        span: of the shot.
    """
    start = sheet.span.start - span.start
    way = max(1, min(WAY, span.frames - start))
    back = sheet.span.end - sheet.leave - span.start if sheet.span.end < span.end else None
    if start <= 0 and back is None:
        return tuple(up)
    moves = []
    for here, there in zip(whole, up, strict=True):
        if here.move is not None:
            return tuple(whole)
        if here.placement == there.placement:
            moves.append(here)
            continue
        first = start if start > 0 else -way
        moves.append(replace(here, move=Move(to=there.placement, start=first, frames=way, back=back)))
    return tuple(moves)

"""Where a name stands in a picture that is not wide: low while feet, club and ball stay free, else at its head.

Beside a player an upright or square picture has no room, and the player stands in its lower part. One place is chosen
for all names of a beat, over everything that is seen with them, so that none moves. At the head the clip makes room: it
is moved down, and is less close, in all shots of the beat, so that no frame jumps under a name.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from segmentkit.facts import SceneFacts
from segmentkit.geometry import Placement, Rect, box_of
from segmentkit.plan.caption_text import cells
from segmentkit.plan.layout import title_safe, unit_of
from segmentkit.plan.model import Card, ClipPicture, Pane, Shot
from segmentkit.plan.moments import Footage
from segmentkit.plan.seen import body_box, seen_box
from segmentkit.plan.sheets import WIDE
from segmentkit.timebase import Span

KIND = "lower_third"
_PADS, _NAME, _ROW, _LINE = 80, 66, 104, 82
"""Above and below the type of a name together, its capitals, each further row, and the line under it, in pixels at a
shorter side of 1080; the tallest of the shipped looks, measured."""
_LETTER, _SMALL_LETTER, _SMALL_ROW, _ROOM = 40, 29, 66, 780
"""A letter's mean width in the name and in the line, a further row of the line, and the room that a row has, in the
same pixels; wide characters count two."""
_AT_HEAD = frozenset({"label", "disclosure"})
_AIR = 24
"""Between a name and what it keeps off."""


@dataclass(frozen=True, slots=True)
class Player:
    """A player in one shot, in canvas pixels: the body with feet and ball, and all that moves, the club with it."""

    clip: str
    body: Rect | None
    seen: Rect | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What tells where players are: clips, and what moves in them as far as that was measured."""

    footage: Mapping[str, Footage]
    scenes: Mapping[str, SceneFacts]


def is_narrow(canvas: Rect) -> bool:
    """Whether a picture has no room for a name beside a player."""
    return canvas.width < WIDE * canvas.height


def head_wanted(cards: Sequence[Card], shots: Sequence[Shot], known: Seen, canvas: Rect) -> float:
    """Pixels at the head of the picture that a beat's names take there; 0 where they stand low.

    So they do where pictures have names of their own at the head, or a label or a disclosure stands there: a name below
    those would hide faces.

    Args:
        cards: of the beat.
        shots: of the beat, as they are when the names stand low.
        known: where players are.
        canvas: the whole picture.
    """
    names = [card for card in cards if card.kind == KIND]
    if not names or not is_narrow(canvas) or _taken(names, cards, shots):
        return 0.0
    unit, safe = unit_of(canvas), title_safe(canvas)
    high = max(map(_height, names)) * unit
    foot = Rect(canvas.x, safe.bottom - high - _AIR * unit, canvas.width, high + _AIR * unit)
    if not any(_hit(player, foot) for player in _met(names, shots, known)):
        return 0.0
    return safe.y - canvas.y + high + _AIR * unit


def _taken(names: Sequence[Card], cards: Sequence[Card], shots: Sequence[Shot]) -> bool:
    """Whether something else stands at the head while any of the names is seen."""
    spans = [card.span for card in cards if card.kind in _AT_HEAD]
    spans += [shot.span for shot in shots if any(pane.label for pane in shot.panes)]
    return any(name.span.overlap(span) for name in names for span in spans)


def at_head(
    cards: Sequence[Card], shots: Sequence[Shot], low: Sequence[Shot], known: Seen, head: float, canvas: Rect
) -> bool:
    """Whether the names of a beat stand at the head: not if they would cover as much of the players there as low.

    Args:
        cards: of the beat.
        shots: of the beat, as they are when they make room at the head.
        low: the same as they are when names stand low.
        known: where players are.
        head: pixels that the names take at the head.
        canvas: the whole picture.
    """
    names = [card for card in cards if card.kind == KIND]
    top = Rect(canvas.x, canvas.y, canvas.width, head)
    safe = title_safe(canvas)
    depth = head - (safe.y - canvas.y)
    foot = Rect(canvas.x, safe.bottom - depth, canvas.width, depth)
    return _harm(_met(names, shots, known), top) < _harm(_met(names, low, known), foot)


def raised(cards: Sequence[Card]) -> list[Card]:
    """The cards of a beat, its names at the head of the picture."""
    return [replace(card, high=True) if card.kind == KIND else card for card in cards]


def players(shot: Shot, span: Span, known: Seen) -> Iterator[Player]:
    """The players that a shot shows in a span, where they are at its start and where at its end; softened ones apart.

    Args:
        shot: the shot.
        span: frames of the segment, at least one of which lies in the shot.
        known: where players are.
    """
    first, last = max(span.start, shot.span.start), min(span.end, shot.span.end) - 1
    for pane in shot.panes:
        picture = pane.picture
        if not isinstance(picture, ClipPicture) or pane.soften or pane.inset or picture.clip not in known.footage:
            continue
        start = shot.span.start
        shown = picture.frames[first - start : last - start + 1]
        clip = known.footage[picture.clip]
        body, seen = body_box(clip, shown), seen_box(clip, known.scenes.get(picture.clip), shown)
        for offset in {first - start, last - start}:
            placed = pane.placement_at(offset)
            yield Player(picture.clip, _on_canvas(body, placed, pane), _on_canvas(seen, placed, pane))


def _on_canvas(part: Rect | None, placed: Placement, pane: Pane) -> Rect | None:
    """A part of the picture on the canvas, within its pane."""
    if part is None:
        return None
    box, window = box_of(map(placed.to_canvas, part.corners)), pane.whole_window
    left, top = max(box.x, window.x), max(box.y, window.y)
    return Rect(left, top, max(0.0, min(box.right, window.right) - left),
                max(0.0, min(box.bottom, window.bottom) - top))  # fmt: skip


def _met(names: Sequence[Card], shots: Sequence[Shot], known: Seen) -> list[Player]:
    """The players that are seen with any of the names."""
    return [
        player
        for shot in shots
        for card in names
        if card.span.overlap(shot.span)
        for player in players(shot, card.span, known)
    ]


def _hit(player: Player, band: Rect) -> bool:
    return any(part is not None and part.overlaps(band) for part in (player.body, player.seen))


def _harm(met: Sequence[Player], band: Rect) -> tuple[float, float]:
    """How much of players a band covers at the worst, in pixels: of bodies, feet and ball first, then of clubs."""
    return (
        max((_deep(player.body, band) for player in met), default=0.0),
        max((_deep(player.seen, band) for player in met), default=0.0),
    )


def _deep(part: Rect | None, band: Rect) -> float:
    if part is None or not part.overlaps(band):
        return 0.0
    return min(part.bottom, band.bottom) - max(part.y, band.y)


def _height(card: Card) -> float:
    """What a name takes downwards, in pixels at a shorter side of 1080; more rather than less."""
    texts = dict(card.fields)
    rows = math.ceil(cells(texts.get("name", "")) * _LETTER / _ROOM)
    more = math.ceil(cells(texts.get("line", "")) * _SMALL_LETTER / _ROOM)
    return _PADS + _NAME + _ROW * max(0, rows - 1) + (_LINE + _SMALL_ROW * (more - 1) if more else 0)

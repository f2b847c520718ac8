"""Cards that are seen together make room for one another: what can give way stands above, below or beside the rest.

A card keeps one spot for as long as it is seen, so whatever it meets in that time counts. Cautions come first: other
low cards move up for them. What finds no free spot is left where it is, for a check to say so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from segmentkit.geometry import Rect
from segmentkit.plan.model import Card
from segmentkit.timebase import Span

GAP = 24
"""Between two cards, in pixels of the look."""
_FIXED = ("title", "end_board", "information", "key_points", "drill")
_ORDER = ("caution", "disclosure", "label", "lower_third", "key_words", "guide_mark")
_BESIDE = "key_words"
_LOW = frozenset({"caution", "lower_third"})
_TRIES = 6

Key = tuple[str, str, int, int]


def key_of(card: Card) -> Key:
    """What tells a card of a plan from all others."""
    return card.beat, card.kind, card.index, card.span.start


def rooms(
    cards: Sequence[Card],
    names: Sequence[tuple[Span, Rect]],
    safe: Rect,
    unit: float,
    area_in: Callable[[Card, Rect], Rect],
    bodies: Sequence[tuple[Span, Rect]] = (),
) -> dict[Key, Rect]:
    """The room in which each card may stand; cards that have all of the safe area are left out.

    Args:
        cards: all cards of a plan.
        names: names of panes: when and where.
        safe: where text may stand.
        unit: canvas pixels for one pixel of the look.
        area_in: the rectangle that a card covers when it is given a room.
        bodies: players: when and where; key words look for a place beside them.
    """
    found: dict[Key, Rect] = {}
    placed: list[tuple[Card, Rect]] = []
    for card in sorted(cards, key=lambda card: (_rank(card), card.span.start)):
        met = [area for other, area in placed if other.span.overlap(card.span)]
        met += [area for span, area in names if span.overlap(card.span)]
        room = safe
        area = area_in(card, room)
        if card.kind not in _FIXED:
            players = [area for span, area in bodies if span.overlap(card.span)] if card.kind == _BESIDE else []
            start = _beside(card, players, met, safe, unit, area_in) if players else safe
            room, area = _free(card, met, start, unit, area_in)
            if room != safe:
                found[key_of(card)] = room
        placed.append((card, area))
    return found


def _rank(card: Card) -> int:
    return 0 if card.kind in _FIXED else 1 + (_ORDER.index(card.kind) if card.kind in _ORDER else len(_ORDER))


def _beside(
    card: Card, players: Sequence[Rect], met: Sequence[Rect], safe: Rect, unit: float,
    area_in: Callable[[Card, Rect], Rect],
) -> Rect:  # fmt: skip
    """The room around the players in which a card's words are largest; all of the safe area where none is enough."""
    gap = GAP * unit
    left, top = min(one.x for one in players) - gap, min(one.y for one in players) - gap
    right, bottom = max(one.right for one in players) + gap, max(one.bottom for one in players) + gap
    best, size = safe, 0.0
    for room in (
        Rect(safe.x, safe.y, safe.width, top - safe.y),
        Rect(right, safe.y, safe.right - right, safe.height),
        Rect(safe.x, safe.y, left - safe.x, safe.height),
        Rect(safe.x, bottom, safe.width, safe.bottom - bottom),
    ):
        if room.width < 0.2 * safe.width or room.height < 0.08 * safe.height:
            continue
        area = area_in(card, room)
        inside = area.x >= room.x - 1 and area.y >= room.y - 1 and area.right <= room.right + 1
        inside = inside and area.bottom <= room.bottom + 1 and not any(area.overlaps(other) for other in met)
        if inside and area.height > 1.05 * size:
            best, size = room, area.height
    return best


def _free(
    card: Card, met: Sequence[Rect], safe: Rect, unit: float, area_in: Callable[[Card, Rect], Rect]
) -> tuple[Rect, Rect]:
    room, gap = safe, GAP * unit
    area = first = area_in(card, room)
    for _ in range(_TRIES):
        hit = next((other for other in met if other.overlaps(area)), None)
        if hit is None:
            return room, area
        room = _without(room, hit, gap, low=_is_low(card, area, safe))
        if room.width < 0.25 * safe.width or room.height < 0.08 * safe.height:
            break
        area = area_in(card, room)
    return safe, first


def _is_low(card: Card, area: Rect, safe: Rect) -> bool:
    """Whether a card gives way upwards."""
    if card.kind == "key_words":
        return area.centre.y >= safe.centre.y - 1
    return card.kind in _LOW and not card.high


def _without(room: Rect, hit: Rect, gap: float, *, low: bool) -> Rect:
    """The part of a room that another card leaves: beside one that reaches from top to bottom, else above or below."""
    if hit.y <= room.y + 1 and hit.bottom >= room.bottom - 1:
        left, right = hit.x - gap - room.x, room.right - hit.right - gap
        return Rect(room.x, room.y, left, room.height) if left >= right else Rect(
            hit.right + gap, room.y, right, room.height
        )  # fmt: skip
    if low:
        return Rect(room.x, room.y, room.width, hit.y - gap - room.y)
    return Rect(room.x, hit.bottom + gap, room.width, room.bottom - hit.bottom - gap)

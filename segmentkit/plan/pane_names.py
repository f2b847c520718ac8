"""Where the names of pictures beside one another stand: in a corner, above a column, beside a head in a flat row."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from segmentkit.geometry import Placement, Rect
from segmentkit.plan.layout import even, title_safe, unit_of
from segmentkit.plan.match import MATCHED_AT, Half
from segmentkit.plan.model import ClipPicture
from segmentkit.plan.seen import figure_box
from segmentkit.plan.short_names import shorter_names

_CLUB_LOW = frozenset({MATCHED_AT, "impact"})
_FLAT, _NAME_LEAST = 0.5, 0.28
"""A row at most so high, against its width, has no room for a name above a head; the least room beside one."""
_LETTER, _PLATE, _INSET = 28, 110, 20
"""What a letter takes across at the smallest size of names, what their plate takes around them, and its distance from
the edge of its room, in pixels at a shorter side of 1080."""
_ASTRAY = 0.4
"""How far a name's room may reach over a neighbouring column, as a part of a column's width."""


def corner(index: int, places: Sequence[Rect], canvas: Rect) -> tuple[float, float]:
    """Where a pane's name lies: in the upper corner away from its neighbour; feet and ground stay free."""
    if _above(places[index], canvas) is not None:
        return 0.0, 1.0
    if places[0].y != places[-1].y:
        return 0.0, 0.0
    return index / (len(places) - 1), 0.0


def name_room(window: Rect, canvas: Rect, placement: Placement, half: Half, *, low_club: bool) -> Rect | None:
    """Where a pane's name stands, if not in all of its window: above a low column, in a flat row beside the head.

    With `low_club` the club hangs down in all rows, and the side above it is free too.
    """
    above = _above(window, canvas)
    figure = figure_box(half.footage)
    if above is not None or figure is None or window.height > _FLAT * window.width:
        return above
    corners = [placement.to_canvas(one).x for one in figure.corners]
    left, right = min(corners) - window.x, window.right - max(corners)
    if low_club and right > max(left, _NAME_LEAST * window.width):
        return Rect(window.right - right, window.y, right, window.height)
    return Rect(window.x, window.y, left, window.height) if left >= _NAME_LEAST * window.width else None


def club_is_low(pictures: Sequence[ClipPicture]) -> bool:
    """Whether the club hangs down in all pictures, as at address and impact."""
    return all(picture.frozen and picture.position in _CLUB_LOW for picture in pictures)


def shared_out(names: Sequence[str | None], places: Sequence[Rect], canvas: Rect) -> tuple[Rect, ...] | None:
    """Rooms for names above low columns, by what their longest words need; None where each has enough in its column.

    Args:
        names: one for each column.
        places: the columns.
        canvas: the whole picture, on whose ground above them the names stand.
    """
    above = [_above(place, canvas) for place in places]
    unit, safe = unit_of(canvas), title_safe(canvas)
    needs = [_need(name or "") * unit for name in names]
    inset = _INSET * unit
    own = [min(place.right - inset, safe.right) - max(place.x + inset, safe.x) for place in places]
    if any(room is None for room in above) or all(need <= has for need, has in zip(needs, own, strict=True)):
        return None
    whole = safe.width - 2 * inset * (len(places) - 1)
    if sum(needs) > whole:
        # Names of persons can be shortened, others cannot.
        needs = [min(map(_need, (name or "", *shorter_names(name or "")))) * unit for name in names]
    edges, at = [places[0].x], safe.x - inset
    for need, place, following in zip(needs, places, places[1:], strict=False):
        at += whole * need / sum(needs) + 2 * inset
        middle, astray = (place.right + following.x) / 2, _ASTRAY * place.width
        edges.append(float(even(min(max(at, middle - astray), middle + astray))))
        at = edges[-1]
    edges.append(places[-1].right)
    return tuple(Rect(left, canvas.y, right - left, places[0].y - canvas.y) for left, right in pairwise(edges))


def _need(name: str) -> float:
    """What a name takes across when it is set in rows, a word in each."""
    return max(map(len, re.split(r"[\s-]", name))) * _LETTER + _PLATE


def _above(window: Rect, canvas: Rect) -> Rect | None:
    """The ground above a column that does not reach up to the picture's edge; None where there is none."""
    above = Rect(window.x, canvas.y, window.width, window.y - canvas.y)
    return above if window.width < canvas.width and above.height > 0 else None

"""What should be seen of a clip: the box around player and club, and within it the body, which comes first.

What moves is measured in the picture and may hold more than the player: a shadow, somebody walking by. Where not all
of it finds room, the body and the points that a person has named stay in the window and the rest gives way.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from segmentkit.facts import SceneFacts
from segmentkit.geometry import Point, Rect, box_of
from segmentkit.plan.match import MATCHED_AT
from segmentkit.plan.moments import Footage

_FEET = frozenset({"heel", "lead_heel", "trail_heel"})
_BALL = "ball"
_GONE_AFTER = "impact"
TRUNK = 0.32
"""How far the trunk alone reaches to each side, against heel to belt."""
_HEIGHT, _ASIDE = 1.7, 0.5
"""How far a player at address reaches up and to each side, against heel to belt: head and hat, seat and hands. Common
practice, no source; 1.63 up and 0.25 to 0.43 aside on the demo's players."""
_HANGS, _BESIDE = 0.58, 0.4
"""How far head and arms reach towards a ball that lies in front of the player, and from where on it does: face-on it
lies between the feet."""
_HANDS, _THIGHS, _SHINS, _SOLES = 0.22, 0.3, 0.27, 0.07
"""How far hands hang below the belt, and thighs are as broad as the trunk; how far legs reach to each side, and shoes
below the heel's point."""
_AT_BALL, _CLUB_HEAD, _SHAFT, _PIECES = 0.09, 0.26, 0.05, 8
"""Around a ball; from it back to the end of a club's head; around a shaft, which is taken as a row of small boxes. All
against heel to belt, common practice, no source."""


def seen_box(clip: Footage, scene: SceneFacts | None, frames: Sequence[int]) -> Rect | None:
    """The box around player and club over the frames shown: what moves there, and the points named in the clip.

    Points named at a position count where that position is among the frames; those of other positions do not, since
    the club is elsewhere then. None when nothing is known.
    """
    first, last = min(frames), max(frames)
    found = scene.box(first, last) if scene is not None else None
    spots = list(_spots(clip, first, last))
    if not spots:
        return found
    box = box_of(spots)
    return box if found is None else box.joined(found)


def body_box(clip: Footage, frames: Sequence[int]) -> Rect | None:
    """The box around the body and the points named in the frames shown; None where no point tells."""
    spots = list(_spots(clip, min(frames), max(frames)))
    figure = figure_box(clip)
    if figure is not None:
        spots += figure.corners
    return box_of(spots) if spots else None


def figure_box(clip: Footage, aside: float = _ASIDE) -> Rect | None:
    """The box around the body at address alone, without club and ball; None where heel and belt are not named.

    `aside` says how far it reaches to each side, against heel to belt.
    """
    at = clip.spec.points.get(MATCHED_AT, {})
    heel, belt = at.get("heel"), at.get("belt")
    if heel is None or belt is None or heel.y <= belt.y:
        return None
    leg, across = heel.y - belt.y, (heel.x + belt.x) / 2
    reach = aside * leg * clip.facts.size.height / clip.facts.size.width
    return box_of([Point(across - reach, heel.y - _HEIGHT * leg), Point(across + reach, heel.y)])


def body_parts(clip: Footage, frames: Sequence[int]) -> tuple[Rect, ...]:
    """Boxes around what a label should not hide, in fractions of the picture; none where heel and belt are not named.

    Head and arms, which hang towards a ball that lies in front of the player; hips and legs; the ball with the club's
    head while it lies there; and the shaft, where the hands are named in a frozen picture of address or impact.
    """
    at = clip.spec.points.get(MATCHED_AT, {})
    heel, belt = at.get("heel"), at.get("belt")
    if heel is None or belt is None or heel.y <= belt.y:
        return ()
    leg, middle = heel.y - belt.y, (heel.x + belt.x) / 2
    wide = leg * clip.facts.size.height / clip.facts.size.width
    ball = at.get(_BALL)
    aside = 0.0 if ball is None else (ball.x - heel.x) / wide
    left, right = (_HANGS if abs(aside) > _BESIDE and aside * side > 0 else TRUNK for side in (-1, 1))
    parts = [
        _between(middle - left * wide, heel.y - _HEIGHT * leg, middle + right * wide, belt.y + _HANDS * leg),
        _between(middle - TRUNK * wide, belt.y, middle + TRUNK * wide, belt.y + _THIGHS * leg),
        _between(middle - _SHINS * wide, belt.y + _THIGHS * leg, middle + _SHINS * wide, heel.y + _SOLES * leg),
    ]
    if ball is None or not _before(clip, min(frames)):
        return tuple(parts)
    back = math.copysign(_CLUB_HEAD, aside)
    sides = sorted((ball.x - back * wide, ball.x + math.copysign(_AT_BALL, aside) * wide))
    parts.append(_between(sides[0], ball.y - _AT_BALL * leg, sides[1], ball.y + _AT_BALL * leg))
    for name in (MATCHED_AT, _GONE_AFTER):
        hands = clip.spec.points.get(name, {}).get("hands")
        if hands is None or not min(frames) == max(frames) == _frame(clip, name):
            continue
        for part in range(1, _PIECES):
            on = hands + (ball - hands).scaled(part / _PIECES)
            parts.append(_between(on.x - _SHAFT * wide, on.y - _SHAFT * leg, on.x + _SHAFT * wide, on.y + _SHAFT * leg))
    return tuple(parts)


def _between(left: float, top: float, right: float, bottom: float) -> Rect:
    return Rect(left, top, right - left, bottom - top)


def _spots(clip: Footage, first: int, last: int) -> Iterator[Point]:
    named = clip.spec.points
    for name, points in named.items():
        if _shows(clip, name, first, last):
            yield from points.values()
    # Feet stay where they are, so nothing moves there; nor does the ball before it is struck.
    for name, spot in named.get(MATCHED_AT, {}).items():
        if name in _FEET or (name == _BALL and _before(clip, first)):
            yield spot


def _frame(clip: Footage, position: str) -> int | None:
    if position not in clip.spec.positions:
        return None
    try:
        return clip.frame_of(clip.spec.positions[position])
    except ValueError:
        return None


def _shows(clip: Footage, position: str, first: int, last: int) -> bool:
    frame = _frame(clip, position)
    return frame is not None and first <= frame <= last


def _before(clip: Footage, first: int) -> bool:
    struck = _frame(clip, _GONE_AFTER)
    return struck is not None and first <= struck

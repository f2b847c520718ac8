"""Comparisons: pictures brought to one scale, one ground and one level by named points, and what is left over.

Each picture keeps one scale for both axes. Nothing is measured by the player's outline: a hat or a raised club would
decide, and where posture is the fault, standing height is not to be trusted.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from segmentkit.facts import SceneFacts
from segmentkit.geometry import Placement, Point, Rect, box_of, cover
from segmentkit.plan.layout import AIRY, clamped, even, showing, wanted_shift
from segmentkit.plan.model import Light, Matched
from segmentkit.plan.moments import Footage
from segmentkit.storyboard.people import View
from segmentkit.storyboard.shots import Match

MATCHED_AT = "address"
"""The position whose points set scale, ground and level."""
STEEPEST = 3.0
"""Degrees by which a crooked picture is turned at most; beyond, the clip wants filming again (common practice, no
source)."""
_CLOSER = 1.6
"""How much closer pictures may come to be put on one ground."""
_LIGHT_GAIN, _LIGHT_LIFT, _LIGHT_TINT = (0.8, 1.25), 12.0, 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Half:
    """One picture of a comparison before it has its place.

    Attributes:
        footage: its clip.
        mirrored: whether the storyboard asks for its sides to be swapped.
        seen: the box around all that should be seen of it, in fractions of the picture; None when that is not known.
        body: the box within it that comes first; None when that is not known.
    """

    footage: Footage
    mirrored: bool
    seen: Rect | None = None
    body: Rect | None = None

    @property
    def flipped(self) -> bool:
        """Whether the file's picture is turned over on the canvas."""
        return self.mirrored != self.footage.spec.mirrored

    def point(self, name: str) -> Point | None:
        """A named point of the matched position, in fractions of the picture."""
        return self.footage.spec.points.get(MATCHED_AT, {}).get(name)

    @property
    def focus(self) -> Point:
        """What should be in the middle of the window."""
        if self.footage.spec.focus is not None:
            return self.footage.spec.focus
        body = [p for name in ("heel", "belt", "ball") if (p := self.point(name)) is not None]
        if not body:
            return Point(0.5, 0.5)
        belt = self.point("belt")  # half a standing player's height is near the belt
        return Point(sum(p.x for p in body) / len(body), belt.y if belt else 0.5)

    @property
    def flat(self) -> Placement:
        """The picture at its own size, mirrored as it will be, not turned: to measure in."""
        size = self.footage.facts.size
        return Placement(1.0, 0.0, 0.0, size, Rect(0, 0, size.width, size.height), self.flipped)

    @property
    def tilt(self) -> float | None:
        """Degrees by which a line that is level in life falls to the right; None when no such line is named."""
        pairs = [("level_a", "level_b")]
        if self.footage.spec.view is View.FACE_ON:
            # Seen from the front both heels stand on one level line; from behind one of them is farther away.
            pairs.append(("lead_heel", "trail_heel"))
        for names in pairs:
            ends = [self.point(name) for name in names]
            if ends[0] is None or ends[1] is None:
                continue
            first, last = sorted((self.flat.to_canvas(end) for end in ends if end is not None), key=lambda p: p.x)
            if last.x > first.x:
                return math.degrees(math.atan2(last.y - first.y, last.x - first.x))
        return None

    @property
    def turn(self) -> float:
        """Degrees by which it is turned to be level; 0 when that is not known or too much."""
        tilt = self.tilt
        return 0.0 if tilt is None or abs(tilt) > STEEPEST else -tilt


def comparison_placements(
    halves: Sequence[Half], places: Sequence[Rect], match: Sequence[Match], zoom: float | None = None
) -> tuple[Placement, ...]:
    """Places all pictures of a comparison.

    With `belt` the distance from heel line to belt at address becomes equal; with `ground` the heel lines at address
    lie at one height, and at one spot where the pictures share a window; with `level` each picture is turned until its
    level line is level. Where a clip lacks the points, that match is left out (the checks say so). Within what its
    window allows, a picture is moved so that the player and the club are seen.

    Args:
        halves: the pictures.
        places: a window for each; the same one for pictures that lie over one another.
        match: what is made equal.
        zoom: comes closer than filling the windows; else each clip's own holds, as far as all that moves is seen.
    """
    turns = [half.turn if Match.LEVEL in match else 0.0 for half in halves]
    scales = [
        _covering(half, window, turn, zoom or _zoom(half, window, turn)).scale
        for half, window, turn in zip(halves, places, turns, strict=True)
    ]
    if Match.BELT in match:
        scales = _with_equal_rise(halves, scales, turns)
    if Match.GROUND in match and all(half.point("heel") is not None for half in halves):
        return _grounded(halves, places, scales, turns)
    placed = [_placed(*each) for each in zip(halves, places, scales, turns, strict=True)]
    return tuple(
        showing(place, half.seen, Point(0.0, 1.0), half.body) for half, place in zip(halves, placed, strict=True)
    )


def _zoom(half: Half, window: Rect, turn: float) -> float:
    """How close a clip comes when the comparison does not say: as it says itself, or less where that cuts off."""
    own = max(1.0, half.footage.spec.zoom or 1.0)
    if half.seen is None or own == 1.0:
        return own
    placed = _covering(half, window, turn, 1.0)
    box = box_of(map(placed.to_canvas, half.seen.corners))
    fits = min(AIRY * window.width / max(1.0, box.width), AIRY * window.height / max(1.0, box.height))
    return max(1.0, min(own, fits))


def _grounded(
    halves: Sequence[Half], places: Sequence[Rect], scales: Sequence[float], turns: Sequence[float]
) -> tuple[Placement, ...]:
    """Pictures on one ground. Where one fills its window so closely that it cannot move, all come a little closer.

    They come no closer than needed and at most `_CLOSER` times; where that does not do, the ground is left unmatched,
    since a picture's edge in its window would be worse (and the checks state what is left between the heels).
    """

    def placed(closer: float) -> list[Placement]:
        return [
            _placed(half, window, scale * closer, turn)
            for half, window, scale, turn in zip(halves, places, scales, turns, strict=True)
        ]

    if not _meets(halves, placed(_CLOSER)):
        return tuple(placed(1.0))
    near, far = _CLOSER, 1.0
    if _meets(halves, placed(1.0)):
        near = 1.0
    for _ in range(24 if near > 1.0 else 0):
        middle = (near + far) / 2
        near, far = (middle, far) if _meets(halves, placed(middle)) else (near, middle)
    return tuple(_on_one_ground(halves, placed(near), shared=len(set(places)) == 1))


def _levels(halves: Sequence[Half], placed: Sequence[Placement]) -> tuple[list[float], float, float]:
    """Depth of each heel line under its window's upper edge, and the least and most that all of them can have."""
    down = Point(0.0, 1.0)
    heels = [half.point("heel") or Point(0.5, 0.5) for half in halves]
    depths = [p.to_canvas(h).y - p.window.y for h, p in zip(heels, placed, strict=True)]
    rooms = [p.room(down) for p in placed]
    low = max(depth + room[0] for depth, room in zip(depths, rooms, strict=True))
    high = min(depth + room[1] for depth, room in zip(depths, rooms, strict=True))
    return depths, low, high


def _meets(halves: Sequence[Half], placed: Sequence[Placement]) -> bool:
    _, low, high = _levels(halves, placed)
    return low <= high


def _covering(half: Half, window: Rect, turn: float, zoom: float) -> Placement:
    return cover(half.footage.facts.size, window, half.focus, mirrored=half.flipped, zoom=zoom, rotate=turn)


def _with_equal_rise(halves: Sequence[Half], scales: list[float], turns: Sequence[float]) -> list[float]:
    rises = [rise_of(half, replace(half.flat, rotate=turn)) for half, turn in zip(halves, turns, strict=True)]
    if any(rise is None or rise <= 0 for rise in rises):
        return scales
    wanted = max(scale * (rise or 0.0) for scale, rise in zip(scales, rises, strict=True))
    return [wanted / (rise or 1.0) for rise in rises]


def rise_of(half: Half, placement: Placement) -> float | None:
    """Height from the heel line to the belt on the canvas, in pixels; None when a point is missing."""
    heel, belt = half.point("heel"), half.point("belt")
    if heel is None or belt is None:
        return None
    return placement.to_canvas(heel).y - placement.to_canvas(belt).y


def _placed(half: Half, window: Rect, scale: float, turn: float) -> Placement:
    least = _covering(half, window, turn, 1.0).scale
    placed = _covering(half, window, turn, scale / least)
    if not turn:
        # Whole pixels across: a picture of the canvas's own size is then copied and not resampled.
        low, high = placed.room(Point(1.0, 0.0))
        snap = even(placed.dx) - placed.dx
        placed = placed.shifted(dx=snap if low <= snap <= high else 0.0)
    return showing(placed, half.seen, Point(1.0, 0.0), half.body)


def _on_one_ground(halves: Sequence[Half], placed: list[Placement], *, shared: bool) -> list[Placement]:
    """Moves the pictures so that their heels lie equally far below their windows' upper edges, windows full."""
    depths, low, high = _levels(halves, placed)
    level = clamped(sum(depths) / len(depths), (low, high))
    level = clamped(level + _common_shift(halves, placed, depths, level), (low, high))
    # The first picture goes to whole pixels, so that one of the canvas's own size is copied; the others follow exactly.
    snapped = depths[0] + even(level - depths[0])
    level = snapped if low <= snapped <= high else level
    made = [p.shifted(dy=level - depth) for p, depth in zip(placed, depths, strict=True)]
    return _at_one_heel(halves, made) if shared else made


def _at_one_heel(halves: Sequence[Half], placed: list[Placement]) -> list[Placement]:
    """Pictures in one place are compared spot by spot, so their heels meet across as well, if the window stays full.

    They meet where most of what should be seen of all of them lies in the window.
    """
    across = Point(1.0, 0.0)
    heels = [p.to_canvas(h.point("heel") or Point(0.5, 0.5)).x for h, p in zip(halves, placed, strict=True)]
    rooms = [p.room(across) for p in placed]
    low = max(heel + room[0] for heel, room in zip(heels, rooms, strict=True))
    high = min(heel + room[1] for heel, room in zip(heels, rooms, strict=True))
    meeting = [p.shifted(dx=heels[0] - heel) for p, heel in zip(placed, heels, strict=True)]
    first = meeting[0]
    seen, body = (_common(first, meeting, [getattr(half, name) for half in halves]) for name in ("seen", "body"))
    at = heels[0] + even(wanted_shift(first, seen, across, body))
    if low <= high:
        at = clamped(at, (low, high))
    return [p.shifted(dx=clamped(at - heel, room)) for p, heel, room in zip(placed, heels, rooms, strict=True)]


def _common(first: Placement, placed: Sequence[Placement], boxes: Sequence[Rect | None]) -> Rect | None:
    """The box around boxes of several pictures on the canvas, in fractions of the first one; None without any."""
    spots = [
        first.to_source(place.to_canvas(corner))
        for place, box in zip(placed, boxes, strict=True)
        if box is not None
        for corner in box.corners
    ]
    return box_of(spots) if spots else None


def _common_shift(halves: Sequence[Half], placed: Sequence[Placement], depths: Sequence[float], level: float) -> float:
    """The largest move down or up that any of the pictures asks for, to be shared by all."""
    asked = [
        wanted_shift(place.shifted(dy=level - depth), half.seen, Point(0.0, 1.0), half.body)
        for half, place, depth in zip(halves, placed, depths, strict=True)
    ]
    return max(asked, key=abs, default=0.0)


def matched(
    halves: Sequence[Half], placed: Sequence[Placement], match: Sequence[Match], events: Sequence[str], canvas: Rect
) -> Matched:
    """What is left between the pictures, measured anew from where they came to lie.

    Args:
        halves: the pictures.
        placed: where they lie.
        match: what was asked for.
        events: positions at which the running sides meet.
        canvas: the whole picture; residuals are stated at a picture height of 1080.
    """
    unit = 1080 / min(canvas.width, canvas.height)
    names = set.intersection(*(set(half.footage.spec.points.get(MATCHED_AT, {})) for half in halves))
    gaps: dict[str, float] = {}
    for name in sorted(names):
        heights = [
            place.to_canvas(point).y - place.window.y
            for half, place in zip(halves, placed, strict=True)
            if (point := half.point(name)) is not None
        ]
        gaps[name] = (max(heights) - min(heights)) * unit
    rises = [rise for half, place in zip(halves, placed, strict=True) if (rise := rise_of(half, place)) is not None]
    belt = None
    if len(rises) == len(halves) and rises[0] > 0:
        belt = 100 * max(abs(rise - rises[0]) for rise in rises) / rises[0]
    gaps.pop("belt", None)
    return Matched(
        by=tuple(one.value for one in match),
        scales=tuple(place.scale for place in placed),
        turns=tuple(place.rotate for place in placed),
        heel=gaps.pop("heel", None),
        belt=belt,
        spots=tuple(gaps.items()),
        events=tuple(events),
    )


def lights(scenes: Sequence[SceneFacts | None]) -> tuple[Light | None, ...]:
    """How pictures are brought near the first one in brightness and tint: gently, and never the first one itself.

    Gain and lift bring the spread and the middle of the background's luma to the first picture's, within limits; the
    tint follows its median chroma. The limits are common practice, no source: enough for another exposure of the same
    day, not for another kind of light.
    """
    first = scenes[0]
    if first is None:
        return (None,) * len(scenes)
    return (None, *(None if scene is None else _light(scene, first) for scene in scenes[1:]))


def _light(scene: SceneFacts, wanted: SceneFacts) -> Light:
    spread, target = scene.luma[2] - scene.luma[0], wanted.luma[2] - wanted.luma[0]
    gain = min(max(target / spread, _LIGHT_GAIN[0]), _LIGHT_GAIN[1]) if spread > 8 else 1.0
    lift = wanted.luma[1] - (16 + gain * (scene.luma[1] - 16))
    return Light(
        gain=round(gain, 4),
        lift=round(clamped(lift, (-_LIGHT_LIFT, _LIGHT_LIFT)), 2),
        blue=round(clamped(wanted.blue - scene.blue, (-_LIGHT_TINT, _LIGHT_TINT)), 2),
        red=round(clamped(wanted.red - scene.red, (-_LIGHT_TINT, _LIGHT_TINT)), 2),
    )

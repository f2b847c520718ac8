"""Flashes as the published texts define them, followed at every spot of a small picture.

A general flash is a pair of opposing changes of luminance: by WCAG 2.2 of 0.10 relative luminance or more with the
darker state below 0.80; by ITU-R BT.1702 of 20 cd/m² or more with the darker state below 160 cd/m². A red flash (WCAG
2.2) is a pair of opposing changes of which one state is saturated red, R / (R + G + B) of 0.8 or more, and that are
more than 0.2 apart in the u'v' diagram of CIE 1976. More than three flashes within a second on more than a quarter of
the picture are too many; 4 to 6 changes a second that go on for 4 of 5 seconds are suspect (ITU-R BT.1702; the figures
as quoted in an open library's test set).

A change is counted where a spot has moved far enough from the last turn, however many frames that took, so fades count
and noise does not. Both ways to ask for an area are used and the worse one counts: spots that each changed so often
within the second, and moments at which so much of the picture changed at once.

A spot whose light is that of the picture before can neither turn nor move on, whatever its past, so only spots that
differ are followed; they come as flat indices.
"""

from __future__ import annotations

from collections import deque
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect, Size
from segmentkit.media.screen_reduce import Light, Small
from segmentkit.screened import Flashing, FlashKind, LightModel
from segmentkit.timebase import Span

Mask = NDArray[np.bool_]
Spots = NDArray[np.intp]
"""Flat indices of samples of the small picture, rising."""
NO_SPOTS: Spots = np.zeros(0, np.intp)
AREA = 0.25
"""Share of the picture above which flashing counts; ITU-R BT.1702 speaks of the screen."""
MOST_CHANGES = 6
"""Changes within a second: three flashes of two changes each."""
_SUSPECT = 4
_SUSTAINED, _WITHIN = 4, 5  # seconds of seconds
_BLACK = 0.004  # relative luminance under which a colour is coding noise
_NEUTRAL = (0.1978, 0.4683)  # D65 in u'v'


class Turns:
    """Finds where luminance turns: falls or rises by a step from the last turn, with the darker state dark enough."""

    def __init__(self, step: float, darker: float) -> None:
        self._step, self._darker = np.float32(step), np.float32(darker)
        self._low = self._high = np.zeros(0, np.float32)
        self._way = np.zeros(0, np.int8)

    def feed(self, light: Small, spots: Spots | None = None) -> tuple[Spots, Spots]:
        """The spots that have just risen, and those that have just fallen.

        Args:
            light: luminance at the spots; of the whole picture at first.
            spots: those that differ from the picture before; all when None.
        """
        light = light.ravel()
        if not self._low.size:
            self._low, self._high, self._way = light.copy(), light.copy(), np.zeros(light.shape, np.int8)
        at = slice(None) if spots is None else spots
        low, high, way = np.minimum(self._low[at], light), np.maximum(self._high[at], light), self._way[at]
        up = (light - low >= self._step) & (low < self._darker) & (way != 1)
        down = (high - light >= self._step) & (light < self._darker) & (way != -1)
        turned = up | down
        if turned.any():
            low, high = np.where(turned, light, low), np.where(turned, light, high)
            self._way[at] = np.where(down, np.int8(-1), np.where(up, np.int8(1), way))
        self._low[at], self._high[at] = low, high
        return _those(up, spots), _those(down, spots)


class RedTurns:
    """Finds where a colour turns to or from saturated red."""

    def __init__(self) -> None:
        # u', v', saturated; shape (3, spots): at the turn before, and the farthest since.
        self._from = self._at = np.zeros((3, 0), np.float32)

    def feed(self, light: Light, spots: Spots | None = None) -> tuple[Spots, Spots]:
        """The spots that have just become red, and those that have just left it.

        Args:
            light: of the spots; of the whole picture at first.
            spots: those that differ from the picture before; all when None.
        """
        now = chromaticity(light).reshape(3, -1)
        if not self._from.size:
            self._from, self._at = now.copy(), now.copy()
        at = slice(None) if spots is None else spots
        begun, farthest = self._from[:, at], self._at[:, at]
        gone = _apart(now, farthest)
        is_red = now[2] > 0
        turned = (gone > 0.2**2) & (is_red | (farthest[2] > 0))
        moved = turned | (_apart(now, begun) > _apart(farthest, begun))
        if turned.any():
            self._from[:, at] = np.where(turned, farthest, begun)
        if moved.any():
            self._at[:, at] = np.where(moved, now, farthest)
        return _those(turned & is_red, spots), _those(turned & ~is_red, spots)


def _those(marks: Mask, spots: Spots | None) -> Spots:
    """The spots that are marked among some, or among all."""
    found = np.flatnonzero(marks)
    return found if spots is None else spots[found]


def _apart(one: NDArray[np.float32], other: NDArray[np.float32]) -> Small:
    """Squared distances in u'v'."""
    u, v = one[0] - other[0], one[1] - other[1]
    return np.asarray(u * u + v * v, np.float32)


def chromaticity(light: Light) -> NDArray[np.float32]:
    """u', v' and whether red is saturated (1 or 0): float32, shape (3, ...) of the light.

    BT.709 primaries to XYZ (IEC 61966-2-1), then CIE 1976 UCS. What is almost black has no colour.
    """
    red, green, blue = light.linear
    x = 0.4124 * red + 0.3576 * green + 0.1805 * blue
    z = 0.0193 * red + 0.1192 * green + 0.9505 * blue
    under = x + 15 * light.relative + 3 * z
    dark = light.relative < _BLACK
    under[dark] = 1
    u, v = 4 * x / under, 9 * light.relative / under
    u[dark], v[dark] = _NEUTRAL
    saturated = (red >= 0.8 * (red + green + blue)) & ~dark
    return np.stack([u, v, saturated.astype(np.float32)])


class FlashMeter:
    """Counts changes within each second and notes where there are too many, or many for long.

    Args:
        kind: of the flashes that are fed.
        model: their form of luminance.
        rate: pictures a second that are fed; twice the frames for fields.
        size: of them.
        per_frame: pictures a frame.
    """

    def __init__(self, kind: FlashKind, model: LightModel, rate: Fraction, size: Size, per_frame: int = 1) -> None:
        self._kind, self._model, self._per_frame = kind, model, per_frame
        self._second = max(1, round(rate))
        self._recent: deque[Spots] = deque()
        self._within = 0  # changes within the last second, of all spots
        self._shape = (size.height, size.width)
        self._counts = np.zeros(size.height * size.width, np.uint8)
        self._events: deque[int] = deque()
        self._way = 0
        self._number = -1
        self._suspect: deque[bool] = deque(maxlen=_WITHIN * self._second)
        self._open: dict[bool, Flashing] = {}
        self.found: list[Flashing] = []

    def feed(self, turns: tuple[Spots, Spots]) -> None:
        """Takes the spots that rose and those that fell in the next picture; they may be the same."""
        self._number += 1
        up, down = turns
        changed = np.union1d(up, down) if up.size and down.size else up if up.size else down
        self._forget()
        self._counts[changed] += 1
        self._recent.append(changed)
        self._within += changed.size
        self._note_event(self._much(up, AREA), self._much(down, AREA))
        changes = max(len(self._events), self._spots())
        self._suspect.append(_SUSPECT <= changes <= MOST_CHANGES)
        self._judge(changes)

    def _much(self, spots: Spots, share: float) -> bool:
        return bool(spots.size / self._counts.size > share)

    def finish(self) -> tuple[Flashing, ...]:
        """Everything that was found, in order."""
        self.found += self._open.values()
        self._open.clear()
        return tuple(sorted(self.found, key=lambda one: one.span))

    def _forget(self) -> None:
        """Lets go of what is a second old: a second of half-open frames holds as many pictures as the rate says."""
        if len(self._recent) == self._second:
            old = self._recent.popleft()
            self._counts[old] -= 1
            self._within -= old.size
        while self._events and self._events[0] <= self._number - self._second:
            self._events.popleft()

    def _note_event(self, rose: bool, fell: bool) -> None:
        """A moment at which much of the picture changed; two in one direction, as in a fade, are one."""
        if rose and fell:
            self._way = 0
        elif rose or fell:
            way = 1 if rose else -1
            if way == self._way:
                return
            self._way = way
        else:
            return
        self._events.append(self._number)

    def _spots(self) -> int:
        """The most changes that more than the area's share of all spots went through."""
        if self._within <= AREA * self._counts.size:
            return 0
        tally = np.bincount(self._counts)
        at_least = np.cumsum(tally[::-1])[::-1]
        return int(np.flatnonzero(at_least > AREA * self._counts.size)[-1])

    def _judge(self, changes: int) -> None:
        after = self._number + 1
        if changes > MOST_CHANGES:
            at = [k for k, spots in enumerate(self._recent) if self._much(spots, AREA / 50)]
            start = after - len(self._recent)
            self._extend(start + at[0], start + at[-1] + 1, changes, sustained=False)
        if self._suspect[-1] and sum(self._suspect) >= _SUSTAINED * self._second:
            self._extend(after - len(self._suspect) + self._suspect.index(True), after, changes, sustained=True)

    def _extend(self, first: int, last: int, changes: int, *, sustained: bool) -> None:
        """Notes pictures from the first to before the last, with what was noted of those that touch them."""
        span = Span(first // self._per_frame, (last - 1) // self._per_frame + 1)
        area = self._area()
        before = self._open.get(sustained)
        if before is not None and span.start > before.span.end:
            self.found.append(before)
            before = None
        if before is not None:
            span = Span(min(before.span.start, span.start), max(before.span.end, span.end))
            area, changes = before.area.joined(area), max(changes, before.changes)
        self._open[sustained] = Flashing(
            kind=self._kind, model=self._model, span=span, changes=changes, sustained=sustained, area=area
        )

    def _area(self) -> Rect:
        """The box around what changes most, in fractions of the picture."""
        return box_of_mask((self._counts >= max(1, self._spots())).reshape(self._shape))


def box_of_mask(mask: Mask) -> Rect:
    """The box around the true samples, in fractions of the picture; the whole where there are none."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not rows.size:
        return Rect(0, 0, 1, 1)
    height, width = mask.shape
    return Rect(
        columns[0] / width, rows[0] / height, (columns[-1] + 1 - columns[0]) / width, (rows[-1] + 1 - rows[0]) / height
    )

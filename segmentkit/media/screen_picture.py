"""Meters that see every decoded picture once: black, freezes, cuts, odd frames, levels, flashes, texts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect, Size
from segmentkit.media.screen_changed import Watched, spots_apart
from segmentkit.media.screen_flash import NO_SPOTS, FlashMeter, RedTurns, Spots, Turns
from segmentkit.media.screen_kept import Measured
from segmentkit.media.screen_levels import LevelMeter
from segmentkit.media.screen_reduce import FullPlanes, Reduced, light_of, reduce, runs
from segmentkit.screened import Flashing, FlashKind, LightModel, Look, OddFrame, Pictures, Seen
from segmentkit.timebase import Rate, Span

BLACK_LUMA = 16 + 0.10 * 219
BLACK_SHARE = 0.98
"""A frame is black when 98 % of it is below 10 % of the way to white: the figures of ffmpeg's blackdetect."""
FROZEN_MEAN = 0.0025 * 255
"""Mean difference from the first picture of a freeze: -52 dB. ffmpeg's freezedetect has -60 dB, which the next key
frame of a coder may exceed while nothing moves (-53 dB measured with VP9)."""
_FROZEN_TILE = 1.5  # and no sixteenth of width and height by more than this: a small thing that moves is movement
_TILES = (9, 16)
_REFRESHED, _STILL = 1.5, 0.05
_FROZEN_LEAST = Fraction(1, 2)  # seconds
CUT = 6.0
"""Mean difference in code values from which on a change is a cut, when it is also thrice that of its neighbours."""
_CUT_RATIO = 3.0


class PictureMeter:
    """Takes the pictures of a file in order.

    Args:
        size: of the pictures.
        rate: frames a second.
        fields: whether each frame holds two moments; flashes are then counted in fields.
        looks: what to look at closely.
        first: the frame from which on flashes are counted; `last` the one after the last.
        thrifty: whether what does not differ from the picture before is left alone; the figures are the same.
    """

    def __init__(
        self, size: Size, rate: Rate, *, fields: bool, looks: Sequence[Look] = (), first: int = 0,
        last: int | None = None, thrifty: bool = True,
    ) -> None:  # fmt: skip
        self._watched, self._thrifty = Watched(size, thrifty=thrifty), thrifty
        self.reduced = self._watched.size
        self._rate, self._fields = rate, fields
        self._first, self._last = first, last
        self._looks: defaultdict[int, list[Look]] = defaultdict(list)
        for look in looks:
            self._looks[look.frame].append(look)
        self._seen: list[Seen] = []
        self._before: Reduced | None = None
        self._earlier: Reduced | None = None
        self._held: Reduced | None = None
        self._changes: list[float] = []
        self._across: list[float] = []
        self._stir: list[float] = []
        self._stood: list[bool] = []
        self._black: list[bool] = []
        self._levels, self._full_range = LevelMeter(), False
        moments = 2 if fields else 1
        pace = rate.fps * moments
        self._relative, self._screen, self._red = Turns(0.10, 0.80), Turns(20, 160), RedTurns()
        self._flashes = {
            "relative": FlashMeter(FlashKind.GENERAL, LightModel.RELATIVE, pace, self.reduced, moments),
            "screen": FlashMeter(FlashKind.GENERAL, LightModel.SCREEN, pace, self.reduced, moments),
            "red": FlashMeter(FlashKind.RED, LightModel.RELATIVE, pace, self.reduced, moments),
        }
        self._moments: list[Reduced] = []
        self._lit: Reduced | None = None

    @property
    def frames(self) -> int:
        """How many pictures were taken."""
        return len(self._changes)

    def feed(self, planes: FullPlanes) -> tuple[Measured, list[tuple[Rect, float]]]:
        """Takes the next picture; returns what is worth keeping of it, with the contrasts where it was looked at."""
        number = self.frames
        same = not self._watched.feed(planes)
        self._full_range = planes.full
        if not (same and self._moments) and self._fields:
            self._moments = [reduce(one, self.reduced) for one in planes.fields()]
        self._take(same, self._watched.small)
        looks = self._looks.pop(number, [])
        looked = [(look.area, contrast_in(planes, look.area)) for look in looks]
        self._saw(looks, [contrast for _, contrast in looked])
        return Measured(same, self._watched.small, self._watched.levels), looked

    def recall(self, frame: Measured, contrasts: Mapping[Rect, float]) -> None:
        """Takes the next picture as it was measured before, in a file without fields and of limited range."""
        number = self.frames
        self._watched.recall(frame.small, frame.levels)
        self._take(frame.same, frame.small)
        looks = self._looks.pop(number, [])
        self._saw(looks, [contrasts[look.area] for look in looks])

    def areas(self, span: Span) -> list[tuple[int, Rect]]:
        """Where it will be looked closely: frames from the span's first, with the places."""
        return [
            (number - span.start, look.area)
            for number in range(span.start, span.end)
            for look in self._looks.get(number, ())
        ]

    def _take(self, same: bool, small: Reduced) -> None:
        number = self.frames
        self._change(small, same=same)
        self._black.append(self._black[-1] if same else _is_black(small))
        self._levels.feed(number, self._watched.levels)
        if not self._fields and not (same and self._moments):
            self._moments = [small]
        if number >= self._first and (self._last is None or number < self._last):
            for moment in self._moments:
                self._flash(moment)

    def _saw(self, looks: Sequence[Look], contrasts: Sequence[float]) -> None:
        self._seen.extend(Seen(look=look, contrast=one) for look, one in zip(looks, contrasts, strict=True))

    def finish(self, uneven: int | None) -> Pictures:
        """What was found in all of them."""
        frames = self.frames
        least = -(-_FROZEN_LEAST * self._rate.fps // 1)
        stood = np.array(self._stood, bool)
        frozen = self._joined([Span(start - 1, end) for start, end in runs(stood)])
        cuts, odd = self._cuts()
        return Pictures(
            frames=frames,
            uneven=uneven,
            black=tuple(Span(start, end) for start, end in runs(np.array(self._black, bool))),
            frozen=tuple(span for span in frozen if span.frames >= least),
            stir=tuple(self._stir),
            odd=odd,
            cuts=cuts,
            levels=None if self._full_range else self._levels.finish(),
            flashes=tuple(self._offset(one) for meter in self._flashes.values() for one in meter.finish()),
            looked=tuple(self._seen),
        )

    def _joined(self, spans: list[Span]) -> list[Span]:
        """Stand-stills that only a key frame of the coder parts: a small step between two frames that do not stir."""
        made: list[Span] = []
        for span in spans:
            step = self._changes[span.start]
            around = (*self._stir[span.start - 1 : span.start], *self._stir[span.start + 1 : span.start + 2])
            if made and made[-1].end == span.start and step < _REFRESHED and max(around) <= _STILL:
                made.append(Span(made.pop().start, span.end))
            else:
                made.append(span)
        return made

    def _change(self, small: Reduced, *, same: bool) -> None:
        """How far the picture is from the one before, from the one before that, and from the start of a freeze."""
        before, earlier = self._before, self._earlier
        change = moved = 0.0
        if not same and before is not None:
            change = _distance(small, before)
            moved = _liveliest(small, before)
        # Only where it jumps twice is it asked whether it jumps back.
        jumps = earlier is not None and change >= CUT and self._changes[-1] >= CUT
        self._changes.append(change)
        self._stir.append(round(moved, 3))
        self._across.append(_distance(small, earlier) if jumps and earlier is not None else 0.0)
        stands = before is not None and (same or _stands(small, self._held))
        self._stood.append(stands)
        if not stands:
            self._held = small
        self._earlier, self._before = before, small

    def _flash(self, moment: Reduced) -> None:
        """Follows the spots that differ from the moment before."""
        spots: Spots | None = None
        if self._lit is not None and self._thrifty:
            spots = NO_SPOTS if moment is self._lit else spots_apart(moment, self._lit)
        self._lit = moment
        if spots is not None and not spots.size:
            for meter in self._flashes.values():
                meter.feed((NO_SPOTS, NO_SPOTS))
            return
        at = slice(None) if spots is None else spots
        light = light_of(Reduced(moment.y.ravel()[at], moment.u.ravel()[at], moment.v.ravel()[at]))
        self._flashes["relative"].feed(self._relative.feed(light.relative, spots))
        self._flashes["screen"].feed(self._screen.feed(light.screen, spots))
        self._flashes["red"].feed(self._red.feed(light, spots))

    def _offset(self, one: Flashing) -> Flashing:
        return replace(one, span=Span(one.span.start + self._first, one.span.end + self._first))

    def _cuts(self) -> tuple[tuple[int, ...], tuple[OddFrame, ...]]:
        """Frames at which the picture jumps, and frames it jumps to and away from again."""
        change = np.array([*self._changes, 0.0])
        change[0] = 0.0
        cuts, odd = [], []
        for k in np.flatnonzero(change[:-1] >= CUT):
            away = change[k + 1] if k + 1 < len(change) else 0.0
            around = max(change[k - 1], change[k + 2] if k + 2 < len(change) else 0.0)
            if away >= CUT and min(change[k], away) >= _CUT_RATIO * around and k + 1 < len(self._changes):
                odd.append(
                    OddFrame(frame=int(k), before=float(change[k]), after=float(away), across=self._across[k + 1])
                )
            if change[k] >= _CUT_RATIO * max(change[k - 1], away):
                cuts.append(int(k))
        return tuple(cuts), tuple(odd)


def _is_black(small: Reduced) -> bool:
    return bool(np.count_nonzero(small.y <= BLACK_LUMA) / small.y.size >= BLACK_SHARE)


def _apart(one: NDArray[np.float32], other: NDArray[np.float32]) -> float:
    """Mean absolute difference."""
    return float(cv2.norm(one, other, cv2.NORM_L1)) / one.size


def _distance(one: Reduced, other: Reduced) -> float:
    """Mean absolute difference of luma, or that of chroma where it is greater, in code values."""
    return max(_apart(one.y, other.y), (_apart(one.u, other.u) + _apart(one.v, other.v)) / 2)


def _stands(one: Reduced, other: Reduced | None) -> bool:
    if other is None or _apart(one.y, other.y) > FROZEN_MEAN:
        return False
    return _liveliest(one, other) <= _FROZEN_TILE


def _liveliest(one: Reduced, other: Reduced) -> float:
    """The mean difference of luma in the tile of 9 by 16, or of as many as there are samples for, that differs most."""
    rows, columns, areas = _tiles(one.y.shape)
    apart = cv2.absdiff(one.y, other.y)
    sums = np.add.reduceat(np.add.reduceat(apart, columns, axis=1, dtype=np.float64), rows, axis=0)
    return float((sums / areas).max())


@lru_cache(maxsize=4)
def _tiles(shape: tuple[int, int]) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """First rows and columns of the tiles, and the samples in each."""
    rows, columns = (np.linspace(0, n, min(n, k) + 1).astype(np.intp)[:-1] for n, k in zip(shape, _TILES, strict=True))
    return rows, columns, np.outer(np.diff([*rows, shape[0]]), np.diff([*columns, shape[1]]))


def contrast_in(planes: FullPlanes, area: Rect) -> float:
    """Contrast ratio between the lightest and the darkest twentieth of an area, 1 to 21 (WCAG 2.2).

    Args:
        planes: the picture as decoded.
        area: fractions of it.
    """
    height, width = planes.planes[0].shape
    box = Rect(area.x * width, area.y * height, area.width * width, area.height * height)
    parts = []
    for plane in planes.planes:
        fx, fy = plane.shape[1] / width, plane.shape[0] / height
        part = plane[int(box.y * fy) : max(int(box.bottom * fy), int(box.y * fy) + 1),
                     int(box.x * fx) : max(int(box.right * fx), int(box.x * fx) + 1)]  # fmt: skip
        parts.append(part)
    if not parts[0].size:
        return 1.0
    wide = Size(parts[0].shape[1], parts[0].shape[0])
    light = light_of(reduce(FullPlanes((parts[0], parts[1], parts[2]), planes.bits, planes.full), wide)).relative
    low, high = np.percentile(light, [5, 95])
    return float((high + 0.05) / (low + 0.05))

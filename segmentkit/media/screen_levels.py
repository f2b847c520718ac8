"""Legal levels by EBU R 103 version 3.0: R', G', B' and Y' from -5 % to 105 %, on all but 1 % of the picture.

Y' is judged at every sample of the full picture, 8-bit code values 5 to 246 (10-bit: 20 to 984). R', G' and B' exist
only where there is chroma, so they are judged on the grid of the chroma samples with the mean of the luma there; this
is also the low-pass that keeps single overshooting samples from counting.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect, Size
from segmentkit.media.screen_flash import Mask, box_of_mask
from segmentkit.media.screen_reduce import FullPlanes, Part
from segmentkit.screened import OutOfRange
from segmentkit.timebase import Span

LOWEST, HIGHEST = 5, 246
MOST = 0.01
"""Share of the picture that may lie outside."""

# ITU-R BT.709-6: R' = Y' + 1.5748 Cr' and so on, in code values, where Y' has 219 steps and C' 224.
_STEP = 219 / 224
_RED, _BLUE = 1.5748 * _STEP, 1.8556 * _STEP
_GREEN_BLUE, _GREEN_RED = 0.1873 * _STEP, 0.4681 * _STEP


@dataclass(frozen=True, slots=True)
class FrameLevels:
    """One frame that is outside: its share, its extremes in 8-bit code values, the box around what is outside."""

    share: float
    lowest: float
    highest: float
    area: Rect


def frame_levels(picture: FullPlanes) -> FrameLevels | None:
    """What lies outside on more than the allowed area; None for a legal picture, or one of full range."""
    if picture.full:
        return None
    masks, small = LevelMasks(), Size(1, 1)
    masks.update(picture, Part.whole(small), small, picture)
    return masks.judge(picture)


class LevelMasks:
    """Which samples of a picture lie outside, kept from one picture to the next; only what differs is looked at."""

    def __init__(self) -> None:
        self._luma = self._colours = np.zeros((0, 0), np.uint8)  # 255 where a sample is outside
        self._dark = self._wrong = 0  # how many are

    def update(self, cut: FullPlanes, part: Part, small: Size, of: FullPlanes) -> None:
        """Looks at a part of a picture.

        Args:
            cut: the part, of limited range.
            part: where it lies.
            small: the size that it counts in.
            of: the picture.
        """
        shapes = of.planes[0].shape, of.planes[1].shape
        if (self._luma.shape, self._colours.shape) != shapes:
            self._luma, self._colours = np.zeros(shapes[0], np.uint8), np.zeros(shapes[1], np.uint8)
            self._dark = self._wrong = 0
        luma, colours = _outside(cut)
        if luma is not None or self._dark:
            self._dark += _replaced(part.of(self._luma, small), luma)
        if colours is not None or self._wrong:
            self._wrong += _replaced(part.of(self._colours, small), colours)

    def judge(self, picture: FullPlanes) -> FrameLevels | None:
        """What lies outside, if it is on more than the allowed area; `picture` is the one that was looked at."""
        share, colour_share = self._dark / self._luma.size, self._wrong / self._colours.size
        if max(share, colour_share) <= MOST:
            return None
        mask: Mask = (self._luma if share >= colour_share else self._colours) > 0
        scale, (y, u, v) = 1 << picture.bits - 8, picture.planes
        whole = (y, *_rgb(y, u, v, picture.bits))
        lowest, highest = min(float(one.min()) for one in whole) / scale, max(float(one.max()) for one in whole) / scale
        return FrameLevels(max(share, colour_share), lowest, highest, box_of_mask(mask))


def _replaced(mask: NDArray[np.uint8], by: NDArray[np.uint8] | None) -> int:
    """Writes a part of a mask anew, all legal when None; returns by how many samples it grew."""
    before = cv2.countNonZero(mask)
    if by is None:
        if before:
            mask[:] = 0
        return -before
    mask[:] = by
    return cv2.countNonZero(by) - before


def _outside(picture: FullPlanes) -> tuple[NDArray[np.uint8] | None, NDArray[np.uint8] | None]:
    """255 where luma is outside, and on the grid of the chroma where red, green or blue is; None where none is."""
    y, u, v = picture.planes
    scale = 1 << picture.bits - 8
    low, high = LOWEST * scale, HIGHEST * scale
    least, most, _, _ = cv2.minMaxLoc(y)
    legal = low <= least and most <= high
    luma = None if legal else np.asarray(cv2.bitwise_not(cv2.inRange(y, (low,), (high,))), np.uint8)
    red, green, blue = _rgb(y, u, v, picture.bits)
    bounds = [cv2.minMaxLoc(one)[:2] for one in (red, green, blue)]
    if all(low <= least and most <= high for least, most in bounds):
        return luma, None
    inside = cv2.inRange(red, (low,), (high,))
    for one in (green, blue):
        cv2.bitwise_and(inside, cv2.inRange(one, (low,), (high,)), inside)
    return luma, np.asarray(cv2.bitwise_not(inside), np.uint8)


def _rgb(y: NDArray[Any], u: NDArray[Any], v: NDArray[Any], bits: int) -> tuple[NDArray[np.int16], ...]:
    """R', G', B' in code values on the grid of the chroma: three of int16, shape (rows, columns)."""
    luma = np.ascontiguousarray(y)
    if y.shape != u.shape:
        luma = cv2.resize(luma, (u.shape[1], u.shape[0]), interpolation=cv2.INTER_AREA)
    luma = np.asarray(luma, np.int16)
    tables = _tables(bits)
    if bits == 8:
        by_red, by_blue = np.ascontiguousarray(v), np.ascontiguousarray(u)
        red, blue = cv2.LUT(by_red, tables[0]), cv2.LUT(by_blue, tables[1])
        green = cv2.add(cv2.LUT(by_red, tables[2]), cv2.LUT(by_blue, tables[3]))
    else:
        red, blue, green = tables[0].take(v), tables[1].take(u), tables[2].take(v) + tables[3].take(u)
    return tuple(np.asarray(cv2.add(luma, added), np.int16) for added in (red, green, blue))


_MADE: dict[int, tuple[NDArray[np.int16], ...]] = {}


def _tables(bits: int) -> tuple[NDArray[np.int16], ...]:
    """What each chroma code adds: Cr to red, Cb to blue, Cr to green, Cb to green."""
    if bits not in _MADE:
        codes = np.arange(1 << bits) - (128 << bits - 8)
        factors = (_RED, _BLUE, -_GREEN_RED, -_GREEN_BLUE)
        _MADE[bits] = tuple(np.rint(codes * factor).astype(np.int16) for factor in factors)
    return _MADE[bits]


class LevelMeter:
    """Collects frames outside the limits into runs."""

    def __init__(self) -> None:
        self._open: OutOfRange | None = None
        self._found: list[OutOfRange] = []

    def feed(self, number: int, found: FrameLevels | None) -> None:
        """Takes what was found in one frame."""
        if found is None:
            return
        before = self._open
        new = OutOfRange(
            span=Span(number, number + 1), share=found.share, lowest=found.lowest, highest=found.highest,
            area=found.area,
        )  # fmt: skip
        if before is None or before.span.end != number:
            self._close()
            self._open = new
            return
        worst = max(before, new, key=lambda one: one.share)
        self._open = OutOfRange(
            span=Span(before.span.start, number + 1),
            share=worst.share,
            lowest=min(before.lowest, new.lowest),
            highest=max(before.highest, new.highest),
            area=worst.area,
        )

    def finish(self) -> tuple[OutOfRange, ...]:
        """All runs in order."""
        self._close()
        return tuple(self._found)

    def _close(self) -> None:
        if self._open is not None:
            self._found.append(self._open)
            self._open = None

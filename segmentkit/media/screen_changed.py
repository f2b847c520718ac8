"""Small pictures and levels of one picture after the other, made anew only where a picture differs from the last one.

Most of a lesson stands still or nearly so: a coder refines a frozen picture here and there, a person moves in a part of
it. A picture is compared with the one before in strips, which costs little, and only the columns of a strip that differ
are reduced and looked at again. Each small sample is the mean of an area that lies within one strip, so the result is
the same to the bit as that of the whole picture.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Size
from segmentkit.media.screen_levels import FrameLevels, LevelMasks
from segmentkit.media.screen_reduce import FullPlanes, Part, Reduced, reduce, reduced_size

_STRIP = 20
"""Rows of the small picture in a strip: nine strips in a picture of 16:9."""
_GAP = 32
"""Columns of the small picture that are alike from which on two runs are cheaper than one."""


class Watched:
    """What is kept of the last picture, brought up to date with each one that follows.

    Args:
        size: of the pictures.
        thrifty: whether only what differs is measured; the figures are the same either way.
    """

    def __init__(self, size: Size, *, thrifty: bool = True) -> None:
        self.size = reduced_size(size)
        self._thrifty = thrifty
        self._last: FullPlanes | None = None
        self._masks = LevelMasks()
        self._small: Reduced | None = None
        self._levels: FrameLevels | None = None

    @property
    def small(self) -> Reduced:
        """The last picture, reduced; never changed afterwards."""
        assert self._small is not None
        return self._small

    @property
    def levels(self) -> FrameLevels | None:
        """What of the last picture is outside the legal levels, if too much is."""
        return self._levels

    def feed(self, picture: FullPlanes) -> bool:
        """Takes the next picture; says whether it differs from the last one at all."""
        parts = self._parts(picture)
        self._last = picture
        if not parts:
            return False
        made = self._small if self._small is not None else _blank(self.size)
        small = Reduced(made.y.copy(), made.u.copy(), made.v.copy())
        for part in parts:
            cut = part.cut(picture, self.size)
            again = reduce(cut, Size(part.right - part.left, part.bottom - part.top))
            rows, columns = slice(part.top, part.bottom), slice(part.left, part.right)
            small.y[rows, columns], small.u[rows, columns], small.v[rows, columns] = again.y, again.u, again.v
            if not picture.full:
                self._masks.update(cut, part, self.size, picture)
        self._small = small
        self._levels = None if picture.full else self._masks.judge(picture)
        return True

    def recall(self, small: Reduced, levels: FrameLevels | None) -> None:
        """Takes a picture as it was measured before; the next one that is fed is measured whole."""
        self._last, self._small, self._levels = None, small, levels

    def _parts(self, picture: FullPlanes) -> list[Part]:
        """Where a picture differs from the last one."""
        whole = Part.whole(self.size)
        last = self._last
        if last is None or not self._thrifty or _coded(last) != _coded(picture):
            return [whole]
        if any(plane.shape[0] % self.size.height or plane.shape[1] % self.size.width for plane in picture.planes):
            return [] if picture.alike(last) else [whole]
        tops = range(0, self.size.height, _STRIP)
        differ = np.zeros((len(tops), self.size.width), np.bool_)
        for mine, theirs in zip(picture.planes, last.planes, strict=True):
            differ |= _differing(mine, theirs, self.size)
        return [
            Part(tops[index], min(tops[index] + _STRIP, self.size.height), left, right)
            for index in np.flatnonzero(differ.any(axis=1))
            for left, right in _runs_apart(np.flatnonzero(differ[index]))
        ]


def _coded(picture: FullPlanes) -> tuple[object, ...]:
    """What two pictures must have in common to be compared sample by sample; a stranger's file may change it."""
    return picture.bits, picture.full, *(plane.shape for plane in picture.planes)


def _differing(one: NDArray[Any], other: NDArray[Any], small: Size) -> NDArray[np.bool_]:
    """Where two planes differ: bool, shape (strips, columns of the small picture).

    Samples are compared by words of eight bytes, and rows of a strip are put together by words of eight answers.
    """
    tops = range(0, one.shape[0], _STRIP * (one.shape[0] // small.height))
    word = 8 // one.itemsize
    if one.shape[1] % (8 * word):
        strips = np.logical_or.reduceat(one != other, tops, axis=0)
    else:
        apart = one.view(np.uint64) != other.view(np.uint64)
        strips = np.bitwise_or.reduceat(apart.view(np.uint64), tops, axis=0).view(np.bool_)
        if strips.any():
            strips = strips.repeat(word, axis=1)
    if not strips.any():
        return np.zeros((len(tops), small.width), np.bool_)
    return np.asarray(strips.reshape(len(tops), small.width, -1).any(axis=2))


def _runs_apart(marked: NDArray[np.intp]) -> list[tuple[int, int]]:
    """First and last, half-open, of the runs of marked columns that lie well apart."""
    ends = np.flatnonzero(marked[1:] - marked[:-1] > _GAP)
    firsts = [marked[0], *marked[ends + 1]]
    lasts = [*marked[ends], marked[-1]]
    return [(int(first), int(last) + 1) for first, last in zip(firsts, lasts, strict=True)]


def spots_apart(one: Reduced, other: Reduced) -> NDArray[np.intp]:
    """Flat indices of the samples in which two small pictures differ."""
    return np.flatnonzero((one.y != other.y) | (one.u != other.u) | (one.v != other.v))


def _blank(size: Size) -> Reduced:
    y, u, v = (np.zeros((size.height, size.width), np.float32) for _ in range(3))
    return Reduced(y, u, v)

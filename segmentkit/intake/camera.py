"""Whether the camera stood still, from the background alone."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.intake.footage import Footage

_ROWS, _COLUMNS = 4, 6
_LOOKED_AT = 400
_TEXTURE = 0.8
"""Least spread of luma in a block that can be followed; a plain wall or sky has less."""
_TRUSTED = 0.12  # least height of the peak of a phase correlation, 0 to 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Steadiness:
    """How the background moved.

    Attributes:
        seconds: moments looked at, float64, shape (n,).
        shifts: of the background against the first picture, in fractions of the picture's long side, shape (n, 2).
        drift: largest distance from the middle place, same unit.
        shake: root mean square of what is quicker than half a second, same unit.
        blocks: how many of the 24 blocks could be followed; below six nothing is known.
    """

    seconds: NDArray[np.float64]
    shifts: NDArray[np.float64]
    drift: float
    shake: float
    blocks: int

    @property
    def known(self) -> bool:
        """Whether the background had enough to hold on to."""
        return self.blocks >= 6


def steadiness(footage: Footage) -> Steadiness:
    """Follows 24 blocks of the picture by phase correlation and takes the median of their shifts.

    A player fills few blocks, so the median is the background's. A camera that turns about its own axis or zooms
    without shifting its middle is not seen by the median.
    """
    chosen = np.unique(np.linspace(0, len(footage.luma) - 1, _LOOKED_AT).round().astype(int))
    height, width = footage.luma.shape[1:]
    bh, bw = height // _ROWS, width // _COLUMNS
    boxes = [(slice(r * bh, (r + 1) * bh), slice(c * bw, (c + 1) * bw)) for r in range(_ROWS) for c in range(_COLUMNS)]
    window = cv2.createHanningWindow((bw, bh), cv2.CV_32F)
    middle = footage.luma[chosen[len(chosen) // 2]].astype(np.float32)
    boxes = [box for box in boxes if float(_detail(middle[box])) > _TEXTURE]
    seconds = footage.seconds[chosen]
    if not boxes:
        return Steadiness(seconds=seconds, shifts=np.zeros((len(chosen), 2)), drift=0.0, shake=0.0, blocks=0)
    shifts = np.zeros((len(chosen), 2))
    followed = []
    for index, number in enumerate(chosen):
        picture = footage.luma[number].astype(np.float32)
        found = []
        for box in boxes:
            (dx, dy), height_of_peak = cv2.phaseCorrelate(middle[box], picture[box], window)
            if height_of_peak > _TRUSTED:
                found.append((dx, dy))
        followed.append(len(found))
        if found:
            shifts[index] = np.median(np.array(found), axis=0)
    shifts /= max(height, width)
    centred = shifts - np.median(shifts, axis=0)
    slow = _smoothed(centred, seconds, 0.5)
    quick = centred - slow
    return Steadiness(
        seconds=seconds, shifts=shifts, drift=float(np.hypot(*centred.T).max()),
        shake=float(np.sqrt((quick**2).sum(axis=1).mean())), blocks=int(np.median(followed)),
    )  # fmt: skip


def _detail(block: NDArray[np.float32]) -> float:
    """Spread of what is finer than a few pixels: a slope of brightness alone cannot be followed."""
    return float((block - cv2.GaussianBlur(block, (0, 0), 4)).std())


def _smoothed(values: NDArray[np.float64], seconds: NDArray[np.float64], span: float) -> NDArray[np.float64]:
    """Mean over a span of time around each moment."""
    first = np.searchsorted(seconds, seconds - span / 2)
    last = np.searchsorted(seconds, seconds + span / 2, side="right")
    sums = np.vstack([np.zeros(2), np.cumsum(values, axis=0)])
    return np.asarray((sums[last] - sums[first]) / (last - first)[:, None])

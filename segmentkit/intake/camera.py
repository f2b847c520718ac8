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
_STEPS = 3
_SETTLED = 0.01  # small pixels
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
    """Follows 24 blocks of the picture and takes the median of their shifts.

    Phase correlation finds the shift to about a pixel, then least squares on the gradients (the step of Lucas and
    Kanade) to a tenth of it. A player fills few blocks, so the median is the background's. A camera that turns about
    its own axis or zooms without shifting its middle is not seen by the median.
    """
    chosen = np.unique(np.linspace(0, len(footage.luma) - 1, _LOOKED_AT).round().astype(int))
    middle = footage.luma[chosen[len(chosen) // 2]].astype(np.float32)
    grid = _Grid(middle)
    seconds = footage.seconds[chosen]
    if not grid.blocks:
        return Steadiness(seconds=seconds, shifts=np.zeros((len(chosen), 2)), drift=0.0, shake=0.0, blocks=0)
    found = [grid.shift_of(footage.luma[number].astype(np.float32)) for number in chosen]
    shifts = np.array([shift for shift, _ in found]) / max(middle.shape)
    centred = shifts - np.median(shifts, axis=0)
    quick = centred - _smoothed(centred, seconds, 0.5)
    return Steadiness(
        seconds=seconds, shifts=shifts, drift=float(np.hypot(*centred.T).max()),
        shake=float(np.sqrt((quick**2).sum(axis=1).mean())), blocks=int(np.median([blocks for _, blocks in found])),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Block:
    """A block of the picture that can be followed.

    Attributes:
        box: its rows and columns.
        middle: its luma in the picture that all are held against, float32.
        gx, gy: gradients there, float32.
        xx, yy, xy: sums of their products.
    """

    box: tuple[slice, slice]
    middle: NDArray[np.float32]
    gx: NDArray[np.float32]
    gy: NDArray[np.float32]
    xx: float
    yy: float
    xy: float

    def step(self, left: NDArray[np.float32]) -> tuple[float, float] | None:
        """What remains of its shift, by least squares; None where its gradients point one way only."""
        whole = self.xx * self.yy - self.xy * self.xy
        if whole < 1e-3 * (self.xx + self.yy) ** 2:
            return None
        left = left - left.mean()  # a lamp that wavers is no motion
        bx, by = -float((self.gx * left).sum()), -float((self.gy * left).sum())
        return (self.yy * bx - self.xy * by) / whole, (self.xx * by - self.xy * bx) / whole


class _Grid:
    """The blocks of one picture that can be followed, with what least squares needs of them."""

    def __init__(self, middle: NDArray[np.float32]) -> None:
        height, width = middle.shape
        self._high, self._wide = height // _ROWS, width // _COLUMNS
        boxes = [
            (slice(r * self._high, (r + 1) * self._high), slice(c * self._wide, (c + 1) * self._wide))
            for r in range(_ROWS)
            for c in range(_COLUMNS)
        ]
        self._middle = middle
        self._window = cv2.createHanningWindow((self._wide, self._high), cv2.CV_32F)
        across = np.asarray(cv2.Sobel(middle, cv2.CV_32F, 1, 0, ksize=3) / 8, np.float32)
        down = np.asarray(cv2.Sobel(middle, cv2.CV_32F, 0, 1, ksize=3) / 8, np.float32)
        self.blocks = [
            _Block(box, middle[box], gx, gy, float((gx * gx).sum()), float((gy * gy).sum()), float((gx * gy).sum()))
            for box in boxes
            if _detail(middle[box]) > _TEXTURE
            for gx, gy in [(across[box], down[box])]
        ]

    def shift_of(self, picture: NDArray[np.float32]) -> tuple[tuple[float, float], int]:
        """Shift of a picture against the middle one in small pixels, and how many blocks agree to be followed."""
        rough, held = [], []
        for block in self.blocks:
            shift, peak = cv2.phaseCorrelate(block.middle, picture[block.box], self._window)
            if peak > _TRUSTED:
                rough.append(shift)
                held.append(block)
        if not rough:
            return (0.0, 0.0), 0
        dx, dy = np.median(np.array(rough), axis=0)
        for _ in range(_STEPS):
            turn = np.array([[1, 0, dx], [0, 1, dy]], np.float64)
            size = (picture.shape[1], picture.shape[0])
            moved = cv2.warpAffine(
                picture, turn, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
            )
            left = moved - self._middle
            steps = [step for block in held if (step := block.step(left[block.box])) is not None]
            if not steps:
                break
            more = np.median(np.array(steps), axis=0)
            dx, dy = dx + more[0], dy + more[1]
            if np.abs(more).max() < _SETTLED:
                break
        return (float(dx), float(dy)), len(held)


def _detail(block: NDArray[np.float32]) -> float:
    """Spread of what is finer than a few pixels: a slope of brightness alone cannot be followed."""
    return float((block - cv2.GaussianBlur(block, (0, 0), 4)).std())


def _smoothed(values: NDArray[np.float64], seconds: NDArray[np.float64], span: float) -> NDArray[np.float64]:
    """Mean over a span of time around each moment."""
    first = np.searchsorted(seconds, seconds - span / 2)
    last = np.searchsorted(seconds, seconds + span / 2, side="right")
    sums = np.vstack([np.zeros(2), np.cumsum(values, axis=0)])
    return np.asarray((sums[last] - sums[first]) / (last - first)[:, None])

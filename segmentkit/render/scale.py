"""Enlarging and shrinking along the axes, by an exact scale and to a sub-sample shift, at the speed of a plain resize.

A resize works row by row and column by column, which is several times faster than a free map, but it only starts at
whole samples. At a scale s the phases of successive output samples run through all fractions, so the wanted shift is
met, closely enough, by some sample further left: the result is computed from there on and the surplus is cut off.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from segmentkit.media.planes import Plane

CLOSE = 1 / 20
"""Source samples by which a shift may be missed: nobody sees a twentieth, and it is the same on all frames."""
_REACH = 3  # source samples that a kernel may look beyond the sample it computes
_MOST = 96


@dataclass(frozen=True, slots=True)
class _Axis:
    """How one axis is read: from a whole source sample on, with surplus output samples before the wanted ones."""

    start: int
    count: int
    surplus: int


def resized(
    plane: Plane, across: tuple[float, float], down: tuple[float, float], size: tuple[int, int], kernel: int
) -> Plane | None:
    """Samples a plane along its axes.

    Args:
        plane: uint8, shape (height, width); beyond its edges it goes on as it ends.
        across: step and start in source columns: output column i shows source column `step * i + start`. A negative
            step mirrors.
        down: the same for rows; the step is positive.
        size: columns and rows of the result.
        kernel: `cv2.INTER_LINEAR` or `cv2.INTER_CUBIC`.

    Returns:
        uint8, shape (rows, columns); None when the shift is met by no sample near by.
    """
    step, start = across
    if step < 0:
        plane = np.ascontiguousarray(plane[:, ::-1])
        step, start = -step, plane.shape[1] - 1 - start
    columns, rows = _axis(step, start, size[0]), _axis(down[0], down[1], size[1])
    if columns is None or rows is None:
        return None
    part = _cut(plane, columns, rows)
    made = cv2.resize(part, None, fx=1 / step, fy=1 / down[0], interpolation=kernel)
    left, top = columns.surplus, rows.surplus
    return np.asarray(made[top : top + size[1], left : left + size[0]], np.uint8)


def _axis(step: float, start: float, count: int) -> _Axis | None:
    """The best start for one axis; None when none is close enough.

    A resize shows, as output sample j, the source position (j + 1/2) * step - 1/2 from where its source begins.
    """
    least = math.ceil(_REACH / step)
    best, missed = 0, 1.0
    for surplus in range(least, least + _MOST):
        first = start + 0.5 - step * (surplus + 0.5)
        off = abs(first - round(first))
        if off < missed - 1e-9:
            best, missed = surplus, off
        if missed < 1e-6:
            break
    if missed > CLOSE:
        return None
    first = round(start + 0.5 - step * (best + 0.5))
    return _Axis(first, math.ceil((best + count) * step) + _REACH, best)


def _cut(plane: Plane, columns: _Axis, rows: _Axis) -> Plane:
    """The source samples that are needed; beyond the edges the last ones are repeated."""
    height, width = plane.shape
    x0, x1, y0, y1 = columns.start, columns.start + columns.count, rows.start, rows.start + rows.count
    inside = plane[
        min(max(0, y0), height - 1) : max(1, min(height, y1)), min(max(0, x0), width - 1) : max(1, min(width, x1))
    ]
    pads = (
        min(rows.count - 1, max(0, -y0)), max(0, min(rows.count - 1, y1 - height)),
        min(columns.count - 1, max(0, -x0)), max(0, min(columns.count - 1, x1 - width)),
    )  # fmt: skip
    if any(pads):
        inside = np.asarray(cv2.copyMakeBorder(inside, *pads, cv2.BORDER_REPLICATE), np.uint8)
    return inside

"""Smooth curves through key values: C2, with a slope of nought wherever a movement turns round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def _spline(x: Array, y: Array) -> tuple[Array, Array]:
    """Slope and curvature at the knots of the clamped (slope 0 at both ends) cubic spline through the points."""
    n, h = len(x), np.diff(x)
    matrix, right = np.zeros((n, n)), np.zeros(n)
    matrix[0, 0] = matrix[-1, -1] = 1.0
    for i in range(1, n - 1):
        matrix[i, i - 1], matrix[i, i], matrix[i, i + 1] = 1 / h[i - 1], 2 / h[i - 1] + 2 / h[i], 1 / h[i]
        right[i] = 3 * ((y[i] - y[i - 1]) / h[i - 1] ** 2 + (y[i + 1] - y[i]) / h[i] ** 2)
    slope: Array = np.asarray(np.linalg.solve(matrix, right), dtype=np.float64)
    bend = np.empty(n)
    rise: Array = np.diff(y) / h
    bend[:-1] = (6 * rise - 4 * slope[:-1] - 2 * slope[1:]) / h
    bend[-1] = (-6 * rise[-1] + 2 * slope[-2] + 4 * slope[-1]) / h[-1]
    return slope, bend


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One channel: knots with value, slope and curvature, joined by quintics so that the whole is C2.

    All arrays are float64, shape (n,), in the order of time; `times` is in seconds and rising.
    """

    times: Array
    values: Array
    slopes: Array
    bends: Array

    def __call__(self, t: float) -> float:
        """Value at `t` seconds; held before the first knot and after the last."""
        if t <= self.times[0]:
            return float(self.values[0])
        if t >= self.times[-1]:
            return float(self.values[-1])
        i = int(np.searchsorted(self.times, t, side="right")) - 1
        h = self.times[i + 1] - self.times[i]
        u = (t - self.times[i]) / h
        p0, p1 = self.values[i], self.values[i + 1]
        v0, v1 = self.slopes[i] * h, self.slopes[i + 1] * h
        a0, a1 = self.bends[i] * h * h, self.bends[i + 1] * h * h
        rest = p1 - p0 - v0 - a0 / 2
        vrest, arest = v1 - v0 - a0, a1 - a0
        c3 = 10 * rest - 4 * vrest + arest / 2
        c4 = -15 * rest + 7 * vrest - arest
        c5 = 6 * rest - 3 * vrest + arest / 2
        return float(p0 + u * (v0 + u * (a0 / 2 + u * (c3 + u * (c4 + u * c5)))))


def curve(points: Sequence[tuple[float, float]], turns: Sequence[float] = ()) -> Curve:
    """Build a channel through `(seconds, value)` points.

    Args:
        points: at least two, in the order of time.
        turns: times of inner points at which the movement turns round: the slope there is 0. The curve is splined
            piece by piece between the turns and both sides share the gentler curvature, which keeps it C2.
    """
    x, y = np.array([p[0] for p in points]), np.array([p[1] for p in points])
    inner = {int(np.argmin(np.abs(x - t))) for t in turns}
    cuts = [0, *sorted(inner - {0, len(x) - 1}), len(x) - 1]
    slopes, bends, sides = np.zeros(len(x)), np.zeros(len(x)), np.zeros((2, len(x)))
    for first, last in pairwise(cuts):
        slope, bend = _spline(x[first : last + 1], y[first : last + 1])
        slopes[first : last + 1] = slope
        bends[first : last + 1] = bend
        sides[0, last], sides[1, first] = bend[-1], bend[0]
    for cut in cuts[1:-1]:
        before, after = sides[:, cut]
        # The gentler of the two sides: a sharper one would swing out over a long neighbour.
        bends[cut] = 0.0 if before * after <= 0 else np.sign(before) * min(abs(before), abs(after))
    bends[0] = bends[-1] = 0.0
    return Curve(times=x, values=y, slopes=slopes, bends=bends)


def smoothstep(t: float, start: float, end: float) -> float:
    """Quintic step from 0 to 1 between two times, C2 at both ends."""
    u = min(1.0, max(0.0, (t - start) / (end - start)))
    return u * u * u * (u * (6 * u - 15) + 10)

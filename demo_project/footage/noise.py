"""Value noise for grass, cloud and leaves; the same numbers on every machine."""

# mypy: disable-error-code="no-untyped-call,untyped-decorator"

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit

_fast: Any = njit(cache=True, inline="never")


@_fast
def chance(x: int, y: int, seed: int) -> float:
    """A number from 0 to 1 that depends on a lattice point alone (an integer hash)."""
    h = np.uint32(x * 374761393 + y * 668265263 + seed * 974634777 & 0xFFFFFFFF)
    h = np.uint32((h ^ (h >> np.uint32(13))) * np.uint32(1274126177))
    h = np.uint32(h ^ (h >> np.uint32(16)))
    return float(h & np.uint32(0xFFFFFF)) / 16777216.0


@_fast
def smooth(x: float, y: float, seed: int) -> float:
    """Value noise, 0 to 1, one feature a unit."""
    xi, yi = math.floor(x), math.floor(y)
    fx, fy = x - xi, y - yi
    fx, fy = fx * fx * (3 - 2 * fx), fy * fy * (3 - 2 * fy)
    i, j = int(xi), int(yi)
    low = chance(i, j, seed) * (1 - fx) + chance(i + 1, j, seed) * fx
    high = chance(i, j + 1, seed) * (1 - fx) + chance(i + 1, j + 1, seed) * fx
    return float(low * (1 - fy) + high * fy)


@_fast
def layers(x: float, y: float, count: int, seed: int) -> float:
    """Noise of several sizes added up, 0 to 1, mean about a half."""
    total, size, weight, norm = 0.0, 1.0, 1.0, 0.0
    for i in range(count):
        total += weight * smooth(x * size, y * size, seed + 17 * i)
        norm += weight
        size *= 2.03
        weight *= 0.52
    return total / norm

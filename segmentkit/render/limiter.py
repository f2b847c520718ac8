"""A look-ahead limiter that judges by the true peak, so that nothing between the samples passes the limit either."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from segmentkit.media.loudness import peaks
from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE

STEP = 16  # samples; gain is decided every third of a millisecond
_ATTACK = 1.2  # dB a millisecond, before the peak; 6 dB take 5 ms
_RELEASE = 0.04  # dB a millisecond after it; 6 dB take 150 ms
_BLOCK = 1 << 20


def limit(samples: Samples, ceiling: float) -> int:
    """Lowers the gain around peaks, in place, and leaves everything else untouched.

    Gain falls and rises linearly in dB and has reached what a peak needs when the peak comes.

    Args:
        samples: float32, 48 kHz, shape (n, channels); changed in place.
        ceiling: highest true peak in dBTP. The change of gain itself can lift a peak by some hundredths of a dB.

    Returns:
        how many samples were lowered.
    """
    with np.errstate(divide="ignore"):
        needed = np.minimum(0.0, ceiling - 20 * np.log10(peaks(samples, STEP)))
    if not len(needed) or needed.min() >= 0:
        return 0
    gain = _ramped(_neighbours(needed))
    centres = np.arange(len(gain)) * STEP + (STEP - 1) / 2
    lowered = 0
    for start in range(0, len(samples), _BLOCK):
        end = min(start + _BLOCK, len(samples))
        first, last = max(0, start // STEP - 1), end // STEP + 2
        if gain[first:last].min() > -1e-4:
            continue
        curve = np.interp(np.arange(start, end), centres[first:last], gain[first:last])
        samples[start:end] *= (10 ** (curve / 20)).astype(np.float32)[:, None]
        lowered += int(np.count_nonzero(curve < -1e-4))
    return lowered


def _neighbours(needed: NDArray[np.float64]) -> NDArray[np.float64]:
    """The least of each value and its two neighbours: the line drawn between two steps then never lies above a need."""
    padded = np.pad(needed, 1, mode="edge")
    return np.minimum(np.minimum(padded[:-2], padded[2:]), needed)


def _ramped(needed: NDArray[np.float64]) -> NDArray[np.float64]:
    """The highest curve below all needs that falls and rises no faster than allowed."""
    steps = np.arange(len(needed))
    milliseconds = STEP * 1000 / SAMPLE_RATE
    rise, fall = _RELEASE * milliseconds, _ATTACK * milliseconds
    after = np.minimum.accumulate(needed - rise * steps) + rise * steps
    before = np.minimum.accumulate((after + fall * steps)[::-1])[::-1] - fall * steps
    return np.asarray(np.minimum(0.0, before), np.float64)

"""Where a sound lies against the one that was planned, found by correlation.

Both are brought to one channel at 6 kHz, which is enough for a sixth of a millisecond. Stretches of four seconds are
compared at every shift up to 0.6 s to either side; the stretches are added up by their energy, so that a held note,
which fits in many places, does not outvote a word, which fits in one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from segmentkit.media.loudness import BIN
from segmentkit.media.sound import Samples
from segmentkit.screened import Sync
from segmentkit.timebase import SAMPLE_RATE

_STEP = 8
_PACE = SAMPLE_RATE // _STEP
_WINDOW = 4 * _PACE
REACH_SECONDS = 0.6
_REACH = int(REACH_SECONDS * _PACE)
_AUDIBLE = 1e-6  # mean square of a stretch below which it says nothing
_SURE = 0.5


@dataclass(slots=True)
class Reference:
    """The planned sound, made ready to be compared with.

    Attributes:
        sides: left and right at 6 kHz; float32, shape (n, 2).
        squares: mean square over all channels of each 10 ms.
    """

    sides: NDArray[np.float32]
    squares: NDArray[np.float64]


def reference_of(samples: Samples) -> Reference:
    """Makes a planned sound ready: float32, 48 kHz, shape (n, 1) or (n, 2)."""
    whole = len(samples) // BIN
    squares = np.square(samples[: whole * BIN]).reshape(whole, -1).mean(axis=1, dtype=np.float64)
    wide = samples if samples.shape[1] == 2 else np.repeat(samples[:, :1], 2, axis=1)
    return Reference(_slower(wide), squares)


class SyncMeter:
    """Compares a stream with the planned sound, stretch by stretch."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self._waiting = np.zeros((0, 2), np.float32)
        self._rest = np.zeros((0, 2), np.float32)
        self._at = 0
        self._sum = np.zeros(2 * _REACH + 1)
        self._energy = [0.0, 0.0]
        self._swapped = [0.0, 0.0]
        self._windows: list[tuple[int, float, float]] = []

    def feed(self, block: Samples) -> None:
        """Takes the next samples of the programme: float32, 48 kHz, shape (n, channels)."""
        wide = block[:, :2] if block.shape[1] >= 2 else np.repeat(block, 2, axis=1)
        joined = np.concatenate([self._rest, wide])
        whole = len(joined) // _STEP * _STEP
        self._rest = joined[whole:]
        self._waiting = np.concatenate([self._waiting, _slower(joined[:whole])])
        while len(self._waiting) >= _WINDOW:
            self._compare(self._waiting[:_WINDOW])
            self._waiting = self._waiting[_WINDOW:]

    def finish(self, frame: Callable[[float], int]) -> Sync | None:
        """The result; None where neither sounds. `frame` tells the frame at a second of the programme."""
        if len(self._waiting) >= _PACE // 2:
            self._compare(self._waiting)
        scale = float(np.sqrt(self._energy[0] * self._energy[1]))
        if scale <= 0:
            return None
        best = int(np.argmax(self._sum))
        return Sync(
            late=(best - _REACH) / _PACE,
            likeness=max(0.0, float(self._sum[best]) / scale),
            windows=tuple((frame(at / _PACE), late, likeness) for at, late, likeness in self._windows),
            swapped=self._swapped[1] > self._swapped[0] * 1.02 and self._swapped[1] > 0,
        )

    def _compare(self, heard: NDArray[np.float32]) -> None:
        planned = self.reference.sides
        first, last = self._at - _REACH, self._at + len(heard) + _REACH
        part = planned[max(0, first) : max(0, last)]
        part = np.pad(part, ((max(0, -first), max(0, last - first - len(part) - max(0, -first))), (0, 0)))
        self._at += len(heard)
        mid, wanted = heard.mean(axis=1, dtype=np.float64), part.mean(axis=1, dtype=np.float64)
        if np.square(mid).mean() < _AUDIBLE or np.square(wanted).mean() < _AUDIBLE:
            return
        # A late sound fits an earlier part of the plan, so the shift runs backwards.
        fit = _correlated(wanted, mid)[::-1]
        self._sum += fit
        energies = _sums(np.square(wanted), len(mid))[::-1]
        best = int(np.argmax(fit))
        mine = float(np.square(mid).sum())
        self._energy[0] += mine
        self._energy[1] += float(energies[best])
        likeness = float(fit[best]) / max(1e-12, float(np.sqrt(mine * energies[best])))
        self._windows.append((self._at - len(heard), (best - _REACH) / _PACE, max(0.0, likeness)))
        self._compare_sides(heard, part[2 * _REACH - best : 2 * _REACH - best + len(heard)], likeness)

    def _compare_sides(self, heard: NDArray[np.float32], part: NDArray[np.float32], likeness: float) -> None:
        """Whether the sides differ in the plan, and if so which way round they are here."""
        if likeness < _SURE:
            return
        planned_side = part[:, 0] - part[:, 1]
        heard_side = heard[:, 0] - heard[:, 1]
        fit = float(np.dot(planned_side.astype(np.float64), heard_side))
        self._swapped[0 if fit >= 0 else 1] += abs(fit)


def _correlated(long: NDArray[np.float64], short: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sum of products at each place of the short in the long; shape (len(long) - len(short) + 1,)."""
    size = 1 << (len(long) + len(short)).bit_length()
    product = np.fft.rfft(long, size) * np.conj(np.fft.rfft(short, size))
    return np.asarray(np.fft.irfft(product, size)[: len(long) - len(short) + 1])


def _slower(samples: Samples) -> NDArray[np.float32]:
    """Means of eight samples each, 6 kHz."""
    whole = len(samples) // _STEP * _STEP
    return np.asarray(samples[:whole].reshape(-1, _STEP, samples.shape[1]).mean(axis=1), np.float32)


def _sums(values: NDArray[np.float64], count: int) -> NDArray[np.float64]:
    """Sums over each `count` values."""
    running = np.cumsum(np.concatenate([[0.0], values]))
    return np.asarray(running[count:] - running[:-count])

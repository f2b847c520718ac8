"""Loudness by ITU-R BS.1770-4 with the gate, loudness range by EBU Tech 3342, true peak by BS.1770-4 Annex 2.

K-weighting is applied as the exact impulse response of the standard's two filters, cut where it has died away, so the
result depends on nothing but the samples. All levels derive from the mean squares of 10 ms bins.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from segmentkit.errors import MediaUnusable
from segmentkit.facts import Loudness
from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE

Levels = NDArray[np.float64]

SILENCE = Loudness(integrated=-np.inf, range=0.0, true_peak=-np.inf)
"""What is measured where nothing sounds. A gate leaves nothing to average, so there is no number to normalise to."""

BIN = SAMPLE_RATE // 100
OVERSAMPLING = 4  # BS.1770-4 Annex 2 asks for at least 4 at 48 kHz

_WEIGHTS = (1.0, 1.0, 1.0, 1.41, 1.41)  # left, right, centre, left and right surround: BS.1770-4 Annex 1 Table 3
_ABSOLUTE_GATE = -70.0
_STAGE_1 = ((1.53512485958697, -2.69169618940638, 1.19839281085285), (1.0, -1.69065929318241, 0.73248077421585))
_STAGE_2 = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))  # BS.1770-4 Annex 1 Tables 1 and 2
_TAPS = 8192  # the slowest pole, radius 0.995, is 355 dB down by then
_BLOCK = 1 << 17
_HALF = 24  # samples on either side that the true-peak interpolator looks at
_PEAK_TRANSFORM = 1 << 17
_PEAK_BLOCK = _PEAK_TRANSFORM - 6 * 16  # the samples judged at a time: the rest of a transform is room for the filters


class TooShortToMeasure(MediaUnusable):
    """Fewer samples than one gating block of 0.4 s, so integrated loudness is not defined."""


def measure(samples: Samples, *, dual_mono: bool = False) -> Loudness:
    """Integrated loudness, loudness range and true peak of a whole sound.

    Args:
        samples: float32, 48 kHz, shape (n, channels), 1 to 5 channels in the order L, R, C, Ls, Rs.
        dual_mono: count one channel as it will be heard, on two loudspeakers, which is 3.01 LU more.

    Returns:
        the measurement; `SILENCE` where nothing passes the gate at -70 LUFS, with the true peak that was found.

    Raises:
        TooShortToMeasure: below 0.4 s.
    """
    if len(samples) < 40 * BIN:
        raise TooShortToMeasure(
            f"sound of {len(samples) / SAMPLE_RATE:.3f} s — too short to measure — loudness is defined from 0.4 s on — "
            "use a longer sound"
        )
    power = bin_power(samples) * (2.0 if dual_mono and samples.shape[1] == 1 else 1.0)
    return Loudness(integrated=integrated(power), range=loudness_range(power), true_peak=true_peak(samples))


def momentary(samples: Samples) -> Levels:
    """Loudness in LUFS over 400 ms, ending at each 10 ms from 0.4 s on; EBU Tech 3341 clause 2.2."""
    return _decibels(_sliding(bin_power(samples), 40))


def short_term(samples: Samples) -> Levels:
    """Loudness in LUFS over 3 s, ending at each 10 ms from 3 s on; EBU Tech 3341 clause 2.2."""
    return _decibels(_sliding(bin_power(samples), 300))


def bin_power(samples: Samples) -> Levels:
    """K-weighted, channel-weighted mean square of each whole 10 ms; shape (n // 480,)."""
    if samples.shape[1] > len(_WEIGHTS):
        raise ValueError(f"{samples.shape[1]} channels: 1 to {len(_WEIGHTS)} are measured")
    power = np.zeros(len(samples) // BIN)
    for channel in range(samples.shape[1]):
        square = np.zeros(len(power))
        for start, block in _weighted(samples[:, channel]):
            whole = len(block) // BIN
            square[start // BIN : start // BIN + whole] = np.square(block[: whole * BIN]).reshape(-1, BIN).mean(axis=1)
        power += _WEIGHTS[channel] * square
    return power


def integrated(power: Levels) -> float:
    """Gated loudness in LUFS of 10 ms mean squares; -inf when nothing passes the absolute gate."""
    blocks = _sliding(power, 40)[::10]
    loud = blocks[_decibels(blocks) > _ABSOLUTE_GATE]
    if not len(loud):
        return -np.inf
    relative = _decibels(loud.mean()) - 10.0
    return float(_decibels(loud[_decibels(loud) > relative].mean()))


def loudness_range(power: Levels) -> float:
    """Spread in LU between the 10 % and 95 % marks of gated short-term loudness; 0 below 3 s. EBU Tech 3342."""
    blocks = _sliding(power, 300)[::10]
    loud = blocks[_decibels(blocks) > _ABSOLUTE_GATE]
    if not len(loud):
        return 0.0
    levels = np.sort(_decibels(loud))
    levels = levels[levels >= _decibels(loud.mean()) - 20.0]
    low, high = (levels[round((len(levels) - 1) * share)] for share in (0.10, 0.95))
    return float(high - low)


def true_peak(samples: Samples) -> float:
    """The highest level in dBTP that a converter may reach between the samples; -inf for digital silence."""
    highest = 0.0
    reach = float(np.abs(_interpolators()).sum(axis=1).max())  # no peak of a block can be above this times its samples
    for channel in range(samples.shape[1]):
        sound = samples[:, channel]
        for start in range(0, len(sound), _PEAK_BLOCK):
            sampled = float(np.abs(sound[max(0, start - _HALF) : start + _PEAK_BLOCK + _HALF]).max())
            if sampled * max(reach, 1.0) > highest:
                highest = max(highest, float(_peaks(sound, start, min(_PEAK_BLOCK, len(sound) - start)).max()))
    return float(20 * np.log10(highest)) if highest > 0 else -np.inf


def peaks(samples: Samples, step: int) -> Levels:
    """The greatest oversampled magnitude over all channels in each `step` samples; shape (ceil(n / step),)."""
    result = np.zeros(-(-len(samples) // step))
    stride = _PEAK_BLOCK // step * step
    for channel in range(samples.shape[1]):
        for start in range(0, len(samples), stride):
            block = _peaks(samples[:, channel], start, min(stride, len(samples) - start))
            bins = np.maximum.reduceat(block, np.arange(0, len(block), step))
            first = start // step
            result[first : first + len(bins)] = np.maximum(result[first : first + len(bins)], bins)
    return result


def _decibels(power: Levels | float) -> Levels:
    with np.errstate(divide="ignore"):
        return np.asarray(-0.691 + 10 * np.log10(power), dtype=np.float64)


def _sliding(power: Levels, width: int) -> Levels:
    """Mean over `width` bins, ending at each bin from the first full window on; empty when there is none."""
    if len(power) < width:
        return np.zeros(0)
    windows = np.lib.stride_tricks.sliding_window_view(power, width)
    return np.asarray(windows.mean(axis=1), dtype=np.float64)


@lru_cache(maxsize=1)
def _response() -> NDArray[np.complex128]:
    """Spectrum of the K-weighting impulse response, ready for a block of `_BLOCK` output samples."""
    z = np.exp(-2j * np.pi * np.arange(_BLOCK + 1) / (2 * _BLOCK))
    whole = np.ones(len(z), np.complex128)
    for numerator, denominator in (_STAGE_1, _STAGE_2):
        whole *= np.polyval(numerator[::-1], z) / np.polyval(denominator[::-1], z)
    impulse = np.fft.irfft(whole)
    impulse[_TAPS:] = 0
    return np.fft.rfft(impulse)


def _weighted(sound: NDArray[np.float32]) -> Iterator[tuple[int, Levels]]:
    """K-weighted blocks with the sample at which each begins; a block is a whole number of bins but for the last."""
    stride = (2 * _BLOCK - _TAPS) // BIN * BIN
    for start in range(0, len(sound), stride):
        begin = start - _TAPS
        piece = np.zeros(2 * _BLOCK)
        taken = sound[max(0, begin) : start + stride]
        offset = max(0, -begin)
        piece[offset : offset + len(taken)] = taken
        block = np.fft.irfft(np.fft.rfft(piece) * _response())
        yield start, block[_TAPS : _TAPS + min(stride, len(sound) - start)]


@lru_cache(maxsize=1)
def _interpolators() -> Levels:
    """The filters for the three moments between two samples: a sinc under a Kaiser window; shape (3, 2 * _HALF)."""
    filters = []
    for phase in range(1, OVERSAMPLING):
        offsets = np.arange(-_HALF + 1, _HALF + 1) - phase / OVERSAMPLING
        window = np.i0(8.0 * np.sqrt(np.clip(1 - (offsets / _HALF) ** 2, 0, 1))) / np.i0(8.0)
        taps = np.sinc(offsets) * window
        filters.append(taps / taps.sum())
    return np.asarray(filters)


@lru_cache(maxsize=1)
def _interpolator_spectra() -> tuple[NDArray[np.complex64], ...]:
    return tuple(np.fft.rfft(taps[::-1], _PEAK_TRANSFORM).astype(np.complex64) for taps in _interpolators())


def _peaks(sound: NDArray[np.float32], start: int, count: int) -> NDArray[np.float32]:
    """Greatest magnitude at each sample and at the three moments after it; shape (count,), count <= _PEAK_BLOCK.

    Single precision: its error, 120 dB below the loudest sample of the block, moves no peak by a thousandth of a dB.
    """
    piece = np.zeros(_PEAK_TRANSFORM, np.float32)
    begin = start - _HALF + 1
    taken = sound[max(0, begin) : start + count + _HALF]
    offset = max(0, -begin)
    piece[offset : offset + len(taken)] = taken
    highest = np.abs(piece[_HALF - 1 : _HALF - 1 + count])
    spectrum = np.fft.rfft(piece)
    for filtered in _interpolator_spectra():
        between = np.fft.irfft(spectrum * filtered, _PEAK_TRANSFORM)
        np.maximum(highest, np.abs(between[2 * _HALF - 1 : 2 * _HALF - 1 + count]), out=highest)
    return highest

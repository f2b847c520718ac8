"""The strike as it is heard: a click far above what comes before it. A proposal: doors click too."""

from __future__ import annotations

import wave
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from segmentkit.timebase import SAMPLE_RATE

_STEP = SAMPLE_RATE // 1000
_LOW = 1500.0
"""Hertz below which nothing counts: wind, voices' fundamentals and the rush of the club lie there."""
_LEAST = 14.0  # dB above the sound of the clip
_APART = 60  # milliseconds between two clicks


@dataclass(frozen=True, slots=True, kw_only=True)
class Click:
    """A click: its moment in seconds from the first frame, and how far it stands above the rest, in dB."""

    second: float
    above: float


def clicks(sound: Path) -> tuple[Click, ...]:
    """The clicks of a working copy's sound, loudest first, at most five.

    Args:
        sound: 16-bit stereo WAV at 48 kHz.
    """
    with wave.open(str(sound)) as file:
        data = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, file.getnchannels())
    mono = data.mean(axis=1) / 32768
    if len(mono) < SAMPLE_RATE // 4:
        return ()
    levels = _levels(mono)
    usual = np.maximum(np.median(levels), -90.0)
    found: list[Click] = []
    for index in np.argsort(levels)[::-1]:
        above = float(levels[index] - usual)
        if above < _LEAST or len(found) >= 5:
            break
        if any(abs(index - round(click.second * 1000)) < _APART for click in found):
            continue
        before = levels[max(0, index - 50) : max(0, index - 8)]
        if len(before) and levels[index] - before.max() < 10:
            continue  # it rises slowly: a rush or a voice
        first = int(index)
        while first > 0 and levels[first - 1] > levels[index] - 12:
            first -= 1
        found.append(Click(second=first / 1000, above=above))
    return tuple(found)


def _levels(mono: NDArray[np.float64]) -> NDArray[np.float64]:
    """Level of each millisecond above `_LOW`, in dB of full scale."""
    width = 1 << (len(mono) - 1).bit_length()
    spectrum = np.fft.rfft(mono, width)
    hertz = np.fft.rfftfreq(width, 1 / SAMPLE_RATE)
    spectrum *= np.clip((hertz - 0.7 * _LOW) / (0.3 * _LOW), 0, 1)
    high = np.fft.irfft(spectrum, width)[: len(mono) // _STEP * _STEP]
    power = np.square(high).reshape(-1, _STEP).mean(axis=1)
    return np.asarray(10 * np.log10(power + 1e-12))

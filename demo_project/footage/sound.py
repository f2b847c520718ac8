"""Sound of a practice tee: air, a bird, the whoosh of the club, the click of the ball. Nothing is recorded."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

RATE = 48_000
"""Samples a second; every array here is float64, shape (n, 2), full scale 1."""


def _band(noise: Array, low: float, high: float) -> Array:
    """Noise kept between two frequencies, soft at both edges, by its spectrum."""
    spectrum = np.fft.rfft(noise, axis=0)
    f = np.fft.rfftfreq(len(noise), 1 / RATE)[:, None]
    f = np.maximum(f, 1.0)
    return np.asarray(np.fft.irfft(spectrum / (1 + (low / f) ** 4) / (1 + (f / high) ** 4), n=len(noise), axis=0))


def ambience(samples: int, seed: int) -> Array:
    """Quiet outdoor air with two distant birds, about 50 dB under full scale."""
    rng = np.random.default_rng(seed)
    air = _band(rng.normal(0, 1, (samples, 2)), 90, 620)
    t = np.arange(samples) / RATE
    gust = 1 + 0.35 * np.sin(2 * np.pi * 0.13 * t + rng.uniform(0, 6)) * np.sin(2 * np.pi * 0.051 * t + 1)
    out = 0.0042 * air / (np.std(air) + 1e-9) * gust[:, None]
    for start in np.arange(rng.uniform(0.2, 0.9), samples / RATE - 0.5, 3.7):
        pan, pitch = rng.uniform(0.25, 0.75), rng.uniform(3100, 4300)
        for chirp in range(int(rng.integers(2, 5))):
            first = int((start + 0.13 * chirp) * RATE)
            u = np.arange(int(0.07 * RATE)) / RATE
            tone = (
                np.sin(2 * np.pi * (pitch * u + 7000 * u * u * (-1) ** chirp)) * np.sin(np.pi * u / 0.07) ** 2 * 0.0035
            )
            last = min(samples, first + len(tone))
            out[first:last, 0] += tone[: last - first] * (1 - pan)
            out[first:last, 1] += tone[: last - first] * pan
    return np.asarray(out)


def whoosh(speeds: Array, step: float, samples: int, seed: int) -> Array:
    """Air past the club head.

    Args:
        speeds: speed of the head in m/s, every `step` seconds from the start of the clip, shape (n,).
        step: seconds.
        samples: length wanted.
        seed: for the noise.
    """
    rng = np.random.default_rng(seed)
    rush = _band(rng.normal(0, 1, (samples, 1)), 350, 1500)
    rush /= np.std(rush)
    level = np.interp(np.arange(samples) / RATE, np.arange(len(speeds)) * step, (speeds / 36.0) ** 4)
    return np.asarray(0.050 * rush * level[:, None] * np.ones((1, 2)))


def click(moment: float, samples: int, seed: int) -> Array:
    """Iron on ball at `moment` seconds: a hard tick, two ringing partials and the turf under it."""
    rng = np.random.default_rng(seed)
    out = np.zeros((samples, 2))
    first = round(moment * RATE)
    t = np.arange(int(0.16 * RATE)) / RATE
    tick = _band(rng.normal(0, 1, (len(t), 1)), 1800, 6500)[:, 0] * np.exp(-t / 0.0028)
    ring = (
        np.sin(2 * np.pi * 2350 * t) * np.exp(-t / 0.011) * 0.35
        + np.sin(2 * np.pi * 3980 * t) * np.exp(-t / 0.007) * 0.2
    )
    thud = np.sin(2 * np.pi * 118 * t * (1 - t)) * np.exp(-t / 0.030) * 0.5
    sound = 0.42 * (tick / np.max(np.abs(tick)) + ring + thud) * np.minimum(1, t / 0.00025)
    last = min(samples, first + len(sound))
    out[first:last] += sound[: last - first, None]
    return out

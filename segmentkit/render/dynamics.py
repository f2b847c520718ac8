"""What is done to one voice before it joins the others: filters and gentle compression. All arrays 48 kHz, float32."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE

BIN = SAMPLE_RATE // 200  # the compressor looks at 5 ms

Response = NDArray[np.complex128]


def studio_voice(sound: Samples) -> Samples:
    """Rumble below 80 Hz taken off, then gentle compression. Shape (n, 1) in and out; common practice, no source."""
    return compressed(_filtered(sound, high_pass=(80.0, 2)), threshold=-22.0, ratio=2.0)


def telephone_voice(sound: Samples) -> Samples:
    """The band of a telephone line, 300 to 3400 Hz, fourth order on either side, compressed; band of ITU-T G.712."""
    return compressed(_filtered(sound, high_pass=(300.0, 4), low_pass=(3400.0, 4)), threshold=-26.0, ratio=3.0)


def compressed(
    sound: Samples, *, threshold: float, ratio: float, knee: float = 8.0, attack: float = 0.012, release: float = 0.15
) -> Samples:
    """Lowers what is louder than a threshold.

    Args:
        sound: shape (n, 1).
        threshold: level in dBFS, as the root mean square over 5 ms, at the middle of the knee.
        ratio: dB in for one dB out, above the knee.
        knee: width in dB over which the ratio comes in.
        attack: seconds to follow a rise of level by 63 %.
        release: the same for a fall.
    """
    mono = sound[:, 0]
    bins = -(-len(mono) // BIN)
    padded = np.zeros(bins * BIN)
    padded[: len(mono)] = mono
    level = 10 * np.log10(np.square(padded).reshape(-1, BIN).mean(axis=1) + 1e-10)
    over = level - threshold
    bent = np.where(over >= knee / 2, over, np.square(np.clip(over + knee / 2, 0, None)) / (2 * knee))
    wanted = -(1 - 1 / ratio) * bent
    down, up = (1 - np.exp(-BIN / SAMPLE_RATE / time) for time in (attack, release))
    gain, now = np.empty(bins), 0.0
    for k, target in enumerate(wanted.tolist()):
        now += (down if target < now else up) * (target - now)
        gain[k] = now
    smooth = np.interp(np.arange(len(mono)), (np.arange(bins) + 0.5) * BIN, gain)
    return np.asarray(mono * 10 ** (smooth / 20), np.float32)[:, None]


def _filtered(
    sound: Samples, *, high_pass: tuple[float, int] | None = None, low_pass: tuple[float, int] | None = None
) -> Samples:
    """Butterworth filters as (corner in Hz, order), minimum phase, applied to the whole sound through its spectrum."""
    mono = sound[:, 0].astype(np.float64)
    width = 1 << (len(mono) + SAMPLE_RATE // 4 - 1).bit_length()  # room for the filters to ring out
    hertz = np.fft.rfftfreq(width, 1 / SAMPLE_RATE)
    spectrum = np.fft.rfft(mono, width)
    if high_pass is not None:
        spectrum *= butterworth(np.asarray(high_pass[0] / np.maximum(hertz, 1e-6)), high_pass[1]).conj()
    if low_pass is not None:
        spectrum *= butterworth(np.asarray(hertz / low_pass[0]), low_pass[1])
    return np.asarray(np.fft.irfft(spectrum, width)[: len(mono), None], np.float32)


def butterworth(omega: NDArray[np.float64], order: int) -> Response:
    """Response of the analogue low-pass prototype at multiples of its corner; its poles lie on the unit circle.

    For the high-pass, s becomes 1/s: at the frequency 1/omega that is the conjugate of this response.
    """
    s = 1j * omega
    response = np.ones(len(omega), np.complex128)
    for k in range(order):
        pole = np.exp(1j * np.pi * (2 * k + order + 1) / (2 * order))
        response *= -pole / (s - pole)
    return response

"""Where someone speaks in a recording, and what a sound engineer would remark on."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from segmentkit.media.loudness import measure
from segmentkit.media.sound import Samples, to_mono
from segmentkit.timebase import SAMPLE_RATE

FRAME = SAMPLE_RATE // 100

_FLOOR = -70.0  # dBFS; below this a frame counts as digital silence
_SPECK = 6  # frames; a sound shorter than this at either end is a click or a chair, not a word
_LONELY = 45  # frames of quiet that set such a sound apart


@dataclass(frozen=True, slots=True, kw_only=True)
class Speech:
    """Where someone speaks in a take.

    Attributes:
        begin, end: samples of the first and last sound of the voice, without handles.
        pauses: stretches of at least 0.15 s between them in which nobody speaks, as (begin, end) in samples.
        level: of the voice in dBFS, the 95 % mark of its 10 ms levels.
        noise: of what is heard when nobody speaks, in dBFS; -inf when that is digital silence.
    """

    begin: int
    end: int
    pauses: tuple[tuple[int, int], ...]
    level: float
    noise: float


def find_speech(samples: Samples) -> Speech | None:
    """Looks for a voice by level; None when nothing stands out from the noise.

    The threshold lies between noise and voice as both are in this take, so neither a hissing room nor a low recording
    moves it off. Rumble and hum below 100 Hz are left out of the levels. A short sound far away from the rest, at
    either end, is not speech.

    Args:
        samples: float32, 48 kHz, shape (n, 1).
    """
    levels = frame_levels(samples)
    heard = levels[levels > _FLOOR]
    if len(heard) < 2 * _SPECK:
        return None
    voice = float(np.percentile(heard, 95))
    quiet = levels[levels < voice - 6]
    if not len(quiet):
        return None  # an even hiss
    dead = np.mean(quiet <= _FLOOR) > 0.3
    noise = -np.inf if dead else float(np.percentile(quiet[quiet > _FLOOR], 10))
    if voice - noise < 8:
        return None
    threshold = max(voice - 38.0, noise + min(10.0, 0.4 * (voice - noise)) if np.isfinite(noise) else -np.inf)
    active = _closed(levels > threshold, 15)
    runs = _without_specks(_runs(active))
    if not runs:
        return None
    pauses = tuple((before[1] * FRAME, after[0] * FRAME) for before, after in itertools.pairwise(runs))
    end = min(runs[-1][1] * FRAME, len(samples))
    return Speech(begin=runs[0][0] * FRAME, end=end, pauses=pauses, level=voice, noise=noise)


def frame_levels(samples: Samples) -> NDArray[np.float64]:
    """Level of each 10 ms in dBFS, of what lies above 100 Hz; shape (n // 480,)."""
    mono = to_mono(samples)[:, 0].astype(np.float64)
    if len(mono) < FRAME:
        return np.zeros(0)
    width = 1 << (len(mono) - 1).bit_length()
    spectrum = np.fft.rfft(mono, width)
    hertz = np.fft.rfftfreq(width, 1 / SAMPLE_RATE)
    spectrum *= np.clip((hertz - 70) / 60, 0, 1)
    clean = np.fft.irfft(spectrum, width)[: len(mono) // FRAME * FRAME]
    power = np.square(clean).reshape(-1, FRAME).mean(axis=1)
    return np.asarray(10 * np.log10(np.maximum(power, 1e-12)))


def faults(samples: Samples, speech: Speech) -> tuple[str, ...]:
    """What a sound engineer would remark on: clipping, level, hum, noise; one sentence each, with its number.

    The limits are common practice, no source.
    """
    found = []
    mono = to_mono(samples)[:, 0]
    if clipped := _clipped(mono):
        found.append(f"clipped in {clipped} places — lower the recording level and read it again")
    loudness = measure(mono[speech.begin : speech.end, None], dual_mono=True).integrated if _long(speech) else 0.0
    if loudness < -40:
        found.append(f"very quiet, {loudness:.0f} LUFS — move nearer to the microphone or raise its level")
    if hum := _hum(mono, speech):
        found.append(f"hum at {hum[0]} Hz, {hum[1]:.0f} dB below the voice — check cables and lamps")
    if speech.level - speech.noise < 25:
        gap = speech.level - speech.noise
        found.append(f"noisy, the room is only {gap:.0f} dB below the voice — record in a quieter room")
    return tuple(found)


def _runs(active: NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], active, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _closed(active: NDArray[np.bool_], gap: int) -> NDArray[np.bool_]:
    """Fills silent stretches shorter than `gap` frames, such as the closure of a stop consonant."""
    filled = active.copy()
    runs = _runs(active)
    for (_, end), (start, _) in itertools.pairwise(runs):
        if start - end < gap:
            filled[end:start] = True
    return filled


def _without_specks(runs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    kept = list(runs)
    while len(kept) > 1 and kept[0][1] - kept[0][0] < _SPECK and kept[1][0] - kept[0][1] >= _LONELY:
        kept.pop(0)
    while len(kept) > 1 and kept[-1][1] - kept[-1][0] < _SPECK and kept[-1][0] - kept[-2][1] >= _LONELY:
        kept.pop()
    return [run for run in kept if run[1] - run[0] >= 2]


def _long(speech: Speech) -> bool:
    return speech.end - speech.begin >= SAMPLE_RATE // 2


def _clipped(mono: NDArray[np.float32]) -> int:
    """How often at least three samples in a row stand at the same highest value, near full scale."""
    top = float(np.abs(mono).max(initial=0.0))
    if top < 0.9:
        return 0
    return sum(1 for a, b in _runs(np.abs(mono) >= top - 1e-4) if b - a >= 3)


def _hum(mono: NDArray[np.float32], speech: Speech) -> tuple[int, float] | None:
    """Mains frequency and its distance below the voice, when a line at 50 or 60 Hz and its harmonics stands out."""
    gaps = [(0, speech.begin), *speech.pauses, (speech.end, len(mono))]
    begin, end = max(gaps, key=lambda gap: gap[1] - gap[0])
    if end - begin < SAMPLE_RATE // 4:
        return None  # a voice has lines of its own; only a pause can tell
    quiet = mono[begin : min(end, begin + (1 << 17))]
    window = np.hanning(len(quiet))
    power = np.square(np.abs(np.fft.rfft(quiet * window, 1 << 17))) / max(np.square(window.sum() / 2), 1e-9) / 2
    hertz = np.fft.rfftfreq(1 << 17, 1 / SAMPLE_RATE)
    width = 1.5 * SAMPLE_RATE / len(quiet)  # half of a spectral line under this window
    for mains in (50, 60):
        lines = []
        for harmonic in (1, 2, 3, 4):
            offset = np.abs(hertz - mains * harmonic)
            line = power[offset <= width].max()
            beside = np.median(power[(offset > 1.5 * width) & (offset < max(20.0, 4 * width))])
            lines.append((10 * np.log10((line + 1e-15) / (beside + 1e-15)), line))
        strongest = 10 * np.log10(max(line for _, line in lines) + 1e-15)
        if sum(rise > 12 for rise, _ in lines) >= 2 and strongest > -75 and speech.level - strongest < 45:
            return mains, speech.level - strongest
    return None

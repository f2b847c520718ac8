"""Music under a segment: made as long as it is needed, faded, and lowered while someone speaks."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from segmentkit.media.sound import Samples, read_sound, to_stereo
from segmentkit.timebase import SAMPLE_RATE

DOWN, UP, HOLD = 0.25, 0.8, 1.0
"""Seconds: to go down before speech, to come up after it, and the longest gap over which it stays down."""

_OVERLAP = 2000  # ms; a file's end runs into its beginning over this long when it is repeated


def bed(path: Path, length: int, fade_in: int, fade_out: int) -> Samples:
    """A stretch of a music file, repeated when it is too short.

    Where it repeats, its last two seconds cross into its first two (a tenth of it, when it is shorter than 20 s).

    Args:
        path: the file.
        length: samples wanted.
        fade_in: samples over which it comes in; rounded to whole milliseconds.
        fade_out: samples over which it goes.

    Returns:
        float32, 48 kHz, shape (length, 2).

    Raises:
        MediaUnusable: when the file cannot be read.
    """
    source = to_stereo(read_sound(path))
    if len(source) < length:
        overlap = min(_OVERLAP, len(source) * 1000 // SAMPLE_RATE // 10)
        loop = _loop(source, overlap)
        joint = overlap * SAMPLE_RATE // 1000
        again = -(-(length - len(source) + joint) // len(loop))
        source = np.concatenate([source[: len(source) - joint], *[loop] * again])
    return _faded(source[:length], fade_in, fade_out)


def lowered(length: int, speech: Sequence[tuple[int, int]]) -> NDArray[np.float32]:
    """How far music is down at each sample: 0 while nobody speaks, 1 from the first to the last sample of speech.

    It goes down ahead of the speech, stays down over gaps shorter than a second, and moves in half a cosine.

    Args:
        length: samples.
        speech: (first sample, sample after the last) of each line, in any order; may lie outside.
    """
    merged: list[list[int]] = []
    for begin, end in sorted(speech):
        if merged and begin - merged[-1][1] < HOLD * SAMPLE_RATE:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([begin, end])
    down, up = int(DOWN * SAMPLE_RATE), int(UP * SAMPLE_RATE)
    fall = (0.5 - 0.5 * np.cos(np.pi * np.arange(down) / down)).astype(np.float32)
    rise = (0.5 + 0.5 * np.cos(np.pi * np.arange(up) / up)).astype(np.float32)
    curve = np.zeros(length, np.float32)
    for begin, end in merged:
        _raise_to(curve, begin - down, fall)
        curve[max(0, begin) : max(0, end)] = 1
        _raise_to(curve, end, rise)
    return curve


def _raise_to(curve: NDArray[np.float32], start: int, shape: NDArray[np.float32]) -> None:
    begin, end = max(0, start), min(len(curve), start + len(shape))
    if begin < end:
        np.maximum(curve[begin:end], shape[begin - start : end - start], out=curve[begin:end])


def _loop(source: Samples, overlap: int) -> Samples:
    """One turn of a file that runs into itself: its end crossed into its beginning, then its middle."""
    segment = _segment(source)
    crossed = segment[-overlap:].append(segment[:overlap], crossfade=overlap)
    joint = overlap * SAMPLE_RATE // 1000
    return np.concatenate([_samples(crossed), source[joint : len(source) - joint]])


def _faded(music: Samples, fade_in: int, fade_out: int) -> Samples:
    ms = SAMPLE_RATE // 1000
    coming, going = (min(round(fade / ms), len(music) // ms) for fade in (fade_in, fade_out))
    if coming:
        music[: coming * ms] = _samples(_segment(music[: coming * ms]).fade_in(coming))
    if going:
        music[-going * ms :] = _samples(_segment(music[-going * ms :]).fade_out(going))
    return music


def _segment(sound: Samples) -> Any:
    """Sound as pydub holds it, in 32-bit whole numbers with 6 dB to spare."""
    with warnings.catch_warnings():  # it looks for programs that are not used here, and warns when there are none
        warnings.simplefilter("ignore")
        from pydub import AudioSegment  # noqa: PLC0415

    whole = np.clip(np.rint(sound.astype(np.float64) * 2**30), -(2**31), 2**31 - 1).astype("<i4")
    return AudioSegment(data=whole.tobytes(), sample_width=4, frame_rate=SAMPLE_RATE, channels=2)


def _samples(segment: Any) -> Samples:
    return (np.frombuffer(segment.raw_data, "<i4").reshape(-1, 2) / 2**30).astype(np.float32)

"""Takes steady noise off a reading: hiss, hum, a fan. Done by libavfilter's `afftdn`, told how loud the noise is."""

from __future__ import annotations

from typing import Any

import numpy as np
from av.audio.frame import AudioFrame
from av.error import BlockingIOError as NotYetError
from av.filter import Graph

from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE

MOST = 24.0
"""dB beyond which voices turn watery; common practice, no source."""
_LOOK = SAMPLE_RATE // 50  # the floor is looked for in blocks of 20 ms
_QUIETEST = 5  # per cent of the blocks that are taken for noise alone
_DELAY = SAMPLE_RATE // 40  # samples by which the filter's output is late, as measured; a test holds it
_LOWEST, _HIGHEST = -80.0, -20.0  # dB between which the filter can be told a floor


def noise_floor(sound: Samples) -> float:
    """Level of the noise between words, in dBFS: that of the quietest of all 20 ms; -80 for less than that.

    Args:
        sound: float32 at 48 kHz, shape (n, 1).
    """
    count = len(sound) // _LOOK
    if not count:
        return _LOWEST
    power = np.square(sound[: count * _LOOK, 0].astype(np.float64)).reshape(count, _LOOK).mean(axis=1)
    # Digital silence before or after a take says nothing of the noise in it.
    power = power[power > 1e-9]
    if not len(power):
        return _LOWEST
    return max(_LOWEST, float(10 * np.log10(np.percentile(power, _QUIETEST))))


def denoised(sound: Samples, reduction: float) -> Samples:
    """Lowers steady noise by so many dB; sample k of the result is sample k of the sound.

    Args:
        sound: float32 at 48 kHz, shape (n, 1).
        reduction: dB, at most 24.

    Returns:
        float32, of the same shape.
    """
    floor = min(_HIGHEST, noise_floor(sound))
    if reduction <= 0 or not len(sound) or floor <= _LOWEST:
        return sound
    graph = Graph()
    source = graph.add_abuffer(sample_rate=SAMPLE_RATE, format="fltp", layout="mono")
    filter_ = graph.add("afftdn", f"nr={min(reduction, MOST):.2f}:nf={floor:.2f}:nt=w")
    sink = graph.add("abuffersink")
    source.link_to(filter_)
    filter_.link_to(sink)
    graph.configure()
    padded = np.concatenate([sound, np.zeros((_DELAY, 1), np.float32)])
    frame = AudioFrame.from_ndarray(np.ascontiguousarray(padded.T), format="fltp", layout="mono")
    frame.sample_rate, frame.pts = SAMPLE_RATE, 0
    source.push(frame)
    source.push(None)
    whole = np.zeros(len(sound), np.float32)
    for begin, block in _pulled(sink):
        start = begin - _DELAY
        first, end = max(0, start), min(len(whole), start + len(block))
        if first < end:
            whole[first:end] = block[first - start : end - start]
    return whole[:, None]


def _pulled(sink: Any) -> Any:
    """Blocks of the result with the sample each begins at."""
    while True:
        try:
            frame = sink.pull()
        except (EOFError, NotYetError):
            return
        yield int(frame.pts or 0), frame.to_ndarray()[0]

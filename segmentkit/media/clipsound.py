"""The sound of a clip as a working copy: 48 kHz, two channels, sample 0 at the moment of the first frame."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.frame import AudioFrame
from numpy.typing import NDArray

from segmentkit.media.container import opened
from segmentkit.media.probe import ClipProbe, SoundTrack
from segmentkit.media.sound import Samples, to_stereo, write_wav
from segmentkit.timebase import SAMPLE_RATE, nearest_sample, seconds_text

_SLACK = SAMPLE_RATE // 25
"""Samples by which a block may be off its stated moment before it counts as a gap: 40 ms, since containers round."""


def write_clip_sound(probe: ClipProbe, path: Path) -> tuple[str, ...]:
    """Writes the clip's sound as a 16-bit WAV exactly as long as its pictures.

    Sound that starts after the first frame is preceded by silence, what lies before it is cut off. Mono, and stereo
    with one silent side, goes to both channels; more than two channels are mixed down.

    Args:
        probe: the clip; it has a sound track.
        path: where to write.

    Returns:
        What a producer should know, one sentence each.
    """
    if probe.sound is None:
        raise ValueError(f"{probe.path} has no sound track")
    samples, notes = read_clip_sound(probe, probe.sound)
    write_wav(path, to_stereo(samples), bits=16)
    return notes


def read_clip_sound(probe: ClipProbe, track: SoundTrack) -> tuple[Samples, tuple[str, ...]]:
    """Decodes the chosen track and lays each block at its stated moment.

    Returns:
        float32 at 48 kHz, shape (n, 1) or (n, 2), -1 to 1, as long as the pictures; and notes.
    """
    length = nearest_sample(probe.duration)
    wide = 1 if track.channels == 1 else 2
    laid = np.zeros((length, wide), np.float32)
    faults = 0
    position: int | None = None
    heard = 0
    for block in _blocks(probe, track):
        if block is None:
            faults += 1
            continue
        start, samples = block
        if position is None or (start is not None and abs(start - position) > _SLACK):
            position = start if start is not None else 0
        _lay(laid, samples, position)
        position += len(samples)
        heard = max(heard, min(position, length))
    notes = []
    if faults:
        notes.append(f"The sound is damaged in {faults} places; silence stands in for them.")
    if length - heard > SAMPLE_RATE // 4:
        notes.append(f"The sound ends {seconds_text(Fraction(length - heard, SAMPLE_RATE), 1)} before the picture.")
    return laid, tuple(notes)


def _lay(laid: Samples, samples: NDArray[np.float32], position: int) -> None:
    start, end = max(0, position), min(len(laid), position + len(samples))
    if start < end:
        laid[start:end] = samples[start - position : end - position]


def _blocks(probe: ClipProbe, track: SoundTrack) -> Iterator[tuple[int | None, NDArray[np.float32]] | None]:
    """Blocks of samples with their stated positions at 48 kHz from the first frame; None for what does not decode."""
    layout = "mono" if track.channels == 1 else "stereo"
    resampler = av.AudioResampler(format="flt", layout=layout, rate=SAMPLE_RATE)
    wide = 1 if layout == "mono" else 2
    expected: Fraction | None = None  # where the next decoded frame should begin, in seconds of the file

    def converted(frame: AudioFrame | None) -> Iterator[NDArray[np.float32]]:
        for out in resampler.resample(frame):
            yield np.asarray(out.to_ndarray(), np.float32).reshape(-1, wide)

    with opened(probe.path) as container:
        stream: Any = container.streams[track.index]
        for packet in container.demux(stream):
            try:
                frames = packet.decode()
            except av.FFmpegError:
                yield None
                continue
            for frame in frames:
                moment = None if frame.pts is None else frame.pts * Fraction(frame.time_base)
                start = None
                if moment is not None and (expected is None or abs(moment - expected) * SAMPLE_RATE > _SLACK):
                    if expected is not None:  # a gap: what the resampler still holds belongs before it
                        for block in converted(None):
                            yield None, block
                        resampler = av.AudioResampler(format="flt", layout=layout, rate=SAMPLE_RATE)
                    start = nearest_sample(moment - probe.first)
                    expected = moment
                expected = (expected or Fraction(0)) + Fraction(frame.samples, frame.sample_rate)
                frame.pts = None
                for block in converted(frame):
                    yield start, block
                    start = None
        for block in converted(None):
            yield None, block

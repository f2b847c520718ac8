"""Reads a finished movie back by decoding it to the end; nothing that was written is believed before that."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.container import InputContainer

from segmentkit.errors import OutputFailed
from segmentkit.facts import MovieFacts
from segmentkit.geometry import Size
from segmentkit.media.loudness import SILENCE, TooShortToMeasure, measure
from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE

DELIVERED_COLOUR = "bt709/bt709/bt709/tv"
_AAC_BLOCK = 1024
_CODE_POINTS = {1: "bt709", 2: "unspecified", 5: "bt470bg", 6: "smpte170m", 9: "bt2020", 16: "smpte2084", 18: "hlg"}
"""Of ITU-T H.273, as far as they are common; the others are told by their number."""


def read_back(path: Path, threads: int = 2) -> MovieFacts:
    """Decodes a movie to its end.

    Raises:
        OutputFailed: when it cannot be opened or decoded, has no picture or no sound, or its frames do not follow one
            another at a constant rate.
    """
    try:
        with av.open(f"file:{path.absolute()}") as container:
            return _read(path, container, threads)
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(
            f"{path} — cannot be decoded to its end ({error.strerror}) — a delivery must decode — write it again"
        ) from error


def _read(path: Path, container: InputContainer, threads: int) -> MovieFacts:
    if len(container.streams.video) != 1 or len(container.streams.audio) != 1:
        raise OutputFailed(
            f"{path} — has {len(container.streams.video)} picture and {len(container.streams.audio)} sound tracks"
            " — one of each is delivered — write it again"
        )
    video: Any = container.streams.video[0]
    audio: Any = container.streams.audio[0]
    video.thread_type = "AUTO"
    video.codec_context.thread_count = threads
    # A damaged picture is refused by the decoder instead of being patched up from its neighbours.
    video.codec_context.options = {"err_detect": "explode"}
    rate = Fraction(video.average_rate or 0)
    if rate <= 0:
        raise OutputFailed(f"{path} — states no frame rate — a delivery has a constant one — write it again")
    step = 1 / (rate * Fraction(video.time_base))
    frames = 0
    first = 0
    blocks: list[Samples] = []
    for packet in container.demux(video, audio):
        decoded: list[Any] = list(packet.decode())
        for frame in decoded:
            if packet.stream is audio:
                blocks.append(stereo(frame))
                continue
            first = frame.pts if frames == 0 else first
            if frame.pts != first + round(frames * step):
                raise OutputFailed(
                    f"{path} — frame {frames} begins at tick {frame.pts} instead of {first + round(frames * step)}"
                    " — frames must follow one another at a constant rate — write it again"
                )
            frames += 1
    promised = sum(not entry.is_discard for entry in video.index_entries)
    if frames < promised:
        raise OutputFailed(
            f"{path} — ends after {frames} of {promised} frames — a delivery must be whole — write it again"
        )
    samples = cut_as_stated(blocks, audio)
    try:
        loudness = measure(samples)
    except TooShortToMeasure:
        loudness = SILENCE
    context = video.codec_context
    return MovieFacts(
        path=path,
        size=Size(context.width, context.height),
        rate=rate,
        frames=frames,
        samples=len(samples),
        video_codec=f"{context.name} {context.profile or 'unknown'} {context.pix_fmt}",
        audio_codec=f"{audio.codec_context.name} {audio.codec_context.sample_rate} Hz",
        colour=colour_of(context),
        loudness=loudness,
        chapters=len(container.chapters()),
    )


def cut_as_stated(blocks: Sequence[Samples], audio: Any) -> Samples:
    """Decoded blocks as one, float32, shape (n, 2), to the length that the track states.

    The last block is filled up with silence, which the stated length leaves out.
    """
    samples = np.concatenate(blocks) if blocks else np.zeros((0, 2), np.float32)
    stated = round((audio.duration or 0) * audio.time_base * SAMPLE_RATE)
    return samples[:stated] if 0 <= len(samples) - stated < _AAC_BLOCK else samples


def colour_of(context: Any) -> str:
    """Matrix, primaries, transfer and range as a decoder has them tagged."""
    names = [
        _CODE_POINTS.get(int(code), str(int(code)))
        for code in (context.colorspace, context.color_primaries, context.color_trc)
    ]
    return "/".join([*names, {1: "tv", 2: "pc"}.get(int(context.color_range), "unspecified")])


def stereo(frame: Any) -> Samples:
    """A decoded block as float32, shape (samples, 2)."""
    data = np.asarray(frame.to_ndarray(), np.float32)
    channels = frame.layout.nb_channels
    data = data.T if data.shape[0] == channels else data.reshape(-1, channels)
    return np.ascontiguousarray(data if channels == 2 else np.repeat(data[:, :1], 2, axis=1))

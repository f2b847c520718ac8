"""Joins encoded pictures and encoded sound without encoding them again, and adds chapters."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any, BinaryIO

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.container import InputContainer
from av.packet import Packet

from segmentkit.delivery import Delivery
from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE, Rate

Chapter = tuple[str, int, int]
"""Title, first frame, frame after the last."""
Source = Path | BinaryIO
"""A file by its name, or one that is open for reading: what is open stays readable when its name is taken away."""

_AAC_BLOCK = 1024
_CONTAINER = {
    "movflags": "+faststart",
    # Lengths of the tracks are stated in this unit: whole for every frame of the usual rates and for every sample.
    "movie_timescale": "240000",
}


@contextlib.contextmanager
def opened(source: Source) -> Iterator[InputContainer]:
    """Opens a piece from its start."""
    if isinstance(source, Path):
        with av.open(str(source)) as container:
            yield container
    else:
        source.seek(0)
        with av.open(source, mode="r", format="mp4") as container:
            yield container


def join(
    pieces: Sequence[Source],
    partial: Path,
    *,
    rate: Rate,
    sound: Source,
    chapters: Sequence[Chapter],
    title: str,
) -> int:
    """Joins files of `PictureWriter` with one of `write_sound`; nothing is encoded again.

    Args:
        pieces: in order, all written with the same size, rate and delivery.
        partial: where to write.
        rate: frames a second.
        sound: of the whole movie.
        chapters: in order.
        title: of the movie.

    Returns:
        The number of frames.
    """
    frame_time = 1 / rate.fps
    with av.open(str(partial), "w", format="mp4", options=_CONTAINER) as output, opened(sound) as heard:
        output.metadata["title"] = title
        output.set_chapters([
            {"id": number, "start": start, "end": end, "time_base": frame_time, "metadata": {"title": text}}
            for number, (text, start, end) in enumerate(chapters)
        ])  # fmt: skip
        with opened(pieces[0]) as first:
            video = output.add_stream_from_template(first.streams.video[0])
        video.time_base = frame_time
        audio = output.add_stream_from_template(heard.streams.audio[0])
        audio.time_base = Fraction(1, SAMPLE_RATE)
        output.start_encoding()
        voice = (packet for packet in heard.demux(heard.streams.audio[0]) if packet.size)
        waiting = next(voice, None)
        frames = 0
        for packet in _joined(pieces, frame_time):
            # Sound goes in as far as the pictures have come, so that a player never has to look far ahead.
            while waiting is not None and Fraction(waiting.pts or 0, SAMPLE_RATE) <= frames * frame_time:
                waiting.stream = audio
                output.mux(waiting)
                waiting = next(voice, None)
            packet.stream = video
            output.mux(packet)
            frames += 1
        while waiting is not None:
            waiting.stream = audio
            output.mux(waiting)
            waiting = next(voice, None)
    return frames


def _joined(pieces: Sequence[Source], frame_time: Fraction) -> Iterator[Packet[Any]]:
    """The pieces' packets with times that run on; in the order of decoding one frame follows the other."""
    delay = max(_delay(piece, frame_time) for piece in pieces)
    start = 0
    number = 0
    for piece in pieces:
        with opened(piece) as source:
            stream = source.streams.video[0]
            unit = Fraction(stream.time_base or 1)
            first = number
            for packet in source.demux(stream):
                if packet.size == 0 or packet.pts is None:
                    continue
                packet.pts = start + round(packet.pts * unit / frame_time)
                packet.dts = number - delay
                packet.duration = 1
                packet.time_base = frame_time
                number += 1
                yield packet
            start += number - first


def _delay(piece: Source, frame_time: Fraction) -> int:
    """How many frames decoding must be ahead of showing."""
    with opened(piece) as source:
        stream = source.streams.video[0]
        packets = ((p.pts, p.dts) for p in source.demux(stream) if p.size and p.pts is not None and p.dts is not None)
        first_pts, first_dts = next(packets, (0, 0))
        return round((first_pts - first_dts) * Fraction(stream.time_base or 1) / frame_time)


def write_sound(samples: Samples, path: Path, delivery: Delivery) -> None:
    """Encodes the sound of a movie to a file that `join` takes.

    Args:
        samples: float32 at 48 kHz, shape (n, 2), -1 to 1.
        path: where to write.
        delivery: says the bit rate.
    """
    with av.open(str(path), "w", format="mp4", options=_CONTAINER) as output:
        stream: Any = output.add_stream("aac", rate=SAMPLE_RATE, layout="stereo")
        if delivery.sound is not None and delivery.sound.bit_rate:
            stream.bit_rate = delivery.sound.bit_rate
        for start in range(0, len(samples), _AAC_BLOCK):
            block = np.ascontiguousarray(samples[start : start + _AAC_BLOCK].T, np.float32)
            frame = AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
            frame.sample_rate = SAMPLE_RATE
            frame.pts, frame.time_base = start, Fraction(1, SAMPLE_RATE)
            output.mux(stream.encode(frame))
        output.mux(stream.encode(None))

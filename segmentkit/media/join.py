"""Joins encoded pictures without encoding them again, and adds sound and chapters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.packet import Packet

from segmentkit.facts import Delivery
from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE, Rate

Chapter = tuple[str, int, int]
"""Title, first frame, frame after the last."""

_AAC_BLOCK = 1024
_CONTAINER = {
    "movflags": "+faststart",
    # Lengths of the tracks are stated in this unit: whole for every frame of the usual rates and for every sample.
    "movie_timescale": "240000",
}


def join(
    pieces: Sequence[Path],
    partial: Path,
    *,
    rate: Rate,
    delivery: Delivery,
    sound: Samples,
    chapters: Sequence[Chapter],
    title: str,
) -> int:
    """Joins files of `PictureWriter` without encoding them again, and adds sound and chapters.

    Args:
        pieces: in order, all written with the same size, rate and delivery.
        partial: where to write.
        rate: frames a second.
        delivery: says the sound's bit rate.
        sound: float32 at 48 kHz, shape (n, 2), -1 to 1.
        chapters: in order.
        title: of the movie.

    Returns:
        The number of frames.
    """
    frame_time = 1 / rate.fps
    with av.open(str(partial), "w", format="mp4", options=_CONTAINER) as output:
        output.metadata["title"] = title
        output.set_chapters([
            {"id": number, "start": start, "end": end, "time_base": frame_time, "metadata": {"title": text}}
            for number, (text, start, end) in enumerate(chapters)
        ])  # fmt: skip
        with av.open(str(pieces[0])) as first:
            video = output.add_stream_from_template(first.streams.video[0])
        video.time_base = frame_time
        audio: Any = output.add_stream("aac", rate=SAMPLE_RATE, layout="stereo")
        audio.bit_rate = delivery.audio_bitrate
        output.start_encoding()
        voice = _sound_packets(audio, sound)
        waiting = next(voice, None)
        frames = 0
        for packet in _joined(pieces, frame_time):
            # Sound goes in as far as the pictures have come, so that a player never has to look far ahead.
            while waiting is not None and Fraction(waiting.pts or 0, SAMPLE_RATE) <= frames * frame_time:
                output.mux(waiting)
                waiting = next(voice, None)
            packet.stream = video
            output.mux(packet)
            frames += 1
        while waiting is not None:
            output.mux(waiting)
            waiting = next(voice, None)
    return frames


def _joined(pieces: Sequence[Path], frame_time: Fraction) -> Iterator[Packet[Any]]:
    """The pieces' packets with times that run on; in the order of decoding one frame follows the other."""
    delay = max(_delay(piece, frame_time) for piece in pieces)
    start = 0
    number = 0
    for piece in pieces:
        with av.open(str(piece)) as source:
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


def _delay(piece: Path, frame_time: Fraction) -> int:
    """How many frames decoding must be ahead of showing."""
    with av.open(str(piece)) as source:
        stream = source.streams.video[0]
        packets = ((p.pts, p.dts) for p in source.demux(stream) if p.size and p.pts is not None and p.dts is not None)
        first_pts, first_dts = next(packets, (0, 0))
        return round((first_pts - first_dts) * Fraction(stream.time_base or 1) / frame_time)


def _sound_packets(stream: Any, sound: Samples) -> Iterator[Packet[Any]]:

    for start in range(0, len(sound), _AAC_BLOCK):
        block = np.ascontiguousarray(sound[start : start + _AAC_BLOCK].T, np.float32)
        frame = AudioFrame.from_ndarray(block, format="fltp", layout="stereo")
        frame.sample_rate = SAMPLE_RATE
        frame.pts, frame.time_base = start, Fraction(1, SAMPLE_RATE)
        yield from stream.encode(frame)
    yield from stream.encode(None)

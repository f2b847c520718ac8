"""Proves pieces when they are made, and a joined movie against its pieces.

A new piece is decoded to its end. A joined movie is not decoded again: each coded packet in it is compared with that of
the piece it came from, and where it lies in time. The same packets behind the same headers, in groups that do not look
into one another, give the same pictures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av

from segmentkit.errors import OutputFailed
from segmentkit.facts import Loudness, MovieFacts
from segmentkit.geometry import Size
from segmentkit.media.container import said
from segmentkit.media.join import opened
from segmentkit.media.loudness import SILENCE, TooShortToMeasure, measure
from segmentkit.media.pieces import Piece
from segmentkit.media.sound import Samples
from segmentkit.media.verify import colour_of, cut_as_stated, stereo
from segmentkit.timebase import SAMPLE_RATE

_AAC_BLOCK = 1024


def pictures_measured(path: Path, frames: int, rate: Fraction) -> dict[str, Any]:
    """Decodes a new piece of pictures to its end.

    Args:
        path: the file.
        frames: how many frames it must hold.
        rate: at how many a second.

    Returns:
        What its seal says: frames, and the digest of its packets.

    Raises:
        OutputFailed: when it does not decode, or holds something else.
    """
    digest = hashlib.sha256()
    decoded = 0
    keys: list[int] = []
    number = 0
    try:
        with av.open(str(path)) as container:
            stream: Any = container.streams.video[0]
            # One thread: the encoder of the next piece has use for the others.
            stream.thread_type, stream.codec_context.thread_count = "SLICE", 1
            stream.codec_context.options = {"err_detect": "explode"}
            step = 1 / (rate * Fraction(stream.time_base))
            for packet in container.demux(stream):
                if packet.size:
                    digest.update(memoryview(packet))
                    if packet.is_keyframe:
                        keys.append(number)
                    number += 1
                for frame in packet.decode():
                    if frame.pts != round(decoded * step):
                        raise OutputFailed(
                            f"{path} — frame {decoded} begins at tick {frame.pts} instead of {round(decoded * step)}"
                            " — frames must follow one another at a constant rate — render again"
                        )
                    decoded += 1
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(f"{path} — does not decode to its end ({said(error)}) — check the disk") from error
    if decoded != frames or number != frames or keys[:1] != [0]:
        raise OutputFailed(
            f"{path} — holds {decoded} pictures in {number} packets, the first key at {keys[:1] or 'none'} — {frames}"
            " were written, of which the first is a key — check the disk, then render again"
        )
    return {"frames": frames, "packets": digest.hexdigest()}


def sound_measured(path: Path) -> dict[str, Any]:
    """Decodes new sound to its end.

    Returns:
        What its seal says: samples, loudness of the sound as decoded, and the digest of its packets.

    Raises:
        OutputFailed: when it does not decode.
    """
    digest = hashlib.sha256()
    blocks: list[Samples] = []
    try:
        with av.open(str(path)) as container:
            stream: Any = container.streams.audio[0]
            for packet in container.demux(stream):
                if packet.size:
                    digest.update(memoryview(packet))
                blocks.extend(stereo(frame) for frame in packet.decode())
            samples = cut_as_stated(blocks, stream)
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(f"{path} — does not decode to its end ({said(error)}) — check the disk") from error
    try:
        loudness = measure(samples)
    except TooShortToMeasure:
        loudness = SILENCE
    return {
        "samples": len(samples),
        "packets": digest.hexdigest(),
        "loudness": [str(value) for value in (loudness.integrated, loudness.range, loudness.true_peak)],
    }


def loudness_of(sound: Piece) -> Loudness:
    """The loudness that a seal of sound says."""
    integrated, spread, peak = (float(value) for value in sound.measured["loudness"])
    return Loudness(integrated=integrated, range=spread, true_peak=peak)


@dataclass(slots=True)
class _Track:
    """What was seen of the packets of one track."""

    digests: list[str]
    times: list[list[int]]


def joined_facts(path: Path, pieces: Sequence[Piece], sound: Piece, rate: Fraction) -> MovieFacts:
    """Compares a joined movie, packet by packet, with what it was joined from.

    Raises:
        OutputFailed: when a packet is missing, changed or lies elsewhere in time, or the headers differ.
    """
    try:
        with av.open(str(path)) as container:
            video: Any = container.streams.video[0]
            audio: Any = container.streams.audio[0]
            headers = bytes(video.codec_context.extradata or b"")
            seen, heard = _tracks(container, [piece.frames for piece in pieces])
            facts = MovieFacts(
                path=path,
                size=Size(video.codec_context.width, video.codec_context.height),
                rate=Fraction(video.average_rate or 0),
                frames=sum(len(times) for times in seen.times),
                samples=round((audio.duration or 0) * audio.time_base * SAMPLE_RATE),
                video_codec=(
                    f"{video.codec_context.name} {video.codec_context.profile or 'unknown'}"
                    f" {video.codec_context.pix_fmt}"
                ),
                audio_codec=f"{audio.codec_context.name} {audio.codec_context.sample_rate} Hz",
                colour=colour_of(video.codec_context),
                loudness=loudness_of(sound),
                chapters=len(container.chapters()),
            )
            step = 1 / (rate * Fraction(video.time_base))
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(f"{path} — cannot be read to its end ({said(error)}) — check the disk") from error
    wrong: list[str] = []
    first = 0
    for number, piece in enumerate(pieces):
        if _headers(piece) != headers:
            wrong.append(f"headers of piece {number} differ")
        if number >= len(seen.digests) or seen.digests[number] != piece.packets:
            wrong.append(f"pictures of piece {number} are not those that were made")
        elif seen.times[number] != [round((first + k) * step) for k in range(piece.frames)]:
            wrong.append(f"pictures of piece {number} are not at their moments")
        first += piece.frames
    if len(seen.digests) != len(pieces):
        wrong.append(f"{len(seen.digests)} pieces instead of {len(pieces)}")
    if heard.digests != [sound.packets]:
        wrong.append("the sound is not the one that was made")
    if any(later - earlier != _AAC_BLOCK for earlier, later in zip(heard.times[0], heard.times[0][1:], strict=False)):
        wrong.append("the sound has a gap")
    if wrong:
        raise OutputFailed(f"{path} — was not joined as asked: {'; '.join(wrong)} — check the disk, then render again")
    return facts


def _headers(piece: Piece) -> bytes:
    with opened(piece.handle) as container:
        return bytes(container.streams.video[0].codec_context.extradata or b"")


def _tracks(container: Any, lengths: Sequence[int]) -> tuple[_Track, _Track]:
    """Digests of the pictures' packets, piece by piece, with their sorted moments; and of the sound's."""
    seen, heard = _Track([], []), _Track([], [[]])
    digest, sounding = hashlib.sha256(), hashlib.sha256()
    times: list[int] = []
    for packet in container.demux(container.streams.video[0], container.streams.audio[0]):
        if not packet.size:
            continue
        if packet.stream.type == "audio":
            sounding.update(memoryview(packet))
            heard.times[0].append(packet.pts)
            continue
        digest.update(memoryview(packet))
        times.append(packet.pts)
        if len(seen.digests) < len(lengths) and len(times) == lengths[len(seen.digests)]:
            seen.digests.append(digest.hexdigest())
            seen.times.append(sorted(times))
            digest, times = hashlib.sha256(), []
    if times:
        seen.digests.append(digest.hexdigest())
        seen.times.append(sorted(times))
    heard.digests.append(sounding.hexdigest())
    return seen, heard

"""Proves pieces when they are made, and a joined movie against its pieces.

A new piece holds what a well known encoder gave, byte for byte, or is decoded to its end. A joined movie is not decoded
again: each coded packet in it is compared with that of the piece it came from, and where it lies in time. The same
packets behind the same headers, in groups that do not look into one another, give the same pictures.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import av

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.facts import Loudness, MovieFacts
from segmentkit.geometry import Size
from segmentkit.media.animated import animated_facts
from segmentkit.media.codecs import CODECS
from segmentkit.media.container import said
from segmentkit.media.files import SOUNDS
from segmentkit.media.join import cut_of
from segmentkit.media.loudness import SILENCE, TooShortToMeasure, measure
from segmentkit.media.pieces import Piece
from segmentkit.media.sound import Samples
from segmentkit.media.timecode_track import comparable, group_label, read_timecode, start_frame
from segmentkit.media.verify import (
    colour_of,
    cut_as_stated,
    field_order_of,
    file_rate,
    not_as_asked,
    picture_coding,
    rate_of,
    slack,
    sound_coding,
    stereo,
    tick,
)
from segmentkit.timebase import SAMPLE_RATE, Rate, label_of_frame

_IN_HEADERS = ("mp4", "mov", "webm")
"""Kinds of file that keep what a decoder must know first apart from the pictures."""
_SAMPLE_BYTES = 6  # of a stereo sample of 24 bits


def pictures_measured(path: Path, frames: int, rate: Fraction, handed: str | None = None) -> dict[str, Any]:
    """Proves a new piece of pictures.

    Args:
        path: the file.
        frames: how many frames it must hold.
        rate: at how many a second.
        handed: SHA-256 of its coded pictures as they came from an encoder whose pictures decode, in hex; where it is
            not given, all of them are decoded.

    Returns:
        What its seal says: frames, the digests of its packets and of its headers, and by how many frames decoding is
        ahead of showing.

    Raises:
        OutputFailed: when it does not decode, or holds something else.
    """
    digest = hashlib.sha256()
    ahead: int | None = None
    moments: list[int] = []
    keys: list[int] = []
    number = 0
    try:
        with av.open(str(path)) as container:
            stream: Any = container.streams.video[0]
            # One thread: the encoder of the next piece has use for the others.
            stream.thread_type, stream.codec_context.thread_count = "SLICE", 1
            name = stream.codec_context.codec.canonical_name
            stream.codec_context.options = {"err_detect": "explode"}
            step = 1 / (rate * Fraction(stream.time_base))
            headers = hashlib.sha256(bytes(stream.codec_context.extradata or b"")).hexdigest()
            for packet in container.demux(stream):
                if packet.size:
                    if ahead is None:
                        ahead = round((packet.pts - packet.dts) / step)
                    digest.update(comparable(name, bytes(packet)))
                    if packet.is_keyframe:
                        keys.append(number)
                    number += 1
                if handed is None:
                    moments.extend(frame.pts for frame in packet.decode())
                elif packet.size:
                    moments.append(packet.pts)
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(f"{path} — does not decode to its end ({said(error)}) — check the disk") from error
    if handed is not None:
        moments.sort()  # packets come in the order of decoding
        if digest.hexdigest() != handed:
            raise OutputFailed(f"{path} — holds other pictures than were encoded — check the disk, then render again")
    for frame, moment in enumerate(moments):
        if moment != tick(frame, step):
            raise OutputFailed(
                f"{path} — frame {frame} begins at tick {moment} instead of {tick(frame, step)}"
                " — frames must follow one another at a constant rate — render again"
            )
    if len(moments) != frames or number != frames or keys[:1] != [0]:
        raise OutputFailed(
            f"{path} — holds {len(moments)} pictures in {number} packets, the first key at {keys[:1] or 'none'}"
            f" — {frames} were written, of which the first is a key — check the disk, then render again"
        )
    return {"frames": frames, "packets": digest.hexdigest(), "headers": headers, "ahead": ahead or 0}


def sound_measured(path: Path, programme: slice = slice(None)) -> dict[str, Any]:
    """Decodes new sound to its end.

    Args:
        path: the file.
        programme: the samples whose loudness counts; a leader's tone does not.

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
        loudness = measure(samples[programme])
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


@dataclass(slots=True, kw_only=True)
class _Pictures:
    """What was seen of a track of pictures: digests and sorted moments, piece by piece, and labels of groups."""

    digests: list[str]
    times: list[list[int]]
    labels: list[tuple[int, str]]
    opening: bytes


@dataclass(slots=True, kw_only=True)
class _Sound:
    """What was seen of a track of sound: a digest of all of it, moment and samples of each packet, samples cut off."""

    digest: str
    packets: list[tuple[int, int]]
    cut: int = 0


def joined_facts(
    path: Path,
    pieces: Sequence[Piece],
    sound: Piece | None,
    *,
    delivery: Delivery,
    size: Size,
    rate: Rate,
    chapters: int,
    timecode: str | None = None,
) -> MovieFacts:
    """Compares a joined movie, packet by packet, with what it was joined from, and with what was asked for.

    Args:
        path: the file.
        pieces: of its pictures, in order.
        sound: of the whole movie; None for a movie without.
        delivery: says how it is coded and what holds it.
        size: of the pictures.
        rate: pictures a second, as they were drawn.
        chapters: how many it must hold, where its kind of file holds any.
        timecode: the label of its first frame, where one was given.

    Raises:
        OutputFailed: when a packet is missing, changed or lies elsewhere in time, the headers differ, or the file is
            not what the delivery says.
    """
    if CODECS[delivery.picture.codec].pieces_by:
        return animated_facts(path, frames=sum(piece.frames for piece in pieces), size=size, rate=rate)
    own = file_rate(delivery, rate)
    try:
        with av.open(str(path)) as container:
            video: Any = container.streams.video[0]
            audio: Any = container.streams.audio[0] if container.streams.audio else None
            context = video.codec_context
            headers = hashlib.sha256(bytes(context.extradata or b"")).hexdigest()
            block = SOUNDS[delivery.sound.codec].block if delivery.sound else 0
            seen, heard = _tracks(container, [piece.frames for piece in pieces], block)
            facts = MovieFacts(
                path=path,
                size=Size(context.width, context.height),
                rate=rate_of(video),
                frames=sum(len(times) for times in seen.times),
                samples=_samples(audio, heard, sound, delivery),
                video_codec=picture_coding(context),
                audio_codec=sound_coding(audio),
                colour=colour_of(context),
                loudness=SILENCE if sound is None else loudness_of(sound),
                chapters=len(container.chapters()),
                timecode=read_timecode(container, seen.opening),
                field_order=field_order_of(context),
            )
            step = 1 / (own.fps * Fraction(video.time_base))
            sound_step = None if audio is None else 1 / (SAMPLE_RATE * Fraction(audio.time_base))
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(f"{path} — cannot be read to its end ({said(error)}) — check the disk") from error
    wrong = not_as_asked(
        facts, delivery, size=size, rate=own, frames=sum(piece.frames for piece in pieces), chapters=chapters,
        timecode=timecode,
    )  # fmt: skip
    wrong += _wrong_pictures(seen, pieces, step, headers if delivery.container in _IN_HEADERS else None)
    wrong += _wrong_labels(seen, own, timecode, path)
    if sound is not None and sound_step is not None:
        wrong += _wrong_sound(heard, sound, sound_step)
    if wrong:
        raise OutputFailed(f"{path} — was not joined as asked: {'; '.join(wrong)} — check the disk, then render again")
    return facts


def _wrong_pictures(seen: _Pictures, pieces: Sequence[Piece], step: Fraction, headers: str | None) -> list[str]:
    """Where a joined movie's pictures are not those of its pieces, at their moments, behind equal headers."""
    wrong: list[str] = []
    # Some kinds of file begin at a moment of their own choice.
    first, zero = 0, seen.times[0][0] if seen.times else 0
    for number, piece in enumerate(pieces):
        headers = piece.headers if headers is None else headers
        if piece.headers != headers:
            wrong.append(f"headers of piece {number} differ")
        if number >= len(seen.digests) or seen.digests[number] != piece.packets:
            wrong.append(f"pictures of piece {number} are not those that were made")
        elif len(seen.times[number]) != piece.frames or any(
            abs(moment - zero - tick(first + k, step)) > slack(step) for k, moment in enumerate(seen.times[number])
        ):
            wrong.append(f"pictures of piece {number} are not at their moments")
        first += piece.frames
    if len(seen.digests) != len(pieces):
        wrong.append(f"{len(seen.digests)} pieces instead of {len(pieces)}")
    return wrong


def _wrong_labels(seen: _Pictures, rate: Rate, timecode: str | None, path: Path) -> list[str]:
    """Where labels inside the pictures do not run on from the first one."""
    start = start_frame(timecode, rate, str(path))
    drop = timecode is not None and ";" in timecode
    return [
        f"the group at frame {frame} is labelled {label}"
        for frame, label in seen.labels
        if label != str(label_of_frame(start + frame, rate, drop=drop))
    ]


def _wrong_sound(heard: _Sound, sound: Piece, step: Fraction) -> list[str]:
    """Where a joined movie's sound is not that of its piece, or does not run through."""
    wrong = [] if heard.digest == sound.packets else ["the sound is not the one that was made"]
    begun, now = heard.packets[0][0] if heard.packets else 0, 0
    for moment, samples in heard.packets:
        # A unit of time that is no whole number of samples is rounded, and the first moment is rounded too.
        if abs(moment - begun - now * step) > slack(step):
            wrong.append("the sound has a gap")
            break
        now += samples
    return wrong


def _samples(audio: Any, heard: _Sound, sound: Piece | None, delivery: Delivery) -> int:
    """Samples of a joined movie: what its packets stand for, without the filling of the last one where it is marked."""
    if audio is None or sound is None:
        return 0
    if delivery.container in {"mp4", "mov"}:
        return round(Fraction((audio.duration or 0) * audio.time_base * SAMPLE_RATE))
    packed = sum(samples for _, samples in heard.packets)
    return packed - heard.cut if delivery.container == "webm" else packed


def _tracks(container: Any, lengths: Sequence[int], block: int) -> tuple[_Pictures, _Sound]:
    """What is seen of the pictures, piece by piece, and of the sound, whose packets have `block` samples if not 0."""
    seen, heard = _Pictures(digests=[], times=[], labels=[], opening=b""), _Sound(digest="", packets=[])
    digest, sounding = hashlib.sha256(), hashlib.sha256()
    name = container.streams.video[0].codec_context.codec.canonical_name
    times: list[int] = []
    for packet in container.demux(container.streams.video[0], *container.streams.audio[:1]):
        if not packet.size:
            continue
        if packet.stream.type == "audio":
            sounding.update(memoryview(packet))
            heard.packets.append((packet.pts, block or packet.size // _SAMPLE_BYTES))
            heard.cut += sum(cut_of(packet))
            continue
        data = bytes(packet)
        seen.opening = seen.opening or data
        digest.update(comparable(name, data))
        if name == "mpeg2video" and (label := group_label(data)) is not None:
            # With closed groups as many pictures were shown before a group as were coded before it.
            seen.labels.append((sum(map(len, seen.times)) + len(times), str(label)))
        times.append(packet.pts)
        if len(seen.digests) < len(lengths) and len(times) == lengths[len(seen.digests)]:
            seen.digests.append(digest.hexdigest())
            seen.times.append(sorted(times))
            digest, times = hashlib.sha256(), []
    if times:
        seen.digests.append(digest.hexdigest())
        seen.times.append(sorted(times))
    heard.digest = sounding.hexdigest()
    return seen, heard

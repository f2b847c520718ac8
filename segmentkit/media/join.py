"""Joins encoded pictures and encoded sound without encoding them again; adds chapters and the first frame's label."""

from __future__ import annotations

import contextlib
import struct
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.container import InputContainer
from av.packet import Packet, PacketSideData
from numpy.typing import NDArray

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.geometry import Size
from segmentkit.media.animated import animate
from segmentkit.media.codecs import CODECS, configure, encoder_of
from segmentkit.media.files import KINDS, SOUNDS
from segmentkit.media.opened import Source, opened
from segmentkit.media.sound import Samples
from segmentkit.media.timecode_track import drops, start_frame, with_label
from segmentkit.media.verify import file_rate
from segmentkit.timebase import SAMPLE_RATE, Rate

Chapter = tuple[str, int, int]
"""Title, first frame, frame after the last."""
_SKIP_SAMPLES = 11  # the kind of side data, in libavcodec's numbering
_BLOCK = 1024  # samples that are handed to an encoder of sound without packets of its own


def join(
    pieces: Sequence[Source],
    partial: Path,
    *,
    rate: Rate,
    sound: Source | None,
    chapters: Sequence[Chapter],
    title: str,
    delivery: Delivery,
    timecode: str | None = None,
    ahead: int | None = None,
) -> int:
    """Joins files of `PictureWriter` with one of `write_sound`; nothing is encoded again.

    Args:
        pieces: in order, all written with the same size, rate and delivery.
        partial: where to write.
        rate: pictures a second.
        sound: of the whole movie; None for a movie without.
        chapters: in order, in pictures; left out where the kind of file holds none.
        title: of the movie.
        delivery: says what kind of file it is.
        timecode: the label of its first frame.
        ahead: by how many frames decoding is ahead of showing, at most, where that is known of the pieces.

    Returns:
        The number of frames.

    Raises:
        OutputFailed: when the kind of file holds no label, or the label does not exist at its rate.
    """
    kind = KINDS[delivery.container]
    if timecode is not None and not kind.timecode:
        raise OutputFailed(
            f"{delivery.name}, timecode — a {delivery.container} file holds no label of its first frame"
            " — deliver mp4, mov or mxf, or without a timecode"
        )
    if CODECS[delivery.picture.codec].pieces_by:
        return animate(pieces, partial, rate=rate, delivery=delivery)
    own = file_rate(delivery, rate)
    start = start_frame(timecode, own, f"{delivery.name}, timecode")
    frame_time = 1 / own.fps
    with (
        av.open(str(partial), "w", format=kind.muxer, options=dict(kind.options)) as output,
        contextlib.ExitStack() as stack,
    ):
        heard = stack.enter_context(opened(sound)) if sound is not None else None
        if timecode is not None:
            output.metadata["timecode"] = timecode
        if kind.chapters:
            output.metadata["title"] = title
            output.set_chapters([
                {"id": number, "start": start, "end": end, "time_base": 1 / rate.fps, "metadata": {"title": text}}
                for number, (text, start, end) in enumerate(chapters)
            ])  # fmt: skip
        elif delivery.container == "mxf" and title:
            output.metadata["material_package_name"] = title
        with opened(pieces[0]) as first:
            video = _picture_track(output, first, delivery, own, plain=timecode is None)
        video.time_base = frame_time
        audio: Any = None
        if heard is not None:
            audio = output.add_stream_from_template(heard.streams.audio[0])
            audio.time_base = Fraction(1, SAMPLE_RATE)
        output.start_encoding()
        voice = _sounding(heard)
        waiting = next(voice, None)
        frames = 0
        delay = max(_delay(piece, frame_time) for piece in pieces) if ahead is None else ahead
        for packet in _joined(pieces, frame_time, delay):
            # Sound goes in as far as the pictures have come, so that a player never has to look far ahead.
            while waiting is not None and Fraction(waiting.pts or 0, SAMPLE_RATE) <= frames * frame_time:
                waiting.stream = audio
                output.mux(waiting)
                waiting = next(voice, None)
            if delivery.picture.codec == "mpeg2" and packet.is_keyframe:
                packet = _labelled(packet, start, own, drop=drops(timecode))  # noqa: PLW2901
            packet.stream = video
            output.mux(packet)
            frames += 1
        while waiting is not None:
            waiting.stream = audio
            output.mux(waiting)
            waiting = next(voice, None)
    return frames


def _picture_track(output: Any, piece: InputContainer, delivery: Delivery, rate: Rate, *, plain: bool) -> Any:
    """The track of pictures in a file that is written; its headers are those of the pieces.

    A plain MP4 takes everything from a piece. A label and the other kinds of file need the frame rate as well, which
    libav takes over from an encoder only: so one is set up as for a piece, and encodes nothing.
    """
    source = piece.streams.video[0]
    track: Any
    if plain and delivery.container == "mp4":
        # Its decoder is the template where no encoder has the decoder's name.
        track = output.add_stream_from_template(source, opaque=delivery.picture.codec == "av1" or None)
        if tag := CODECS[delivery.picture.codec].tag:
            track.codec_context.codec_tag = tag
        return track
    track = output.add_stream(encoder_of(delivery.picture), rate=rate.fps)
    size = Size(source.codec_context.width, source.codec_context.height)
    configure(track.codec_context, delivery, size=size, rate=rate)
    track.codec_context.open()
    # In the form in which the pieces have them: there, lengths stand before what start codes divide elsewhere.
    track.codec_context.extradata = source.codec_context.extradata
    return track


def _sounding(heard: InputContainer | None) -> Iterator[Packet[Any]]:
    """The packets of sound; the last one says how many of its samples are filling, where the track states that."""
    if heard is None:
        return
    track = heard.streams.audio[0]
    stated = round(Fraction((track.duration or 0) * (track.time_base or 1) * SAMPLE_RATE))
    last: Packet[Any] | None = None
    for packet in heard.demux(track):
        if packet.size:
            if last is not None:
                yield last
            last = packet
    if last is not None:
        filling = (last.pts or 0) + SOUNDS["opus"].block - stated
        if track.codec_context.codec.canonical_name == "opus" and filling > 0:
            cut = PacketSideData(_SKIP_SAMPLES, 10)  # type: ignore[call-arg]  # the stubs leave it out
            cut.update(struct.pack("<IIBB", 0, filling, 0, 0))
            last.set_sidedata(cut)
        yield last


def cut_of(packet: Packet[Any]) -> tuple[int, int]:
    """Samples at the start and at the end of a packet of sound that are not heard."""
    if not packet.has_sidedata("skip_samples"):
        return 0, 0
    start, end = struct.unpack_from("<II", bytes(packet.get_sidedata("skip_samples")))
    return int(start), int(end)


def _labelled(packet: Packet[Any], start: int, rate: Rate, *, drop: bool) -> Packet[Any]:
    """A key picture of MPEG-2 whose group is labelled for its place in the movie."""
    made: Packet[Any] = Packet(with_label(bytes(packet), start + (packet.pts or 0), rate, drop=drop))
    made.pts, made.dts, made.duration, made.time_base = packet.pts, packet.dts, packet.duration, packet.time_base
    made.is_keyframe = True
    return made


def _joined(pieces: Sequence[Source], frame_time: Fraction, delay: int) -> Iterator[Packet[Any]]:
    """The pieces' packets with times that run on; in the order of decoding one frame follows the other."""
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

    Samples as they are have 24 bits, rounded to the nearest and without dither (a step is 144 dB below full scale).

    Args:
        samples: float32 at 48 kHz, shape (n, 2), -1 to 1.
        path: where to write.
        delivery: says coding and bit rate; it has sound.
    """
    if delivery.sound is None:
        raise ValueError(f"{delivery.name} has no sound to write")
    coding = SOUNDS[delivery.sound.codec]
    with av.open(str(path), "w", format=coding.piece, options=dict(KINDS[coding.piece].options)) as output:
        stream: Any = output.add_stream(coding.encoder, rate=SAMPLE_RATE, layout="stereo")
        if delivery.sound.bit_rate:
            stream.bit_rate = delivery.sound.bit_rate
        block = coding.block or _BLOCK
        for start in range(0, len(samples), block):
            frame = AudioFrame.from_ndarray(
                _as_wanted(samples[start : start + block], coding.layout), format=coding.layout, layout="stereo"
            )
            frame.sample_rate = SAMPLE_RATE
            frame.pts, frame.time_base = start, Fraction(1, SAMPLE_RATE)
            output.mux(stream.encode(frame))
        output.mux(stream.encode(None))


def _as_wanted(block: Samples, layout: str) -> NDArray[Any]:
    """Samples as libav wants them: rows of channels (`p`), or one row of samples in turn."""
    if layout == "fltp":
        return np.ascontiguousarray(block.T, np.float32)
    row = np.ascontiguousarray(block.reshape(1, -1), np.float32)
    if layout == "flt":
        return row
    if layout == "s16":
        return np.clip(np.rint(row * 32_768), -32_768, 32_767).astype(np.int16)
    # 24 bits in the upper three bytes of four: the encoder drops the lowest.
    whole = np.rint(row.astype(np.float64) * (1 << 23))
    return np.clip(whole, -(1 << 23), (1 << 23) - 1).astype(np.int32) * 256

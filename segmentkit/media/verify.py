"""Reads a finished movie back by decoding it to the end; nothing that was written is believed before that.

What a file must be, its delivery says; `not_as_asked` lists where the two differ.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.container import InputContainer

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.facts import MovieFacts
from segmentkit.geometry import Size
from segmentkit.media.codecs import FIELD_ORDERS, told
from segmentkit.media.files import KINDS, SOUNDS
from segmentkit.media.loudness import SILENCE, TooShortToMeasure, measure
from segmentkit.media.sound import Samples
from segmentkit.media.timecode_track import exact, read_timecode
from segmentkit.timebase import SAMPLE_RATE, Rate

DELIVERED_COLOUR = "bt709/bt709/bt709/tv"
NO_SOUND = "none"
_LONGEST_BLOCK = 1152  # samples of a packet, of the codings that fill up their last one
_CODE_POINTS = {1: "bt709", 2: "unspecified", 5: "bt470bg", 6: "smpte170m", 9: "bt2020", 16: "smpte2084", 18: "hlg"}
"""Of ITU-T H.273, as far as they are common; the others are told by their number."""


def read_back(path: Path, threads: int = 2) -> MovieFacts:
    """Decodes a movie to its end.

    Raises:
        OutputFailed: when it cannot be opened or decoded, has not one picture track and at most one of sound, or its
            frames do not follow one another at a constant rate.
    """
    try:
        with av.open(f"file:{path.absolute()}") as container:
            return _read(path, container, threads)
    except (av.FFmpegError, OSError) as error:
        raise OutputFailed(
            f"{path} — cannot be decoded to its end ({error.strerror}) — a delivery must decode — write it again"
        ) from error


def _read(path: Path, container: InputContainer, threads: int) -> MovieFacts:
    if len(container.streams.video) != 1 or len(container.streams.audio) > 1:
        raise OutputFailed(
            f"{path} — has {len(container.streams.video)} picture and {len(container.streams.audio)} sound tracks"
            " — one of each is delivered — write it again"
        )
    video: Any = container.streams.video[0]
    audio: Any = container.streams.audio[0] if container.streams.audio else None
    video.thread_type = "AUTO"
    video.codec_context.thread_count = threads
    # A damaged picture is refused by the decoder instead of being patched up from its neighbours.
    video.codec_context.options = {"err_detect": "explode"}
    rate = rate_of(video)
    if rate <= 0:
        raise OutputFailed(f"{path} — states no frame rate — a delivery has a constant one — write it again")
    step = 1 / (rate * Fraction(video.time_base))
    frames = 0
    first = 0
    opening = b""
    blocks: list[Samples] = []
    for packet in container.demux(*(stream for stream in (video, audio) if stream is not None)):
        if not opening and packet.stream is video and packet.size:
            opening = bytes(packet)
        decoded: list[Any] = list(packet.decode())
        for frame in decoded:
            if packet.stream is audio:
                blocks.append(stereo(frame))
                continue
            first = frame.pts if frames == 0 else first
            if abs(frame.pts - first - tick(frames, step)) > slack(step):
                raise OutputFailed(
                    f"{path} — frame {frames} begins at tick {frame.pts} instead of {first + tick(frames, step)}"
                    " — frames must follow one another at a constant rate — write it again"
                )
            frames += 1
    promised = sum(not entry.is_discard for entry in video.index_entries)
    if frames < promised:
        raise OutputFailed(
            f"{path} — ends after {frames} of {promised} frames — a delivery must be whole — write it again"
        )
    samples = np.zeros((0, 2), np.float32) if audio is None else cut_as_stated(blocks, audio)
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
        video_codec=picture_coding(context),
        audio_codec=sound_coding(audio),
        colour=colour_of(context),
        loudness=loudness,
        chapters=len(container.chapters()),
        timecode=read_timecode(container, opening),
        field_order=field_order_of(context),
    )


def not_as_asked(
    facts: MovieFacts, delivery: Delivery, *, size: Size, rate: Rate, frames: int, chapters: int, timecode: str | None
) -> list[str]:
    """What a file is other than its delivery wants, in words; its sound's length is judged elsewhere.

    Args:
        facts: of the file.
        delivery: says how it is coded and what holds it.
        size: of the pictures.
        rate: frames a second of the file.
        frames: how many it must hold.
        chapters: how many it must hold, where its kind of file holds any.
        timecode: the label of its first frame, where one was given.
    """
    kind = KINDS[delivery.container]
    heard = NO_SOUND if delivery.sound is None else f"{SOUNDS[delivery.sound.codec].decoded} {SAMPLE_RATE} Hz"
    wanted = [
        ("frames", facts.frames, frames),
        ("size", facts.size, size),
        ("rate", facts.rate, rate.fps),
        ("colour", facts.colour, DELIVERED_COLOUR),
        ("picture coding", facts.video_codec, told(delivery)),
        ("sound coding", facts.audio_codec, heard),
        ("chapters", facts.chapters, chapters if kind.chapters else 0),
        ("field shown first", facts.field_order, delivery.fields),
    ]
    if timecode is not None:
        wanted.append(("timecode", facts.timecode, timecode))
    return [f"{what} {found} instead of {right}" for what, found, right in wanted if found != right]


def file_rate(delivery: Delivery, rate: Rate) -> Rate:
    """Frames a second of a file whose pictures are drawn at a rate: half of it where frames are interlaced."""
    return Rate(rate.fps / 2) if delivery.fields else rate


def rate_of(video: Any) -> Fraction:
    """Frames a second that a track of pictures states; 0 where it states none."""
    return exact(Fraction(video.average_rate or video.guessed_rate or 0))


def tick(frame: int, step: Fraction) -> int:
    """The moment of a frame in a file's own unit, to the nearest; halves go up, as in libav."""
    return (2 * frame * step.numerator + step.denominator) // (2 * step.denominator)


def slack(step: Fraction) -> int:
    """Ticks by which the moment of a frame may differ: none where frames lie on whole ticks.

    Elsewhere both its moment and that of the first frame are rounded. The error does not add up.
    """
    return 0 if step.denominator == 1 else 1


def picture_coding(context: Any) -> str:
    """Codec, profile and pixels, such as `h264 High yuv420p`."""
    return f"{context.codec.canonical_name} {context.profile or 'unknown'} {context.pix_fmt}"


def sound_coding(audio: Any) -> str:
    """Codec and rate, such as `aac 48000 Hz`; "none" without a track."""
    if audio is None:
        return NO_SOUND
    return f"{audio.codec_context.codec.canonical_name} {audio.codec_context.sample_rate} Hz"


def field_order_of(context: Any) -> str | None:
    """The field that is shown first, as the file states it; None for whole pictures."""
    order = int(context.field_order)
    return {number: name for name, number in FIELD_ORDERS.items()}.get(order)


def cut_as_stated(blocks: Sequence[Samples], audio: Any) -> Samples:
    """Decoded blocks as one, float32, shape (n, 2), to the length that the track states.

    The last block is filled up with silence, which the stated length leaves out.
    """
    samples = np.concatenate(blocks) if blocks else np.zeros((0, 2), np.float32)
    stated = round((audio.duration or 0) * audio.time_base * SAMPLE_RATE)
    return samples[:stated] if 0 <= len(samples) - stated < _LONGEST_BLOCK else samples


def colour_of(context: Any) -> str:
    """Matrix, primaries, transfer and range as a decoder has them tagged."""
    names = [
        _CODE_POINTS.get(int(code), str(int(code)))
        for code in (context.colorspace, context.color_primaries, context.color_trc)
    ]
    return "/".join([*names, {1: "tv", 2: "pc"}.get(int(context.color_range), "unspecified")])


def stereo(frame: Any) -> Samples:
    """A decoded block as float32, shape (samples, 2)."""
    stored = frame.to_ndarray()
    data = np.asarray(stored, np.float32)
    if stored.dtype.kind == "i":
        data /= float(1 << 8 * stored.dtype.itemsize - 1)
    channels = frame.layout.nb_channels
    data = data.T if data.shape[0] == channels else data.reshape(-1, channels)
    return np.ascontiguousarray(data if channels == 2 else np.repeat(data[:, :1], 2, axis=1))

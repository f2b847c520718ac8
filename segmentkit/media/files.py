"""The kinds of file that a movie may be: what libav calls them, what they hold beside pictures, how sound goes in."""

from __future__ import annotations

from dataclasses import dataclass, field

import av

from segmentkit.delivery import Delivery, SoundCoding

_TIMES = {
    # Lengths of the tracks are stated in this unit: whole for every frame of the usual rates and for every sample.
    "movie_timescale": "240000",
}
_EXACT = {"fflags": "+bitexact"}  # without it dates, random numbers and versions go into the file


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of file.

    Attributes:
        muxer: what libav calls it.
        sounds: codings of sound that it holds, as a delivery calls them; the usual one first.
        options: of the muxer.
        chapters: whether it holds chapters and a title.
        timecode: whether it holds the label of its first frame.
    """

    muxer: str
    sounds: tuple[str, ...]
    options: dict[str, str] = field(default_factory=dict)
    chapters: bool = True
    timecode: bool = True


KINDS = {
    "mp4": Kind(muxer="mp4", sounds=("aac",), options={"movflags": "+faststart", **_TIMES}),
    "mov": Kind(muxer="mov", sounds=("pcm", "aac"), options={"movflags": "+faststart", **_TIMES}),
    "mxf": Kind(muxer="mxf", sounds=("pcm",), options=_EXACT, chapters=False),
    "mpg": Kind(muxer="vob", sounds=("mp2",), options=_EXACT, chapters=False),
    "webm": Kind(muxer="webm", sounds=("opus",), options=_EXACT, timecode=False),
    "webp": Kind(muxer="webp", sounds=(), chapters=False, timecode=False),
    "gif": Kind(muxer="gif", sounds=(), chapters=False, timecode=False),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundKind:
    """A way to code sound.

    Attributes:
        encoder: as libav calls it; `decoded` as it is named when it is read.
        piece: the kind of file that a sound piece is kept in.
        layout: how libav wants samples.
        block: samples that one packet stands for; 0 where any number may stand in one.
    """

    encoder: str
    decoded: str
    piece: str
    layout: str
    block: int


SOUNDS = {
    "aac": SoundKind(encoder="aac", decoded="aac", piece="mp4", layout="fltp", block=1024),
    "mp2": SoundKind(encoder="mp2", decoded="mp2", piece="mp4", layout="s16", block=1152),
    "opus": SoundKind(encoder="libopus", decoded="opus", piece="mp4", layout="flt", block=960),
    "pcm": SoundKind(encoder="pcm_s24le", decoded="pcm_s24le", piece="mov", layout="s32", block=0),
}


def sound_refusal(delivery: Delivery) -> str | None:
    """Why a file cannot hold sound as a delivery says, in one line; None when it can."""
    kind = KINDS.get(delivery.container)
    if kind is None:
        return f"{delivery.name} — `{delivery.container}` is not a kind of file — write one of {', '.join(KINDS)}"
    sound: SoundCoding | None = delivery.sound
    if sound is None or sound.codec in kind.sounds:
        return None
    may = " or ".join(kind.sounds) or "none"
    return f"{delivery.name}, sound — `{sound.codec}` does not go into a {delivery.container} file — write {may}"


def sound_missing(delivery: Delivery) -> str | None:
    """One line on an encoder of sound that is not there: what is missing, what brings it, what to take instead."""
    if delivery.sound is None or (encoder := SOUNDS[delivery.sound.codec].encoder) in av.codecs_available:
        return None
    return (
        f"{delivery.name}, sound — the encoder {encoder} of libav is missing here — the wheel of `av` brings it — run:"
        " pip install --force-reinstall --only-binary=:all: av, or take another kind of file"
    )

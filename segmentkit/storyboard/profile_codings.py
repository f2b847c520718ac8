"""How a profile codes pictures and sound, what each codec takes when it says no more, and what goes together.

What is set where a profile is silent is common practice, no source, unless a line says otherwise.
"""

from __future__ import annotations

from dataclasses import replace
from enum import Enum
from typing import Annotated, Any, Self

from pydantic import Field, model_validator
from pydantic.functional_validators import WrapValidator
from pydantic.json_schema import WithJsonSchema

from segmentkit.delivery import PictureCoding, SoundCoding
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import MisreadError, Node, Sentence, Takes, number_within, takes

PRESETS = ("ultrafast", "superfast", "veryfast", "faster", "fast", "medium", "slow", "slower", "veryslow")
INTERLACED = {"h264": ("mp4", "mov"), "prores": ("mov",), "mpeg2": ("mxf", "mov", "mpg")}
"""Codecs whose frames may hold two fields, and the files in which they say so."""


class Codec(Enum):
    """How pictures are coded."""

    H264 = "h264"
    HEVC = "hevc"
    PRORES = "prores"
    DNXHR = "dnxhr"
    MPEG2 = "mpeg2"
    VP9 = "vp9"
    AV1 = "av1"
    WEBP = "webp"
    GIF = "gif"

    @property
    def usual(self) -> PictureCoding:
        """What holds where a profile says nothing."""
        return _USUAL[self]

    @property
    def containers(self) -> tuple[str, ...]:
        """The kinds of file that may hold it, the usual one first."""
        return _CONTAINERS[self]


class Container(Enum):
    """Kinds of file."""

    MP4 = "mp4"
    MOV = "mov"
    MXF = "mxf"
    MPG = "mpg"
    WEBM = "webm"
    WEBP = "webp"
    GIF = "gif"


class SoundCodec(Enum):
    """How sound is coded."""

    AAC = "aac"
    MP2 = "mp2"
    OPUS = "opus"
    PCM = "pcm"


class Holds(Enum):
    """How a frozen picture is written."""

    SKIPPED = "skipped"
    CODED = "coded"


class Fields(Enum):
    """Which field of a picture is shown first."""

    TOP = "top"
    BOTTOM = "bottom"


_PLAIN = PictureCoding(profile="", preset="", quality=None)
_USUAL = {
    Codec.H264: PictureCoding(),
    Codec.HEVC: PictureCoding(codec="hevc", encoder="libx265", profile="main", quality=21),
    Codec.PRORES: replace(_PLAIN, codec="prores", encoder="prores_ks", pixels="yuv422p10le", profile="hq", group=1),
    Codec.DNXHR: replace(_PLAIN, codec="dnxhr", encoder="dnxhd", pixels="yuv422p", profile="dnxhr_hq", group=1),
    Codec.MPEG2: replace(
        _PLAIN, codec="mpeg2", encoder="mpeg2video", pixels="yuv422p", profile="422", bit_rate=50_000_000, group=12
    ),
    Codec.VP9: replace(_PLAIN, codec="vp9", encoder="libvpx-vp9", quality=31),
    Codec.AV1: replace(_PLAIN, codec="av1", encoder="libsvtav1", preset="8", quality=32),
    Codec.WEBP: replace(_PLAIN, codec="webp", encoder="libwebp_anim", quality=70),
    Codec.GIF: replace(_PLAIN, codec="gif", encoder="gif", pixels="pal8"),
}
_CONTAINERS = {
    Codec.H264: ("mp4", "mov"),
    Codec.HEVC: ("mp4", "mov"),
    Codec.PRORES: ("mov", "mxf"),
    Codec.DNXHR: ("mov", "mxf"),
    Codec.MPEG2: ("mxf", "mov", "mpg"),
    Codec.VP9: ("webm",),
    Codec.AV1: ("webm", "mp4"),
    Codec.WEBP: ("webp",),
    Codec.GIF: ("gif",),
}
_SOUNDS = {
    "mp4": (SoundCodec.AAC,),
    "mov": (SoundCodec.PCM, SoundCodec.AAC),
    "mxf": (SoundCodec.PCM,),
    "mpg": (SoundCodec.MP2,),
    "webm": (SoundCodec.OPUS,),
    "webp": (),
    "gif": (),
}
_SOUND_RATES = {SoundCodec.AAC: 192_000, SoundCodec.MP2: 384_000, SoundCodec.OPUS: 160_000, SoundCodec.PCM: None}
_NAMED_EFFORT = (Codec.H264, Codec.HEVC)
_NUMBERED_EFFORT = (Codec.VP9, Codec.AV1)
_WITH_QUALITY = (Codec.H264, Codec.HEVC, Codec.VP9, Codec.AV1, Codec.WEBP)
_WITH_RATE = (Codec.H264, Codec.HEVC, Codec.MPEG2, Codec.VP9, Codec.AV1)


def _preset(value: object) -> str:
    text = str(value).strip()
    if text not in PRESETS and not (text.isdecimal() and int(text) <= 13):
        raise ValueError(f"'{text}' is not an encoder preset — {suggestion(text, PRESETS)}")
    return text


class Picture(Node):
    """How pictures are coded; what is left out is as the codec usually is."""

    codec: Codec = Field(default=Codec.H264, description="h264, hevc, prores, dnxhr, mpeg2, vp9, av1, webp or gif.")
    encoder: Sentence | None = Field(default=None, description="As libav calls it; else the codec's software encoder.")
    pixels: Sentence | None = Field(default=None, description="Sampling and depth as libav calls them: yuv422p10le.")
    profile: Sentence | None = Field(default=None, description="Of the codec, as libav calls it: high, hq.")
    preset: Annotated[str, *takes("preset", _preset, "medium")] | None = Field(
        default=None, description="Effort: ultrafast to veryslow for h264 and hevc, 0 to 13 for vp9 and av1."
    )
    quality: Annotated[float, *number_within("", 0, 100)] | None = Field(
        default=None, description="Constant quality, in the encoder's own measure."
    )
    bit_rate: Annotated[float, *number_within("Mbit/s", 0.1, 1000)] | None = Field(
        default=None, description="Instead of a quality."
    )
    group: Annotated[float, *number_within("", 1, 600)] | None = Field(
        default=None, description="Most frames from one key frame to the next; else two seconds."
    )

    holds: Holds | None = Field(
        default=None, description="How h264 writes a frozen picture: skipped, encoded once; or coded, frame by frame."
    )

    @model_validator(mode="after")
    def _of_the_codec(self) -> Self:
        name = self.codec.value
        if self.holds is not None and self.codec is not Codec.H264:
            raise MisreadError(f"{name} codes a frozen picture frame by frame — delete it", ("holds",))
        if self.quality is not None and self.bit_rate is not None:
            raise MisreadError("a picture is coded by quality or by bit rate — delete one of the two", ("bit_rate",))
        if self.quality is not None and self.codec not in _WITH_QUALITY:
            raise MisreadError(f"{name} is not coded by a quality — delete it", ("quality",))
        if self.bit_rate is not None and self.codec not in _WITH_RATE:
            raise MisreadError(f"the bit rate of {name} follows from its profile — delete it", ("bit_rate",))
        if self.preset is not None:
            named = self.preset in PRESETS
            if self.codec not in (*_NAMED_EFFORT, *_NUMBERED_EFFORT):
                raise MisreadError(f"{name} knows no preset — delete it", ("preset",))
            if named != (self.codec in _NAMED_EFFORT):
                wanted = "a word such as medium" if self.codec in _NAMED_EFFORT else "a number, 0 to 13"
                raise MisreadError(f"'{self.preset}' is not a preset of {name} — write {wanted}", ("preset",))
        return self

    @property
    def coding(self) -> PictureCoding:
        """With all that the codec fills in."""
        usual = self.codec.usual
        quality, bit_rate = usual.quality, usual.bit_rate
        if self.quality is not None or self.bit_rate is not None:
            quality = None if self.quality is None else round(self.quality)
            bit_rate = None if self.bit_rate is None else round(self.bit_rate * 1_000_000)
        return replace(
            usual,
            encoder=self.encoder or usual.encoder,
            pixels=self.pixels or usual.pixels,
            profile=self.profile or usual.profile,
            preset=self.preset or usual.preset,
            quality=quality,
            bit_rate=bit_rate,
            group=usual.group if self.group is None else round(self.group),
            holds=usual.holds if self.holds is None else self.holds.value,
        )


class Sound(Node):
    """How sound is coded; stereo at 48 kHz throughout."""

    codec: SoundCodec | None = Field(default=None, description="aac, mp2, opus, or pcm: 24-bit samples as they are.")
    bit_rate: Annotated[float, *number_within("kbit/s", 64, 512)] | None = Field(
        default=None, description="Bits a second; not for pcm."
    )

    @model_validator(mode="after")
    def _samples_have_no_rate(self) -> Self:
        if self.codec is SoundCodec.PCM and self.bit_rate is not None:
            raise MisreadError("samples as they are have no bit rate to choose — delete it", ("bit_rate",))
        return self

    def coding(self, container: str) -> SoundCoding | None:
        """With all that the kind of file fills in; None where it holds no sound."""
        usual = _SOUNDS[container]
        if not usual:
            return None
        codec = self.codec or usual[0]
        bit_rate = _SOUND_RATES[codec] if self.bit_rate is None else round(self.bit_rate * 1000)
        return SoundCoding(codec=codec.value, bit_rate=bit_rate)


def _sound_or_none(value: Any, read: Any) -> Sound | None:
    return None if isinstance(value, str) and value.strip() == "none" else read(value)


SoundField = Annotated[
    Sound | None,
    WrapValidator(_sound_or_none),
    WithJsonSchema({"anyOf": [{"const": "none"}, {"type": "object"}]}),
    Takes("coding, or none", "none"),
]


def coding_fault(picture: Picture, sound: Sound | None, container: str, *, given: bool) -> MisreadError | None:
    """Why picture, sound and kind of file do not go together, at its spot in the profile; None where they do.

    Args:
        picture: how pictures are coded.
        sound: how sound is coded; None for silence.
        container: the kind of file.
        given: whether the profile names the kind of file.
    """
    codec = picture.codec
    if container not in codec.containers:
        return MisreadError(
            f"a {container} file does not hold {codec.value} here — write {' or '.join(codec.containers)}",
            ("container",) if given else ("picture",),
        )
    if sound is not None and sound.codec is not None and sound.codec not in _SOUNDS[container]:
        may = " or ".join(one.value for one in _SOUNDS[container]) or "none"
        return MisreadError(f"a {container} file does not hold {sound.codec.value} here — write {may}", ("sound",))
    return None

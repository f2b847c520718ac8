"""What a delivery is: which version of a segment it holds, how that is coded, and how loud it is. Values only."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from segmentkit.geometry import Size
from segmentkit.timebase import Rate


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureCoding:
    """How pictures are coded.

    Attributes:
        codec: h264, hevc, prores, dnxhr, mpeg2, vp9, av1, webp or gif.
        encoder: as libav calls it; another than the software one only on request.
        pixels: sampling and depth, as libav calls them, such as yuv420p or yuv422p10le.
        profile: of the codec, as libav calls it; empty for the encoder's own choice.
        preset: effort, where an encoder knows such a thing; empty where not.
        quality: constant quality in the encoder's own measure; None where a bit rate or the profile rules.
        bit_rate: bits a second; None where quality or the profile rules.
        group: most frames from one key frame to the next; None for two seconds, 1 where every picture stands alone.
        holds: how a frozen picture is written where H.264 allows it: "skipped", encoded once and repeated as pictures
            of skipped blocks, which every decoder shows alike; or "coded", each frame encoded like any other.
    """

    codec: str = "h264"
    encoder: str = "libx264"
    pixels: str = "yuv420p"
    profile: str = "high"
    preset: str = "medium"
    quality: int | None = 19
    bit_rate: int | None = None
    group: int | None = None
    holds: str = "skipped"


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundCoding:
    """How sound is coded; it is stereo at 48 kHz throughout.

    Attributes:
        codec: aac, mp2, opus, or pcm for 24-bit samples as they are.
        bit_rate: bits a second; None for samples as they are.
    """

    codec: str = "aac"
    bit_rate: int | None = 192_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """A delivery profile.

    Attributes:
        name: as in `deliver`.
        what: what it is for, in one line.
        scope: the use a release must allow: broadcast, web, short or marketing.
        loudness: integrated target in LUFS; `true_peak` the highest allowed in dBTP.
        picture: how pictures are coded.
        sound: how sound is coded; None for a file without any.
        container: mp4, mov, mxf, mpg, webm, webp or gif; it is the suffix of the file as well.
        size: of the picture, when it is not the storyboard's own.
        rate: frames a second of the file, when it is not the storyboard's own.
        fields: which field of an interlaced frame is shown first, "top" or "bottom"; None for whole pictures.
        captions: the caption rules to keep; None for those that suit use and shape.
        burned: whether captions are in the picture.
        leader: what stands before and after the programme, by name; None for the programme alone.
        cut: which cut of the storyboard is delivered; None for the whole.
        clean: whether it has no text and no strokes, at the same length.
        shortest: seconds below which the profile is not kept; `longest` above which.
    """

    name: str
    what: str = ""
    scope: str
    loudness: float
    true_peak: float
    picture: PictureCoding = PictureCoding()
    sound: SoundCoding | None = SoundCoding()
    container: str = "mp4"
    size: Size | None = None
    rate: Rate | None = None
    fields: str | None = None
    captions: str | None = None
    burned: bool = False
    leader: str | None = None
    cut: str | None = None
    clean: bool = False
    shortest: Fraction | None = None
    longest: Fraction | None = None

    @property
    def suffix(self) -> str:
        """Of the file, with its dot."""
        return f".{self.container}"

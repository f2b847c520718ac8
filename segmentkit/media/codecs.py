"""One table of how pictures are coded: encoders and their options, what may hold them, how a file of them is told.

Every codec is set up so that pieces which separate encoders wrote can be joined: each piece starts with a picture that
stands alone, no group looks into another, and headers depend on the coding and not on the pictures. Threads that change
what is written are fixed in number.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from segmentkit.delivery import Delivery, PictureCoding
from segmentkit.geometry import Size
from segmentkit.media.asked import Asked, Options, rated
from segmentkit.media.avframes import BT709, LIMITED
from segmentkit.media.hardware import ENCODERS as HARDWARE
from segmentkit.media.hardware import options_of
from segmentkit.media.x264 import h264_options
from segmentkit.timebase import Rate

THREADS = 4
"""Threads of encoders. Another number may give another file, so it does not follow the machine."""
GROUP_SECONDS = 2
FIELD_ORDERS = {"top": 2, "bottom": 3}
"""Both fields coded and shown in one order, in libavcodec's numbers: top first, bottom first."""
_WHOLE = 1  # progressive, in the same numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Codec:
    """A way to code pictures.

    Attributes:
        called: what a person calls it.
        encoders: software ones, as libav calls them; the usual one first.
        decoded: as libav names it when it is read.
        profiles: pixels that it may hold, as libav calls them, and the profile that a reader sees with each.
        files: the kinds of file that may hold it.
        piece: the kind of file that pieces of it are kept in, mp4 or mov.
        options: of its encoder.
        alone: whether each picture stands alone.
        fields: the kinds of file in which it holds interlaced frames and says so.
        named: profiles by the names they are asked for, as a reader sees them, where there is a choice.
        tag: four characters that MP4 and MOV files call it by, where the usual ones are not wanted.
        instead: what to take where its encoder is missing.
        pieces_by: the encoder of its pieces, where the file itself is coded whole at the end.
        least: the smallest size of picture.
    """

    called: str
    encoders: tuple[str, ...]
    decoded: str
    profiles: dict[str, str]
    files: tuple[str, ...]
    piece: str
    options: Callable[[Asked], Options]
    instead: str
    alone: bool = False
    fields: tuple[str, ...] = ()
    named: dict[str, str] = field(default_factory=dict)
    tag: str = ""
    pieces_by: str = ""
    least: Size | None = None


def _hevc(asked: Asked) -> Options:
    coding = asked.coding
    even = ":scenecut=0" if asked.even else ""
    return {
        "preset": coding.preset or "medium",
        **rated(coding, "crf"),
        # `info` would write options and version into every piece; more frame threads change what is written.
        "x265-params": (
            f"keyint={asked.group}:min-keyint={asked.group}{even}:open-gop=0:info=0:repeat-headers=0:chromaloc=0"
            f":frame-threads=1:pools={THREADS}:log-level=none"
        ),
    }


_PRORES = ("proxy", "lt", "standard", "hq")


def _prores(asked: Asked) -> Options:
    profile = asked.coding.profile or "hq"
    if asked.coding.encoder == "prores_aw":
        profile = str(_PRORES.index(profile))
    return {"profile": profile, **({"flags": "+ildct"} if asked.fields else {})}


def _dnxhr(asked: Asked) -> Options:
    usual = "dnxhr_hqx" if asked.coding.pixels == "yuv422p10le" else "dnxhr_hq"
    return {"profile": asked.coding.profile or usual}


_BUFFERS = {"yuv420p": 9_781_248, "yuv422p": 47_185_920}
"""Bits of the decoder's buffer at high level (ISO/IEC 13818-2, 8.4, main and 4:2:2 profile; from memory)."""


def _mpeg2(asked: Asked) -> Options:
    coding = asked.coding
    options = {
        "g": str(asked.group),
        "bf": "0" if asked.group == 1 else "2",
        "flags": "+cgop" + ("+ildct+ilme" if asked.fields else ""),
        "sc_threshold": "1000000000",  # closed groups and a search for cuts exclude one another here
        **({"alternate_scan": "1"} if asked.fields else {}),
    }
    if coding.quality is not None:
        options["flags"] += "+qscale"
        return {**options, "global_quality": str(coding.quality * 118)}  # libav counts quantisers in 1/118
    rate = coding.bit_rate or 50_000_000
    buffer = min(rate, _BUFFERS.get(coding.pixels, rate))
    # A piece does not know how full the piece before it leaves the decoder's buffer, so it starts as if half full: that
    # leaves room, but nothing proves that the buffer never runs empty over a seam.
    bounds = {"maxrate": str(rate), "bufsize": str(buffer), "rc_init_occupancy": str(buffer // 2)}
    return {**options, "b": str(rate), **bounds}


def _vp9(asked: Asked) -> Options:
    coding = asked.coding
    return {
        **({"b": "0"} if coding.bit_rate is None else {}),
        **rated(coding, "crf"),
        "g": str(asked.group),
        "keyint_min": str(asked.group if asked.even else 0),
        "deadline": "good",
        "cpu-used": coding.preset or "3",
        "row-mt": "1",
        "tile-columns": "2",
        "auto-alt-ref": "1",
        "lag-in-frames": "25",
    }


def _av1(asked: Asked) -> Options:
    coding = asked.coding
    effort = rated(coding, "crf") if coding.bit_rate is None else {"b": str(coding.bit_rate)}
    # What is written does not depend on the number of threads; `lp` bounds the memory that they take.
    return {**effort, "preset": coding.preset or "8", "g": str(asked.group), "svtav1-params": "lp=2:scd=0"}


def _lossless(asked: Asked) -> Options:
    return {"level": "3", "slices": "4", "slicecrc": "1", "g": str(asked.group)}


CODECS: dict[str, Codec] = {
    "h264": Codec(
        called="H.264",
        encoders=("libx264",),
        decoded="h264",
        profiles={"yuv420p": "High", "yuv420p10le": "High 10", "yuv422p": "High 4:2:2", "yuv422p10le": "High 4:2:2"},
        files=("mp4", "mov"),
        piece="mp4",
        options=h264_options,
        fields=("mp4", "mov"),
        named={"main": "Main", "high": "High", "high10": "High 10", "high422": "High 4:2:2"},
        instead="a hardware encoder with --encoder",
    ),
    "hevc": Codec(
        called="HEVC",
        encoders=("libx265",),
        decoded="hevc",
        profiles={"yuv420p": "Main", "yuv420p10le": "Main 10"},
        files=("mp4", "mov"),
        piece="mp4",
        options=_hevc,
        tag="hvc1",
        instead="h264",
    ),
    "prores": Codec(
        called="ProRes",
        encoders=("prores_ks", "prores_aw"),
        decoded="prores",
        profiles={"yuv422p10le": "HQ"},
        files=("mov", "mxf"),
        piece="mov",
        options=_prores,
        alone=True,
        fields=("mov",),  # in MXF it would be labelled as whole pictures
        named={"proxy": "Proxy", "lt": "LT", "standard": "Standard", "hq": "HQ"},
        instead="dnxhr",
    ),
    "dnxhr": Codec(
        called="DNxHR",
        encoders=("dnxhd",),
        decoded="dnxhd",
        profiles={"yuv422p": "DNXHR HQ", "yuv422p10le": "DNXHR HQX"},
        files=("mov", "mxf"),
        piece="mov",
        options=_dnxhr,
        alone=True,
        named={"dnxhr_lb": "DNXHR LB", "dnxhr_sq": "DNXHR SQ", "dnxhr_hq": "DNXHR HQ", "dnxhr_hqx": "DNXHR HQX"},
        instead="prores",
        least=Size(256, 120),
    ),
    "mpeg2": Codec(
        called="MPEG-2",
        encoders=("mpeg2video",),
        decoded="mpeg2video",
        profiles={"yuv420p": "Main", "yuv422p": "4:2:2"},
        files=("mxf", "mov", "mpg"),
        piece="mov",
        options=_mpeg2,
        fields=("mxf", "mov", "mpg"),
        instead="h264",
    ),
    "vp9": Codec(
        called="VP9",
        encoders=("libvpx-vp9",),
        decoded="vp9",
        profiles={"yuv420p": "Profile 0"},
        files=("webm",),
        piece="mp4",
        options=_vp9,
        instead="av1",
    ),
    "av1": Codec(
        called="AV1",
        encoders=("libsvtav1",),
        decoded="av1",
        profiles={"yuv420p": "Main", "yuv420p10le": "Main"},
        files=("webm", "mp4"),
        piece="mp4",
        options=_av1,
        instead="vp9",
    ),
    "webp": Codec(
        called="animated WebP",
        encoders=("libwebp_anim",),
        decoded="webp",
        profiles={"yuv420p": ""},
        files=("webp",),
        piece="mp4",
        options=_lossless,
        alone=True,
        instead="gif",
        pieces_by="ffv1",
    ),
    "gif": Codec(
        called="animated GIF",
        encoders=("gif",),
        decoded="gif",
        profiles={"pal8": "", "yuv420p": ""},
        files=("gif",),
        piece="mp4",
        options=_lossless,
        alone=True,
        instead="webp",
        pieces_by="ffv1",
    ),
}


def encoder_of(coding: PictureCoding) -> str:
    """The encoder of pieces, as libav calls it."""
    return CODECS[coding.codec].pieces_by or coding.encoder


def pixels_of(coding: PictureCoding) -> str:
    """The pixels of pieces, as libav calls them."""
    return "yuv420p" if CODECS[coding.codec].pieces_by else coding.pixels


def told(delivery: Delivery) -> str:
    """Codec, profile and pixels as a reader of the file sees them, such as `h264 High yuv420p`."""
    coding = delivery.picture
    codec = CODECS[coding.codec]
    if codec.pieces_by:
        return codec.decoded
    profile = codec.profiles[coding.pixels]
    # H.264 needs more than what is called high for other pixels, and takes it whatever is asked for.
    if coding.codec != "h264" or coding.pixels == "yuv420p":
        profile = codec.named.get(coding.profile, profile)
    return f"{codec.decoded} {profile} {coding.pixels}"


def group_of(coding: PictureCoding, rate: Fraction, length: int | None) -> int:
    """Frames from one key frame to the next; none of them comes last in a piece of known length.

    Two pictures that stand alone must not meet where files of H.264 are joined (ITU-T H.264, 7.4.3, idr_pic_id).
    """
    if CODECS[coding.codec].alone:
        return 1
    group = coding.group or round(GROUP_SECONDS * rate)
    while length and group > 1 and length > 1 and (length - 1) % group == 0:
        group -= 1
    return group


def configure(
    context: Any,
    delivery: Delivery,
    *,
    size: Size,
    rate: Rate,
    group: int = 50,
    even: bool = False,
    still: Sequence[tuple[int, int]] = (),
    length: int | None = None,
    held: bool = False,
) -> None:
    """Sets an encoder up as a delivery asks; its headers do not depend on `group`, `even`, `still` and `length`.

    Args:
        context: an encoder of libav that is not open.
        delivery: says how to code.
        size: of the pictures.
        rate: frames a second of the file.
        group: most frames from one key frame to the next.
        even: whether key frames lie at even distances.
        still: runs of frames, as first and one after the last, on which next to nothing changes.
        length: how many frames will be encoded, where it is known.
        held: whether the encoder sees only the beginning of a frozen picture (see `held`).
    """
    coding = delivery.picture
    codec = CODECS[coding.codec]
    context.width, context.height, context.pix_fmt = size.width, size.height, pixels_of(coding)
    context.time_base, context.framerate = 1 / rate.fps, rate.fps
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = LIMITED
    context.sample_aspect_ratio = Fraction(1)
    if coding.encoder in HARDWARE:
        context.options = options_of(coding.encoder, coding.quality or 19, group)
        return
    context.thread_count = THREADS
    if codec.tag:
        context.codec_tag = codec.tag
    if codec.fields:
        context.field_order = FIELD_ORDERS[delivery.fields] if delivery.fields else _WHOLE
    if coding.codec == "av1":
        os.environ.setdefault("SVT_LOG", "1")  # errors only; it would tell its settings on the terminal
    context.options = codec.options(
        Asked(coding=coding, group=group, even=even, fields=delivery.fields, still=still, length=length, held=held)
    )

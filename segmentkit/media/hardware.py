"""Encoders in graphics hardware: used on request only, and only after they have encoded a picture.

They are fast and less efficient; what they write depends on the device and its driver, so the promise of the same bytes
does not hold for them. Nothing needs them.
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Any

import av

from segmentkit.geometry import Size
from segmentkit.media.avframes import frame_of
from segmentkit.media.container import said
from segmentkit.media.planes import blank

SOFTWARE = "libx264"
_TRIED = Size(640, 360)
_QUALITY = {"h264_nvenc": "cq", "h264_qsv": "global_quality", "h264_amf": "qp_i", "h264_videotoolbox": "q:v"}
ENCODERS = tuple(_QUALITY)
"""Names that may be asked for, as libav knows them."""


def options_of(encoder: str, crf: int, group: int) -> dict[str, str]:
    """Options of a hardware encoder for short closed groups and a quality near that of the software one.

    That the numbers of quality mean about the same is common practice, no source.
    """
    return {"g": str(group), "bf": "0", "profile": "high", _QUALITY[encoder]: str(crf)}


@cache
def unusable(encoder: str) -> str | None:
    """Why a hardware encoder cannot be used here; None when it has encoded a picture."""
    try:
        context: Any = av.CodecContext.create(encoder, "w")
        context.width, context.height, context.pix_fmt = _TRIED.width, _TRIED.height, "yuv420p"
        context.time_base, context.framerate = Fraction(1, 25), Fraction(25)
        context.options = options_of(encoder, 20, 50)
        frame = frame_of(blank(_TRIED))
        frame.pts, frame.time_base = 0, Fraction(1, 25)
        packets = [*context.encode(frame), *context.encode(None)]
    except (av.FFmpegError, OSError, ValueError, KeyError) as error:
        return said(error)
    return None if any(packet.size for packet in packets) else "it took a picture and gave nothing"

"""Whether frozen pictures are encoded once here: where a delivery allows it, and only after it was seen to work."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import Any

import av
import numpy as np
from av.video.frame import VideoFrame

from segmentkit.delivery import Delivery, PictureCoding
from segmentkit.geometry import Size
from segmentkit.media import h264_bits
from segmentkit.media.avframes import blank_frame, plane_view
from segmentkit.media.codecs import configure
from segmentkit.media.held import HoldingEncoder
from segmentkit.media.x264 import can_hold, told_stay
from segmentkit.timebase import Rate

_SIZE, _RATE, _GROUP = Size(64, 48), Rate(Fraction(25)), 30
_SHOWN = (1, 1, 1, 14, 1, 1, 25, 1, 1, 12)
"""How many frames each picture of the trial stays: holds after moving pictures, over a key frame and at the end."""


def holds(delivery: Delivery) -> bool:
    """Whether frozen pictures of a delivery are encoded once and then skipped."""
    return can_hold(delivery.picture, delivery.fields) and works(delivery.picture)


@cache
def works(coding: PictureCoding) -> bool:
    """Whether this encoder's repeated pictures decode to the very pictures that they repeat; tried on small ones."""
    delivery = Delivery(name="trial", scope="web", loudness=-16, true_peak=-1, picture=coding)
    length = sum(_SHOWN)
    try:
        context: Any = av.CodecContext.create(coding.encoder, "w")
        configure(context, delivery, size=_SIZE, rate=_RATE, group=_GROUP, even=True, length=length, held=True)
        context.flags |= av.codec.context.Flags.global_header
        context.open()
        encoder = HoldingEncoder(context, rate=_RATE.fps, group=_GROUP, length=length, stay=told_stay(coding))
        packets = [
            packet for number, repeat in enumerate(_SHOWN) for packet in encoder.encode(_picture(number), repeat)
        ]
        packets.extend(encoder.finish())
        decoder: Any = av.CodecContext.create("h264", "r")
        decoder.extradata, decoder.options = encoder.extradata, {"err_detect": "explode"}
        shown = [frame for packet in [*packets, None] for frame in decoder.decode(packet)]
    except (av.FFmpegError, h264_bits.Unfit, OSError, ValueError, KeyError):
        return False
    return [frame.pts for frame in shown] == list(range(length)) and _stands(shown)


def _picture(number: int) -> VideoFrame:
    """Noise that is new with each number, under a shape that wanders."""
    frame = blank_frame(_SIZE)
    chance = np.random.default_rng(number)
    for index in range(3):
        plane = plane_view(frame, index)
        plane[:] = chance.integers(60, 180, plane.shape)
        plane[8 : 8 + 3 * number // 2, number : number + 12] = 200
    return frame


def _stands(shown: list[VideoFrame]) -> bool:
    """Whether the end of each hold shows what its last frame before the skipped ones shows; each group for itself."""
    start = 0
    for repeat in _SHOWN:
        end = start + repeat
        cuts = [start, *range(start - start % _GROUP + _GROUP, end, _GROUP), end]
        for first, last in pairwise(cuts):
            if last - first >= 12 and not _alike(shown[last - 1], shown[first + 2]):
                return False
        start = end
    return True


def _alike(one: VideoFrame, other: VideoFrame) -> bool:
    return all(np.array_equal(plane_view(one, index), plane_view(other, index)) for index in range(3))

"""From pictures of the house to the samples that an encoder takes: more chroma rows, more bits.

Nothing is gained by it: it is the same picture in another form. Ten bits hold each 8-bit level four times over
(`value << 2`), which keeps black, white and neutral exactly where BT.709 has them (16, 235, 128 become 64, 940, 512;
ITU-R BT.709-6, item 4.6). Chroma stays sited left.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from segmentkit.media.avframes import mark, plane_view

Samples2D = NDArray[np.uint8] | NDArray[np.uint16]
"""A plane as the encoder takes it: uint8, or uint16 with ten bits used, shape (rows, columns)."""
PIXELS = ("yuv420p", "yuv420p10le", "yuv422p", "yuv422p10le")


def samples_of(frame: VideoFrame, pixels: str) -> tuple[Samples2D, ...]:
    """The planes of a yuv420p frame as an encoder of other pixels takes them; views of the frame where nothing changes.

    Args:
        frame: 8-bit 4:2:0, BT.709, limited range.
        pixels: one of `PIXELS`.

    Returns:
        Y, Cb and Cr.
    """
    planes: Sequence[Any] = [plane_view(frame, index) for index in range(3)]
    if pixels.startswith("yuv422p"):
        planes = [planes[0], *(_twice_the_rows(plane, ten=pixels.endswith("10le")) for plane in planes[1:])]
    if pixels.endswith("10le"):
        planes = [plane if plane.dtype == np.uint16 else plane.astype(np.uint16) << 2 for plane in planes]
    return tuple(planes)


def _twice_the_rows(plane: NDArray[np.uint8], *, ten: bool) -> Samples2D:
    """Chroma of 4:2:0 as chroma of 4:2:2.

    A row of 4:2:0 lies half way between two rows of luma, so each luma row is a quarter of a chroma row from the nearer
    one and three quarters from the other: weights 3/4 and 1/4, by linear interpolation. In ten bits nothing is rounded.

    Args:
        plane: uint8, shape (rows, columns).
        ten: whether ten bits are wanted.

    Returns:
        Shape (2 * rows, columns): uint16 of ten bits, or uint8.
    """
    wide = plane.astype(np.uint16)
    near = wide * 3
    made = np.empty((2 * len(plane), plane.shape[1]), np.uint16)
    made[0::2] = near
    made[1::2] = near
    made[2::2] += wide[:-1]
    made[0] += wide[0]
    made[1:-1:2] += wide[1:]
    made[-1] += wide[-1]
    return made if ten else ((made + 2) >> 2).astype(np.uint8)


def frame_of_samples(planes: Sequence[Samples2D], pixels: str) -> VideoFrame:
    """A frame with a copy of planes, marked as BT.709, limited range."""
    height, width = planes[0].shape
    frame = VideoFrame(width, height, pixels)
    mark(frame)
    for index, plane in enumerate(planes):
        plane_view(frame, index, plane.itemsize)[:] = np.ascontiguousarray(plane).view(np.uint8)
    return frame

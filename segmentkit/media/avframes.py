"""Between libav's frames and pictures of the house; the planes are copied row by row, since libav pads its rows."""

from __future__ import annotations

from typing import Any, cast

import numpy as np
from av.video.frame import VideoFrame

from segmentkit.geometry import Size
from segmentkit.media.planes import Plane, Planes

BT709, LIMITED = 1, 1
"""BT.709 in ITU-T H.273 (matrix, primaries and transfer alike), and limited range in libavutil."""


def plane_view(frame: VideoFrame, index: int, sample_bytes: int = 1) -> Plane:
    """A plane's memory without the padding of its rows: uint8, shape (rows, columns * sample_bytes), writable."""
    plane = frame.planes[index]
    memory = np.frombuffer(cast("Any", plane), np.uint8)
    return memory.reshape(-1, plane.line_size)[: plane.height, : plane.width * sample_bytes]


def planes_of(frame: VideoFrame) -> Planes:
    """The picture of a yuv420p frame, in memory of its own."""
    y, u, v = (plane_view(frame, index).copy() for index in range(3))
    return Planes(y, u, v)


def frame_of(planes: Planes) -> VideoFrame:
    """A yuv420p frame with a copy of a picture, marked as BT.709, limited range."""
    size = planes.size
    frame = blank_frame(size)
    for index, plane in enumerate((planes.y, planes.u, planes.v)):
        plane_view(frame, index)[:] = plane
    return frame


def blank_frame(size: Size) -> VideoFrame:
    """A yuv420p frame whose memory is not set, marked as BT.709, limited range."""
    frame = VideoFrame(size.width, size.height, "yuv420p")
    mark(frame)
    return frame


def mark(frame: VideoFrame) -> None:
    """Marks a frame as BT.709, limited range."""
    frame.colorspace = frame.color_primaries = frame.color_trc = BT709
    frame.color_range = LIMITED

"""Line-up bars as code values, ITU-R BT.709, limited range."""

from __future__ import annotations

from typing import Any

import numpy as np
from av.filter import Graph

from segmentkit.geometry import Size
from segmentkit.media.planes import Planes, blank

FULL_FIELD = "100/0/75/0"
"""Eight bars over the whole height: white at 100 %, the colours at 75 % (the notation of ITU-R BT.471)."""
_SEVENTY_FIVE = (
    (235, 128, 128), (168, 44, 136), (145, 147, 44), (133, 63, 52), (63, 193, 204), (51, 109, 212), (28, 212, 120),
    (16, 128, 128),
)  # fmt: skip
"""White, yellow, cyan, green, magenta, red, blue, black: Y, Cb, Cr by the equations of ITU-R BT.709-6, part 3."""


def bars(kind: str, size: Size) -> Planes:
    """Colour bars.

    Args:
        kind: `100/0/75/0` for eight bars over the full field, `smpte` for the HD pattern that libavfilter draws.
        size: of the picture, even numbers.
    """
    if kind == FULL_FIELD:
        return _full_field(size)
    return _filtered("smptehdbars", size)


def _full_field(size: Size) -> Planes:
    planes = blank(size)
    half = size.width // 2
    for index, codes in enumerate(_SEVENTY_FIVE):
        # Edges lie between two chroma samples, so no bar has a seam of mixed colour.
        left, right = (round(half * k / len(_SEVENTY_FIVE)) for k in (index, index + 1))
        planes.y[:, 2 * left : 2 * right] = codes[0]
        planes.u[:, left:right] = codes[1]
        planes.v[:, left:right] = codes[2]
    return planes


def _filtered(source: str, size: Size) -> Planes:
    """One picture of a source of libavfilter, asked for in 4:2:0, so that nothing is converted."""
    graph = Graph()
    drawn = graph.add(source, f"size={size.width}x{size.height}:rate=25:duration=1")
    form: Any = graph.add("format", "yuv420p")
    sink = graph.add("buffersink")
    drawn.link_to(form)
    form.link_to(sink)
    graph.configure()
    frame: Any = sink.pull()
    y, u, v = (
        np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[: plane.height, : plane.width].copy()
        for plane in frame.planes
    )
    return Planes(y, u, v)

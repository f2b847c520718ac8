"""Interlaced frames: two pictures that follow one another, each seen in every other line.

Pictures are drawn at twice the file's frame rate. The lines 0, 2, 4 … of a frame are its top field, the others its
bottom field; which is shown first is the field order (top first in HD, by common practice). A field is half of a
picture's lines, so detail as fine as one line would flicker at half the field rate: each line that is kept is mixed
with the lines above and below it (1/4, 1/2, 1/4), which takes out what changes from line to line and halves what
changes from pair to pair. That weighting is common practice, no source. It is done on chroma as well.

Chroma rows of 4:2:0 belong to the fields in turn, as luma rows do; row k lies at line 2k + 1/2 of the frame in an
interlaced frame as in a whole picture (ISO/IEC 13818-2, 6.1.1.8, figures 6-1 to 6-3), so no row is moved.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from av.filter.graph import Graph
from av.video.frame import VideoFrame
from numpy.typing import NDArray

from segmentkit.media.depth import Samples2D

FIRST_ROW = {"top": 0, "bottom": 1}
"""The first row of the field that is shown first."""
Picture = Sequence[Samples2D]


def field_rows(plane: Samples2D, first: int) -> Samples2D:
    """Every other row of a plane, softened against flicker; at its edges a row stands in for the one beyond.

    Args:
        plane: uint8, or uint16 of at most 14 bits, shape (rows, columns); at least two rows.
        first: 0 for the top field, 1 for the bottom field.
    """
    wide = plane.astype(np.uint16)
    padded = np.concatenate([wide[:1], wide, wide[-1:]])
    above, here, below = padded[first:-2:2], padded[first + 1 : -1 : 2], padded[first + 2 :: 2]
    made: NDArray[np.uint16] = (above + 2 * here + below + 2) >> 2
    return made if plane.dtype == np.uint16 else made.astype(np.uint8)


def woven(early: Picture, late: Picture, order: str) -> tuple[Samples2D, ...]:
    """One frame of two pictures.

    Args:
        early: planes of the picture whose field is shown first.
        late: planes of the one after it; may be the same one.
        order: "top" or "bottom", the field that is shown first.
    """
    first = FIRST_ROW[order]
    frame = []
    for a, b in zip(early, late, strict=True):
        made = np.empty_like(a)
        made[first::2] = field_rows(a, first)
        made[1 - first :: 2] = field_rows(b, 1 - first)
        frame.append(made)
    return tuple(frame)


class Weaver:
    """Makes frames of pictures as they come, two of one.

    Args:
        order: "top" or "bottom", the field that is shown first.
    """

    def __init__(self, order: str) -> None:
        self._order = order
        self._early: Picture | None = None

    def frames(self, picture: Picture, repeat: int) -> Iterator[tuple[tuple[Samples2D, ...], int]]:
        """The frames that a picture completes, each with how often it is shown; it may be changed afterwards.

        Args:
            picture: Y, Cb and Cr.
            repeat: for how many fields it is seen.
        """
        if self._early is not None and repeat:
            yield woven(self._early, picture, self._order), 1
            self._early = None
            repeat -= 1
        if repeat // 2:
            yield woven(picture, picture, self._order), repeat // 2
        if repeat % 2:
            self._early = [plane.copy() for plane in picture]

    @property
    def waiting(self) -> bool:
        """Whether a picture waits for the one after it."""
        return self._early is not None


class Flagger:
    """Marks frames as interlaced, for encoders that take the field order from each frame."""

    def __init__(self, order: str) -> None:
        self._mode = {"top": "tff", "bottom": "bff"}[order]
        self._graph: Graph | None = None

    def marked(self, frame: VideoFrame) -> VideoFrame:
        """The same picture, marked."""
        if self._graph is None:
            self._graph = _graph(frame, self._mode)
        frame.pts = 0 if frame.pts is None else frame.pts
        self._graph.vpush(frame)
        return self._graph.vpull()


def _graph(frame: VideoFrame, mode: str) -> Graph:
    graph = Graph()
    graph.threads = 1
    source = {
        "video_size": f"{frame.width}x{frame.height}", "pix_fmt": frame.format.name, "time_base": "1/1000",
        "pixel_aspect": "1/1", "colorspace": "bt709", "range": "tv",
    }  # fmt: skip
    nodes = [graph.add("buffer", **source), graph.add("setfield", mode=mode), graph.add("buffersink")]
    graph.link_nodes(*nodes)
    graph.configure()
    return graph

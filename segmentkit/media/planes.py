"""A picture as the encoder wants it: 8-bit 4:2:0 planes, BT.709, limited range."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Size

Plane = NDArray[np.uint8]


@dataclass(slots=True)
class Planes:
    """Three planes of one picture.

    Attributes:
        y: uint8, shape (height, width), 16 to 235.
        u: uint8, shape (height / 2, width / 2), 16 to 240 around 128 (Cb).
        v: the same for Cr. Chroma samples are sited left: level with even luma columns, between two luma rows.
    """

    y: Plane
    u: Plane
    v: Plane

    @property
    def size(self) -> Size:
        """Width and height in luma samples."""
        return Size(self.y.shape[1], self.y.shape[0])

    def copy(self) -> Planes:
        """A picture of its own memory."""
        return Planes(self.y.copy(), self.u.copy(), self.v.copy())


def blank(size: Size, y: int = 16, u: int = 128, v: int = 128) -> Planes:
    """A picture of one colour; black unless told otherwise."""
    half = (size.height // 2, size.width // 2)
    return Planes(
        np.full((size.height, size.width), y, np.uint8), np.full(half, u, np.uint8), np.full(half, v, np.uint8)
    )

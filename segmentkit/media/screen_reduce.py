"""Decoded frames as numbers to measure: full planes for levels, a small picture for everything that is about areas.

A picture of about 320x180 is enough for what is defined by shares of the picture: WCAG 2.2 states its flash thresholds
for a picture of 1024x768 and areas of 341x256 in it, so a sample here is a few thousandths of such an area.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Size
from segmentkit.media.avframes import plane_view

Small = NDArray[np.float32]
"""One plane of a reduced picture: float32, 8-bit code values of the limited range (black 16, white 235)."""

_SAMPLES = 320 * 180
_PLANAR = {
    "yuv420p": 8, "yuv422p": 8, "yuv444p": 8, "yuvj420p": 8, "yuvj422p": 8, "yuvj444p": 8,
    "yuv420p10le": 10, "yuv422p10le": 10, "yuv444p10le": 10, "yuv420p12le": 12, "yuv422p12le": 12, "yuv444p12le": 12,
}  # fmt: skip


@dataclass(slots=True)
class FullPlanes:
    """A decoded picture as it is coded.

    Attributes:
        planes: Y, Cb, Cr; uint8 or uint16, shape (rows, columns), views of the decoder's memory.
        bits: a sample.
        full: whether the range is full.
    """

    planes: tuple[NDArray[Any], NDArray[Any], NDArray[Any]]
    bits: int
    full: bool

    def alike(self, other: FullPlanes) -> bool:
        """Whether two pictures are the same to the bit."""
        return all(np.array_equal(mine, theirs) for mine, theirs in zip(self.planes, other.planes, strict=True))

    def fields(self) -> tuple[FullPlanes, FullPlanes]:
        """The even rows, and the odd rows, of each plane."""
        upper, lower = (tuple(plane[first::2] for plane in self.planes) for first in (0, 1))
        return (
            FullPlanes((upper[0], upper[1], upper[2]), self.bits, self.full),
            FullPlanes((lower[0], lower[1], lower[2]), self.bits, self.full),
        )


@dataclass(slots=True)
class Reduced:
    """A small picture: Y, Cb and Cr, all of one shape."""

    y: Small
    u: Small
    v: Small


@dataclass(frozen=True, slots=True)
class Part:
    """A part of a picture: rows and columns of the small picture, half-open."""

    top: int
    bottom: int
    left: int
    right: int

    @classmethod
    def whole(cls, small: Size) -> Part:
        """All of it."""
        return cls(0, small.height, 0, small.width)

    def of(self, plane: NDArray[Any], small: Size) -> NDArray[Any]:
        """The samples of a plane that the part is made from, as a view.

        The small picture divides the plane, or the part is the whole.
        """
        down, across = plane.shape
        return plane[
            self.top * down // small.height : self.bottom * down // small.height,
            self.left * across // small.width : self.right * across // small.width,
        ]

    def cut(self, picture: FullPlanes, small: Size) -> FullPlanes:
        """The part of a picture, views of its planes."""
        y, u, v = picture.planes
        return FullPlanes((self.of(y, small), self.of(u, small), self.of(v, small)), picture.bits, picture.full)


def full_planes(frame: Any, *, full: bool) -> FullPlanes:
    """The planes of a decoded frame; what is not planar Y'CbCr of 8 to 12 bits is converted to 8 bits 4:4:4 first."""
    bits = _PLANAR.get(frame.format.name)
    if bits is None:
        frame = frame.reformat(format="yuv444p", dst_colorspace="ITU709", dst_color_range="MPEG")
        bits, full = 8, False
    if bits == 8:
        y, u, v = (plane_view(frame, index) for index in range(3))
    else:
        y, u, v = (np.ascontiguousarray(plane_view(frame, index, 2)).view("<u2") for index in range(3))
    return FullPlanes((y, u, v), bits, full)


def reduced_size(size: Size) -> Size:
    """About 320x180 samples in the shape of the picture, even numbers, never larger than it."""
    factor = min(1.0, math.sqrt(_SAMPLES / (size.width * size.height)))
    width, height = (max(2, round(length * factor / 2) * 2) for length in (size.width, size.height))
    return Size(width, height)


def reduce(picture: FullPlanes, to: Size) -> Reduced:
    """The means over areas, as small planes; code values are averaged, which is what scaling on a screen does too."""
    y, u, v = (_shrunk(plane, to) for plane in picture.planes)
    if picture.bits > 8:
        scale = np.float32(1 << picture.bits - 8)
        y, u, v = y / scale, u / scale, v / scale
    if picture.full:
        y = y * np.float32(219 / 255) + 16
        u, v = ((plane - 128) * np.float32(224 / 255) + 128 for plane in (u, v))
    return Reduced(y, u, v)


def _shrunk(plane: NDArray[Any], to: Size) -> Small:
    small = cv2.resize(plane, (to.width, to.height), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32)


_DEPTH = 4095
_GRID = np.arange(_DEPTH + 1, dtype=np.float64) / _DEPTH
_SRGB = np.where(_GRID <= 0.04045, _GRID / 12.92, ((_GRID + 0.055) / 1.055) ** 2.4).astype(np.float32)
"""WCAG 2.2, definition of relative luminance, which is the curve of IEC 61966-2-1."""
_SCREEN = (200 * _GRID**2.4).astype(np.float32)
"""ITU-R BT.1886 with a white of 200 cd/m² and a black of none: the screen that ITU-R BT.1702 speaks of."""


@dataclass(slots=True)
class Light:
    """What a small picture sends out; all float32 of one shape.

    Attributes:
        linear: red, green, blue by the sRGB curve, 0 to 1.
        relative: relative luminance, 0 to 1.
        screen: luminance on the screen in cd/m², 0 to 200.
    """

    linear: tuple[Small, Small, Small]
    relative: Small
    screen: Small


def light_of(picture: Reduced) -> Light:
    """Light of a BT.709 picture."""
    luma = (picture.y - 16) * np.float32(_DEPTH / 219)
    blue, red = ((plane - 128) * np.float32(_DEPTH / 224) for plane in (picture.u, picture.v))
    # ITU-R BT.709-6, items 3.2 and 3.3, solved for R', G' and B'.
    channels = (luma + 1.5748 * red, luma - 0.1873 * blue - 0.4681 * red, luma + 1.8556 * blue)
    return light_of_steps([np.clip(np.rint(one), 0, _DEPTH).astype(np.uint16) for one in channels])


def light_of_rgb(rgb: NDArray[np.uint8]) -> Light:
    """Light of an RGB picture, uint8, shape (height, width, 3), full range."""
    return light_of_steps([np.rint(rgb[..., k] * (_DEPTH / 255)).astype(np.uint16) for k in range(3)])


def light_of_steps(channels: list[NDArray[np.uint16]]) -> Light:
    """Light of R', G' and B' in 4095 steps."""
    red, green, blue = (_SRGB.take(one) for one in channels)
    screen = [_SCREEN.take(one) for one in channels]
    weights = np.array([0.2126, 0.7152, 0.0722], np.float32)
    return Light(
        (red, green, blue),
        weights[0] * red + weights[1] * green + weights[2] * blue,
        weights[0] * screen[0] + weights[1] * screen[1] + weights[2] * screen[2],
    )


def runs(marks: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Start and end, half-open, of each run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marks, [False]]).astype(np.int8)))
    yield from ((int(start), int(end)) for start, end in zip(edges[::2], edges[1::2], strict=True))

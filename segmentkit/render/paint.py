"""A small premultiplied painting ground for cards, labels and plain backgrounds."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point
from segmentkit.render.blend import Colour, Mask, YuvPatch, patch_from_rgba
from segmentkit.render.paths import Path, box
from segmentkit.render.raster import Ink, bounds, coverage
from segmentkit.render.text import SetText, Typesetter

Tint = Colour | NDArray[np.float32]
"""One colour, or one a pixel: float32, broadcast to (height, width, 3), full-range R'G'B' 0 to 255."""


class Painting:
    """A rectangle of the canvas on which things are laid over one another.

    Attributes:
        x: canvas column of its left edge, `y` the row of its upper edge.
        rgba: float32, shape (height, width, 4), premultiplied, 0 to 255.
    """

    def __init__(self, x: int, y: int, width: int, height: int) -> None:
        self.x = x
        self.y = y
        self.rgba = np.zeros((max(1, height), max(1, width), 4), np.float32)

    @property
    def width(self) -> int:
        """In pixels."""
        return self.rgba.shape[1]

    @property
    def height(self) -> int:
        """In pixels."""
        return self.rgba.shape[0]

    def lay(self, mask: Mask, x: int, y: int, tint: Tint, opacity: float = 1.0) -> None:
        """Lays a tint through a mask whose upper left corner is at a canvas point; what falls outside is cut off."""
        left, top = x - self.x, y - self.y
        x0, y0 = max(0, left), max(0, top)
        x1, y1 = min(self.width, left + mask.shape[1]), min(self.height, top + mask.shape[0])
        if x0 >= x1 or y0 >= y1:
            return
        cover = mask[y0 - top : y1 - top, x0 - left : x1 - left].astype(np.float32) * np.float32(opacity / 255)
        colours = np.asarray(tint, np.float32)
        if colours.ndim == 3:
            colours = np.broadcast_to(colours, (*mask.shape, 3))[y0 - top : y1 - top, x0 - left : x1 - left]
        part = self.rgba[y0:y1, x0:x1]
        _dim(part, 1 - cover)
        # Channel by channel: all four at once would be loops of four, which cost four times as much.
        for channel in range(3):
            part[..., channel] += colours[..., channel] * cover
        part[..., 3] += 255 * cover

    def shape(self, outline: Path, tint: Tint, opacity: float = 1.0) -> None:
        """Fills a closed outline given in canvas pixels."""
        self._ink(Ink((outline,), 0.0, filled=True), tint, opacity)

    def mask_of(self, outline: Path) -> Mask:
        """Coverage of a closed outline over the whole painting."""
        return coverage([Ink((outline,), 0.0, filled=True)], self.x, self.y, self.width, self.height)

    def stroke(self, path: Path, width: float, tint: Tint, opacity: float = 1.0) -> None:
        """Draws a line with round ends."""
        self._ink(Ink((path,), width), tint, opacity)

    def spot(self, x: float, y: float, radius: float, tint: Tint, opacity: float = 1.0) -> None:
        """Fills a disc."""
        self._ink(Ink((np.array([[x, y]]),), 2 * radius), tint, opacity)

    def cover(self, other: Painting) -> None:
        """Lays another painting over this one."""
        x0, y0 = max(self.x, other.x), max(self.y, other.y)
        x1, y1 = min(self.x + self.width, other.x + other.width), min(self.y + self.height, other.y + other.height)
        if x0 < x1 and y0 < y1:
            top = other.rgba[y0 - other.y : y1 - other.y, x0 - other.x : x1 - other.x]
            part = self.rgba[y0 - self.y : y1 - self.y, x0 - self.x : x1 - self.x]
            _dim(part, 1 - top[..., 3] / np.float32(255))
            part += top

    def clear(self, outline: Path) -> None:
        """Takes away what was painted inside a closed outline, so that nothing shows through what comes next."""
        _dim(self.rgba, 1 - self.mask_of(outline).astype(np.float32) / np.float32(255))

    def clip(self, outline: Path) -> None:
        """Takes away what was painted outside a closed outline."""
        _dim(self.rgba, self.mask_of(outline).astype(np.float32) / np.float32(255))

    def _ink(self, ink: Ink, tint: Tint, opacity: float) -> None:
        area = bounds([ink])
        if area is None:
            return
        x0, y0 = max(self.x, int(area.x) - 1), max(self.y, int(area.y) - 1)
        x1, y1 = min(self.x + self.width, int(area.right) + 2), min(self.y + self.height, int(area.bottom) + 2)
        if x0 < x1 and y0 < y1:
            colours = np.asarray(tint, np.float32)
            if colours.ndim == 3:
                whole = np.broadcast_to(colours, (self.height, self.width, 3))
                colours = whole[y0 - self.y : y1 - self.y, x0 - self.x : x1 - self.x]
            self.lay(coverage([ink], x0, y0, x1 - x0, y1 - y0), x0, y0, colours, opacity)

    def text(
        self,
        setter: Typesetter,
        text: SetText,
        x: float,
        baseline: float,
        tint: Tint,
        align: str = "left",
        room: float | None = None,
    ) -> None:
        """Writes lines; `x` is where the room for them starts, `baseline` that of the first line."""
        mask, right, down = setter.mask(text, align, room)
        self.lay(mask, round(x) + right, round(baseline) + down, tint)

    def patch(self, dx: int = 0, dy: int = 0) -> YuvPatch:
        """The painting as a patch, moved by whole pixels; what is bare around it is left out."""
        x, y, width, height = cv2.boundingRect(np.rint(self.rgba[..., 3]).astype(np.uint8))
        if not width or not height:
            x, y, width, height = 0, 0, 2, 2
        part = self.rgba[y : y + height, x : x + width]
        rgba = np.empty(part.shape, np.uint8)
        for channel in range(4):
            rgba[..., channel] = np.rint(np.minimum(part[..., channel], part[..., 3]))
        return patch_from_rgba(rgba, self.x + x + dx, self.y + y + dy)


def _dim(rgba: NDArray[np.float32], left: NDArray[np.float32]) -> None:
    """Leaves so much of a painting: float32, shape (height, width), 0 to 1."""
    for channel in range(4):
        rgba[..., channel] *= left


class Unpainted(Painting):
    """A painting on which nothing is painted: for measuring where things would lie."""

    def __init__(self, x: int, y: int, width: int, height: int) -> None:
        super().__init__(x, y, 1, 1)
        self._size = max(1, width), max(1, height)

    @property
    def width(self) -> int:
        """In pixels."""
        return self._size[0]

    @property
    def height(self) -> int:
        """In pixels."""
        return self._size[1]

    def lay(self, mask: Mask, x: int, y: int, tint: Tint, opacity: float = 1.0) -> None:
        """Lays nothing."""

    def cover(self, other: Painting) -> None:
        """Lays nothing."""

    def clear(self, outline: Path) -> None:
        """Takes nothing away."""

    def clip(self, outline: Path) -> None:
        """Takes nothing away."""

    def text(
        self,
        setter: Typesetter,
        text: SetText,
        x: float,
        baseline: float,
        tint: Tint,
        align: str = "left",
        room: float | None = None,
    ) -> None:
        """Writes nothing."""

    def _ink(self, ink: Ink, tint: Tint, opacity: float) -> None:
        """Fills nothing."""


def rounded(left: float, top: float, right: float, bottom: float, radius: float) -> Path:
    """The outline of a rectangle with round corners."""
    return box(Point(left, top), Point(right, bottom), radius)

"""What a character is, and the small forms that all of them use."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect, Size
from segmentkit.media.planes import Planes
from segmentkit.render.blend import BLUE, CB_DIVISOR, CR_DIVISOR, GREEN, RED, Colour, YuvPatch, chroma_sited
from segmentkit.render.layer import Layer
from segmentkit.render.paint import Painting, rounded
from segmentkit.render.paths import Path
from segmentkit.storyboard.look import PaletteLook

if TYPE_CHECKING:
    from segmentkit.render.design import Stage

CORNER = 10
"""Radius of round corners, in pixels of the look."""


class Character(Protocol):
    """The forms of a look. Rectangles and lengths are canvas pixels; `text` is where the type will stand."""

    lean: float
    """How far upright edges of small plates lean, as a part of their height; type keeps that much off both ends."""
    hoist: float
    """Room that a lower third needs to the left of its type, within the safe area, in pixels of the look."""
    tail: float
    """Room that a lower third needs to the right of its type, in pixels of the look."""

    def background(self, size: Size, palette: PaletteLook) -> Planes:
        """The plain background; one shared picture: copy it before drawing."""
        ...

    def board_room(self, stage: Stage, mirrored: bool) -> tuple[Rect, float]:
        """Where the type of a title or end board may stand, and how far down in it, 0 to 1, when it is smaller."""
        ...

    def board(self, stage: Stage, text: Rect, mirrored: bool) -> list[Layer]:
        """What lies under the type of a title, over a picture or the plain background."""
        ...

    def side(self, stage: Stage, inner: float, left: bool) -> Painting:
        """A column from top to bottom beside the player; `inner` is its edge towards the player."""
        ...

    def sheet(self, stage: Stage, top: float) -> Painting:
        """A sheet below the player, from edge to edge and down to the foot of the picture."""
        ...

    def name(self, stage: Stage, text: Rect, start: float) -> Painting:
        """The ground of a lower third, from `start` (0: the picture's edge) around its type."""
        ...

    def plate(self, stage: Stage, rect: Rect) -> Painting:
        """A small plate: labels and names of panes."""
        ...

    def word(self, stage: Stage, rect: Rect) -> Painting:
        """The plate of one key word."""
        ...

    def strip(self, stage: Stage, rect: Rect) -> Painting:
        """The ground of a caution."""
        ...

    def block(self, stage: Stage, rect: Rect) -> Painting:
        """The ground of the safety lines of a drill."""
        ...

    def notice(self, stage: Stage, rect: Rect) -> Painting:
        """The ground of a disclosure: unlike anything editorial."""
        ...

    def tag(self, painting: Painting, rect: Rect, unit: float, palette: PaletteLook, colour: Colour) -> None:
        """The ground of a label beside a stroke of that colour."""
        ...

    def bullet(self, painting: Painting, x: float, y: float, size: float, tint: Colour) -> None:
        """The mark before a line of a list, its middle at a point; `size` is that of the type."""
        ...

    def arrived(self, patch: YuvPatch, slide: tuple[float, float], come: float) -> YuvPatch:
        """A layer on its way in; `come` runs from 0 to 1."""
        ...


def mix(first: Colour, second: Colour, part: float) -> Colour:
    """A colour between two: `part` 0 is the first, 1 the second."""
    red, green, blue = (round(a + (b - a) * part) for a, b in zip(first, second, strict=True))
    return red, green, blue


def body(top: Path, bottom: float) -> Path:
    """The closed outline of everything below an upper edge, down to a level."""
    return np.concatenate([top, [[top[-1, 0], bottom], [top[0, 0], bottom]]])


def disc(x: float, y: float, radius: float) -> Path:
    """The outline of a disc."""
    angles = np.linspace(0, 2 * math.pi, 160)
    return np.stack([x + radius * np.cos(angles), y + radius * np.sin(angles)], axis=1)


def polygon(*corners: tuple[float, float]) -> Path:
    """A closed outline through corners."""
    return np.array(corners, np.float64)


def around(stage: Stage, rect: Rect, reach: float = 4) -> Painting:
    """A painting that holds a rectangle and a little more."""
    return stage.painting(
        int(rect.x - reach), int(rect.y - reach), int(rect.width + 2 * reach) + 2, int(rect.height + 2 * reach) + 2
    )


def rounded_rect(rect: Rect, radius: float, grown: float = 0.0) -> Path:
    """The outline of a rectangle with round corners, made larger by `grown` on each side."""
    return rounded(rect.x - grown, rect.y - grown, rect.right + grown, rect.bottom + grown, radius)


def smooth(part: float) -> float:
    """Smoothstep: starts and ends at rest."""
    return part * part * (3 - 2 * part)


def warning_sign(painting: Painting, x: float, y: float, size: float, ink: Colour) -> None:
    """A plain warning sign: a triangle with rounded corners and a stroke and a dot in it."""
    half, up, down = size * 0.5, size * 0.48, size * 0.38
    triangle = np.array([[x, y - up], [x + half, y + down], [x - half, y + down], [x, y - up]])
    painting.stroke(triangle, size * 0.11, ink)
    painting.stroke(np.array([[x, y - up * 0.36], [x, y + down * 0.22]]), size * 0.105, ink)
    painting.spot(x, y + down * 0.66, size * 0.06, ink)


def dithered(rgb: NDArray[np.float32]) -> Planes:
    """To planes with a little fixed noise in the luma, so that slow gradients do not show steps.

    Args:
        rgb: float32, shape (height, width, 3), full-range R'G'B' 0 to 255.
    """
    part = rgb / np.float32(255)
    y = RED * part[..., 0] + GREEN * part[..., 1] + BLUE * part[..., 2]
    random = np.random.default_rng(11)
    noise = random.random(y.shape, np.float32) - random.random(y.shape, np.float32)
    luma = 16 + 219 * y + 0.75 * noise
    u = 128 + 224 * chroma_sited(part[..., 2] - y) / CB_DIVISOR
    v = 128 + 224 * chroma_sited(part[..., 0] - y) / CR_DIVISOR
    return Planes(*(np.rint(np.clip(plane, 16, 240)).astype(np.uint8) for plane in (luma, u, v)))

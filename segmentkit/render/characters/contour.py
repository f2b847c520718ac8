"""The contour character: a surveyor's map of the course. Paper, level lines, hollow corners; type comes like ink."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point, Rect, Size
from segmentkit.media.planes import Planes
from segmentkit.render.blend import Colour, Mask, YuvPatch, uncovered
from segmentkit.render.characters.base import around, disc, dithered, mix, polygon
from segmentkit.render.layer import Layer
from segmentkit.render.paint import Painting, Unpainted
from segmentkit.render.paths import Path, arc
from segmentkit.storyboard.look import PaletteLook

if TYPE_CHECKING:
    from segmentkit.render.design import Stage

# Hills and hollows of the survey: x, y, spread across and down, height; in parts of the sheet's shorter side.
_HILLS = (
    (0.10, 0.16, 0.42, 0.30, 1.0), (1.30, 0.34, 0.40, 0.34, 1.25), (0.62, 0.86, 0.50, 0.26, 0.9),
    (1.72, 0.92, 0.34, 0.30, 1.0), (0.86, 0.22, 0.22, 0.18, -0.5), (0.20, 1.46, 0.44, 0.32, 1.1),
    (0.92, 1.60, 0.30, 0.34, 0.8),
)  # fmt: skip


class Contour:
    """Forms of the contour character."""

    lean = 0.0
    hoist = 44.0
    tail = 60.0

    def background(self, size: Size, palette: PaletteLook) -> Planes:
        """A hole on the map: fairway, green, bunkers, water, level lines."""
        return _map(size.width, size.height, palette)

    def board_room(self, stage: Stage, mirrored: bool) -> tuple[Rect, float]:
        """A sheet at the side of a wide picture, at the foot of others."""
        safe, unit = stage.safe, stage.unit
        if stage.wide:
            width = 0.50 * stage.canvas.width - 40 * unit
            x = safe.right - width if mirrored else safe.x
            return Rect(x, safe.y + 60 * unit, width, safe.height - 120 * unit), 0.5
        height = safe.height * 0.66
        return Rect(safe.x, safe.bottom - 40 * unit - height, safe.width, height), 1.0

    def board(self, stage: Stage, text: Rect, mirrored: bool) -> list[Layer]:
        """The sheet, with its level lines and a double rule."""
        unit, canvas = stage.unit, stage.canvas
        if not stage.wide:
            top = text.y - 110 * unit
            return [Layer(_sheet(stage, Rect(0, top, canvas.width, canvas.height - top), "top"))]
        room = self.board_room(stage, mirrored)[0]
        width = (canvas.width - room.x if mirrored else room.right) + 64 * unit
        x = canvas.width - width if mirrored else 0.0
        return [Layer(_sheet(stage, Rect(x, 0, width, canvas.height), "left" if mirrored else "right"))]

    def side(self, stage: Stage, inner: float, left: bool) -> Painting:
        """A sheet with a double rule towards the player."""
        width = inner if left else stage.canvas.width - inner
        return _sheet(
            stage, Rect(0 if left else inner, 0, width, stage.canvas.height), "right" if left else "left", 0.55
        )

    def sheet(self, stage: Stage, top: float) -> Painting:
        """A sheet with a double rule at its upper edge."""
        return _sheet(stage, Rect(0, top, stage.canvas.width, stage.canvas.height - top), "top", 0.55)

    def name(self, stage: Stage, text: Rect, start: float) -> Painting:
        """A title block with hollow corners and a flag before the name."""
        unit, pad = stage.unit, 38 * stage.unit
        left = max(start, text.x - 66 * unit)
        rect = Rect(left, text.y - pad, text.right + pad + 20 * unit - left, text.height + 2 * pad)
        painting = _block(stage, rect, stage.look.palette.ground, stage.look.palette.ink, stage.look.panel_opacity)
        bar = Rect(text.x - 38 * unit, rect.y + 34 * unit, 9 * unit, rect.height - 68 * unit)
        painting.shape(_box(bar), stage.look.palette.accent)
        return painting

    def plate(self, stage: Stage, rect: Rect) -> Painting:
        """A small title block."""
        palette = stage.look.palette
        return _block(stage, rect, palette.ground, palette.accent, stage.look.panel_opacity)

    def word(self, stage: Stage, rect: Rect) -> Painting:
        """A title block."""
        palette = stage.look.palette
        return _block(stage, rect, palette.ground, palette.ink, stage.look.panel_opacity)

    def strip(self, stage: Stage, rect: Rect) -> Painting:
        """A title block in the colour of cautions, with a dark rim against any picture."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect, 4 * unit + 4)
        painting.shape(_hollow(_grown(rect, 4 * unit), 20 * unit), palette.caution_ink, 0.9)
        painting.shape(_hollow(rect, 18 * unit), palette.caution)
        painting.stroke(_hollow(_grown(rect, -8 * unit), 18 * unit), 2.5 * unit, palette.caution_ink)
        return painting

    def block(self, stage: Stage, rect: Rect) -> Painting:
        """A title block in the colour of cautions."""
        palette = stage.look.palette
        return _block(stage, rect, palette.caution, palette.caution_ink, 1.0)

    def notice(self, stage: Stage, rect: Rect) -> Painting:
        """Dark where everything editorial is paper, with straight corners and a dashed border."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect)
        painting.shape(_box(rect), palette.paper)
        inner = _grown(rect, -10 * unit)
        for x in np.arange(inner.x, inner.right - 8 * unit, 26 * unit):
            for y in (inner.y, inner.bottom):
                painting.stroke(polygon((x, y), (min(x + 12 * unit, inner.right), y)), 3 * unit, palette.paper_ink)
        return painting

    def tag(self, painting: Painting, rect: Rect, unit: float, palette: PaletteLook, colour: Colour) -> None:
        """A slip of paper with a bar of the stroke's colour at its left edge."""
        painting.shape(_box(rect), palette.label)
        painting.shape(_box(Rect(rect.x, rect.y, 9 * unit, rect.height)), colour)

    def bullet(self, painting: Painting, x: float, y: float, size: float, tint: Colour) -> None:
        """A surveyor's mark: a lozenge."""
        reach = size * 0.19
        painting.shape(polygon((x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)), tint)

    def arrived(self, patch: YuvPatch, slide: tuple[float, float], come: float) -> YuvPatch:  # noqa: ARG002  nothing moves
        """Uncovered from left to right with a wide soft edge, as ink spreads; nothing moves."""
        return uncovered(patch, come, soft=0.9, slant=0.0)


def _grown(rect: Rect, by: float) -> Rect:
    return rect.inset(-by)


def _box(rect: Rect) -> Path:
    return polygon((rect.x, rect.y), (rect.right, rect.y), (rect.right, rect.bottom), (rect.x, rect.bottom))


def _hollow(rect: Rect, radius: float) -> Path:
    """A closed rectangle whose corners are hollowed out by quarter circles."""
    r = max(1.0, min(radius, rect.width / 3, rect.height / 3))
    half = np.pi / 2
    turns = [
        arc(Point(rect.x, rect.y), r, half, -half),
        arc(Point(rect.right, rect.y), r, np.pi, -half),
        arc(Point(rect.right, rect.bottom), r, -half, -half),
        arc(Point(rect.x, rect.bottom), r, 0, -half),
    ]
    return np.concatenate([*turns, turns[0][:1]])


def _block(stage: Stage, rect: Rect, fill: Colour, rule: Colour, opacity: float) -> Painting:
    unit = stage.unit
    painting = around(stage, rect)
    painting.shape(_hollow(rect, 18 * unit), fill, opacity)
    painting.stroke(_hollow(_grown(rect, -8 * unit), 18 * unit), 2.5 * unit, rule)
    return painting


def _sheet(stage: Stage, rect: Rect, edge: str, strength: float = 1.0) -> Painting:
    """Paper with level lines; a double rule on the edge that is named."""
    palette, unit = stage.look.palette, stage.unit
    painting = stage.painting(
        int(rect.x), int(rect.y), int(rect.right) - int(rect.x) + 1, int(rect.bottom) - int(rect.y) + 1
    )
    painting.shape(_box(rect), palette.ground, stage.look.panel_opacity if strength < 1 else 1.0)
    if not isinstance(painting, Unpainted):
        lines = _levels(
            painting.x,
            painting.y,
            painting.width,
            painting.height,
            min(stage.canvas.width, stage.canvas.height),
            2.6 * unit,
        )
        if edge == "top":
            # Where the type stands the map is left blank: lines fade out downwards.
            fade = np.clip(1 - np.arange(painting.height, dtype=np.float32) / (0.9 * painting.height), 0, 1)[:, None]
            lines = (lines * fade).astype(np.uint8)
        painting.lay(lines, painting.x, painting.y, palette.ground_light, 0.8 * strength)
    for away, thick in ((0.0, 10.0), (18.0, 3.0)):
        a, b = away * unit, (away + thick) * unit
        rule = {
            "right": Rect(rect.right - b, rect.y, b - a, rect.height),
            "left": Rect(rect.x + a, rect.y, b - a, rect.height),
            "top": Rect(rect.x, rect.y + a, rect.width, b - a),
        }[edge]
        painting.shape(_box(rule), palette.accent if thick > 5 else palette.ink)
    return painting


def _levels(x: int, y: int, width: int, height: int, side: int, weight: float) -> Mask:
    """Level lines of the survey over a part of the canvas, all of one weight.

    The distance to the nearest level is its difference in height over the slope.
    """
    columns = (np.arange(x, x + width, dtype=np.float32) / side)[None, :]
    rows = (np.arange(y, y + height, dtype=np.float32) / side)[:, None]
    land = np.zeros((height, width), np.float32)
    for cx, cy, sx, sy, tall in _HILLS:
        land += np.float32(tall) * np.exp(-(((columns - cx) / sx) ** 2)) * np.exp(-(((rows - cy) / sy) ** 2))
    land *= np.float32(7.0)
    down, right = np.gradient(land)
    slope = np.maximum(np.hypot(down, right), np.float32(1e-4))
    distance = np.abs(land - np.rint(land)) / slope
    return np.asarray(np.rint(255 * np.clip(weight / 2 + 0.5 - distance, 0, 1)), np.uint8)


@functools.lru_cache(maxsize=4)
def _map(width: int, height: int, palette: PaletteLook) -> Planes:
    side, unit = min(width, height), min(width, height) / 1080
    painting = Painting(0, 0, width, height)
    painting.lay(np.full((height, width), 255, np.uint8), 0, 0, palette.ground)
    # The hole runs up the free side of the picture: the right one of a wide picture, the top of others.
    cx, cy, reach = (
        (0.745 * width, 0.5 * height, 0.44 * height) if width > height else (0.5 * width, 0.29 * height, 0.22 * height)
    )

    def at(u: float, v: float) -> tuple[float, float]:
        return cx + u * reach, cy + v * reach

    def blob(u: float, v: float, across: float, down: float, turn: float, wave: float = 0.10) -> Path:
        t = np.linspace(0, 2 * np.pi, 120)
        r = 1 + wave * np.sin(3 * t + 5 * u) + 0.5 * wave * np.sin(5 * t + 2)
        px, py = across * reach * r * np.cos(t), down * reach * r * np.sin(t)
        x0, y0 = at(u, v)
        return np.stack(
            [x0 + px * np.cos(turn) - py * np.sin(turn), y0 + px * np.sin(turn) + py * np.cos(turn)], axis=1
        )

    fairway, water = palette.sky, palette.glow
    painting.shape(blob(0.62, 0.30, 0.30, 0.52, 0.3), water)
    # A fairway is the union of discs along the line of play.
    line = _line_of_play(at)
    for k, (px, py) in enumerate(line):
        broad = 0.17 + 0.05 * np.sin(0.55 * k + 0.6)
        painting.shape(disc(px, py, broad * reach), fairway)
    painting.shape(blob(0.32, -0.76, 0.27, 0.19, 0.4), mix(fairway, palette.ground_deep, 0.16))
    for u, v, size, turn in ((0.02, -0.60, 0.10, 0.9), (0.60, -0.52, 0.11, -0.5), (-0.42, 0.12, 0.12, 1.2)):
        painting.shape(blob(u, v, size, 0.6 * size, turn, 0.16), mix(palette.ground, palette.caution, 0.38))
    painting.lay(_levels(0, 0, width, height, side, 2.6 * unit), 0, 0, palette.ground_light, 0.75)
    ink = palette.ink
    for start in range(2, len(line) - 3, 4):
        painting.stroke(np.array(line[start : start + 3]), 4 * unit, ink)
    tee, pin = line[0], at(0.33, -0.78)
    painting.shape(_box(Rect(tee[0] - 26 * unit, tee[1] - 12 * unit, 52 * unit, 24 * unit)), ink)
    painting.stroke(polygon(pin, (pin[0], pin[1] - 96 * unit)), 5 * unit, ink)
    painting.shape(
        polygon((pin[0], pin[1] - 98 * unit), (pin[0] + 58 * unit, pin[1] - 78 * unit), (pin[0], pin[1] - 56 * unit)),
        palette.accent,
    )
    return dithered(_grained(painting.rgba[..., :3]))


def _line_of_play(at: object) -> list[tuple[float, float]]:
    t = np.linspace(0, 1, 33)
    assert callable(at)
    u = -0.30 + 0.10 * t + 0.55 * t**2 - 0.35 * np.sin(np.pi * t) * (1 - t)
    return [at(float(a), float(b)) for a, b in zip(u, 0.92 - 1.62 * t, strict=True)]


def _grained(rgb: NDArray[np.float32]) -> NDArray[np.float32]:
    """Paper is a little darker towards its corners."""
    height, width = rgb.shape[:2]
    x = np.linspace(-1, 1, width, dtype=np.float32)[None, :]
    y = np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    return np.asarray(rgb * (1 - np.float32(0.07) * np.clip((x * x + y * y) / 2, 0, 1)[..., None]), np.float32)

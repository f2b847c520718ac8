"""The pennant character: an evening match. Mown stripes, cut cloth, bunting; everything unfurls fast from one side."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from segmentkit.geometry import Rect, Size
from segmentkit.media.planes import Planes
from segmentkit.render.blend import Colour, YuvPatch, uncovered
from segmentkit.render.characters.base import around, dithered, mix, polygon
from segmentkit.render.layer import Layer
from segmentkit.render.paint import Painting
from segmentkit.render.paths import Path
from segmentkit.storyboard.look import PaletteLook

if TYPE_CHECKING:
    from segmentkit.render.design import Stage

LEAN = 0.2
"""How far upright edges lean, as a part of their height."""


class Pennant:
    """Forms of the pennant character."""

    lean = LEAN
    hoist = 0.0
    tail = 150.0

    def background(self, size: Size, palette: PaletteLook) -> Planes:
        """A mown green under floodlight, with bunting across."""
        return _evening(size.width, size.height, palette)

    def board_room(self, stage: Stage, mirrored: bool) -> tuple[Rect, float]:
        """Across the middle of a wide picture, low in others."""
        safe, unit = stage.safe, stage.unit
        if stage.wide:
            width = 0.62 * safe.width
            x = safe.right - width if mirrored else safe.x
            return Rect(x, safe.y + 110 * unit, width, safe.height - 220 * unit), 0.62
        height = safe.height * 0.62
        return Rect(safe.x, safe.bottom - 70 * unit - height, safe.width, height), 1.0

    def board(self, stage: Stage, text: Rect, mirrored: bool) -> list[Layer]:
        """One long pennant from the edge, a second one behind it."""
        palette, unit, width = stage.look.palette, stage.unit, stage.canvas.width
        top, bottom = text.y - 84 * unit, text.bottom + 84 * unit
        if not stage.wide:
            return [Layer(_band(stage, top, bottom), (-90 * unit, 0))]
        tip = 0.34 * (bottom - top)
        end = (text.x if mirrored else text.right) + (-70 if mirrored else 70) * unit
        reach = -tip if mirrored else tip
        edge = width + 8.0 if mirrored else -8.0
        back = _cloth(
            stage,
            _flag(edge, end + 0.42 * reach, reach, top + 34 * unit, bottom + 46 * unit),
            palette.accent,
            plain=True,
        )
        front = _cloth(stage, _flag(edge, end, reach, top, bottom), palette.ground)
        slide = 150 * unit * (1 if mirrored else -1)
        return [Layer(back, (slide, 0), 0.25), Layer(front, (slide, 0))]

    def side(self, stage: Stage, inner: float, left: bool) -> Painting:
        """A leaning cloth from top to bottom, edged in the accent."""
        palette, unit, canvas = stage.look.palette, stage.unit, stage.canvas
        lean, edge = 60 * unit, 14 * unit
        if left:
            outline = polygon(
                (-8, -8), (inner + 0.9 * lean, -8), (inner - 0.1 * lean, canvas.height + 8), (-8, canvas.height + 8)
            )
            rim = outline + np.array([[0, 0], [edge, 0], [edge, 0], [0, 0]])
        else:
            far = canvas.width + 8.0
            outline = polygon(
                (inner + 0.1 * lean, -8), (far, -8), (far, canvas.height + 8), (inner - 0.9 * lean, canvas.height + 8)
            )
            rim = outline - np.array([[edge, 0], [0, 0], [0, 0], [edge, 0]])
        return _edged(stage, outline, rim, palette.accent)

    def sheet(self, stage: Stage, top: float) -> Painting:
        """A cloth with a slanting upper edge."""
        width, height, unit = stage.canvas.width, stage.canvas.height, stage.unit
        rise = 22 * unit
        outline = polygon((-8, top + rise), (width + 8, top - rise), (width + 8, height + 8), (-8, height + 8))
        rim = outline - np.array([[0, 12 * unit], [0, 12 * unit], [0, 0], [0, 0]])
        return _edged(stage, outline, rim, stage.look.palette.accent)

    def name(self, stage: Stage, text: Rect, start: float) -> Painting:
        """A pennant that points into the picture, with a band of the accent at its hoist."""
        palette, unit, pad = stage.look.palette, stage.unit, 34 * stage.unit
        top, bottom = text.y - pad, text.bottom + pad
        hoist = text.x - 34 * unit
        left = start if start else -8.0
        outline = _flag(left, text.right + 34 * unit, 0.36 * (bottom - top), top, bottom)
        painting = _cloth(stage, outline, palette.ground, opacity=stage.look.panel_opacity)
        band = Rect(left, top, max(8 * unit, hoist - left), bottom - top)
        painting.shape(_box(band), palette.accent)
        return painting

    def plate(self, stage: Stage, rect: Rect) -> Painting:
        """A leaning slip with a slab of the accent before it."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect)
        painting.shape(_leaning(rect), palette.ground, stage.look.panel_opacity)
        slab = Rect(rect.x, rect.y, 16 * unit + LEAN * rect.height, rect.height)
        painting.shape(_leaning(slab), palette.accent)
        return painting

    def word(self, stage: Stage, rect: Rect) -> Painting:
        """A leaning slip, underlined."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect)
        painting.shape(_leaning(rect), palette.ground, stage.look.panel_opacity)
        foot = Rect(rect.x, rect.bottom - 12 * unit, rect.width, 12 * unit)
        lean = LEAN * rect.height
        painting.shape(
            polygon(
                (foot.x + LEAN * foot.height, foot.y), (foot.right - lean + LEAN * foot.height, foot.y),
                (foot.right - lean, foot.bottom), (foot.x, foot.bottom),
            ),
            palette.accent,
        )  # fmt: skip
        return painting

    def strip(self, stage: Stage, rect: Rect) -> Painting:
        """Square, so that it is no pennant, with a dark rim against any picture."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect, 5 * unit + 4)
        painting.shape(_box(rect.inset(-5 * unit)), palette.caution_ink)
        painting.shape(_box(rect), palette.caution)
        return painting

    def block(self, stage: Stage, rect: Rect) -> Painting:
        """Square, with one corner cut."""
        painting, cut = around(stage, rect), 34 * stage.unit
        painting.shape(
            polygon(
                (rect.x, rect.y), (rect.right, rect.y), (rect.right, rect.bottom - cut),
                (rect.right - cut, rect.bottom), (rect.x, rect.bottom),
            ),
            stage.look.palette.caution,
        )  # fmt: skip
        return painting

    def notice(self, stage: Stage, rect: Rect) -> Painting:
        """Pale and square, with two plain rules."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect)
        painting.shape(_box(rect), palette.paper)
        for y in (rect.y + 10 * unit, rect.bottom - 10 * unit):
            painting.stroke(polygon((rect.x + 14 * unit, y), (rect.right - 14 * unit, y)), 3 * unit, palette.paper_ink)
        return painting

    def tag(self, painting: Painting, rect: Rect, unit: float, palette: PaletteLook, colour: Colour) -> None:
        """A square slip whose upper edge has the stroke's colour."""
        painting.shape(_box(rect), palette.label)
        painting.shape(_box(Rect(rect.x, rect.bottom - 8 * unit, rect.width, 8 * unit)), colour)

    def bullet(self, painting: Painting, x: float, y: float, size: float, tint: Colour) -> None:
        """A small pennant."""
        half = size * 0.17
        painting.shape(polygon((x - half * 0.9, y - half), (x + half * 1.3, y), (x - half * 0.9, y + half)), tint)

    def arrived(self, patch: YuvPatch, slide: tuple[float, float], come: float) -> YuvPatch:
        """Unfurls along a slanting edge while it shoots in and stops short. Steps are whole chroma samples."""
        away = (1 - come) ** 4
        dx, dy = (2 * round(0.8 * part * away / 2) for part in slide)
        shown = uncovered(patch, 1 - (1 - come) ** 2, soft=0.12, slant=LEAN, leftwards=slide[0] > 0)
        return replace(shown, x=shown.x + dx, y=shown.y + dy)


def _box(rect: Rect) -> Path:
    return polygon((rect.x, rect.y), (rect.right, rect.y), (rect.right, rect.bottom), (rect.x, rect.bottom))


def _leaning(rect: Rect) -> Path:
    lean = LEAN * rect.height
    return polygon(
        (rect.x + lean, rect.y), (rect.right, rect.y), (rect.right - lean, rect.bottom), (rect.x, rect.bottom)
    )


def _flag(edge: float, end: float, tip: float, top: float, bottom: float) -> Path:
    """A pennant from a hoist at `edge`, level until `end`, pointed by `tip` beyond it."""
    return polygon((edge, top), (end, top), (end + tip, (top + bottom) / 2), (end, bottom), (edge, bottom))


def _cloth(stage: Stage, outline: Path, tint: Colour, *, plain: bool = False, opacity: float = 1.0) -> Painting:
    """A cut of cloth with mown stripes across it."""
    (left, top), (right, bottom) = outline.min(axis=0), outline.max(axis=0)
    rect = Rect(float(left), float(top), float(right - left), float(bottom - top))
    painting = around(stage, rect)
    painting.shape(outline, tint, opacity)
    if not plain:
        _striped(stage, painting, outline)
    return painting


def _striped(stage: Stage, painting: Painting, outline: Path) -> None:
    palette, unit = stage.look.palette, stage.unit
    stripes = stage.painting(painting.x, painting.y, painting.width, painting.height)
    high, step, broad = painting.height, 300 * unit, 150 * unit
    shift = 0.55 * high
    first = int((painting.x - shift) // step) - 1
    for k in range(first, first + int((painting.width + 2 * shift) / step) + 3):
        x = k * step
        stripes.shape(
            polygon(
                (x + shift, painting.y), (x + shift + broad, painting.y), (x + broad, painting.y + high),
                (x, painting.y + high),
            ),
            palette.ground_light, 0.22,
        )  # fmt: skip
    stripes.clip(outline)
    painting.cover(stripes)


def _edged(stage: Stage, outline: Path, rim: Path, tint: Colour, opacity: float | None = None) -> Painting:
    """A panel of cloth with a coloured edge that lies behind it."""
    canvas = stage.canvas
    (left, top), (right, bottom) = rim.min(axis=0), rim.max(axis=0)
    x, y = int(max(0.0, left)), int(max(0.0, top))
    painting = stage.painting(x, y, int(min(canvas.width, right)) - x, int(min(canvas.height, bottom)) - y)
    painting.shape(rim, tint)
    painting.clear(outline)
    painting.shape(outline, stage.look.palette.ground, stage.look.panel_opacity if opacity is None else opacity)
    _striped(stage, painting, outline)
    return painting


def _band(stage: Stage, top: float, bottom: float) -> Painting:
    """A cloth across the whole width, slanting up to the right, edged on both sides."""
    width, unit = stage.canvas.width, stage.unit
    rise = 26 * unit
    outline = polygon((-8, top + rise), (width + 8, top - rise), (width + 8, bottom - rise), (-8, bottom + rise))
    edge = 14 * unit
    rim = outline + np.array([[0, -edge], [0, -edge], [0, edge], [0, edge]])
    return _edged(stage, outline, rim, stage.look.palette.accent, 1.0)


@functools.lru_cache(maxsize=4)
def _evening(width: int, height: int, palette: PaletteLook) -> Planes:
    unit = min(width, height) / 1080
    painting = Painting(0, 0, width, height)
    at = np.linspace(0, 1, height, dtype=np.float32)[:, None, None]
    sky, low = np.array(palette.sky, np.float32), np.array(palette.glow, np.float32)
    painting.lay(np.full((height, width), 255, np.uint8), 0, 0, sky + (low - sky) * np.clip(at / 0.62, 0, 1) ** 1.6)
    horizon = 0.60 * height
    # The green in perspective: stripes run to a point on the horizon.
    vx = 0.66 * width
    painting.shape(
        polygon((-9, horizon), (width + 9, horizon), (width + 9, height + 9), (-9, height + 9)), palette.ground
    )
    step = 0.2 * width
    for k in range(-9, 14):
        x = vx + (k - 0.5) * step * 1.6
        painting.shape(
            polygon((vx + k * 0.05 * width, horizon), (vx + (k + 0.5) * 0.05 * width, horizon),
                    (x + 0.8 * step, height + 9), (x, height + 9)), palette.ground_light, 0.5,
        )  # fmt: skip
    shade = np.clip((np.arange(height, dtype=np.float32)[:, None] - horizon) / (height - horizon), 0, 1)
    painting.lay(np.broadcast_to((150 * shade).astype(np.uint8), (height, width)), 0, 0, palette.ground_deep)
    # A hedge against the light, and the flagstick.
    t = np.linspace(0, 1, 200)
    bumps = horizon - 26 * unit - 16 * unit * np.abs(np.sin(19 * t)) - 9 * unit * np.abs(np.sin(47 * t + 1))
    hedge = np.concatenate(
        [np.stack([t * (width + 18) - 9, bumps], axis=1), [[width + 9, horizon + 2], [-9, horizon + 2]]]
    )
    painting.shape(hedge, palette.ground_deep)
    px, foot, tall = (0.80 if width > height else 0.62) * width, 0.74 * height, 0.40 * min(width * 1.2, height)
    painting.stroke(polygon((px, foot), (px, foot - tall)), 7 * unit, palette.ink)
    painting.shape(
        polygon(
            (px + 3 * unit, foot - tall), (px + 0.46 * tall, foot - 0.83 * tall), (px + 3 * unit, foot - 0.66 * tall)
        ),
        palette.accent,
    )
    _bunting(painting, width, unit, palette)
    return dithered(painting.rgba[..., :3])


def _bunting(painting: Painting, width: int, unit: float, palette: PaletteLook) -> None:
    """Two strings of small pennants across the sky."""
    tints = (palette.accent, palette.ink, palette.caution, mix(palette.ground_light, palette.ink, 0.35))
    for drop, sag, start in ((30 * unit, 120 * unit, 0), (-20 * unit, 210 * unit, 2)):
        x = np.linspace(-20, width + 20, 120)
        y = drop + sag * (1 - (2 * x / width - 1) ** 2)
        painting.stroke(np.stack([x, y], axis=1), 4 * unit, palette.ground_deep)
        step = 92 * unit
        for k in range(int(width / step) + 2):
            at = (k + (0.5 if start else 0.0)) * step
            top = float(np.interp(at, x, y))
            slope = (float(np.interp(at + 2, x, y)) - top) / 2
            half = 25 * unit
            painting.shape(
                polygon(
                    (at - half, top - slope * half),
                    (at + half, top + slope * half),
                    (at - slope * 30 * unit, top + 66 * unit),
                ),
                mix(tints[(k + start) % 4], palette.sky, 0.0 if not start else 0.35),
            )

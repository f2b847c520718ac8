"""The dune character: links land at dawn. Ridges, a low sun and marram grass; cards slide in and slow down."""

from __future__ import annotations

import functools
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect, Size
from segmentkit.media.planes import Planes
from segmentkit.render.blend import Colour, YuvPatch
from segmentkit.render.characters.base import CORNER, around, body, disc, dithered, mix, rounded_rect, smooth
from segmentkit.render.layer import Layer
from segmentkit.render.paint import Painting
from segmentkit.render.paths import Path
from segmentkit.storyboard.look import PaletteLook

if TYPE_CHECKING:
    from segmentkit.render.design import Stage


class Dune:
    """Forms of the dune character."""

    lean = 0.0
    hoist = 0.0
    tail = 150.0

    def background(self, size: Size, palette: PaletteLook) -> Planes:
        """First light over dunes."""
        return _ground(size.width, size.height, palette)

    def board_room(self, stage: Stage, mirrored: bool) -> tuple[Rect, float]:  # noqa: ARG002  the same either way
        """The foot of the picture."""
        safe, height = stage.safe, stage.safe.height * 0.72
        width = safe.width * (0.86 if stage.wide else 1.0)
        return Rect(safe.x, safe.bottom - 26 * stage.unit - height, width, height), 1.0

    def board(self, stage: Stage, text: Rect, mirrored: bool) -> list[Layer]:
        """The foremost dune from edge to edge, one behind it, and the sun between the two."""
        return _board_layers(stage, min(text.y - 112 * stage.unit, 0.58 * stage.canvas.height), mirrored)

    def side(self, stage: Stage, inner: float, left: bool) -> Painting:
        """A column whose inner edge is a slip face, with low dunes and the sun at its foot."""
        return _side_ground(stage, inner, left)

    def sheet(self, stage: Stage, top: float) -> Painting:
        """A dune from edge to edge."""
        return _sheet_ground(stage, top)

    def name(self, stage: Stage, text: Rect, start: float) -> Painting:
        """A low dune that runs in from the left."""
        unit, pad = stage.unit, 40 * stage.unit
        end = text.right + self.tail * unit + 40 * unit
        return _low_dune(stage, start, text.right + 28 * unit, text.y - pad, end, text.bottom + pad)

    def plate(self, stage: Stage, rect: Rect) -> Painting:
        """Rounded, with a ridge of the accent along its foot."""
        palette, unit = stage.look.palette, stage.unit
        painting, outline = around(stage, rect), rounded_rect(rect, CORNER * unit)
        painting.shape(outline, palette.ground, stage.look.panel_opacity)
        foot = stage.painting(painting.x, painting.y, painting.width, painting.height)
        crest = ridge(rect.x - 0.3 * rect.width, rect.x + 1.2 * rect.width, rect.bottom, 15 * unit, 0.62)
        foot.shape(body(crest, rect.bottom + 20), palette.accent)
        foot.clip(outline)
        painting.cover(foot)
        return painting

    def word(self, stage: Stage, rect: Rect) -> Painting:
        """Plainly rounded."""
        painting = around(stage, rect)
        painting.shape(rounded_rect(rect, CORNER * stage.unit), stage.look.palette.ground, stage.look.panel_opacity)
        return painting

    def strip(self, stage: Stage, rect: Rect) -> Painting:
        """Rounded, with a dark rim against any picture."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect, 3 * unit + 4)
        painting.shape(rounded_rect(rect, 12 * unit, 3 * unit), palette.caution_ink, 0.85)
        painting.shape(rounded_rect(rect, CORNER * unit), palette.caution)
        return painting

    def block(self, stage: Stage, rect: Rect) -> Painting:
        """Rounded."""
        painting = around(stage, rect)
        painting.shape(rounded_rect(rect, CORNER * stage.unit), stage.look.palette.caution)
        return painting

    def notice(self, stage: Stage, rect: Rect) -> Painting:
        """Dry sand with a fine second border."""
        palette, unit = stage.look.palette, stage.unit
        painting = around(stage, rect)
        painting.shape(rounded_rect(rect, 4 * unit), palette.paper)
        painting.stroke(rounded_rect(rect, 0, -9 * unit), 2.5 * unit, palette.paper_ink)
        return painting

    def tag(self, painting: Painting, rect: Rect, unit: float, palette: PaletteLook, colour: Colour) -> None:
        """A rounded plate, underlined in the stroke's colour."""
        painting.shape(rounded_rect(rect, 6 * unit), palette.label)
        bar = Rect(rect.x + 18 * unit, rect.bottom - 11.4 * unit, rect.width - 36 * unit, 6 * unit)
        painting.shape(rounded_rect(bar, 3 * unit), colour)

    def bullet(self, painting: Painting, x: float, y: float, size: float, tint: Colour) -> None:
        """A disc."""
        painting.spot(x, y, size * 0.13, tint)

    def arrived(self, patch: YuvPatch, slide: tuple[float, float], come: float) -> YuvPatch:
        """Soon opaque, then slowing down to where it rests. Steps are whole chroma samples."""
        away = (1 - come) ** 3
        dx, dy = (2 * round(part * away / 2) for part in slide)
        return replace(patch.faded(smooth(min(1.0, 1.8 * come))), x=patch.x + dx, y=patch.y + dy)


def ridge(left: float, right: float, base: float, rise: float, peak: float) -> Path:
    """The upper edge of a dune, from left to right: a long windward slope, a crisp crest, a steeper lee side.

    Args:
        left: x at which it starts at the height of `base`.
        right: x at which it is back there.
        base: y of its foot.
        rise: height of the crest above the foot, in pixels.
        peak: where the crest lies between left and right, 0 to 1.
    """
    u = np.linspace(0.0, 1.0, max(24, int((right - left) / 8)))
    windward = np.clip(u / peak, 0, 1)
    lee = np.clip((u - peak) / (1 - peak), 0, 1)
    height = np.where(u <= peak, windward**2 * (2.3 - 1.3 * windward), (1 - lee) ** 2 * (1 + 0.9 * lee))
    return np.stack([left + u * (right - left), base - rise * height], axis=1)


def grass(x: float, y: float, size: float, seed: int = 3) -> list[Path]:
    """A tuft of marram grass as thin closed blades, bent by the wind from the left."""
    random = np.random.default_rng(seed)
    blades = []
    for k in range(13):
        lean = -0.5 + k / 12 * 1.25 + random.uniform(-0.12, 0.12)
        tall = size * random.uniform(0.55, 1.0) * (1 - 0.25 * abs(lean))
        foot = x + (k - 6) * size * 0.022
        t = np.linspace(0, 1, 14)
        along = np.stack([foot + lean * tall * 0.75 * t**1.9, y - tall * (t - 0.18 * t**2.6)], axis=1)
        half = size * 0.014 * (1 - t) ** 0.8
        blades.append(np.concatenate([along + np.stack([half, 0 * t], 1), (along - np.stack([half, 0 * t], 1))[::-1]]))
    return blades


def _board_layers(stage: Stage, crest: float, mirrored: bool) -> list[Layer]:
    """The foremost dune, from edge to edge, with one behind it and the sun between the two."""
    palette, unit, width, height = stage.look.palette, stage.unit, stage.canvas.width, stage.canvas.height
    rise = min(70 * unit, 0.16 * (height - crest) + 30 * unit)

    def across(path: Path) -> Path:
        return np.stack([width - path[:, 0], path[:, 1]], axis=1)[::-1] if mirrored else path

    front_top = across(ridge(-0.35 * width, 1.30 * width, crest + rise, rise, 0.60))
    back_top = across(ridge(0.18 * width, 1.75 * width, crest + rise * 1.1, rise * 1.55, 0.50))
    sun = stage.painting(0, int(crest - 260 * unit), width, int(420 * unit))
    sun_x = (0.27 if mirrored else 0.73) * width
    sun.spot(
        sun_x,
        float(np.interp(sun_x, back_top[:, 0], back_top[:, 1])) - 6 * unit,
        58 * unit,
        mix(palette.accent, palette.ink, 0.45),
    )
    area = int(crest - 90 * unit)
    back = stage.painting(0, area, width, height - area)
    back.shape(body(_edge_to_edge(back_top, width), height + 40), palette.ground_light, 0.97)
    front = stage.painting(0, area, width, height - area)
    front.shape(body(_edge_to_edge(front_top, width), height + 40), palette.ground, 1.0)
    foot = across(ridge(-0.5 * width, 0.95 * width, height + 6 * unit, 74 * unit, 0.45))
    front.shape(body(_edge_to_edge(foot, width), height + 60), mix(palette.ground, palette.ground_deep, 0.55))
    grass_x = (0.09 if mirrored else 0.91) * width
    near = float(np.interp(grass_x, front_top[:, 0], front_top[:, 1]))
    for dx, tall, seed in ((0.0, 120, 3), (58, 86, 8), (-50, 72, 5)):
        for blade in grass(grass_x + dx * unit, near + 8 * unit, tall * unit, seed):
            front.shape(blade, palette.ground)
    return [Layer(sun, (0, 84 * unit), 0.4), Layer(back, (0, 60 * unit)), Layer(front, (0, 40 * unit))]


def _side_ground(stage: Stage, inner: float, left: bool) -> Painting:
    palette, unit, width, height = stage.look.palette, stage.unit, stage.canvas.width, stage.canvas.height
    x0 = width - inner if left else inner  # drawn for the right side; turned over for the left one

    def turned(path: Path) -> Path:
        return np.stack([width - path[:, 0], path[:, 1]], axis=1)[::-1] if left else path

    edge = int(x0 - 70 * unit)
    painting = stage.painting(0 if left else edge, 0, width - edge, height)
    t = np.linspace(0, 1, 90)
    wave = np.stack([x0 + 26 * unit * np.sin(2.1 * np.pi * t + 0.5) - 10 * unit, t * (height + 80) - 40], axis=1)
    corner = np.array([[width + 40, height + 40], [width + 40, -40]])
    behind = np.stack([x0 + 30 * unit * np.sin(2.0 * np.pi * t + 1.5) - 24 * unit, t * (height + 80) - 40], axis=1)
    painting.shape(turned(np.concatenate([behind, corner])), palette.ground_light, 0.8)
    front = turned(np.concatenate([wave, corner]))
    painting.clear(front)
    painting.shape(front, palette.ground, stage.look.panel_opacity)
    inside = stage.painting(painting.x, 0, painting.width, height)
    sun_x = width - 0.27 * (width - x0)
    far = ridge(x0 - 0.5 * (width - x0), width + 200 * unit, height - 60 * unit, 86 * unit, 0.45)
    sun_y = float(np.interp(sun_x, far[:, 0], far[:, 1])) - 4 * unit
    inside.spot(width - sun_x if left else sun_x, sun_y, 34 * unit, palette.accent, 0.9)
    inside.shape(turned(body(far, height + 40)), palette.ground_light)
    near = ridge(x0 - 300 * unit, width + 0.6 * (width - x0), height - 8 * unit, 70 * unit, 0.56)
    inside.shape(turned(body(near, height + 60)), palette.ground_deep)
    inside.clip(front)
    painting.cover(inside)
    return painting


def _sheet_ground(stage: Stage, crest: float) -> Painting:
    palette, unit, width, height = stage.look.palette, stage.unit, stage.canvas.width, stage.canvas.height
    rise = 34 * unit
    area = int(crest - 120 * unit)
    painting = stage.painting(0, area, width, height - area)
    back = ridge(-0.1 * width, 1.7 * width, crest + rise, rise * 1.9, 0.5)
    sun_x = 0.80 * width
    painting.spot(
        sun_x,
        float(np.interp(sun_x, back[:, 0], back[:, 1])) - 2 * unit,
        34 * unit,
        mix(palette.accent, palette.ink, 0.3),
    )
    painting.shape(body(_edge_to_edge(back, width), height + 40), palette.ground_light, 0.97)
    front = ridge(-0.7 * width, 1.3 * width, crest + rise, rise, 0.55)
    outline = body(_edge_to_edge(front, width), height + 40)
    painting.clear(outline)
    painting.shape(outline, palette.ground, stage.look.panel_opacity)
    return painting


def _low_dune(stage: Stage, start: float, crest: float, top: float, end: float, bottom: float) -> Painting:
    """A low dune that runs in from the left edge: level with `top` up to its crest, down to `bottom` at `end`."""
    palette, unit = stage.look.palette, stage.unit
    painting = stage.painting(
        int(start), int(top - 60 * unit), int(end - start + 120 * unit), int(bottom - top + 62 * unit)
    )
    tint = mix(palette.accent, palette.ink, 0.3)
    painting.spot(crest - 86 * unit, top - 4 * unit, 36 * unit, tint)
    back = ridge(max(start, end - 420 * unit), end + 100 * unit, bottom, 0.66 * (bottom - top), 0.46)
    painting.shape(body(back, bottom), palette.ground_light, 0.97)
    outline = body(_crest_line(start, top, crest, end, bottom, 20 * unit), bottom)
    painting.clear(outline)
    painting.shape(outline, palette.ground, stage.look.panel_opacity)
    return painting


@functools.lru_cache(maxsize=4)
def _ground(width: int, height: int, palette: PaletteLook) -> Planes:
    unit = min(width, height) / 1080
    horizon = 0.72 * height
    painting = Painting(0, 0, width, height)
    whole = np.full((height, width), 255, np.uint8)
    painting.lay(whole, 0, 0, _sky(height, horizon, palette))
    sun_x, radius = 0.73 * width, 70 * unit
    columns, rows = np.arange(width, dtype=np.float32)[None], np.arange(height, dtype=np.float32)[:, None]
    distance = np.sqrt((columns - sun_x) ** 2 + ((rows - horizon + 0.035 * height) * 1.25) ** 2)
    halo = np.exp(-distance / (340 * unit))
    painting.lay((halo * 130).astype(np.uint8), 0, 0, mix(palette.accent, (255, 244, 222), 0.35))
    sun = disc(sun_x, horizon - 0.035 * height, radius)
    painting.shape(sun, mix(palette.accent, (255, 248, 230), 0.55))
    far = mix(palette.glow, palette.ground_light, 0.62)
    layers = (
        (-0.20, 0.95, 0.010, 0.040, 0.60, far),
        (0.30, 1.45, 0.045, 0.070, 0.62, mix(far, palette.ground_light, 0.75)),
        (-0.45, 1.05, 0.100, 0.095, 0.52, mix(palette.ground_light, palette.ground, 0.5)),
        (-0.05, 1.60, 0.185, 0.100, 0.52, palette.ground),
        (-0.60, 1.25, 0.255, 0.080, 0.40, mix(palette.ground, palette.ground_deep, 0.6)),
    )
    edge = np.zeros((0, 2))
    for left, right, down, rise, peak, colour in layers:
        top = ridge(left * width, right * width, horizon + down * height, rise * height, peak)
        edge = np.concatenate([[[-9.0, top[0, 1]]], top, [[width + 9.0, top[-1, 1]]]])
        painting.shape(body(edge, height + 40), _shaded(painting, edge[:, 1].min(), colour, palette.ground_deep))
    near = layers[-1][-1]
    for x, tall, seed in ((0.115, 0.135, 3), (0.165, 0.105, 8), (0.075, 0.085, 5)):
        foot_y = float(np.interp(x * width, edge[:, 0], edge[:, 1])) + 2 * unit
        for blade in grass(x * width, foot_y, tall * height, seed):
            painting.shape(blade, near)
    return dithered(painting.rgba[..., :3])


def _sky(height: int, horizon: float, palette: PaletteLook) -> NDArray[np.float32]:
    at = np.clip(np.arange(height, dtype=np.float32)[:, None, None] / np.float32(horizon), 0, 1)
    top, low = np.array(palette.sky, np.float32), np.array(palette.glow, np.float32)
    # By way of a pale haze: straight from slate to orange the sky would turn olive.
    haze = np.array(mix(palette.ground_light, palette.paper, 0.42), np.float32)
    upper = top + (haze - top) * np.clip(at / 0.8, 0, 1) ** 1.7
    sky: NDArray[np.float32] = (upper + (low - haze) * np.clip((at - 0.68) / 0.32, 0, 1) ** 1.2).astype(np.float32)
    return sky


def _shaded(painting: Painting, top: float, colour: Colour, deep: Colour) -> NDArray[np.float32]:
    """A colour that grows deeper downwards from a level, one a row."""
    at = np.clip((np.arange(painting.height, dtype=np.float32) + painting.y - top) / (0.45 * painting.height), 0, 1)[
        :, None, None
    ]
    light = np.array(colour, np.float32)
    shaded: NDArray[np.float32] = (light + (np.array(deep, np.float32) - light) * at * np.float32(0.75)).astype(
        np.float32
    )
    return shaded


def _edge_to_edge(top: Path, width: int) -> Path:
    """A ridge line continued level to both edges of the canvas."""
    return np.concatenate(
        [[[min(-40.0, top[0, 0] - 1), top[0, 1]]], top, [[max(width + 40.0, top[-1, 0] + 1), top[-1, 1]]]]
    )


def _crest_line(left: float, top: float, crest: float, end: float, bottom: float, rise: float) -> Path:
    """The upper edge of a low panel: gently rising to a crest, then down a lee slope to the right."""
    u = np.linspace(0, 1, 80)
    windward = np.stack([left + u * (crest - left), top - rise * u**2 * (2.3 - 1.3 * u) + rise * 0.5], axis=1)
    height = windward[-1, 1]
    lee = np.stack([crest + u * (end - crest), bottom - (bottom - height) * (1 - u) ** 1.7 * (1 + 0.7 * u)], axis=1)
    return np.concatenate([windward, lee[1:]])

"""The grounds of cards: dunes across the picture, beside the player, below the player, and in from the left."""

from __future__ import annotations

import numpy as np

from segmentkit.render import dunes
from segmentkit.render.blend import Colour
from segmentkit.render.design import Layer, Stage
from segmentkit.render.paint import Painting
from segmentkit.render.paths import Path


def board_layers(stage: Stage, crest: float, mirrored: bool) -> list[Layer]:
    """The foremost dune, from edge to edge, with one behind it and the sun between the two."""
    palette, unit, width, height = stage.look.palette, stage.unit, stage.canvas.width, stage.canvas.height
    rise = min(70 * unit, 0.16 * (height - crest) + 30 * unit)

    def across(path: Path) -> Path:
        return np.stack([width - path[:, 0], path[:, 1]], axis=1)[::-1] if mirrored else path

    front_top = across(dunes.ridge(-0.35 * width, 1.30 * width, crest + rise, rise, 0.60))
    back_top = across(dunes.ridge(0.18 * width, 1.75 * width, crest + rise * 1.1, rise * 1.55, 0.50))
    sun = stage.painting(0, int(crest - 260 * unit), width, int(420 * unit))
    sun_x = (0.27 if mirrored else 0.73) * width
    sun.spot(
        sun_x,
        float(np.interp(sun_x, back_top[:, 0], back_top[:, 1])) - 6 * unit,
        58 * unit,
        dunes.mix(palette.accent, palette.ink, 0.45),
    )
    area = int(crest - 90 * unit)
    back = stage.painting(0, area, width, height - area)
    back.shape(dunes.body(_edge_to_edge(back_top, width), height + 40), palette.ground_light, 0.97)
    front = stage.painting(0, area, width, height - area)
    front.shape(dunes.body(_edge_to_edge(front_top, width), height + 40), palette.ground, 1.0)
    foot = across(dunes.ridge(-0.5 * width, 0.95 * width, height + 6 * unit, 74 * unit, 0.45))
    front.shape(
        dunes.body(_edge_to_edge(foot, width), height + 60), dunes.mix(palette.ground, palette.ground_deep, 0.55)
    )
    grass_x = (0.09 if mirrored else 0.91) * width
    near = float(np.interp(grass_x, front_top[:, 0], front_top[:, 1]))
    for dx, tall, seed in ((0.0, 120, 3), (58, 86, 8), (-50, 72, 5)):
        for blade in dunes.grass(grass_x + dx * unit, near + 8 * unit, tall * unit, seed):
            front.shape(blade, palette.ground)
    return [Layer(sun, (0, 84 * unit), 0.4), Layer(back, (0, 60 * unit)), Layer(front, (0, 40 * unit))]


def side_ground(stage: Stage, x0: float) -> Painting:
    """A column from top to bottom whose inner edge is a slip face, with low dunes and the sun at its foot."""
    palette, unit, width, height = stage.look.palette, stage.unit, stage.canvas.width, stage.canvas.height
    painting = stage.painting(int(x0 - 70 * unit), 0, width - int(x0 - 70 * unit), height)
    t = np.linspace(0, 1, 90)
    wave = np.stack([x0 + 26 * unit * np.sin(2.1 * np.pi * t + 0.5) - 10 * unit, t * (height + 80) - 40], axis=1)
    corner = np.array([[width + 40, height + 40], [width + 40, -40]])
    behind = np.stack([x0 + 30 * unit * np.sin(2.0 * np.pi * t + 1.5) - 24 * unit, t * (height + 80) - 40], axis=1)
    painting.shape(np.concatenate([behind, corner]), palette.ground_light, 0.8)
    front = np.concatenate([wave, corner])
    painting.clear(front)
    painting.shape(front, palette.ground, stage.look.panel_opacity)
    inside = stage.painting(painting.x, 0, painting.width, height)
    sun_x = width - 0.27 * (width - x0)
    far = dunes.ridge(x0 - 0.5 * (width - x0), width + 200 * unit, height - 60 * unit, 86 * unit, 0.45)
    inside.spot(sun_x, float(np.interp(sun_x, far[:, 0], far[:, 1])) - 4 * unit, 34 * unit, palette.accent, 0.9)
    inside.shape(dunes.body(far, height + 40), palette.ground_light)
    near = dunes.ridge(x0 - 300 * unit, width + 0.6 * (width - x0), height - 8 * unit, 70 * unit, 0.56)
    inside.shape(dunes.body(near, height + 60), palette.ground_deep)
    inside.clip(front)
    painting.cover(inside)
    return painting


def sheet_ground(stage: Stage, crest: float) -> Painting:
    """A dune from edge to edge below the player."""
    palette, unit, width, height = stage.look.palette, stage.unit, stage.canvas.width, stage.canvas.height
    rise = 34 * unit
    area = int(crest - 120 * unit)
    painting = stage.painting(0, area, width, height - area)
    back = dunes.ridge(-0.1 * width, 1.7 * width, crest + rise, rise * 1.9, 0.5)
    sun_x = 0.80 * width
    painting.spot(
        sun_x,
        float(np.interp(sun_x, back[:, 0], back[:, 1])) - 2 * unit,
        34 * unit,
        dunes.mix(palette.accent, palette.ink, 0.3),
    )
    painting.shape(dunes.body(_edge_to_edge(back, width), height + 40), palette.ground_light, 0.97)
    front = dunes.ridge(-0.7 * width, 1.3 * width, crest + rise, rise, 0.55)
    outline = dunes.body(_edge_to_edge(front, width), height + 40)
    painting.clear(outline)
    painting.shape(outline, palette.ground, stage.look.panel_opacity)
    return painting


def low_dune(stage: Stage, crest: float, top: float, end: float, bottom: float) -> Painting:
    """A low dune that runs in from the left edge: level with `top` up to its crest, down to `bottom` at `end`."""
    palette, unit = stage.look.palette, stage.unit
    painting = stage.painting(0, int(top - 60 * unit), int(end + 120 * unit), int(bottom - top + 62 * unit))
    tint = dunes.mix(palette.accent, palette.ink, 0.3)
    painting.spot(crest - 86 * unit, top - 4 * unit, 36 * unit, tint)
    back = dunes.ridge(end - 420 * unit, end + 100 * unit, bottom, 0.66 * (bottom - top), 0.46)
    painting.shape(dunes.body(back, bottom), palette.ground_light, 0.97)
    front = dunes.body(_crest_line(0.0, top, crest, end, bottom, 20 * unit), bottom)
    painting.clear(front)
    painting.shape(front, palette.ground, stage.look.panel_opacity)
    return painting


def warning_sign(painting: Painting, x: float, y: float, size: float, ink: Colour) -> None:
    """A plain warning sign: a triangle with rounded corners and a stroke and a dot in it."""
    half, up, down = size * 0.5, size * 0.48, size * 0.38
    triangle = np.array([[x, y - up], [x + half, y + down], [x - half, y + down], [x, y - up]])
    painting.stroke(triangle, size * 0.11, ink)
    painting.stroke(np.array([[x, y - up * 0.36], [x, y + down * 0.22]]), size * 0.105, ink)
    painting.spot(x, y + down * 0.66, size * 0.06, ink)


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

"""The look's own forms: dune ridges, a low sun, marram grass; and the plain background made of them."""

from __future__ import annotations

import functools
import math

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Size
from segmentkit.media.planes import Planes
from segmentkit.render.blend import BLUE, CB_DIVISOR, CR_DIVISOR, GREEN, RED, Colour, chroma_sited
from segmentkit.render.paint import Painting
from segmentkit.render.paths import Path
from segmentkit.storyboard.look import Look, PaletteLook


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


def body(top: Path, bottom: float) -> Path:
    """The closed outline of everything below an upper edge, down to a level."""
    return np.concatenate([top, [[top[-1, 0], bottom], [top[0, 0], bottom]]])


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


def mix(first: Colour, second: Colour, part: float) -> Colour:
    """A colour between two: `part` 0 is the first, 1 the second."""
    red, green, blue = (round(a + (b - a) * part) for a, b in zip(first, second, strict=True))
    return red, green, blue


def ground(size: Size, look: Look) -> Planes:
    """A quiet plain background: first light over dunes. One shared picture a size and look: copy it before drawing."""
    return _ground(size.width, size.height, look.palette)


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
    return _dithered(painting.rgba[..., :3])


def disc(x: float, y: float, radius: float) -> Path:
    """The outline of a disc."""
    angles = np.linspace(0, 2 * math.pi, 160)
    return np.stack([x + radius * np.cos(angles), y + radius * np.sin(angles)], axis=1)


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


def _dithered(rgb: NDArray[np.float32]) -> Planes:
    """To planes with a little fixed noise in the luma, so that slow gradients do not show steps."""
    part = rgb / np.float32(255)
    y = RED * part[..., 0] + GREEN * part[..., 1] + BLUE * part[..., 2]
    random = np.random.default_rng(11)
    noise = random.random(y.shape, np.float32) - random.random(y.shape, np.float32)
    luma = 16 + 219 * y + 0.75 * noise

    u = 128 + 224 * chroma_sited(part[..., 2] - y) / CB_DIVISOR
    v = 128 + 224 * chroma_sited(part[..., 0] - y) / CR_DIVISOR
    return Planes(*(np.rint(np.clip(plane, 16, 240)).astype(np.uint8) for plane in (luma, u, v)))

"""The practice tee: sky, hills, trees, mown grass, an alignment stick, a plain wall; drawn once a camera.

Colours are linear light. The place is invented.
"""

# mypy: disable-error-code="no-untyped-call,untyped-decorator"

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from .camera import Camera
from .light import Light
from .noise import chance, layers
from .woods import near_woods, woods

Array = NDArray[np.float64]
Picture = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """A plain box: its face toward the player at `face` metres (x), its ends (y) and height."""

    face: float
    thick: float = 0.24
    near: float = -0.75
    far: float = 1.7
    high: float = 2.25


@dataclass(frozen=True, slots=True, kw_only=True)
class Backdrop:
    """What stands still in front of a tripod.

    Attributes:
        lit, dark: float32 (h, w, 3), linear light, with and without the sun.
        ground: float32 (h, w, 4), place in metres, then 1 for level or 2 for upright ground that takes the figure's
            shadow, else 0.
    """

    lit: Picture
    dark: Picture
    ground: Picture


@njit(cache=True)
def _sky(out: Any, camera: Any, zenith: Any, horizon: Any, cloud: Any, sun: Any, seed: int) -> None:
    high, wide = out.shape[0], out.shape[1]
    for y in range(high):
        for x in range(wide):
            a, b = (x + 0.5 - camera[4, 1]) / camera[4, 0], -(y + 0.5 - camera[4, 2]) / camera[4, 0]
            if b < -0.01:
                continue
            up = max(b, 0.0)
            fall = math.exp(-up * 5.2)
            glow = 0.0
            dx = camera[2, 0] + a * camera[0, 0]
            dy = camera[2, 1] + a * camera[0, 1]
            length = math.sqrt(dx * dx + dy * dy + up * up)
            near = (dx * sun[0] + dy * sun[1] + up * sun[2]) / length
            glow = max(0.0, near) ** 9
            cx, cy = a * 3.4 / (0.35 + up), up * 13.0 / (0.30 + up)
            bulk = layers(cx + 4.0, cy * 1.7, 6, seed)
            wisp = layers(cx * 0.8 - 9.0, cy * 4.0, 5, seed + 5)
            cover = min(1.0, max(0.0, (bulk - 0.50) * 5.0)) * min(1.0, up * 14)
            cover = max(cover, 0.45 * min(1.0, max(0.0, (wisp - 0.52) * 4)) * min(1.0, up * 10))
            body = layers(cx * 1.6 + 0.2, cy * 2.6 - 0.5, 5, seed + 3)
            for c in range(3):
                clear = zenith[c] * (1 - fall) + horizon[c] * fall + glow * cloud[c] * 0.35
                white = cloud[c] * (0.74 + 0.34 * body)
                out[y, x, c] = clear * (1 - cover * 0.86) + white * cover * 0.86


@njit(cache=True)
def _turf(x: float, y: float, out: Any) -> float:
    """Reflectance of the grass at a place, and how long it is cut there in metres."""
    patch = layers(x * 0.9 + 7, y * 0.9, 4, 3)
    small = layers(x * 7.0, y * 7.0, 3, 11)
    tee = abs(x - 0.2) < 3.1 and -6.0 < y < 6.5
    # Stripes of the mower run along the target line; each pass lays the blades the other way.
    stripe = math.sin((x + 0.35) * math.pi / (0.62 if tee else 2.6))
    stripe = max(-1.0, min(1.0, stripe * 5))
    tone = 1.0 + 0.055 * stripe + 0.34 * (patch - 0.5) + 0.16 * (small - 0.5)
    dry = max(0.0, min(1.0, (layers(x * 1.7 - 30, y * 1.7, 4, 23) - 0.52) * 3.2))
    out[0] = (0.062 + 0.046 * dry) * tone
    out[1] = (0.108 + 0.020 * dry) * tone
    out[2] = (0.030 + 0.010 * dry) * tone
    if not tee:
        rough = abs(x - 0.2) < 4.4 and -7.5 < y < 8.0
        if rough:
            out[0] *= 0.74
            out[1] *= 0.76
            out[2] *= 0.74
            return 0.045
        return 0.020
    return 0.013


@njit(cache=True)
def _grass(lit: Any, dark: Any, ground: Any, camera: Any, light: Any, haze: Any) -> None:
    high, wide = lit.shape[0], lit.shape[1]
    base = np.empty(3)
    for y in range(high):
        b = (y + 0.5 - camera[4, 2]) / camera[4, 0]
        if b <= 0.0012:
            continue
        deep = camera[3, 2] / b
        fog = 1 - math.exp(-deep / 600.0)
        for x in range(wide):
            a = (x + 0.5 - camera[4, 1]) / camera[4, 0]
            px = camera[3, 0] + deep * (camera[2, 0] + a * camera[0, 0])
            py = camera[3, 1] + deep * (camera[2, 1] + a * camera[0, 1])
            _turf(px, py, base)
            under = 0.80 if deep < 25 else 0.92
            for c in range(3):
                sky = base[c] * light[2, c] * under
                sun = base[c] * light[1, c] * light[0, 2] * under
                lit[y, x, c] = (sky + sun) * (1 - fog) + haze[c] * fog
                dark[y, x, c] = sky * (1 - fog) + haze[c] * fog
            ground[y, x, 0], ground[y, x, 1], ground[y, x, 2] = px, py, 0.0
            ground[y, x, 3] = 1.0 if deep < 16 else 0.0


@njit(cache=True)
def _blades(lit: Any, dark: Any, camera: Any, light: Any, count: int) -> None:
    """Single blades of grass, evenly thick over the picture, from far to near."""
    high, wide = lit.shape[0], lit.shape[1]
    base = np.empty(3)
    focal, mx, my = camera[4, 0], camera[4, 1], camera[4, 2]
    first = my + focal * camera[3, 2] / 40.0
    for i in range(count):
        v = first + (high * 1.06 - first) * (i + chance(i, 5, 1)) / count
        u = (chance(i, 1, 2) * 1.04 - 0.02) * wide
        deep = camera[3, 2] / ((v - my) / focal)
        a = (u - mx) / focal
        px = camera[3, 0] + deep * (camera[2, 0] + a * camera[0, 0])
        py = camera[3, 1] + deep * (camera[2, 1] + a * camera[0, 1])
        length = _turf(px, py, base) * (0.7 + 0.9 * chance(i, 2, 3))
        tall = max(1.0, length * focal / deep)
        lean = (chance(i, 3, 4) - 0.5) * 1.5 * tall
        half = max(0.40, 0.0011 * focal / deep)
        hue, tone = chance(i, 4, 5), 0.62 + 0.85 * chance(i, 6, 6)
        fade = min(1.0, 5.5 / deep) * 0.5 + 0.32
        steps = int(tall * 1.3) + 1
        for s in range(steps + 1):
            w = s / steps
            x, y = u + lean * w * w, v - tall * w
            width = half * (1.05 - 0.75 * w)
            glow = tone * (0.55 + 0.75 * w)
            for ix in range(math.floor(x - width), math.floor(x + width) + 1):
                iy = math.floor(y)
                if ix < 0 or iy < 0 or ix >= wide or iy >= high:
                    continue
                cover = min(ix + 1.0, x + width) - max(float(ix), x - width)
                if cover <= 0:
                    continue
                alpha = min(1.0, cover) * fade
                for c in range(3):
                    tint = 1.0 + (0.30 * hue if c == 0 else (0.08 * hue if c == 1 else -0.10 * hue))
                    sky = base[c] * tint * glow * light[2, c]
                    sun = base[c] * tint * glow * light[1, c] * (0.42 + 0.58 * light[0, 2])
                    lit[iy, ix, c] = lit[iy, ix, c] * (1 - alpha) + (sky + sun) * alpha
                    dark[iy, ix, c] = dark[iy, ix, c] * (1 - alpha) + sky * alpha


@njit(cache=True)
def _wall(lit: Any, dark: Any, ground: Any, camera: Any, light: Any, box: Any) -> None:  # noqa: PLR0912 - one kernel
    high, wide = lit.shape[0], lit.shape[1]
    face, thick, near, far, top = box[0], box[1], box[2], box[3], box[4]
    for y in range(high):
        for x in range(wide):
            # Ground beside the foot of the wall gets less sky.
            gx, gy = ground[y, x, 0], ground[y, x, 1]
            if ground[y, x, 3] == 1.0 and near - 0.5 < gy < far + 0.5 and face - thick - 0.5 < gx < face + 0.6:
                dx, dy = max(gx - face, face - thick - gx, 0.0), max(near - gy, gy - far, 0.0)
                shut = 1 - 0.55 * math.exp(-math.sqrt(dx * dx + dy * dy) / 0.10)
                for c in range(3):
                    sun = lit[y, x, c] - dark[y, x, c]
                    dark[y, x, c] *= shut
                    lit[y, x, c] = dark[y, x, c] + sun * (0.4 + 0.6 * shut)
            hits, lights, shadows = 0, np.zeros(3), np.zeros(3)
            place, kind = np.zeros(3), 0.0
            for s in range(4):
                a = (x + 0.25 + 0.5 * (s % 2) - camera[4, 1]) / camera[4, 0]
                b = (y + 0.25 + 0.5 * (s // 2) - camera[4, 2]) / camera[4, 0]
                rx = camera[2, 0] + a * camera[0, 0]
                ry = camera[2, 1] + a * camera[0, 1]
                rz = -b
                best, side = 1e9, 0
                if rx < 0:
                    t = (face - camera[3, 0]) / rx
                    yy, zz = camera[3, 1] + ry * t, camera[3, 2] + rz * t
                    if t > 0 and near < yy < far and 0 < zz < top:
                        best, side = t, 1
                if ry > 0:
                    t = (near - camera[3, 1]) / ry
                    xx, zz = camera[3, 0] + rx * t, camera[3, 2] + rz * t
                    if 0 < t < best and face - thick < xx < face and 0 < zz < top:
                        best, side = t, 2
                if side == 0:
                    continue
                hits += 1
                wx, wy, wz = camera[3, 0] + rx * best, camera[3, 1] + ry * best, camera[3, 2] + rz * best
                place[0], place[1], place[2] = wx, wy, wz
                kind = 2.0 if side == 1 else 0.0
                along = wy if side == 1 else wx
                grain = (
                    0.90
                    + 0.16 * layers(along * 55, wz * 55, 3, 71)
                    + 0.10 * (layers(along * 2.3, wz * 1.4, 4, 72) - 0.5)
                )
                facing = light[0, 0] if side == 1 else -light[0, 1]
                foot = 1 - 0.45 * math.exp(-wz / 0.12)
                if wz < 0.17:
                    grain *= 0.62
                if wz > top - 0.07:
                    grain *= 0.82
                grain *= 1 - 0.18 * math.exp(-wz / 0.30) * layers(along * 9, wz * 3, 3, 75)
                for c in range(3):
                    paint = (0.40, 0.385, 0.35)[c] * grain
                    sky = paint * (light[2, c] * 0.52 + light[3, c] * 0.6 * math.exp(-wz * 0.6)) * foot
                    shadows[c] += sky
                    lights[c] += sky + paint * light[1, c] * max(0.0, facing)
            if hits:
                share = hits / 4.0
                for c in range(3):
                    lit[y, x, c] = lit[y, x, c] * (1 - share) + lights[c] / 4
                    dark[y, x, c] = dark[y, x, c] * (1 - share) + shadows[c] / 4
                if hits >= 2:
                    ground[y, x, 0], ground[y, x, 1], ground[y, x, 2] = place[0], place[1], place[2]
                    ground[y, x, 3] = kind


def camera_table(camera: Camera) -> Array:
    """The camera as the kernels read it: right, down, forward, place, (focal, centre x, centre y); float64 (5, 3)."""
    return np.vstack([camera.axes(), np.array(camera.place), [camera.focal, camera.centre_x, camera.centre_y]])


def backdrop(
    camera: Camera,
    light: Light,
    *,
    seed: int,
    stick: tuple[float, float, float] | None = None,
    wall: Wall | None = None,
) -> Backdrop:
    """Draw everything that stands still.

    Args:
        camera: the tripod.
        light: hour of the day.
        seed: another number, other clouds and trees.
        stick: alignment stick as (x, from y, to y) in metres on the ground.
        wall: a plain wall beside the player.
    """
    high, wide = camera.height, camera.width
    table, lamp = camera_table(camera), light.table()
    lit = np.zeros((high, wide, 3), np.float32)
    ground = np.zeros((high, wide, 4), np.float32)
    haze = np.array(light.horizon) * 0.62 + np.array(light.sky) * 0.08
    _sky(lit, table, np.array(light.zenith), np.array(light.horizon), np.array(light.cloud), lamp[0], seed)
    dark = lit.copy()
    _grass(lit, dark, ground, table, lamp, haze)
    woods(lit, camera, light, haze, seed)
    near_woods(lit, camera, light, haze, seed)
    flat = ground[..., 3] < 0.5
    dark[flat] = lit[flat]
    # A phone focused at five metres leaves the far end of the range a little soft.
    soft = [cv2.GaussianBlur(picture, (0, 0), 1.7 * wide / 1920) for picture in (lit, dark)]
    edge = camera.centre_y + camera.focal * camera.place[2] / 24.0
    weight = np.clip((edge - np.arange(high)) / (20 * wide / 1920), 0, 1).astype(np.float32)[:, None, None]
    lit, dark = lit * (1 - weight) + soft[0] * weight, dark * (1 - weight) + soft[1] * weight
    _blades(lit, dark, table, lamp, int(1_500_000 * (wide / 1920) ** 2))
    if stick is not None:
        _stick(lit, dark, camera, light, stick)
    if wall is not None:
        _wall(lit, dark, ground, table, lamp, np.array([wall.face, wall.thick, wall.near, wall.far, wall.high]))
    return Backdrop(lit=lit.astype(np.float32), dark=dark.astype(np.float32), ground=ground)


def _stick(lit: Picture, dark: Picture, camera: Camera, light: Light, stick: tuple[float, float, float]) -> None:
    """A thin round stick lying in the grass, white with a plain orange end."""
    x, y0, y1 = stick
    lamp = light.table()
    k = 4
    for part, (start, end), tone in (
        (0, (y0, y1), (0.86, 0.33, 0.08)),
        (1, (y0 + 0.10, y1 - 0.10), (0.80, 0.79, 0.74)),
    ):
        for dx, height, shade in ((0.010 - part * 0.0, 0.002, 0.0), (0.0, 0.010, 1.0)):
            if shade == 0.0 and part == 1:
                continue
            width = 0.005
            corners = np.array(
                [
                    [x + dx - width, start, height],
                    [x + dx + width, start, height],
                    [x + dx + width, end, height],
                    [x + dx - width, end, height],
                ]
            )
            places = camera.project(corners)
            mask = np.zeros((lit.shape[0], lit.shape[1]), np.uint8)
            low, top = np.floor(places.min(0)).astype(int) - 2, np.ceil(places.max(0)).astype(int) + 3
            tile = np.zeros(((top[1] - low[1]) * k, (top[0] - low[0]) * k), np.uint8)
            cv2.fillPoly(tile, [np.round((places - low) * k * 16).astype(np.int32)], 255, cv2.LINE_8, 4)
            small = cv2.resize(tile, None, fx=1 / k, fy=1 / k, interpolation=cv2.INTER_AREA)
            ys, xs = (
                slice(max(low[1], 0), min(top[1], mask.shape[0])),
                slice(max(low[0], 0), min(top[0], mask.shape[1])),
            )
            mask[ys, xs] = small[ys.start - low[1] : ys.stop - low[1], xs.start - low[0] : xs.stop - low[0]]
            cover = (mask / 255.0).astype(np.float32)[..., None] * (1.0 if shade else 0.6)
            paint = np.array(tone) * shade + (1 - shade) * np.array([0.02, 0.03, 0.01])
            lit[:] = lit * (1 - cover) + cover * (paint * (lamp[1] * 0.62 + lamp[2] * 0.9)).astype(np.float32)
            dark[:] = dark * (1 - cover) + cover * (paint * lamp[2] * 0.9).astype(np.float32)

"""A scene with the texture of real ones, filmed by hand: grass, a hedge of leaves and clouds at their own distances.

Nothing here is a photograph, but what makes real footage hard to follow is in it: texture of all scales (power falling
with the square of frequency, as natural images have it: Field 1987, from memory), repetition (stripes of a mown lawn),
parallax between near grass and a far hedge, a rolling shutter whose rows are exposed one after another, motion blur
within a row's exposure left out, sensor noise, and the coding of a phone. Where every spot truly lies is known.

Lengths are metres: x to the right, y down, z away from the camera; the lens stands 0.95 above the grass.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point, Size

SIZE = Size(960, 540)
FPS = 30
LENS, HEDGE, FOCAL = 0.95, 25.0, 860.0
READ_OUT = 0.018
"""Seconds from the first row to the last: phones take 10 to 25 ms, from memory."""
_PLAYER_AT = 4.2
_SCALE = 90.0
"""Texture samples a metre of grass."""

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Hand:
    """How a camera is held: degrees of sway, centimetres by which its lens wanders, noise in code values."""

    turn: float = 1.0
    wander: float = 0.3
    noise: float = 2.5
    rolling: bool = True


def pink(height: int, width: int, seed: int, power: float = 1.0) -> NDArray[np.float32]:
    """Noise whose amplitude falls with frequency, tileable; mean 0, deviation 1; float32, shape (height, width)."""
    rng = np.random.default_rng(seed)
    rows, columns = np.fft.fftfreq(height)[:, None] * height, np.fft.rfftfreq(width)[None, :] * width
    frequency = np.hypot(rows, columns)
    frequency[0, 0] = 1
    spectrum = np.fft.rfft2(rng.normal(size=(height, width))) / frequency**power
    spectrum[0, 0] = 0
    made = np.fft.irfft2(spectrum, s=(height, width))
    return np.asarray(made / made.std(), np.float32)


@cache
def _textures() -> dict[str, list[NDArray[np.float32]]]:
    """Grey of each surface, sharp and ever softer, so that what lies far does not shimmer."""
    grass = 96 + 20 * pink(2048, 2048, 1) + 13 * pink(2048, 2048, 2, 0.35)
    grass += 9 * np.sign(np.sin(np.arange(2048) / 2048 * 2 * math.pi * 6))[None, :]  # mown in stripes
    leaves = 78 + 26 * pink(1024, 2048, 3, 0.8) + 12 * pink(1024, 2048, 4, 0.4)
    clouds = 182 + 16 * pink(1024, 2048, 5, 1.6)
    made = {}
    for name, picture in (("grass", grass), ("leaves", leaves), ("clouds", clouds)):
        soft = [np.asarray(picture, np.float32)]
        for step in (2, 4, 8, 16, 32):
            soft.append(cv2.blur(soft[0], (step, step), borderType=cv2.BORDER_REFLECT_101))
        made[name] = soft
    return made


def _sampled(name: str, x: Floats, y: Floats, step: Floats) -> NDArray[np.float32]:
    """A surface at texture coordinates, averaged over about `step` samples."""
    levels = _textures()[name]
    which = np.clip(np.rint(np.log2(np.maximum(step, 1))), 0, len(levels) - 1).astype(int)
    height, width = levels[0].shape
    at = (np.mod(x, width - 1).astype(np.float32), np.mod(y, height - 1).astype(np.float32))
    found = np.zeros(x.shape, np.float32)
    for k in np.unique(which):
        taken = cv2.remap(levels[k], at[0], at[1], cv2.INTER_LINEAR)
        found = np.where(which == k, taken, found)
    return found


def pose(time: Floats, hand: Hand) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """Pan, tilt, roll in radians and the lens's place in metres at moments: slow sway, a tremor of 8 or 9 a second."""
    slow, fast = 2 * math.pi * time, 2 * math.pi * 8 * time
    pan = hand.turn * np.radians(0.8 * np.sin(0.5 * slow) + 0.05 * np.sin(fast))
    tilt = hand.turn * np.radians(0.5 * np.sin(0.37 * slow + 1) - 0.5 * math.sin(1) + 0.04 * np.sin(1.1 * fast))
    roll = hand.turn * np.radians(0.4 * np.sin(0.42 * slow))
    place = [hand.wander / 100 * np.sin(rate * slow + start) for rate, start in ((0.45, 0.3), (0.6, 1.1), (0.33, 2.0))]
    return pan, tilt, roll, place[0], place[1], place[2]


def _moment(frame: int, y: Floats, hand: Hand) -> Floats:
    """When a row of a frame is exposed."""
    return frame / FPS + (READ_OUT * (y / SIZE.height - 0.5) if hand.rolling else np.zeros_like(y))


def _turned(x: Floats, y: Floats, z: Floats, pan: Floats, tilt: Floats, roll: Floats) -> tuple[Floats, Floats, Floats]:
    """Roll, then tilt, then pan."""
    x, y = x * np.cos(roll) - y * np.sin(roll), x * np.sin(roll) + y * np.cos(roll)
    y, z = y * np.cos(tilt) - z * np.sin(tilt), y * np.sin(tilt) + z * np.cos(tilt)
    x, z = x * np.cos(pan) + z * np.sin(pan), -x * np.sin(pan) + z * np.cos(pan)
    return x, y, z


def _back(x: Floats, y: Floats, z: Floats, pan: Floats, tilt: Floats, roll: Floats) -> tuple[Floats, Floats, Floats]:
    """The way back of `_turned`."""
    x, z = x * np.cos(pan) - z * np.sin(pan), x * np.sin(pan) + z * np.cos(pan)
    y, z = y * np.cos(tilt) + z * np.sin(tilt), -y * np.sin(tilt) + z * np.cos(tilt)
    x, y = x * np.cos(roll) + y * np.sin(roll), -x * np.sin(roll) + y * np.cos(roll)
    return x, y, z


def _struck(frame: int, x: Floats, y: Floats, hand: Hand) -> tuple[Floats, Floats, Floats, NDArray[np.int_]]:
    """What is seen at pixels of a frame: its place in the world, and 0 for grass, 1 for the hedge, 2 for clouds."""
    pan, tilt, roll, ox, oy, oz = pose(_moment(frame, y, hand), hand)
    dx, dy, dz = _turned((x - SIZE.width / 2) / FOCAL, (y - SIZE.height / 2) / FOCAL, np.ones_like(x), pan, tilt, roll)
    down = np.where(dy > 1e-6, (LENS - oy) / np.maximum(dy, 1e-6), np.inf)
    away = (HEDGE - oz) / dz
    kind = np.where((down * dz + oz < HEDGE) & np.isfinite(down), 0, 1)
    far = np.where(kind == 0, down, away)
    wx, wy, wz = ox + far * dx, oy + far * dy, oz + far * dz
    kind = np.where((kind == 1) & (wy < LENS - 5.5), 2, kind)
    return wx, wy, wz, kind


def filmed(frame: int, hand: Hand, *, player: bool = True) -> Picture:
    """The picture of a frame: uint8, shape (height, width, 3)."""
    columns, rows = np.meshgrid(np.arange(SIZE.width) + 0.5, np.arange(SIZE.height) + 0.5)
    wx, wy, wz, kind = _struck(frame, columns, rows, hand)
    pixel = wz / FOCAL  # metres that a pixel covers across
    grass = _sampled("grass", wx * _SCALE, wz * _SCALE, pixel * _SCALE * np.maximum(1, wz / (4 * LENS)))
    leaves = _sampled("leaves", wx * 40, wy * 40, pixel * 40)
    sky = _sampled("clouds", wx * 20, wy * 20, pixel * 20)
    grey = np.choose(kind, (grass, leaves, sky)).astype(np.float32)
    tint = {0: (0.78, 1.0, 0.5), 1: (0.7, 1.0, 0.55), 2: (0.92, 0.97, 1.05)}
    made = np.stack([grey * np.choose(kind, [tint[k][c] for k in range(3)]) for c in range(3)], axis=-1)
    if player:
        _with_player(made, frame, hand)
    noise = np.random.default_rng(frame).normal(0, hand.noise, made.shape)
    return np.clip(made + noise, 0, 255).astype(np.uint8)


def _with_player(made: NDArray[np.float32], frame: int, hand: Hand) -> None:
    """Somebody at the usual distance, who moves by themselves."""
    body = 120 + 45 * pink(256, 128, 8)
    sway = 0.12 * math.sin(frame / 6)
    corner = project(frame, -0.28 + sway, LENS - 1.7, _PLAYER_AT, hand)
    high, wide = round(1.7 * FOCAL / _PLAYER_AT), round(0.56 * FOCAL / _PLAYER_AT)
    left, top = round(corner[0]), round(corner[1])
    patch = cv2.resize(body, (wide, high))[..., None] * np.array([1.2, 0.5, 0.5], np.float32)
    end = min(top + high, SIZE.height)
    made[top:end, left : left + wide] = patch[: end - top]


def project(frame: int, x: float, y: float, z: float, hand: Hand) -> tuple[float, float]:
    """Where a place of the world is seen in a frame, in pixels; the row that sees it says when it is seen."""
    row = np.array(SIZE.height / 2)
    at = np.array([SIZE.width / 2, SIZE.height / 2])
    for _ in range(12):
        pan, tilt, roll, ox, oy, oz = pose(_moment(frame, row, hand), hand)
        cx, cy, cz = _back(np.array(x - ox), np.array(y - oy), np.array(z - oz), pan, tilt, roll)
        at = np.array([SIZE.width / 2 + FOCAL * cx / cz, SIZE.height / 2 + FOCAL * cy / cz])
        row = np.array(at[1])
    return float(at[0]), float(at[1])


def true_spot(point: Point, anchor: int, frame: int, hand: Hand) -> Point:
    """Where a spot of the anchor's background lies in another frame; fractions of the picture."""
    x, y = np.array([point.x * SIZE.width]), np.array([point.y * SIZE.height])
    wx, wy, wz, _ = _struck(anchor, x, y, hand)
    at = project(frame, float(wx[0]), float(wy[0]), float(wz[0]), hand)
    return Point(at[0] / SIZE.width, at[1] / SIZE.height)

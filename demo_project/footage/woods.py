"""Hills and trees behind the practice tee, painted from puffs of leaves."""

# mypy: disable-error-code="no-untyped-call,untyped-decorator"

from __future__ import annotations

import math
from typing import Any

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

from .camera import Camera
from .light import Light
from .noise import layers

Array = NDArray[np.float64]
Picture = NDArray[np.float32]


@njit(cache=True)
def _canopy(
    out: Any,
    cover: Any,
    cx: float,
    cy: float,
    radius: float,
    squash: float,
    leaf: Any,
    sun: Any,
    sky: Any,
    haze: Any,
    fog: float,
    sx: float,
    sy: float,
    seed: int,
) -> None:
    high, wide = out.shape[0], out.shape[1]
    y0, y1 = max(0, int(cy - radius * 1.25)), min(high, int(cy + radius * 1.25) + 1)
    x0, x1 = max(0, int(cx - radius * 1.25)), min(wide, int(cx + radius * 1.25) + 1)
    for y in range(y0, y1):
        for x in range(x0, x1):
            dx, dy = (x - cx) / radius, (y - cy) / (radius * squash)
            rag = layers(x * 0.16, y * 0.16, 3, seed) - 0.5
            r2 = (dx * dx + dy * dy) * (1.0 + 1.1 * rag)
            if r2 >= 1:
                continue
            nz = math.sqrt(1 - min(1.0, r2))
            grain = layers(x * 0.33 + 40, y * 0.40, 3, seed + 9)
            lit = max(0.0, 0.34 * nz + 0.78 * (dx * sx - dy * sy)) * (0.25 + 1.7 * grain)
            shut = 0.26 + 0.50 * (0.5 - 0.5 * dy) * (0.5 + grain)
            edge = min(1.0, (1 - r2) * 6)
            for c in range(3):
                tone = leaf[c] * (lit * sun[c] + shut * sky[c])
                tone = tone * (1 - fog) + haze[c] * fog
                out[y, x, c] = out[y, x, c] * (1 - edge) + tone * edge
            cover[y, x] = 1.0


def _lean(camera: Camera, light: Light) -> tuple[float, float]:
    """Direction of the sun in the picture: to the right and up."""
    toward = np.array(light.toward) / np.linalg.norm(light.toward)
    return float(toward @ camera.axes()[0]), float(toward[2])


def woods(lit: Picture, camera: Camera, light: Light, haze: Array, seed: int) -> None:
    """Hills and the far tree line."""
    rng = np.random.default_rng(seed)
    high, wide = lit.shape[:2]
    k = wide / 1920
    sx, sy = _lean(camera, light)
    cover = np.zeros((high, wide), np.float32)
    sun, sky = np.array(light.sun), np.array(light.sky)
    xs = np.arange(wide) / k
    for rise, wave, blue, tint in ((128, 760, 0.74, 0.10), (92, 430, 0.58, 0.13)):
        line = sum(np.sin(xs / wave * (1 + 0.7 * i) * 2 + rng.uniform(0, 6.28)) / (1 + i) for i in range(4))
        top = camera.centre_y - k * (rise + rise * 0.34 * line)
        rows = np.arange(high)[:, None]
        mask = (rows > top[None, :]) & (rows < camera.centre_y + 1)
        tone = (np.array([0.11, 0.15, 0.07]) * (sun * 0.5 + sky)) * (1 - blue) + haze * blue * (0.86 + tint)
        lit[mask] = tone
    leaf = np.array([0.052, 0.080, 0.026])
    for far, fog, size in ((170, 0.27, 11.0), (120, 0.16, 12.0)):
        base = camera.centre_y + camera.focal * camera.place[2] / far
        tall = camera.focal * size / far
        for _ in range(int(150 * 120 / far)):
            x = rng.uniform(-0.03, 1.03) * wide
            h = tall * rng.uniform(0.55, 1.05)
            for _ in range(3):
                _canopy(
                    lit,
                    cover,
                    x + rng.normal() * h * 0.22,
                    base - h * rng.uniform(0.25, 0.7),
                    h * rng.uniform(0.28, 0.42),
                    1.0,
                    leaf * rng.uniform(0.75, 1.25),
                    sun,
                    sky,
                    haze,
                    fog,
                    sx,
                    sy,
                    int(rng.integers(1000)),
                )


def near_woods(lit: Picture, camera: Camera, light: Light, haze: Array, seed: int) -> None:
    """Larger trees left and right that frame the range, with trunks and the shade at their feet."""
    rng = np.random.default_rng(seed + 50)
    high, wide = lit.shape[:2]
    sx, sy = _lean(camera, light)
    cover = np.zeros((high, wide), np.float32)
    sun, sky, k = np.array(light.sun), np.array(light.sky), wide / 1920
    shades = np.zeros((high, wide), np.float32)
    spots = [(rng.uniform(-0.06, 0.23) if i % 2 else rng.uniform(0.78, 1.06), rng.uniform(46, 82)) for i in range(15)]
    trees = [
        (share * wide, far, camera.focal * rng.uniform(8.0, 12.5) / far)
        for share, far in sorted(spots, key=lambda spot: -spot[1])
    ]
    for x, far, tall in trees:
        # Shade on the ground under the crown, an ellipse as the low camera sees it.
        base = camera.centre_y + camera.focal * camera.place[2] / far
        shade = np.zeros((high, wide), np.float32)
        cv2.ellipse(
            shade,
            (int(x - sx * tall * 0.3), int(base)),
            (int(tall * 0.42), max(1, int(tall * 0.035))),
            0,
            0,
            360,
            1.0,
            -1,
        )
        shades = np.maximum(shades, cv2.GaussianBlur(shade, (0, 0), 2.0 * k))
    lit *= 1 - 0.55 * shades[..., None]
    for x, far, tall in trees:
        base = camera.centre_y + camera.focal * camera.place[2] / far
        fog = far / 700
        y0 = int(base - tall * 0.5)
        trunk = max(1, int(tall * 0.028))
        left = int(x) - trunk
        if 0 <= left < wide - 2 * trunk:
            tone = np.array([0.06, 0.045, 0.032]) * (sun * 0.35 + sky * 0.7) * (1 - fog) + haze * fog
            lit[y0 : int(base), left : left + 2 * trunk] = tone
        leaf = np.array([0.058, 0.092, 0.028]) * rng.uniform(0.8, 1.3)
        for _ in range(26):
            angle, out = rng.uniform(0, 6.28), np.sqrt(rng.uniform(0, 1))
            cx, cy = x + np.cos(angle) * out * tall * 0.34, base - tall * 0.60 + np.sin(angle) * out * tall * 0.32
            _canopy(
                lit,
                cover,
                cx,
                cy,
                tall * rng.uniform(0.10, 0.20),
                0.85,
                leaf * (0.72 + 0.5 * max(0.0, (base - tall * 0.45 - cy) / tall)),
                sun,
                sky,
                haze,
                fog,
                sx,
                sy,
                int(rng.integers(1000)),
            )

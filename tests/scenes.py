"""Scenes filmed by a hand-held camera whose path is known: a wide picture, seen through a projection of each frame.

A camera that turns about a spot near itself sees `K R(k) K^-1` of what it saw first, whatever the distance of things
(Hartley and Zisserman, Multiple View Geometry, 2nd ed., section 8.4; from memory). That is how the pictures are made,
so the path of every spot is known exactly.
"""

from __future__ import annotations

import math
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point, Size

Picture = NDArray[np.uint8]
SIZE = Size(640, 360)
FOCAL = 560.0


@cache
def textured(size: Size, seed: int = 5) -> Picture:
    """Noise of all scales, as turf, leaves and gravel have: uint8, shape (height, width, 3). Shared: read only."""
    rng = np.random.default_rng(seed)
    total = np.zeros((size.height, size.width), np.float32)
    for step in (2, 4, 8, 16, 32, 64):
        small = rng.normal(size=(size.height // step + 2, size.width // step + 2)).astype(np.float32)
        total += cv2.resize(small, (size.width, size.height), interpolation=cv2.INTER_CUBIC) * step**0.4
    total = (total - total.mean()) / total.std()
    grey = np.clip(118 + 30 * total, 16, 235)
    made = np.stack([grey * 0.8, grey, grey * 0.6], axis=-1).clip(0, 255).astype(np.uint8)
    made.flags.writeable = False
    return made


def turn_of(frame: int, shake: float = 1.0) -> tuple[float, float, float]:
    """How a hand holds a camera, in degrees: pan, tilt and roll of a frame, slow sway with a tremor on it."""
    pan = 0.9 * math.sin(frame / 9) + 0.15 * math.sin(frame / 1.7)
    tilt = 0.6 * math.sin(frame / 13 + 1) - 0.6 * math.sin(1) + 0.12 * math.sin(frame / 2.1)
    roll = 0.5 * math.sin(frame / 11)
    return shake * pan, shake * tilt, shake * roll


def seen_from(frame: int, shake: float = 1.0) -> NDArray[np.float64]:
    """The projection from the first frame's picture to another's, in pixels whose centres lie at half numbers; 3x3."""
    pan, tilt, roll = (math.radians(angle) for angle in turn_of(frame, shake))
    around = [
        np.array([[math.cos(pan), 0, math.sin(pan)], [0, 1, 0], [-math.sin(pan), 0, math.cos(pan)]]),
        np.array([[1, 0, 0], [0, math.cos(tilt), -math.sin(tilt)], [0, math.sin(tilt), math.cos(tilt)]]),
        np.array([[math.cos(roll), -math.sin(roll), 0], [math.sin(roll), math.cos(roll), 0], [0, 0, 1]]),
    ]
    lens = np.array([[FOCAL, 0, SIZE.width / 2], [0, FOCAL, SIZE.height / 2], [0, 0, 1.0]])
    made = lens @ around[2] @ around[1] @ around[0] @ np.linalg.inv(lens)
    return np.asarray(made / made[2, 2])


def true_spot(point: Point, frame: int, shake: float = 1.0) -> Point:
    """Where a spot of the first frame's background lies in another one; fractions of the picture."""
    x, y, depth = seen_from(frame, shake) @ np.array([point.x * SIZE.width, point.y * SIZE.height, 1.0])
    return Point(x / depth / SIZE.width, y / depth / SIZE.height)


def hand_held(world: Picture, frame: int, shake: float = 1.0, *, player: bool = True) -> Picture:
    """The picture of a frame: the world's middle as the camera sees it, and a player who moves by himself.

    Args:
        world: a picture larger than `SIZE` on all sides.
        frame: which one.
        shake: how unsteady the hand is; 0 for a tripod.
        player: whether someone stands in front of it.
    """
    left, top = (world.shape[1] - SIZE.width) / 2, (world.shape[0] - SIZE.height) / 2
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])  # from samples of arrays to pixels
    shift = np.array([[1, 0, -left], [0, 1, -top], [0, 0, 1]])
    matrix = np.linalg.inv(half) @ seen_from(frame, shake) @ shift @ half
    picture = cv2.warpPerspective(world, matrix, (SIZE.width, SIZE.height), flags=cv2.INTER_CUBIC)
    if player:
        sway = 26 * math.sin(frame / 6)
        body = textured(Size(90, 200), seed=9)[..., ::-1]
        x = round(SIZE.width / 2 - 45 + sway)
        picture[100:300, x : x + 90] = body
    return np.asarray(picture, np.uint8)

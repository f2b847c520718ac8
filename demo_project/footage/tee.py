"""The still of the empty practice tee in the evening, made as a background for titles."""

from __future__ import annotations

import os
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from .camera import Camera
from .club import draw_ball
from .field import FAR
from .light import GOLDEN
from .picture import encode
from .scene import backdrop
from .swing import BALL_RADIUS


def shoot_tee(path: Path, scale: float) -> None:
    """Write the still, 1920 x 1080 at scale 1, as PNG."""
    camera = Camera(
        place=(0.0, -3.6, 0.62),
        heading=(0.0, 1.0),
        focal=1500.0,
        width=1920,
        height=1080,
        centre_x=960.0,
        centre_y=640.0,
    ).scaled(scale)
    light = GOLDEN.table()
    back = backdrop(camera, GOLDEN, seed=5)
    picture, ground = back.lit, back.ground
    for x, y in ((-0.62, -1.35), (-0.47, -1.28), (-0.55, -1.20)):
        ball = np.array([x, y, BALL_RADIUS])
        # The ball's shadow falls toward the camera: the sun is low beyond the tee.
        away = ground[..., :2] - ball[:2]
        run = -light[0, :2] / np.linalg.norm(light[0, :2])
        along = away @ run
        across = away @ np.array([-run[1], run[0]])
        reach = BALL_RADIUS / light[0, 2]
        inside = ((along - reach) / (reach * 1.02)) ** 2 + (across / BALL_RADIUS) ** 2
        shade = np.clip(1.6 - 1.6 * inside, 0, 1)[..., None] * (ground[..., 3:] > 0)
        picture = picture + (back.dark * 0.8 - picture) * shade.astype(np.float32)
    depth = np.full(picture.shape[:2], FAR, np.float32)
    picture = np.ascontiguousarray(picture, dtype=np.float32)
    for x, y in ((-0.55, -1.20), (-0.47, -1.28), (-0.62, -1.35)):
        ball = np.array([x, y, BALL_RADIUS])
        deep = float(camera.depth(ball))
        draw_ball(
            picture,
            depth,
            np.array([[*camera.project(ball), deep, camera.focal * BALL_RADIUS / deep]]),
            light,
            camera.axes(),
            1.0,
        )
    _flag(picture, camera)
    partial = path.with_name(f".{path.stem}.{os.getpid()}.partial.png")
    cv2.imwrite(str(partial), encode(picture)[..., ::-1])
    partial.replace(path)


def _flag(picture: NDArray[np.float32], camera: Camera) -> None:
    """A plain red flag on a pole, far down the range."""
    foot = np.array([6.5, 42.0, 0.0])
    up, along = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])
    pole = camera.project(np.array([foot, foot + 2.3 * up]))
    cloth = camera.project(
        np.array([foot + 2.28 * up, foot + 0.62 * along + 2.12 * up, foot + 0.58 * along + 1.86 * up, foot + 1.80 * up])
    )
    k = 4
    high, wide = picture.shape[:2]
    for shape, tone in ((None, (0.9, 0.8, 0.62)), (cloth, (0.75, 0.09, 0.05))):
        mask = np.zeros((high * k, wide * k), np.uint8)
        if shape is None:
            foot_px, top_px = (tuple(int(v) for v in end * k) for end in pole)
            cv2.line(mask, foot_px, top_px, 255, max(1, round(0.045 * camera.focal / 45 * k)))
        else:
            cv2.fillPoly(mask, [np.round(shape * k).astype(np.int32)], 255)
        cover = np.asarray(cv2.resize(mask, (wide, high), interpolation=cv2.INTER_AREA), np.float32)[..., None] / 255
        picture[:] = picture * (1 - cover) + np.array(tone, np.float32) * cover

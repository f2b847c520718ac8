"""One finished frame: backdrop, shadow, figure, ball, club, sensor noise."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from .body import figure
from .camera import Camera
from .club import club_pixels, draw_ball, draw_club
from .field import FAR
from .light import Light
from .players import Player
from .scene import Backdrop, camera_table
from .shapes import BELT, CAP, COLLAR, DARK, GLOVE, HAIR, LIPS, SHIRT, SHOES, SKIN, SOLES, TROUSERS
from .skeleton import Pose
from .swing import BALL_RADIUS
from .trace import TILE, render, smooth_edges

Array = NDArray[np.float64]
Bytes = NDArray[np.uint8]


def paint_table(player: Player) -> Array:
    """Surface of each group: colour, wrap, gloss, gloss power, rim; float64 (12, 7). Invented."""
    dress = player.dress
    table = np.zeros((13, 7))

    def put(
        group: int, colour: tuple[float, float, float], wrap: float, gloss: float, power: float, rim: float
    ) -> None:
        table[group] = [*colour, wrap, gloss, power, rim]

    put(SKIN, dress.skin, 0.16, 0.045, 14, 0.05)
    put(SHIRT, dress.shirt, 0.06, 0.012, 8, 0.07)
    put(COLLAR, (dress.shirt[0] * 0.86, dress.shirt[1] * 0.86, dress.shirt[2] * 0.86), 0.06, 0.012, 8, 0.06)
    put(TROUSERS, dress.trousers, 0.06, 0.010, 8, 0.05)
    put(SHOES, dress.shoes, 0.05, 0.10, 24, 0.05)
    put(SOLES, (0.55, 0.54, 0.51), 0.05, 0.05, 18, 0.03)
    put(HAIR, dress.hair_colour, 0.10, 0.14, 22, 0.05)
    put(CAP, dress.cap, 0.06, 0.02, 10, 0.06)
    put(BELT, dress.belt, 0.03, 0.14, 30, 0.03)
    put(GLOVE, dress.glove, 0.08, 0.03, 12, 0.04)
    put(DARK, (0.030, 0.020, 0.016), 0.0, 0.10, 40, 0.0)
    put(LIPS, (dress.skin[0] * 0.86, dress.skin[1] * 0.68, dress.skin[2] * 0.70), 0.14, 0.06, 16, 0.03)
    return table


def encode(linear: NDArray[np.float32]) -> Bytes:
    """Display values of linear light: a soft shoulder, then the sRGB curve (IEC 61966-2-1); shape (h, w, 3)."""
    table = _display_table()
    return np.asarray(table[np.minimum(linear * 1024.0, 4095).astype(np.int32)])


def _display_table() -> Bytes:
    if not _TABLE:
        x = (np.arange(4096) + 0.5) / 1024 * 0.95
        x = np.clip(x * (2.51 * x + 0.03) / (x * (2.43 * x + 0.59) + 0.14), 0, 1)
        _TABLE.append(
            np.round(np.where(x < 0.0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - 0.055) * 255).astype(np.uint8)
        )
    return _TABLE[0]


_TABLE: list[Bytes] = []


@dataclass(slots=True, kw_only=True)
class Stage:
    """Camera, light and backdrop of a clip, with what is worked out once."""

    camera: Camera
    light: Light
    backdrop: Backdrop
    still: Bytes = field(init=False)
    noise: NDArray[np.int8] = field(init=False)

    def __post_init__(self) -> None:
        self.still = encode(self.backdrop.lit)
        rng = np.random.default_rng(5)
        shape = (self.camera.height + 128, self.camera.width + 128, 1)
        self.noise = np.clip(np.round(rng.normal(0, 0.9, shape)), -4, 4).astype(np.int8)


def draw(
    stage: Stage, player: Player | None, poses: list[Pose], balls: list[Array], frame: int, *, club: bool = True
) -> Bytes:
    """Draw one frame.

    Args:
        stage: the set.
        player: who is in the picture, if anyone.
        poses: the moments of the exposure, the middle one gives the body.
        balls: place of the ball at the same moments, or empty.
        frame: index, for the noise.
        club: whether she holds one.

    Returns:
        uint8 (h, w, 3), display RGB.
    """
    camera, light, table = stage.camera, stage.light.table(), camera_table(stage.camera)
    out = stage.still.copy()
    if player is not None:
        middle = poses[len(poses) // 2]
        rows, seen = figure(player, middle, balls[len(balls) // 2] if balls else None, club=club)
        window = _window(camera, rows, light, poses if club else [], balls)
        y0, y1, x0, x1 = window
        back = stage.backdrop
        picture = back.lit[y0:y1, x0:x1].copy()
        depth = np.full(picture.shape[:2], FAR, np.float32)
        mark = np.full(picture.shape[:2], -1, np.int16)
        local = table.copy()
        local[4, 1] -= x0
        local[4, 2] -= y0
        box = _outlines(camera, rows)
        box[:, (0, 2)] -= y0
        box[:, (1, 3)] -= x0
        tiles = np.array([(y, x) for y in range(0, y1 - y0, TILE) for x in range(0, x1 - x0, TILE)])
        tiles = tiles[np.random.default_rng(0).permutation(len(tiles))]
        paint = paint_table(player)
        ground, dark = np.ascontiguousarray(back.ground[y0:y1, x0:x1]), np.ascontiguousarray(back.dark[y0:y1, x0:x1])
        render(picture, depth, mark, ground, dark, local, rows, seen, paint, light, tiles, box)
        smooth_edges(picture, picture.copy(), depth, mark, local, rows, seen, tiles, box)
        if balls:
            places = np.array(
                [
                    [*(camera.project(p) - (x0, y0)), camera.depth(p), camera.focal * BALL_RADIUS / camera.depth(p)]
                    for p in balls
                ]
            )
            if places[:, 2].min() > 0.5:
                draw_ball(picture, depth, places, light, camera.axes(), 1.0)
        if club:
            shafts, heads, tones = club_pixels(camera, poses, light)
            for part in (shafts, heads):
                part[..., 0] -= x0
                part[..., 1] -= y0
            spots = np.concatenate([shafts.reshape(-1, 3), heads.reshape(-1, 3)])
            low, top = np.floor(spots.min(0)).astype(int) - 8, np.ceil(spots.max(0)).astype(int) + 8
            area = np.array([max(0, low[1]), min(y1 - y0, top[1]), max(0, low[0]), min(x1 - x0, top[0])])
            draw_club(picture, depth, shafts, heads, tones, area, light, camera.focal)
        out[y0:y1, x0:x1] = encode(picture)
    return _grain(stage, out, frame)


def _grain(stage: Stage, out: Bytes, frame: int) -> Bytes:
    dy, dx = frame * 37 % 128, frame * 53 % 128
    noise = stage.noise[dy : dy + out.shape[0], dx : dx + out.shape[1]]
    return np.asarray(np.clip(out.astype(np.int16) + noise, 0, 255), dtype=np.uint8)


def _bounds(camera: Camera, rows: Array) -> Array:
    """Pixel circles around the shapes; float64 (n, 3): y, x, radius."""
    centre = rows[:, 16:19]
    deep = np.maximum(camera.depth(centre) - rows[:, 19], 0.3)
    places = camera.project(centre)
    return np.column_stack([places[:, 1], places[:, 0], camera.focal * (rows[:, 19] + 0.02) / deep * 1.03])


def _outlines(camera: Camera, rows: Array) -> Array:
    """Pixel capsules around the shapes; float64 (n, 5): y, x at either end, the larger radius with room for blends."""
    ends = [camera.project(rows[:, at : at + 3]) for at in (0, 3)]
    thick = np.maximum(rows[:, 6], rows[:, 7]) + rows[:, 13] + 0.022
    deep = np.maximum(camera.depth(rows[:, 16:19]) - rows[:, 19], 0.3)
    return np.column_stack([ends[0][:, 1], ends[0][:, 0], ends[1][:, 1], ends[1][:, 0], camera.focal * thick / deep])


def _window(
    camera: Camera, rows: Array, light: Array, poses: list[Pose], balls: list[Array]
) -> tuple[int, int, int, int]:
    """What the figure, its shadow, the club and the ball can touch of the picture: y0, y1, x0, x1, on whole tiles."""
    circles = _bounds(camera, rows)
    sun = light[0]
    feet = rows[:, 16:19] - sun * (np.maximum(rows[:, 18:19], 0) / sun[2])
    shadow = np.column_stack(
        [camera.project(feet)[:, ::-1], camera.focal * (rows[:, 19] + 0.08) / np.maximum(camera.depth(feet), 0.5)]
    )
    spots = [(c[1] - c[2], c[0] - c[2], c[1] + c[2], c[0] + c[2]) for c in np.concatenate([circles, shadow])]
    for pose in poses:
        x, y = camera.project(pose.joints["club_head"])
        spots.append((x - 60, y - 60, x + 60, y + 60))
    for ball in balls:
        if camera.depth(ball) > 0.5:
            x, y = camera.project(ball)
            spots.append((x - 12, y - 12, x + 12, y + 12))
    low, top = np.min(spots, axis=0), np.max(spots, axis=0)
    x0, y0 = (int(max(0, v)) // TILE * TILE for v in low[:2])
    x1, y1 = min(camera.width, int(max(0, top[2])) + TILE), min(camera.height, int(max(0, top[3])) + TILE)
    return y0, max(y1, y0 + 2), x0, max(x1, x0 + 2)

"""Sphere tracing of the figure, in parallel over tiles of the picture; `field.py` holds the shapes and their light."""

# numba compiles the functions below, and its own types have no stubs.
# mypy: disable-error-code="no-untyped-call,untyped-decorator"

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit, prange

from .field import FAR, distance, exposure, normal, openness, shade, sunlight

TILE = 8
_fast: Any = njit(cache=True, fastmath=True, inline="never")


@_fast
def _cast(u: float, v: float, camera: Any, rows: Any, index: Any, n: int, ray: Any, p: Any) -> tuple[float, int]:
    """One ray through pixel place (u, v): its direction into `ray`, its end into `p`.

    Returns depth (FAR for a miss) and group.
    """
    right, down, fore, eye = camera[0], camera[1], camera[2], camera[3]
    focal, mx, my = camera[4, 0], camera[4, 1], camera[4, 2]
    a, b = (u - mx) / focal, (v - my) / focal
    length = math.sqrt(1 + a * a + b * b)
    for c in range(3):
        ray[c] = (fore[c] + a * right[c] + b * down[c]) / length
    near, far = FAR, 0.0
    for i in range(n):
        r = rows[index[i]]
        cx, cy, cz = r[16] - eye[0], r[17] - eye[1], r[18] - eye[2]
        along = cx * ray[0] + cy * ray[1] + cz * ray[2]
        off = cx * cx + cy * cy + cz * cz - along * along
        reach = r[19] + 0.01
        if off < reach * reach:
            half = math.sqrt(reach * reach - off)
            near, far = min(near, along - half), max(far, along + half)
    if near >= far:
        return FAR, -1
    t = near
    for _ in range(90):
        for c in range(3):
            p[c] = eye[c] + ray[c] * t
        d, group = distance(p[0], p[1], p[2], rows, index, n, True)
        if d < 0.0006:
            # Blades of grass stand in front of the lowest few millimetres.
            blade = 0.007 + 0.010 * math.sin(p[0] * 700 + 3 * math.sin(p[1] * 410)) * math.sin(p[1] * 830 + p[0] * 290)
            if p[2] < blade:
                return FAR, -1
            return t / length, group
        t += max(d * 0.82, 0.0004)
        if t > far:
            break
    return FAR, -1


@_fast
def _touches(box: Any, i: int, y: float, x: float) -> bool:
    """Whether the tile around (y, x) can show shape `i`."""
    dy, dx = box[i, 2] - box[i, 0], box[i, 3] - box[i, 1]
    ay, ax = y - box[i, 0], x - box[i, 1]
    square = dy * dy + dx * dx
    t = min(1.0, max(0.0, (ay * dy + ax * dx) / square)) if square > 1e-9 else 0.0
    ay, ax = ay - t * dy, ax - t * dx
    reach = box[i, 4] + 2 + TILE * 0.7072
    return bool(ay * ay + ax * ax < reach * reach)


@_fast
def _ground_exposure(
    place: Any, rows: Any, shaders: Any, shaded: int, nears: Any, closed: int, light: Any, index: Any
) -> tuple[float, float]:
    """Share of the sun and of the sky that the figure leaves to a place of the backdrop; lists as in `render`."""
    sun, sky = 1.0, 1.0
    if shaded > 0:
        sun = sunlight(place[0], place[1], place[2], rows, shaders, shaded, light[0], 0.004, index)
    if closed > 0:
        up = 1.0 if place[3] < 1.5 else 0.0
        sky = openness(place[0], place[1], place[2], 1.0 - up, 0.0, up, rows, nears, closed, False, index)
    return sun, sky


@njit(cache=True, fastmath=True, parallel=True)
def render(  # noqa: PLR0912 - one kernel: tiles run side by side
    picture: Any,
    depth: Any,
    mark: Any,
    ground: Any,
    dark: Any,
    camera: Any,
    rows: Any,
    seen: int,
    paint: Any,
    light: Any,
    tiles: Any,
    box: Any,
) -> None:
    """Draw the figure and its shadow into `picture`.

    Args:
        picture: float32 (h, w, 3), linear light, the sunlit background; changed in place.
        depth: float32 (h, w), metres, FAR where the background shows; filled inside the tiles.
        mark: int16 (h, w), group seen, -1 for the background; filled inside the tiles.
        ground: float32 (h, w, 4), place of the background in metres and 1 where it takes a shadow.
        dark: float32 (h, w, 3), the background in full shadow.
        camera: float64 (5, 3): right, down, forward, place, (focal, centre x, centre y).
        rows: the shapes, float64 (n, `shapes.WIDTH`).
        seen: how many of them, from the first, are seen; the others only cast shadows.
        paint: float64 (groups, 7): colour, wrap, gloss, gloss power, rim.
        light: float64 (4, 3), see `shade`.
        tiles: int64 (n, 2), top left corners (y, x).
        box: float64 (total, 5), ends (y, x, y, x) and radius in pixels of each shape's outline.
    """
    total = rows.shape[0]
    high, wide = depth.shape
    for job in prange(tiles.shape[0]):
        y0, x0 = tiles[job, 0], tiles[job, 1]
        index = np.empty(total, dtype=np.int64)
        n = 0
        for i in range(seen):
            if _touches(box, i, y0 + TILE / 2, x0 + TILE / 2):
                index[n] = i
                n += 1
        every, spare = np.arange(total), np.empty(total, dtype=np.int64)
        colour, ray, p, nrm = np.empty(3), np.empty(3), np.empty(3), np.empty(3)
        # What of the figure can shade this tile's ground, or stand close enough to take sky from it.
        low, top = np.full(3, FAR), np.full(3, -FAR)
        for y in range(y0, min(y0 + TILE, high)):
            for x in range(x0, min(x0 + TILE, wide)):
                if ground[y, x, 3] > 0.5:
                    for c in range(3):
                        low[c], top[c] = min(low[c], ground[y, x, c]), max(top[c], ground[y, x, c])
        thin = False
        shaders, shaded, nears, closed = np.empty(total, dtype=np.int64), 0, np.empty(total, dtype=np.int64), 0
        if low[0] < FAR:
            half = 0.5 * math.sqrt((top[0] - low[0]) ** 2 + (top[1] - low[1]) ** 2 + (top[2] - low[2]) ** 2)
            for i in range(total):
                cx, cy, cz = (
                    rows[i, 16] - (low[0] + top[0]) / 2,
                    rows[i, 17] - (low[1] + top[1]) / 2,
                    rows[i, 18] - (low[2] + top[2]) / 2,
                )
                along = cx * light[0, 0] + cy * light[0, 1] + cz * light[0, 2]
                square = cx * cx + cy * cy + cz * cz
                reach = rows[i, 19] + 0.03 + half + 0.035 * max(along, 0.0)
                if along > -rows[i, 19] - half and square - along * along < reach * reach:
                    shaders[shaded] = i
                    shaded += 1
                    # A shadow thinner than two pixels would fall between the places looked at.
                    thin = thin or i >= seen
                reach = rows[i, 19] + 0.5 + half
                if i < seen and square < reach * reach:
                    nears[closed] = i
                    closed += 1
        hits = 0
        spots, lights = np.empty((TILE, TILE, 9)), np.full((TILE, TILE, 2), -1.0)
        for y in range(y0, min(y0 + TILE, high)):
            for x in range(x0, min(x0 + TILE, wide)):
                deep, group = FAR, -1
                if n > 0:
                    deep, group = _cast(x + 0.5, y + 0.5, camera, rows, index, n, ray, p)
                depth[y, x] = deep
                mark[y, x] = group
                if group >= 0:
                    hits += 1
                    normal(p[0], p[1], p[2], rows, index, n, nrm)
                    for c in range(3):
                        spots[y - y0, x - x0, c], spots[y - y0, x - x0, 3 + c], spots[y - y0, x - x0, 6 + c] = (
                            p[c],
                            nrm[c],
                            ray[c],
                        )
        if hits + shaded + closed == 0:
            continue
        # Sun and sky change slowly: they are worked out for every other pixel both ways and shared by the rest.
        for step in range(2):
            for y in range(y0, min(y0 + TILE, high)):
                for x in range(x0, min(x0 + TILE, wide)):
                    even = (y - y0) % 2 == 0 and (x - x0) % 2 == 0
                    ours = mark[y, x] >= 0
                    if even == (step == 1) or (not ours and (ground[y, x, 3] < 0.5 or shaded + closed == 0)):
                        continue
                    i, j = y - y0, x - x0
                    sun, sky, shares = 0.0, 0.0, 0.0
                    if step == 1 and (ours or not thin):
                        for q in range(4):
                            a, b = i - i % 2 + 2 * (q // 2) * (i % 2), j - j % 2 + 2 * (q % 2) * (j % 2)
                            if (
                                a < TILE
                                and b < TILE
                                and lights[a, b, 1] >= 0
                                and mark[y0 + a, x0 + b] == mark[y, x]
                                and abs(depth[y0 + a, x0 + b] - depth[y, x]) < 0.02
                                and (ours or ground[y0 + a, x0 + b, 3] == ground[y, x, 3])
                            ):
                                sun += lights[a, b, 0]
                                sky += lights[a, b, 1]
                                shares += 1
                    if shares > 0:
                        sun, sky = sun / shares, sky / shares
                    elif not ours:
                        sun, sky = _ground_exposure(ground[y, x], rows, shaders, shaded, nears, closed, light, spare)
                    else:
                        sun, sky = exposure(spots[i, j, :3], spots[i, j, 3:6], rows, seen, total, light, every, spare)
                    if step == 0:
                        lights[i, j, 0], lights[i, j, 1] = sun, sky
                    if not ours:
                        for c in range(3):
                            picture[y, x, c] = dark[y, x, c] * sky + (picture[y, x, c] - dark[y, x, c]) * sun
                        continue
                    shade(
                        spots[i, j, :3],
                        spots[i, j, 3:6],
                        spots[i, j, 6:],
                        int(mark[y, x]),
                        sun,
                        sky,
                        paint,
                        light,
                        colour,
                    )
                    for c in range(3):
                        picture[y, x, c] = colour[c]


@njit(cache=True, fastmath=True, parallel=True)
def smooth_edges(  # noqa: PLR0912 - one kernel
    picture: Any, back: Any, depth: Any, mark: Any, camera: Any, rows: Any, seen: int, tiles: Any, box: Any
) -> None:
    """Cast four more rays through every pixel on an edge.

    `back` is a copy of `picture`, from which their colours come; the other arguments are as in `render`.
    """
    total = rows.shape[0]
    high, wide = depth.shape
    du = np.array([0.125, -0.375, 0.375, -0.125])
    dv = np.array([-0.375, -0.125, 0.125, 0.375])
    for job in prange(tiles.shape[0]):
        y0, x0 = tiles[job, 0], tiles[job, 1]
        index = np.empty(total, dtype=np.int64)
        n = 0
        for i in range(seen):
            if _touches(box, i, y0 + TILE / 2, x0 + TILE / 2):
                index[n] = i
                n += 1
        if n == 0:
            continue
        ray, p = np.empty(3), np.empty(3)
        for y in range(max(y0, 1), min(y0 + TILE, high - 1)):
            for x in range(max(x0, 1), min(x0 + TILE, wide - 1)):
                edge = False
                for s in range(4):
                    yy = y + (1 if s == 0 else (-1 if s == 1 else 0))
                    xx = x + (1 if s == 2 else (-1 if s == 3 else 0))
                    if mark[yy, xx] != mark[y, x] or abs(depth[yy, xx] - depth[y, x]) > 0.03:
                        edge = True
                if not edge:
                    continue
                red, green, blue = 0.0, 0.0, 0.0
                for s in range(4):
                    deep, group = _cast(x + 0.5 + du[s], y + 0.5 + dv[s], camera, rows, index, n, ray, p)
                    # The colour is borrowed from the pixel around that shows the same surface nearest in depth.
                    ty, tx, best = y, x, FAR
                    for q in range(9):
                        yy, xx = y + (q + 4) % 9 // 3 - 1, x + (q + 4) % 9 % 3 - 1
                        miss = 0.0
                        if group >= 0:
                            miss = abs(depth[yy, xx] - deep)
                        if mark[yy, xx] == group and miss < best:
                            ty, tx, best = yy, xx, miss
                    red += back[ty, tx, 0]
                    green += back[ty, tx, 1]
                    blue += back[ty, tx, 2]
                picture[y, x, 0], picture[y, x, 1], picture[y, x, 2] = red / 4, green / 4, blue / 4

"""Club and ball: thin things, drawn by coverage at several moments of one exposure, so that they smear in the film."""

# mypy: disable-error-code="no-untyped-call,untyped-decorator"

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from .camera import Camera
from .skeleton import Pose

Array = NDArray[np.float64]

GRIP_LENGTH = 0.265
"""Length of the rubber grip, metres; invented."""


def blade(pose: Pose, scale: float = 1.0) -> Array:
    """Corners of the iron head: a low heel, a high toe, a thick sole and a thin top line.

    Returns:
        float64 (8, 3) in metres: face then back, each heel low, toe low, toe high, heel high.
    """
    centre, toe, face = pose.joints["club_head"], pose.toe, pose.face
    rise = np.cross(face, toe)
    rise = rise if rise @ -pose.club > 0 else -rise
    loft = math.radians(33)
    up = math.cos(loft) * rise - math.sin(loft) * face
    out = []
    for back in (0.0, 1.0):
        for along, high, thick in (
            (-0.016, -0.014, 0.017),
            (0.052, -0.016, 0.019),
            (0.058, 0.034, 0.006),
            (-0.010, 0.014, 0.008),
        ):
            out.append(centre + scale * (toe * along + up * high - face * (thick * back - 0.002)))
    return np.array(out)


FACES = np.array([[0, 1, 2, 3], [7, 6, 5, 4], [4, 5, 1, 0], [5, 6, 2, 1], [3, 2, 6, 7], [4, 0, 3, 7]])
"""Corner numbers of the six sides, each in the same sense seen from outside."""


@njit(cache=True, fastmath=True, parallel=True)
def draw_club(  # noqa: PLR0912 - a pixel loop that the compiler wants in one piece
    picture: Any, depth: Any, shafts: Any, heads: Any, tones: Any, window: Any, light: Any, scale: float
) -> None:
    """Blend the club into `picture`, behind whatever is nearer in `depth`.

    Args:
        picture: float32 (h, w, 3), linear light, changed in place.
        depth: float32 (h, w), metres to what is already drawn.
        shafts: float64 (moments, 3, 3): butt, end of grip, hosel; each pixel x, pixel y, depth.
        heads: float64 (moments, 8, 3): corners of the blade as pixel x, y, depth.
        tones: float64 (moments, 6, 3): colour of each side of the blade.
        window: int64 (4): y0, y1, x0, x1.
        light: as in `trace.shade`.
        scale: focal length in pixels.
    """
    moments = shafts.shape[0]
    for y in prange(window[0], window[1]):
        for x in range(window[2], window[3]):
            red, green, blue, cover = 0.0, 0.0, 0.0, 0.0
            px, py = x + 0.5, y + 0.5
            for m in range(moments):
                # The head: four points in the pixel against the sides that face the camera.
                got, hr, hg, hb = 0.0, 0.0, 0.0, 0.0
                hx, hy = heads[m, 0, 0], heads[m, 0, 1]
                reach = 0.13 * scale / heads[m, 0, 2]
                if abs(px - hx) < reach and abs(py - hy) < reach and heads[m, 0, 2] < depth[y, x] + 0.02:
                    for s in range(4):
                        sx, sy = px - 0.25 + 0.5 * (s % 2), py - 0.25 + 0.5 * (s // 2)
                        for f in range(6):
                            inside = True
                            for c in range(4):
                                a, b = FACES[f, c], FACES[f, (c + 1) % 4]
                                ex, ey = heads[m, b, 0] - heads[m, a, 0], heads[m, b, 1] - heads[m, a, 1]
                                if ex * (sy - heads[m, a, 1]) - ey * (sx - heads[m, a, 0]) < 0:
                                    inside = False
                                    break
                            if inside:
                                got += 0.25
                                hr += 0.25 * tones[m, f, 0]
                                hg += 0.25 * tones[m, f, 1]
                                hb += 0.25 * tones[m, f, 2]
                                break
                # The shaft: distance to the line, depth by 1/z, light across the round steel.
                best, br, bg, bb = 0.0, 0.0, 0.0, 0.0
                for part in range(2):
                    ax, ay, az = shafts[m, part, 0], shafts[m, part, 1], shafts[m, part, 2]
                    bx, by, bz = shafts[m, part + 1, 0], shafts[m, part + 1, 1], shafts[m, part + 1, 2]
                    dx, dy = bx - ax, by - ay
                    ll = dx * dx + dy * dy + 1e-9
                    t = ((px - ax) * dx + (py - ay) * dy) / ll
                    u = min(1.0, max(0.0, t))
                    z = 1.0 / ((1 - u) / az + u / bz)
                    thick = (0.0135 - 0.0035 * u) if part == 0 else (0.0072 - 0.0024 * u)
                    half = thick * scale / z
                    qx, qy = px - ax - u * dx, py - ay - u * dy
                    q = math.sqrt(qx * qx + qy * qy)
                    share = min(1.0, max(0.0, half - q + 0.5), 2 * half)
                    if share <= best or z > depth[y, x] + 0.006:
                        continue
                    across = (dx * qy - dy * qx) / math.sqrt(ll) / max(half, 0.8)
                    if dx < 0:
                        across = -across
                    best = share
                    if part == 0:
                        tone = 0.022 + 0.030 * max(0.0, -across) + 0.012 * max(0.0, 1 - abs(across + 0.4) * 3)
                        br, bg, bb = tone, tone, tone * 1.05
                    else:
                        flash = max(0.0, 1 - abs(across + 0.35) * 2.6)
                        tone = 0.20 + 0.20 * max(0.0, -across) - 0.12 * max(0.0, across)
                        br = tone * (light[2, 0] + 0.25) + flash * 0.85 * light[1, 0]
                        bg = tone * (light[2, 1] + 0.25) + flash * 0.85 * light[1, 1]
                        bb = tone * (light[2, 2] + 0.25) + flash * 0.85 * light[1, 2]
                rest = 1 - got
                red += hr + br * best * rest
                green += hg + bg * best * rest
                blue += hb + bb * best * rest
                cover += got + best * rest
            if cover > 0:
                keep = 1 - cover / moments
                picture[y, x, 0] = picture[y, x, 0] * keep + red / moments
                picture[y, x, 1] = picture[y, x, 1] * keep + green / moments
                picture[y, x, 2] = picture[y, x, 2] * keep + blue / moments


@njit(cache=True, fastmath=True)
def draw_ball(picture: Any, depth: Any, places: Any, light: Any, axes: Any, sunlit: float) -> None:
    """Blend the white ball into `picture`; `places` is float64 (moments, 4): pixel x, y, depth, radius in pixels."""
    high, wide = depth.shape
    moments = places.shape[0]
    x0, x1 = int(np.min(places[:, 0] - places[:, 3])) - 1, int(np.max(places[:, 0] + places[:, 3])) + 2
    y0, y1 = int(np.min(places[:, 1] - places[:, 3])) - 1, int(np.max(places[:, 1] + places[:, 3])) + 2
    sx = light[0, 0] * axes[0, 0] + light[0, 1] * axes[0, 1] + light[0, 2] * axes[0, 2]
    sy = light[0, 0] * axes[1, 0] + light[0, 1] * axes[1, 1] + light[0, 2] * axes[1, 2]
    sz = light[0, 0] * axes[2, 0] + light[0, 1] * axes[2, 1] + light[0, 2] * axes[2, 2]
    for y in range(max(0, y0), min(high, y1)):
        for x in range(max(0, x0), min(wide, x1)):
            cover = 0.0
            sums = np.zeros(3)
            for m in range(moments):
                r = places[m, 3]
                dx, dy = (x + 0.5 - places[m, 0]) / r, (y + 0.5 - places[m, 1]) / r
                d = math.sqrt(dx * dx + dy * dy)
                share = min(1.0, max(0.0, (1 - d) * r + 0.5))
                if share <= 0 or places[m, 2] > depth[y, x]:
                    continue
                if r < 1:
                    share *= r
                nz = -math.sqrt(max(0.0, 1 - min(1.0, d * d)))
                lit = max(0.0, dx * sx + dy * sy + nz * sz) * sunlit
                sky = 0.5 - 0.5 * dy
                dimple = 1 - 0.10 * (0.5 + 0.5 * math.sin(dx * 9) * math.sin(dy * 9)) if r > 5 else 1.0
                for c in range(3):
                    sums[c] += share * 0.84 * dimple * (lit * light[1, c] + sky * light[2, c] + (1 - sky) * light[3, c])
                cover += share
            if cover > 0:
                for c in range(3):
                    picture[y, x, c] = picture[y, x, c] * (1 - cover / moments) + sums[c] / moments


def club_pixels(camera: Camera, poses: list[Pose], light: Array) -> tuple[Array, Array, Array]:
    """Shaft, blade and tone tables of `draw_club` for the moments of one exposure."""
    shafts, heads, tones = [], [], []
    for pose in poses:
        butt, head = pose.joints["grip_end"], pose.joints["club_head"]
        points = np.array([butt, butt + pose.club * GRIP_LENGTH, head - pose.club * 0.004])
        shafts.append(np.column_stack([camera.project(points), camera.depth(points)]))
        corners = blade(pose)
        flat = np.column_stack([camera.project(corners), camera.depth(corners)])
        heads.append(flat)
        rows = []
        for side in FACES:
            a, b, c = corners[side[0]], corners[side[1]], corners[side[2]]
            normal = np.cross(b - a, c - a)
            normal /= np.linalg.norm(normal)
            normal = normal if normal @ (a - corners.mean(0)) > 0 else -normal
            ray = a - np.array(camera.place)
            ray /= np.linalg.norm(ray)
            glance = ray - 2 * (ray @ normal) * normal
            gloss = max(0.0, float(glance @ light[0])) ** 18
            facing = max(0.0, float(normal @ light[0]))
            rows.append(
                (0.20 * facing + 1.1 * gloss) * light[1]
                + 0.34 * (0.45 + 0.55 * max(0.0, float(glance[2]))) * light[2]
                + 0.10 * light[3]
            )
        tones.append(rows)
    return np.array(shafts), np.array(heads), np.array(tones)

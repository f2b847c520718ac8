"""The figure as a field of distances, and the light on it: sun, sky, bounce, soft shadow, ambient occlusion.

Everything works in linear light. The distance of a tapered, flattened capsule is a first-order estimate, so whoever
walks along a ray takes shorter steps.
"""

# numba compiles the functions below, and its own types have no stubs.
# mypy: disable-error-code="no-untyped-call,untyped-decorator"

from __future__ import annotations

import math
from typing import Any

from numba import njit

from .shapes import BLEND

FAR = 1e9
_BLEND = BLEND.copy()
_fast: Any = njit(cache=True, fastmath=True, inline="never")


@_fast
def distance(  # noqa: PLR0912 - the innermost loop
    px: float, py: float, pz: float, rows: Any, index: Any, count: int, fine: bool
) -> tuple[float, int]:
    """Distance in metres to the listed shapes, with or without the folds of the cloth, and the group of the nearest."""
    best, best_group = FAR, -1
    group, within = -1, FAR
    for i in range(count):
        r = rows[index[i]]
        g = int(r[12])
        if g != group:
            if within < best:
                best, best_group = within, group
            group, within = g, FAR
        k = _BLEND[g]
        cx, cy, cz = px - r[16], py - r[17], pz - r[18]
        limit = min(within, best) + k + r[19]
        if limit > 0 and cx * cx + cy * cy + cz * cz > limit * limit:
            continue
        ax, ay, az = px - r[0], py - r[1], pz - r[2]
        bx, by, bz = r[3] - r[0], r[4] - r[1], r[5] - r[2]
        flat = r[11]
        if flat < 0.999:
            more = 1.0 / flat - 1.0
            w = (ax * r[8] + ay * r[9] + az * r[10]) * more
            ax, ay, az = ax + w * r[8], ay + w * r[9], az + w * r[10]
            w = (bx * r[8] + by * r[9] + bz * r[10]) * more
            bx, by, bz = bx + w * r[8], by + w * r[9], bz + w * r[10]
        bb = bx * bx + by * by + bz * bz
        t, over = 0.0, -FAR
        if bb > 1e-12:
            t = (ax * bx + ay * by + az * bz) / bb
            if r[15] > 90:
                over = (abs(t - 0.5) - 0.5) * math.sqrt(bb)
            else:
                t = min(1.0, max(0.0, t))
        qx, qy, qz = ax - t * bx, ay - t * by, az - t * bz
        q = math.sqrt(qx * qx + qy * qy + qz * qz)
        d = q - (r[6] + (r[7] - r[6]) * t)
        if flat < 0.999:
            nw = (qx * r[8] + qy * r[9] + qz * r[10]) / (q + 1e-9)
            d /= math.sqrt(1.0 + (1.0 / (flat * flat) - 1.0) * nw * nw)
        d = max(d, over)
        if fine and r[13] > 0 and d < 0.014:
            # Folds fade out away from the cloth, so that the far field stays plain and cheap without a step.
            rate, high = r[14], r[13] * min(1.0, (0.014 - d) / 0.007)
            lx, ly, lz = px - r[0], py - r[1], pz - r[2]
            length = math.sqrt((r[3] - r[0]) ** 2 + (r[4] - r[1]) ** 2 + (r[5] - r[2]) ** 2) + 1e-6
            u = (lx * (r[3] - r[0]) + ly * (r[4] - r[1]) + lz * (r[5] - r[2])) / length
            v = lx * r[8] + ly * r[9] + lz * r[10]
            x = lx * r[9] - ly * r[8] + 0.3 * lz
            if rate > 200:
                d += (
                    high
                    * math.sin(rate * (x + 0.25 * v) + 2.0 * math.sin(30 * u + r[15]))
                    * math.sin(rate * 0.61 * v + 1.3)
                )
            else:
                warp = 2.6 * math.sin(9.0 * v + 14.0 * x - 6.0 * u + r[15]) + 1.5 * math.sin(
                    31.0 * x - 17.0 * u + 2 * r[15]
                )
                swing = math.sin(rate * (u + 0.55 * v + 0.35 * x) + warp)
                swell = math.sin(11.0 * u + 15.0 * v - 13.0 * x + r[15])
                ripple = math.sin(rate * 1.7 * (u - 0.6 * x - 0.3 * v) + 1.6 * warp)
                d += high * (0.8 * swing * max(0.0, swell) ** 2 + 0.30 * ripple * max(0.0, -swell) + 0.25 * swell)
        if within < FAR:
            h = max(k - abs(within - d), 0.0) / k
            within = min(within, d) - h * h * k * 0.25
        else:
            within = d
    if within < best:
        best, best_group = within, group
    return best, best_group


@_fast
def sunlight(
    px: float, py: float, pz: float, rows: Any, near: Any, count: int, sun: Any, skip: float, index: Any
) -> float:
    """Share of the sun that reaches a place, 0 to 1, with a soft edge.

    `near` lists the shapes that may shade it, `index` is scratch.
    """
    n, end = 0, 0.0
    for j in range(count):
        i = near[j]
        r = rows[i]
        cx, cy, cz = r[16] - px, r[17] - py, r[18] - pz
        along = cx * sun[0] + cy * sun[1] + cz * sun[2]
        off = cx * cx + cy * cy + cz * cz - along * along
        reach = r[19] + 0.02 + 0.035 * max(along, 0.0)
        if along > -r[19] and off < reach * reach:
            index[n] = i
            n += 1
            end = max(end, along + r[19])
    if n == 0:
        return 1.0
    light, t = 1.0, skip
    for _ in range(40):
        d, _g = distance(px + sun[0] * t, py + sun[1] * t, pz + sun[2] * t, rows, index, n, False)
        light = min(light, 0.5 + 0.5 * d / (0.022 * t + 0.0015))
        if light <= 0.0:
            return 0.0
        t += max(0.008, abs(d) * 0.8)
        if t > end:
            break
    return light * light * (3 - 2 * light)


@_fast
def openness(
    px: float,
    py: float,
    pz: float,
    nx: float,
    ny: float,
    nz: float,
    rows: Any,
    near: Any,
    count: int,
    ground: bool,
    index: Any,
) -> float:
    """Share of the sky a place sees along its normal, 0 to 1 (five samples); `near` and `index` as in `sunlight`."""
    n = 0
    for j in range(count):
        i = near[j]
        r = rows[i]
        cx, cy, cz = r[16] - px, r[17] - py, r[18] - pz
        reach = r[19] + 0.5
        if cx * cx + cy * cy + cz * cz < reach * reach:
            index[n] = i
            n += 1
    shut, weight = 0.0, 1.0
    for i in range(5):
        h = 0.012 + 0.055 * i + 0.012 * i * i
        d, _g = distance(px + nx * h, py + ny * h, pz + nz * h, rows, index, n, False)
        if ground:
            d = min(d, pz + nz * h)
        shut += max(h - d, 0.0) / h * weight
        weight *= 0.72
    return max(0.0, 1.0 - 0.40 * shut)


@_fast
def exposure(
    p: Any, n: Any, rows: Any, seen: int, total: int, light: Any, every: Any, index: Any
) -> tuple[float, float]:
    """Share of the sun and of the sky at a place on the figure; `every` counts 0, 1, 2... and `index` is scratch."""
    shadow = 0.0
    if n[0] * light[0, 0] + n[1] * light[0, 1] + n[2] * light[0, 2] > -0.2:
        shadow = sunlight(
            p[0] + n[0] * 0.012, p[1] + n[1] * 0.012, p[2] + n[2] * 0.012, rows, every, total, light[0], 0.032, index
        )
    return shadow, openness(p[0], p[1], p[2], n[0], n[1], n[2], rows, every, seen, True, index)


@_fast
def shade(p: Any, n: Any, ray: Any, group: int, shadow: float, room: float, paint: Any, light: Any, out: Any) -> None:
    """Colour of a place on the figure into `out` (3,), linear light.

    `light` rows: direction to the sun, sun colour, sky colour, bounce from the ground. `shadow` and `room` come from
    `exposure`.
    """
    sun = light[0]
    facing = n[0] * sun[0] + n[1] * sun[1] + n[2] * sun[2]
    wrap = paint[group, 3]
    lit = max(0.0, (facing + wrap) / (1 + wrap))
    sky = (0.5 + 0.5 * n[2]) * room
    floor = (0.5 - 0.5 * n[2]) * (0.35 + 0.65 * room) * math.exp(-0.35 * max(p[2], 0.0))
    view = -(n[0] * ray[0] + n[1] * ray[1] + n[2] * ray[2])
    rim = (1 - max(0.0, view)) ** 4
    hx, hy, hz = sun[0] - ray[0], sun[1] - ray[1], sun[2] - ray[2]
    hl = 1 / math.sqrt(hx * hx + hy * hy + hz * hz)
    shine = (
        max(0.0, (n[0] * hx + n[1] * hy + n[2] * hz) * hl) ** paint[group, 5]
        * paint[group, 4]
        * shadow
        * max(0.0, facing)
    )
    for c in range(3):
        direct = lit * shadow
        if group in (0, 10):
            # Light that has been under the skin comes back red where the shade begins.
            edge = max(0.0, 1 - abs(facing) * 3.5) * shadow
            direct = direct + edge * (0.10 if c == 0 else (0.025 if c == 1 else 0.012))
        energy = direct * light[1, c] + sky * light[2, c] + floor * light[3, c]
        out[c] = paint[group, c] * energy + shine * light[1, c] + rim * paint[group, 6] * room * light[2, c]


@_fast
def normal(x: float, y: float, z: float, rows: Any, index: Any, n: int, out: Any) -> None:
    """Unit normal of the surface into `out` (3,): slope of the distance on the corners of a tetrahedron."""
    e = 0.0011
    a, _a = distance(x + e, y - e, z - e, rows, index, n, True)
    b, _b = distance(x - e, y - e, z + e, rows, index, n, True)
    c, _c = distance(x - e, y + e, z - e, rows, index, n, True)
    d, _d = distance(x + e, y + e, z + e, rows, index, n, True)
    nx, ny, nz = a - b - c + d, -a - b + c + d, -a + b - c + d
    length = math.sqrt(nx * nx + ny * ny + nz * nz) + 1e-12
    out[0], out[1], out[2] = nx / length, ny / length, nz / length

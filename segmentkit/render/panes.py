"""Puts source pictures in their places on the canvas: scaled, shifted, mirrored, cut to their windows, softened.

Work stays in 4:2:0 planes. A source of the canvas's own size is copied sample by sample, so a freeze is the very source
frame; anything else is resampled once for each new source frame.
"""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Placement, Rect
from segmentkit.media.planes import Plane, Planes
from segmentkit.plan.model import Light
from segmentkit.render.scale import resized

SOFT_SIGMA = 0.018
"""Blur of a softened picture, as a fraction of its height."""
SOFT_DIM = 0.55
"""Light left in a softened picture."""
_SHRINK_FIRST = 0.75  # below this scale a bilinear or cubic kernel would skip samples, so areas are averaged first


def place(target: Planes, source: Planes, placement: Placement, opacity: float = 1.0) -> None:
    """Draws a source picture into its window of `target`, in place.

    Args:
        target: the canvas.
        source: the upright source picture; its size is `placement.source`.
        placement: where it lies; the window's edges are even.
        opacity: how much of it is seen over what is there, 0 to 1.
    """
    window = placement.window
    left, top, right, bottom = _edges(window)
    if _is_copy(placement):
        luma, *chroma = _cut(source, placement)
    else:
        luma = _resampled(source.y, placement, step=1.0, offset=(0.5, 0.5), rect=window)
        chroma = [
            _resampled(plane, placement, step=2.0, offset=(0.5, 1.0), rect=window) for plane in (source.u, source.v)
        ]
    _lay(target.y[top:bottom, left:right], luma, opacity)
    for out, plane in zip((target.u, target.v), chroma, strict=True):
        _lay(out[top // 2 : bottom // 2, left // 2 : right // 2], plane, opacity)


def _lay(out: Plane, plane: Plane, opacity: float) -> None:
    out[...] = plane if opacity >= 1 else cv2.addWeighted(plane, opacity, np.ascontiguousarray(out), 1 - opacity, 0)


def _edges(window: Rect) -> tuple[int, int, int, int]:
    return round(window.x), round(window.y), round(window.right), round(window.bottom)


def _is_copy(placement: Placement) -> bool:
    whole = placement.dx % 2 == 0 and placement.dy % 2 == 0
    window, source = placement.window, placement.source
    covers = (
        placement.dx <= window.x
        and placement.dy <= window.y
        and placement.dx + source.width >= window.right
        and placement.dy + source.height >= window.bottom
    )
    plain = placement.scale == 1.0 and not placement.rotate and not placement.mirrored
    return plain and whole and covers


def _cut(source: Planes, placement: Placement) -> tuple[Plane, Plane, Plane]:
    """The samples of a window, as they are."""
    left, top, right, bottom = _edges(placement.window)
    x, y = round(left - placement.dx), round(top - placement.dy)
    width, height = right - left, bottom - top
    half = slice(y // 2, (y + height) // 2), slice(x // 2, (x + width) // 2)
    return source.y[y : y + height, x : x + width], source.u[half], source.v[half]


def _resampled(plane: Plane, placement: Placement, *, step: float, offset: tuple[float, float], rect: Rect) -> Plane:
    """One plane of the window, resampled.

    Sample i of a plane lies at luma position `step * i + offset` (continuous, pixel centres at halves): chroma is sited
    left, so its offset is half a luma sample across and a whole one down.
    """
    scale = placement.scale
    shrink = 1.0
    if scale < _SHRINK_FIRST:
        shrink = max(scale, 1 / 64)
        size = (max(1, round(plane.shape[1] * shrink)), max(1, round(plane.shape[0] * shrink)))
        shrunk = cv2.resize(plane, size, interpolation=cv2.INTER_AREA)
        shrink_x, shrink_y = shrunk.shape[1] / plane.shape[1], shrunk.shape[0] / plane.shape[0]
        plane_in: Plane = shrunk.astype(np.uint8, copy=False)
    else:
        plane_in, shrink_x, shrink_y = plane, 1.0, 1.0
    width, height = round(rect.width / step), round(rect.height / step)
    # Output sample of the window -> luma position on the canvas -> turned back and scaled -> luma position in the
    # source (mirrored or not) -> source sample.
    cos, sin = (f(math.radians(placement.rotate)) / scale for f in (math.cos, math.sin))
    x0, y0 = rect.x + offset[0] - placement.dx, rect.y + offset[1] - placement.dy
    across = np.array([cos * step, sin * step, cos * x0 + sin * y0])
    down = np.array([-sin * step, cos * step, -sin * x0 + cos * y0])
    if placement.mirrored:
        across = np.array([0.0, 0.0, placement.source.width]) - across
    matrix = np.array([_in_samples(across, offset[0], step, shrink_x), _in_samples(down, offset[1], step, shrink_y)])
    kernel = cv2.INTER_CUBIC if scale * shrink_x >= 1.02 * shrink_x and shrink == 1.0 else cv2.INTER_LINEAR
    if not placement.rotate and kernel == cv2.INTER_CUBIC:
        plain = resized(plane_in, (matrix[0, 0], matrix[0, 2]), (matrix[1, 1], matrix[1, 2]), (width, height), kernel)
        if plain is not None:
            return plain
    warped: NDArray[np.uint8] = cv2.warpAffine(
        plane_in, matrix, (width, height), flags=kernel | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.uint8, copy=False)
    return warped


def _in_samples(row: NDArray[np.float64], offset: float, step: float, shrink: float) -> NDArray[np.float64]:
    """A row of a map to luma positions as one to samples of a plane, perhaps a shrunk one."""
    made = row * (shrink / step)
    made[2] += (0.5 - offset / step) * shrink - 0.5
    return made


def lit(picture: Planes, light: Light) -> Planes:
    """A copy with its brightness and tint changed, within limited range."""
    codes = np.arange(256)
    luma = np.clip(np.rint(light.gain * (codes - 16.0) + 16 + light.lift), 16, 235)
    blue, red = (np.clip(np.rint(codes + shift), 16, 240) for shift in (light.blue, light.red))
    planes = zip((picture.y, picture.u, picture.v), (luma, blue, red), strict=True)
    return Planes(*(np.asarray(cv2.LUT(plane, table.astype(np.uint8)), np.uint8) for plane, table in planes))


def soften(picture: Planes) -> Planes:
    """A blurred and dimmed copy, as the ground for a card; blurred at a quarter size, which is not seen and is fast."""
    sigma = SOFT_SIGMA * picture.y.shape[0] / 4

    def blurred(plane: Plane) -> NDArray[np.float32]:
        small = cv2.resize(plane, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small.astype(np.float32), (0, 0), max(0.8, sigma))
        return cv2.resize(small, (plane.shape[1], plane.shape[0]), interpolation=cv2.INTER_LINEAR).astype(np.float32)

    luma = 16 + (blurred(picture.y) - 16) * SOFT_DIM
    # Dimming in R'G'B' scales colour differences with the light, so the hue stays.
    chroma = [128 + (blurred(plane) - 128) * SOFT_DIM for plane in (picture.u, picture.v)]
    return Planes(*(np.clip(plane + 0.5, 0, 255).astype(np.uint8) for plane in (luma, *chroma)))

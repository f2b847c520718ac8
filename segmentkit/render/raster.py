"""Coverage masks of strokes: four times oversampled, tile by tile, so that only touched pixels cost anything.

OpenCV's own antialiased lines come out one to two pixels too wide; plain thick lines on a four times larger grid,
averaged down, keep their width to a quarter of a pixel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from segmentkit.geometry import Rect
from segmentkit.render.blend import Mask
from segmentkit.render.paths import Path

OVERSAMPLING = 4
TILE = 192
_SHIFT = 4
_GRAIN = OVERSAMPLING * (1 << _SHIFT)


@dataclass(frozen=True, slots=True)
class Ink:
    """One thing to fill: lines of a width with round ends and joins, or polygons grown by a width.

    Attributes:
        paths: polylines in canvas pixels; a path of one point is a spot.
        width: of the line in pixels; for a filled polygon, of the round rim centred on its outline (0 for none).
        filled: whether the inside is filled as well.
    """

    paths: tuple[Path, ...]
    width: float
    filled: bool = False

    def grown(self, margin: float) -> Ink:
        """The same with `margin` pixels more on each side."""
        return Ink(self.paths, self.width + 2 * margin, self.filled)


def bounds(inks: Sequence[Ink]) -> Rect | None:
    """The rectangle that holds all ink; None when there is none."""
    low, high = [], []
    for ink in inks:
        for path in ink.paths:
            if len(path):
                low.append(path.min(axis=0) - ink.width / 2 - 1)
                high.append(path.max(axis=0) + ink.width / 2 + 1)
    if not low:
        return None
    (left, top), (right, bottom) = np.min(low, axis=0), np.max(high, axis=0)
    return Rect(float(left), float(top), float(right - left), float(bottom - top))


def tiles(inks: Sequence[Ink], window: Rect) -> list[tuple[int, int, int, int]]:
    """Even (x, y, width, height) tiles within a window that ink may touch."""
    area = bounds(inks)
    if area is None:
        return []
    left, right = max(area.x, window.x), min(area.right, window.right)
    top, bottom = max(area.y, window.y), min(area.bottom, window.bottom)
    if left >= right or top >= bottom:
        return []
    x0, y0 = int(left) // 2 * 2, int(top) // 2 * 2
    x1, y1 = -(-int(np.ceil(right)) // 2) * 2, -(-int(np.ceil(bottom)) // 2) * 2
    return [
        (x, y, min(TILE, x1 - x), min(TILE, y1 - y))
        for y in range(y0, y1, TILE)
        for x in range(x0, x1, TILE)
        if any(_touches(ink, x, y) for ink in inks)
    ]


def _touches(ink: Ink, x: int, y: int) -> bool:
    """Whether ink may reach a tile: a segment's own box must come near it."""
    reach = ink.width / 2 + 2
    for path in ink.paths:
        if not len(path):
            continue
        a, b = (path[:-1], path[1:]) if len(path) > 1 else (path, path)
        low, high = np.minimum(a, b) - reach, np.maximum(a, b) + reach
        if ink.filled:
            low, high = low.min(axis=0, keepdims=True), high.max(axis=0, keepdims=True)
        near = (high[:, 0] > x) & (low[:, 0] < x + TILE) & (high[:, 1] > y) & (low[:, 1] < y + TILE)
        if near.any() and (ink.filled or _segments_near(a[near], b[near], x, y, reach)):
            return True
    return False


def _segments_near(a: Path, b: Path, x: int, y: int, reach: float) -> bool:
    """Whether the line of any segment passes the tile's middle closely enough to reach into the tile."""
    centre = np.array([x + TILE / 2, y + TILE / 2])
    along = b - a
    size2 = np.maximum((along**2).sum(axis=1), 1e-12)
    at = np.clip(((centre - a) * along).sum(axis=1) / size2, 0, 1)[:, None]
    away = np.hypot(*(a + at * along - centre).T)
    return bool((away < TILE * 0.7072 + reach).any())


def coverage(inks: Sequence[Ink], x: int, y: int, width: int, height: int) -> Mask:
    """How much of each pixel the ink covers.

    Args:
        inks: what is filled; overlaps count once.
        x: canvas column of the tile's left edge.
        y: canvas row of its upper edge.
        width: of the tile in pixels.
        height: of the tile in pixels.

    Returns:
        uint8, shape (height, width), 0 to 255.
    """
    grid = np.zeros((height * OVERSAMPLING, width * OVERSAMPLING), np.uint8)
    # A canvas pixel spans [k, k+1); the grid's own sample k has its centre at k, hence the half sample.
    origin = np.array([x, y], np.float64) + 0.5 / OVERSAMPLING
    for ink in inks:
        lines = [np.rint((path - origin) * _GRAIN).astype(np.int32) for path in ink.paths if len(path)]
        if ink.filled and lines:
            cv2.fillPoly(grid, lines, 255, cv2.LINE_8, _SHIFT)
        # Thick lines always come out an odd number of samples wide, two more than an odd thickness.
        thickness = round(ink.width * OVERSAMPLING) // 2 * 2 - 1
        if thickness < 1:
            continue
        for line in lines:
            if len(line) == 1 or (line == line[0]).all():
                centre = (int(line[0, 0]), int(line[0, 1]))
                cv2.circle(grid, centre, round((ink.width / 2 - 0.125) * _GRAIN), 255, cv2.FILLED, cv2.LINE_8, _SHIFT)
            else:
                cv2.polylines(grid, [line], ink.filled, 255, thickness, cv2.LINE_8, _SHIFT)
    return np.asarray(cv2.resize(grid, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def clip_to(mask: Mask, x: int, y: int, window: Rect) -> Mask:
    """Clears what lies outside a window, which is taken to whole pixels."""
    height, width = mask.shape
    left, right = round(window.x) - x, round(window.right) - x
    top, bottom = round(window.y) - y, round(window.bottom) - y
    if left <= 0 and top <= 0 and right >= width and bottom >= height:
        return mask
    kept = np.zeros_like(mask)
    rows, columns = slice(max(0, top), max(0, bottom)), slice(max(0, left), max(0, right))
    kept[rows, columns] = mask[rows, columns]
    return kept

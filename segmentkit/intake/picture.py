"""Sharpness, light and traces of coding, on pictures of full size where it matters."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect
from segmentkit.intake.footage import Footage

Luma = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """How bright the player is.

    Attributes:
        middle: median luma of the player's part of the picture, 16 (black) to 235 (white).
        dark: share of it below 32; `burnt` the share at or above 234.
    """

    middle: float
    dark: float
    burnt: float


def edge_width(luma: Luma, area: Rect | None = None, mask: NDArray[np.bool_] | None = None) -> float | None:
    """Width of the strong edges, as a share of the picture's height; None where there are none.

    An edge's width is its rise over its steepest slope, as in edge-width measures of blur; the better of the two
    directions of each spot counts, the median of the strongest spots is taken.

    Args:
        luma: uint8, shape (height, width).
        area: the part to look at, in fractions.
        mask: spots to look at, shape (height, width); all when left out.
    """
    height = luma.shape[0]
    part, inside = luma.astype(np.float32), mask
    if area is not None:
        rows, columns = _box(luma, area)
        part, inside = part[rows, columns], None if mask is None else mask[rows, columns]
    if min(part.shape) < 24:
        return None
    width = max(9, round(height * 0.03)) | 1  # wider than any edge worth telling apart
    best: NDArray[np.float32] | None = None
    slope_of = np.zeros(part.shape, np.float32)
    widths = np.full(part.shape, np.inf, np.float32)
    for kernel, span in (((1, 0), (width, 1)), ((0, 1), (1, width))):
        slope = np.abs(cv2.Sobel(part, cv2.CV_32F, *kernel, ksize=3)) / 8
        box = np.ones(span[::-1], np.uint8)
        rise = cv2.dilate(part, box) - cv2.erode(part, box)
        better = slope > slope_of
        slope_of = np.where(better, slope, slope_of)
        widths = np.where(better, rise / np.maximum(slope, 0.25), widths)
        best = rise if best is None else np.where(better, rise, best)
    strong = np.asarray(best) > 40
    if inside is not None:
        strong &= inside
    if strong.sum() < 60:
        return None
    # The steepest spot of each edge: one that no neighbour within its width outdoes.
    crest = slope_of >= cv2.dilate(slope_of, np.ones((5, 5), np.uint8)) - 1e-3
    spots = strong & crest
    if spots.sum() < 25:
        return None
    return float(np.median(widths[spots]) / height)


def smear(before: Luma, now: Luma, after: Luma, area: Rect, at_rest: float) -> float | None:
    """Width of the edges of what moves, against the edges at rest; None where too little moves to tell.

    What moves differs from the picture before and from the one after; ground that was uncovered differs from one only.
    Where much moves and no edge is left the smear is beyond measure: infinite.

    Args:
        before: picture about a sixtieth of a second earlier, uint8, shape (height, width).
        now: the picture.
        after: the one as much later.
        area: where the player is.
        at_rest: `edge_width` of the player at rest.
    """
    here = now.astype(np.int16)
    moving = (np.abs(here - before) > 20) & (np.abs(here - after) > 20)
    if moving.mean() < 0.0006:
        return None
    wide = cv2.dilate(moving.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    width = edge_width(now, area, wide)
    return float("inf") if width is None else width / at_rest


def light_of(luma: Luma, area: Rect) -> Light:
    """Brightness of the part of a picture where the player is."""
    rows, columns = _box(luma, area)
    part = luma[rows, columns]
    return Light(middle=float(np.median(part)), dark=float((part < 32).mean()), burnt=float((part >= 234).mean()))


def flicker(footage: Footage) -> float:
    """How much the light wavers from picture to picture, as a share of the brightness: root mean square.

    The median of small pictures, and of each row against it, over time; what is slower than a quarter of a second is
    taken out. A cloud is slow; a lamp on mains is not.
    """
    if len(footage.luma) < 8:
        return 0.0
    rows = np.median(footage.luma, axis=2).astype(np.float64) - 16  # shape (n, height)
    span = float(np.median(np.diff(footage.seconds)))
    width = max(3, round(0.25 / span)) | 1
    kernel = np.ones(width) / width
    padded = np.pad(rows, ((width // 2, width // 2), (0, 0)), mode="edge")
    slow = np.apply_along_axis(lambda column: np.convolve(column, kernel, "valid"), 0, padded)
    bright = max(1.0, float(np.median(rows)))
    wavering = (rows - slow) / bright
    # Rows where the player moves stray as well; the median of rows leaves them out, bands do not.
    return float(np.median(np.sqrt((wavering**2).mean(axis=0))))


def blocks(luma: Luma) -> float:
    """Steps at the borders of 8x8 blocks against the steps between, 1 when there are no blocks.

    The grid may have been shifted by a crop, so the strongest of its eight places is taken, against the median.
    """
    picture = luma.astype(np.float32)
    strongest = []
    for axis in (0, 1):
        step = np.abs(np.diff(picture, axis=axis))
        step = np.minimum(step, 12)  # real edges are larger than the seams of blocks
        mean = step.mean(axis=1 - axis)
        phases = np.array([mean[phase::8].mean() for phase in range(8)])
        strongest.append(float(phases.max() / max(0.05, np.median(phases))))
    return min(strongest)


def bars(footage: Footage) -> float:
    """Share of the picture's width or height that is black bars, from the still picture; the wider pair counts."""
    still = footage.still
    shares = []
    for axis in (0, 1):
        lines = still.max(axis=1 - axis) < 24
        first = int(np.argmin(lines)) if not lines.all() else 0
        last = int(np.argmin(lines[::-1])) if not lines.all() else 0
        shares.append((first + last) / len(lines))
    return max(shares)


def lettering(pictures: list[Luma]) -> Rect | None:
    """A row of letter-like shapes near an edge of the picture that is the same all the time; None without one.

    It may be lettering laid over the picture, or a sign in the scene: a person must look.

    Args:
        pictures: some of the clip, full size, far apart in time.
    """
    stack = np.stack(pictures).astype(np.float32)
    middle, spread = np.median(stack, axis=0), stack.max(axis=0) - stack.min(axis=0)
    height, width = middle.shape
    around = cv2.blur(cv2.medianBlur(middle.astype(np.uint8), 5).astype(np.float32), (0x1F, 0x1F))
    for sign in (1, -1):
        shapes = ((sign * (middle - around) > 45) & (spread < 24)).astype(np.uint8)
        shapes[round(0.22 * height) : round(0.78 * height), round(0.12 * width) : round(0.88 * width)] = 0
        count, _, stats, _ = cv2.connectedComponentsWithStats(shapes, connectivity=8)
        if count > 4000:
            continue  # texture, no letters
        letters = [
            tuple(int(v) for v in stats[k])
            for k in range(1, count)
            if 0.014 * height < stats[k, cv2.CC_STAT_HEIGHT] < 0.12 * height
            and 0.15 < stats[k, cv2.CC_STAT_WIDTH] / stats[k, cv2.CC_STAT_HEIGHT] < 1.8
            and stats[k, cv2.CC_STAT_AREA] > 0.18 * stats[k, cv2.CC_STAT_WIDTH] * stats[k, cv2.CC_STAT_HEIGHT]
        ]
        if row := _row(letters, height, width):
            return row
    return None


def _row(letters: list[tuple[int, ...]], height: int, width: int) -> Rect | None:
    """The box around at least five shapes of one height on one line, close together."""
    for x, y, _, h, _ in sorted(letters):
        line = [(x, y, h)]
        end = x
        members = [(x, y, h)]
        for x2, y2, w2, h2, _ in sorted(letters):
            near = 0 < x2 - end < 2.2 * h
            if x2 > x and near and abs(y2 + h2 - y - h) < 0.22 * h and 0.6 < h2 / h < 1.6:
                members.append((x2, y2, h2))
                end = x2 + w2
            elif x2 == x:
                end = x + w2
        line = members
        if len(line) >= 5:
            top = min(m[1] for m in line)
            return Rect(x / width, top / height, (end - x) / width, 1.3 * h / height)
    return None


def _box(luma: Luma, area: Rect) -> tuple[slice, slice]:
    height, width = luma.shape
    top, left = max(0, int(area.y * height)), max(0, int(area.x * width))
    return (
        slice(top, max(top + 1, min(height, round(area.bottom * height)))),
        slice(left, max(left + 1, min(width, round(area.right * width)))),
    )

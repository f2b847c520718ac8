"""Where the player and the club are in the picture, from what moves; nobody is recognised here."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Rect
from segmentkit.intake.camera import Steadiness
from segmentkit.intake.footage import Footage
from segmentkit.intake.motion import SwingGuess

Mask = NDArray[np.uint8]

_LOOKED_AT = 220
_CONTACT = 4  # small pixels at an edge that count as cut off; a speck of noise has fewer


@dataclass(frozen=True, slots=True, kw_only=True)
class Framing:
    """What a swing sweeps over.

    Attributes:
        area: smallest upright box around it, in fractions of the upright picture.
        cut: edges of the picture that it touches: top, bottom, left, right.
        others: whether something else of that size moves elsewhere.
        low_start: column of the low part of the motion as the swing starts, as a fraction of the height of `area`
            from its left; None where nothing moves there.
        high_top: the same of the high part around the top of the swing; `high_end` at its end.
    """

    area: Rect
    cut: tuple[str, ...]
    others: bool
    low_start: float | None
    high_top: float | None
    high_end: float | None


def framing_of(footage: Footage, steady: Steadiness, swing: SwingGuess) -> Framing | None:
    """Measures what moves between start and end of a swing; None where nothing does.

    A moving shadow counts as part of the player.
    """
    inside = np.flatnonzero((footage.seconds >= swing.start) & (footage.seconds <= swing.end))
    if len(inside) < 3:
        return None
    inside = inside[np.unique(np.linspace(0, len(inside) - 1, _LOOKED_AT).round().astype(int))]
    height, width = footage.luma.shape[1:]
    threshold = max(16.0, 6 * footage.grain)
    count = np.zeros((height, width), np.uint16)
    edge = np.zeros((height, width), bool)  # what a shaking camera brings in at an edge is no player
    for number in inside:
        dx, dy = _shift(footage, steady, int(number))
        picture = footage.luma[number].astype(np.float32)
        if max(abs(dx), abs(dy)) > 0.05:
            turn = np.array([[1, 0, -dx], [0, 1, -dy]], np.float32)
            picture = np.asarray(cv2.warpAffine(picture, turn, (width, height), borderMode=cv2.BORDER_REPLICATE))
            margin_x, margin_y = round(abs(dx) + 0.5), round(abs(dy) + 0.5)
            edge[: margin_y if dy < 0 else 0] = True
            edge[height - margin_y if dy > 0 else height :] = True
            edge[:, : margin_x if dx < 0 else 0] = True
            edge[:, width - margin_x if dx > 0 else width :] = True
        off = np.abs(picture - footage.still)
        level = float(np.median(picture - footage.still))
        count += (off > threshold + abs(level)).astype(np.uint16)
    mask = (count >= (1 if footage.grain < 3 else 2)).astype(np.uint8)
    mask[edge] = 0
    joined = cv2.morphologyEx(mask, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    parts, labels, stats, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    if parts < 2:
        return None
    order = 1 + np.argsort(stats[1:, cv2.CC_STAT_AREA])[::-1]
    main = int(order[0])
    x, y, w, h = (int(v) for v in stats[main, :4])
    if w * h < 0.003 * width * height:
        return None
    player = ((labels == main) & (mask > 0)).astype(np.uint8)
    others = any(stats[part, cv2.CC_STAT_AREA] > 0.15 * stats[main, cv2.CC_STAT_AREA] for part in order[1:])
    box = (x, y, w, h)
    top = swing.top if swing.top is not None else swing.start
    quarter = (swing.end - swing.fastest) / 4
    return Framing(
        area=Rect(x / width, y / height, w / width, h / height), cut=_cut(player, edge), others=bool(others),
        low_start=_column(footage, player, box, (swing.start, swing.start + 0.45 * (top - swing.start)), (0.5, 0.9)),
        high_top=_column(footage, player, box, (top - 0.1, top + 0.1), (0.0, 0.4)),
        high_end=_column(footage, player, box, (swing.end - quarter, swing.end), (0.0, 0.4)),
    )  # fmt: skip


def _shift(footage: Footage, steady: Steadiness, number: int) -> tuple[float, float]:
    if not steady.known:
        return 0.0, 0.0
    size = max(footage.luma.shape[1:])
    middle = np.median(steady.shifts, axis=0)
    now = [np.interp(footage.seconds[number], steady.seconds, steady.shifts[:, axis]) for axis in (0, 1)]
    return float((now[0] - middle[0]) * size), float((now[1] - middle[1]) * size)


def _cut(player: Mask, edge: NDArray[np.bool_]) -> tuple[str, ...]:
    """Edges that the player touches along at least a few pixels; edges that the camera uncovered are moved inward."""
    rows, columns = np.flatnonzero(~edge.all(axis=1)), np.flatnonzero(~edge.all(axis=0))
    if not len(rows) or not len(columns):
        return ()
    first, last, left, right = rows[0], rows[-1], columns[0], columns[-1]
    touched = {
        "top": player[first : first + 2].max(axis=0).sum(), "bottom": player[last - 1 : last + 1].max(axis=0).sum(),
        "left": player[:, left : left + 2].max(axis=1).sum(),
        "right": player[:, right - 1 : right + 1].max(axis=1).sum(),
    }  # fmt: skip
    return tuple(name for name, contact in touched.items() if contact >= _CONTACT)


def _column(
    footage: Footage,
    player: Mask,
    box: tuple[int, int, int, int],
    when: tuple[float, float],
    rows: tuple[float, float],
) -> float | None:
    """Middle column of what moves within a time and a band of rows, from the left of the box, in its heights."""
    x, y, _, h = box
    band = slice(y + round(rows[0] * h), y + round(rows[1] * h))
    near = np.flatnonzero((footage.seconds >= when[0]) & (footage.seconds <= when[1]))
    weight = np.zeros(player.shape[1], np.float64)
    for before, after in pairwise(near):
        step = np.abs(footage.luma[after].astype(np.int16) - footage.luma[before])
        step[(step <= max(10.0, 5 * footage.grain)) | (player == 0)] = 0
        weight += step[band].sum(axis=0)
    if weight.sum() < 200:
        return None
    middle = float((weight * np.arange(len(weight))).sum() / weight.sum())
    return (middle - x) / h

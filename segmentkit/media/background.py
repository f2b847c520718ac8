"""How the camera moves: spots of the background found again in each frame, and the one map that carries most of them.

Spots are corners of the picture outside the player (Shi and Tomasi's criterion), found again with the pyramidal method
of Lucas and Kanade there and back; a map is fitted to them with RANSAC, so that what moves by itself does not count.
Each frame is held against the anchor frame itself and not against its neighbour, so that no error adds up, until too
few spots are left; then the last good frame stands in for it and its residual is carried along.

A hand-held camera turns about a spot near itself, which a projection describes whatever the distance of things; a
similarity (shift, turn, scale) has fewer freedoms and is preferred unless the projection fits clearly better.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.facts import ClipFacts, TrackFacts
from segmentkit.geometry import STAYS, Projection, Rect
from segmentkit.media.frames import ClipReader
from segmentkit.media.store import Store

RECIPE = 2
"""Version of the method; a higher one measures anew."""
_KIND = "track"
_HEIGHT = 720
"""Picture height that is looked at: finer grain costs time and adds noise, not certainty."""
_COLUMNS, _ROWS, _EACH = 12, 7, 6
_WINDOW, _LEVELS = 21, 4
_THERE_AND_BACK = 0.5
_OUTLIER = 1.5
"""Pixels at `_HEIGHT` beyond which a spot does not belong to the background."""
_FEWEST = 12
_KEPT_SHARE = 0.45
"""Share of the anchor's spots below which another frame takes its place."""
_BETTER = 0.7
"""A projection is taken when its residual is below this part of the similarity's."""
_TOLD = 0.85
"""Share of the spots found again that the residual speaks for; the rest may be people or mistakes."""
_CRITERIA = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 30, 0.003)

Luma = NDArray[np.uint8]
Spots = NDArray[np.float32]


def background_track(
    facts: ClipFacts, store: Store, *, anchor: int, frames: Sequence[int], avoid: Sequence[Rect] = ()
) -> TrackFacts:
    """How the background lies in the frames of a clip, or what was measured before.

    Args:
        facts: of a clip that was normalised.
        store: the working folder.
        anchor: the frame against which is measured.
        frames: the frames wanted; the anchor is always measured.
        avoid: where the player is, in fractions of the picture: nothing in there counts as background.

    Raises:
        MediaUnusable: when the working copy cannot be read.
        OutputFailed: when the working folder cannot be written to.
    """
    wanted = sorted({anchor, *frames})
    boxes = [[round(value, 4) for value in (r.x, r.y, r.width, r.height)] for r in avoid]
    entry = store.path_for(_KIND, RECIPE, facts.content, anchor, wanted, boxes, suffix=".json")
    return store.make(
        entry, _read, lambda partial: _write(partial, _measured(facts, anchor, wanted, avoid), facts.content)
    )


def _read(entry: Path) -> TrackFacts:
    data = json.loads(entry.read_text())
    return TrackFacts(
        anchor=data["anchor"],
        frames=tuple(data["frames"]),
        maps=tuple(Projection((*map(float, rows),)) for rows in data["maps"]),  # type: ignore[arg-type]
        residuals=tuple(math.inf if value is None else float(value) for value in data["residuals"]),
    )


def _write(partial: Path, track: TrackFacts, content: str) -> None:
    partial.write_text(
        json.dumps({
            "of": content,
            "anchor": track.anchor,
            "frames": track.frames,
            "maps": [one.rows for one in track.maps],
            "residuals": [None if math.isinf(value) else value for value in track.residuals],
        })
    )  # fmt: skip


@dataclass(slots=True)
class _Key:
    """A frame against which others are held: its picture, its spots, and how it lies against the anchor."""

    luma: Luma
    spots: Spots
    map: NDArray[np.float64]
    residual: float


def _measured(facts: ClipFacts, anchor: int, wanted: Sequence[int], avoid: Sequence[Rect]) -> TrackFacts:
    found: dict[int, tuple[NDArray[np.float64], float]] = {}
    with ClipReader(facts) as reader:
        first = _small(reader.planes(anchor).y)
        away = _mask(first, avoid)
        found[anchor] = (np.eye(3), 0.0)
        for side in ([f for f in wanted if f > anchor], [f for f in reversed(wanted) if f < anchor]):
            key = _Key(first, _corners(first, away), np.eye(3), 0.0)
            for frame, luma in _lumas(reader, side):
                found[frame], key = _located(key, luma, found, away)
    size = (first.shape[1], first.shape[0])
    unit = 1080 / first.shape[0]
    frames = sorted(found)
    return TrackFacts(
        anchor=anchor,
        frames=tuple(frames),
        maps=tuple(_in_fractions(found[frame][0], size) for frame in frames),
        residuals=tuple(round(found[frame][1] * unit, 3) for frame in frames),
    )


def _lumas(reader: ClipReader, frames: Sequence[int]) -> Iterator[tuple[int, Luma]]:
    for frame in frames:
        yield frame, _small(reader.planes(frame).y)


def _small(luma: Luma) -> Luma:
    if luma.shape[0] <= _HEIGHT:
        return luma
    width = round(luma.shape[1] * _HEIGHT / luma.shape[0])
    return np.asarray(cv2.resize(luma, (width, _HEIGHT), interpolation=cv2.INTER_AREA), np.uint8)


def _mask(luma: Luma, avoid: Sequence[Rect]) -> Luma:
    """255 where background may be looked for."""
    height, width = luma.shape
    mask = np.full(luma.shape, 255, np.uint8)
    for box in avoid:
        left, top = max(0, int(box.x * width)), max(0, int(box.y * height))
        mask[top : math.ceil(box.bottom * height), left : math.ceil(box.right * width)] = 0
    rim = max(2, height // 60)
    mask[:rim] = mask[-rim:] = 0
    mask[:, :rim] = mask[:, -rim:] = 0
    return mask


def _corners(luma: Luma, mask: Luma) -> Spots:
    """Corners spread over the whole picture, the best few of each cell; float32, shape (n, 1, 2)."""
    height, width = luma.shape
    found = []
    for row in range(_ROWS):
        for column in range(_COLUMNS):
            top, bottom = row * height // _ROWS, (row + 1) * height // _ROWS
            left, right = column * width // _COLUMNS, (column + 1) * width // _COLUMNS
            cell = np.ascontiguousarray(luma[top:bottom, left:right])
            here = np.ascontiguousarray(mask[top:bottom, left:right])
            corners: Any = cv2.goodFeaturesToTrack(cell, _EACH, 0.05, height / 90, mask=here)
            if corners is not None:
                found.append(corners + np.array([left, top], np.float32))
    if not found:
        return np.empty((0, 1, 2), np.float32)
    spots = np.concatenate(found).astype(np.float32)
    # A cell of plain sky has corners too, of noise: what is far weaker than the usual one is none.
    strength = cv2.cornerMinEigenVal(luma, 5)
    at = strength[spots[:, 0, 1].astype(int), spots[:, 0, 0].astype(int)]
    return np.ascontiguousarray(spots[at >= max(0.02 * float(np.median(at)), 2e-5)])


def _located(
    key: _Key, luma: Luma, known: dict[int, tuple[NDArray[np.float64], float]], away: Luma
) -> tuple[tuple[NDArray[np.float64], float], _Key]:
    """Map and residual of a picture against the anchor, and the key for the next one."""
    last = next(reversed(known.values()))[0]
    guess = last @ np.linalg.inv(key.map) if math.isfinite(next(reversed(known.values()))[1]) else np.eye(3)
    start, end = _found_again(key.luma, luma, key.spots, guess)
    fitted = _fitted(start, end)
    if fitted is None:
        return (last, math.inf), key
    step, residual, members = fitted
    whole = step @ key.map
    carried = math.hypot(key.residual, residual)
    if members < _KEPT_SHARE * len(key.spots):
        moved = cv2.warpPerspective(away, whole, (away.shape[1], away.shape[0]), flags=cv2.INTER_NEAREST)
        key = _Key(luma, _corners(luma, np.asarray(moved, np.uint8)), whole, carried)
    return (whole, carried), key


def _found_again(then: Luma, now: Luma, spots: Spots, guess: NDArray[np.float64]) -> tuple[Spots, Spots]:
    """Spots and where they are now, those that lead there and back; float32, shape (n, 2) each."""
    if len(spots) < _FEWEST:
        empty = np.empty((0, 2), np.float32)
        return empty, empty
    options: dict[str, Any] = {"winSize": (_WINDOW, _WINDOW), "maxLevel": _LEVELS, "criteria": _CRITERIA}
    expected = cv2.perspectiveTransform(spots, guess).astype(np.float32)
    there, seen, _ = cv2.calcOpticalFlowPyrLK(
        then, now, spots, expected.copy(), flags=cv2.OPTFLOW_USE_INITIAL_FLOW, **options
    )
    back, again, _ = cv2.calcOpticalFlowPyrLK(
        now, then, there, spots.copy(), flags=cv2.OPTFLOW_USE_INITIAL_FLOW, **options
    )
    error = np.linalg.norm((back - spots)[:, 0], axis=1)
    good = (seen[:, 0] == 1) & (again[:, 0] == 1) & (error < _THERE_AND_BACK)
    return spots[good, 0], there[good, 0]


def _fitted(start: Spots, end: Spots) -> tuple[NDArray[np.float64], float, int] | None:
    """The map that carries most spots: 3x3, its residual in pixels, how many spots it carries; None if there is none.

    The residual is the root mean square over the spots that belong to it, or the distance within which 85 % of all
    spots lie, whichever is more. Where more than half do not belong to it, nothing is known.
    """
    if len(start) < _FEWEST:
        return None
    similar, members = cv2.estimateAffinePartial2D(
        start, end, method=cv2.RANSAC, ransacReprojThreshold=_OUTLIER, maxIters=2000, confidence=0.999
    )
    best = None
    if similar is not None:
        best = _judged(np.vstack([similar, [0.0, 0.0, 1.0]]), start, end, members[:, 0] == 1)
    projection, belonging = cv2.findHomography(start, end, cv2.RANSAC, _OUTLIER, maxIters=2000, confidence=0.999)
    if projection is not None:
        other = _judged(np.asarray(projection, np.float64), start, end, belonging[:, 0] == 1)
        clearly = best is None or other[1] < _BETTER * best[1] or other[2] > 1.15 * best[2]
        best = other if clearly and other[2] >= 4 * _FEWEST else best
    if best is None or best[2] < max(_FEWEST, len(start) / 2):
        return None
    return best


def _judged(
    matrix: NDArray[np.float64], start: Spots, end: Spots, members: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], float, int]:
    carried = cv2.perspectiveTransform(start[:, None], matrix)[:, 0]
    errors = np.linalg.norm(carried - end, axis=1)
    count = int(members.sum())
    if not count:
        return matrix, math.inf, count
    # With a lens that wanders, near and far go different ways, and a residual of only what fits would hide it. A
    # distance, not a mean: the few that move by themselves may be far off.
    fits = float(np.sqrt(np.mean(errors[members] ** 2)))
    return matrix, max(fits, float(np.quantile(errors, _TOLD))), count


def _in_fractions(matrix: NDArray[np.float64], size: tuple[int, int]) -> Projection:
    """The same map between fractions of the pictures; samples of the arrays lie at pixel centres."""
    to_samples = np.array([[size[0], 0, -0.5], [0, size[1], -0.5], [0, 0, 1.0]])
    made = np.linalg.inv(to_samples) @ matrix @ to_samples
    made /= made[2, 2]
    if np.array_equal(matrix, np.eye(3)):
        return STAYS
    return Projection(tuple(float(value) for value in made.ravel()))  # type: ignore[arg-type]

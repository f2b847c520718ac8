"""What moves in a clip, and how its background is lit: from the middle of many frames, at every spot of the picture.

Where the camera stands still, the median over time of a spot is the background, however often a club passes. What
differs from it is the player and the club; a player's feet, which hardly move, belong to the background in this sense.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.facts import ClipFacts, SceneFacts
from segmentkit.geometry import Rect
from segmentkit.media.frames import ClipReader
from segmentkit.media.planes import Planes
from segmentkit.media.store import Store

RECIPE = 1
"""Version of the method; a higher one measures anew."""
_KIND = "scene"
_HEIGHT = 540
_MOST = 90
"""Frames looked at; more say hardly more of what a swing covers."""
_FOR_BACKGROUND = 25
_DIFFERENT = 20
"""Code values by which a spot must differ from the background, beside the picture's own noise."""
_SMALLEST = 12
"""Samples at `_HEIGHT` that a moving thing covers at least."""
_ALL = 0.85
"""Part of the picture that a player does not fill."""
_JOINS = 0.04
"""Moving things closer than this part of the picture's height belong together."""


def scene_facts(facts: ClipFacts, store: Store, *, first: int, last: int) -> SceneFacts:
    """What moves from one frame of a clip to another, or what was measured before.

    Args:
        facts: of a clip that was normalised, filmed from a camera that stands still.
        store: the working folder.
        first: the first frame that is shown.
        last: the last one.

    Raises:
        MediaUnusable: when the working copy cannot be read.
        OutputFailed: when the working folder cannot be written to.
    """
    entry = store.path_for(_KIND, RECIPE, facts.content, first, last, suffix=".json")
    return store.make(entry, _read, lambda partial: _write(partial, _measured(facts, first, last)))


def _read(entry: Path) -> SceneFacts:
    data = json.loads(entry.read_text())
    low, middle, high = data["luma"]
    return SceneFacts(
        frames=tuple(data["frames"]),
        boxes=tuple(None if box is None else Rect(*box) for box in data["boxes"]),
        luma=(low, middle, high),
        blue=data["blue"],
        red=data["red"],
    )


def _write(partial: Path, scene: SceneFacts) -> None:
    partial.write_text(
        json.dumps({
            "frames": scene.frames,
            "boxes": [None if box is None else [box.x, box.y, box.width, box.height] for box in scene.boxes],
            "luma": scene.luma,
            "blue": scene.blue,
            "red": scene.red,
        })
    )  # fmt: skip


def _measured(facts: ClipFacts, first: int, last: int) -> SceneFacts:
    step = max(1, (facts.frames - 1) // _MOST + 1)
    # The whole clip tells what the background is, also where only a moment of it is shown.
    frames = sorted({*range(0, facts.frames, step), first, last})
    lumas: list[NDArray[np.uint8]] = []
    chroma: list[tuple[NDArray[np.uint8], NDArray[np.uint8]]] = []
    every = max(1, len(frames) // _FOR_BACKGROUND)
    with ClipReader(facts) as reader:
        for index, frame in enumerate(frames):
            planes = reader.planes(frame)
            lumas.append(_small(planes.y))
            if index % every == 0:
                chroma.append(_tints(planes))
    background = np.median(np.stack(lumas[::every]), axis=0).astype(np.uint8)
    noise = float(np.median([np.abs(luma.astype(np.int16) - background).mean() for luma in lumas[::every]]))
    changed = [_changed(luma, background, _DIFFERENT + 4 * noise) for luma in lumas]
    still = _still(changed)
    blue, red = (np.median(np.stack([pair[k] for pair in chroma]), axis=0) for k in (0, 1))
    there = cv2.resize(still.astype(np.uint8), blue.shape[::-1], interpolation=cv2.INTER_NEAREST) > 0
    low, middle, high = (float(value) for value in np.percentile(background[still], [10, 50, 90]))
    return SceneFacts(
        frames=tuple(frames),
        boxes=tuple(_box(one) for one in changed),
        luma=(low, middle, high),
        blue=float(np.median(blue[there])),
        red=float(np.median(red[there])),
    )


def _small(plane: NDArray[np.uint8]) -> NDArray[np.uint8]:
    if plane.shape[0] <= _HEIGHT:
        return plane.copy()
    width = round(plane.shape[1] * _HEIGHT / plane.shape[0])
    return np.asarray(cv2.resize(plane, (width, _HEIGHT), interpolation=cv2.INTER_AREA), np.uint8)


def _tints(planes: Planes) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    size = (max(1, planes.u.shape[1] // 8), max(1, planes.u.shape[0] // 8))
    blue, red = (cv2.resize(plane, size, interpolation=cv2.INTER_AREA) for plane in (planes.u, planes.v))
    return np.asarray(blue, np.uint8), np.asarray(red, np.uint8)


def _changed(luma: NDArray[np.uint8], background: NDArray[np.uint8], threshold: float) -> NDArray[np.uint8]:
    """1 where something is that is not background; single samples of noise are left out."""
    difference = cv2.absdiff(luma, background)
    over = (difference > threshold).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(over, connectivity=8)
    keep = np.zeros(count, np.uint8)
    keep[1:] = stats[1:, cv2.CC_STAT_AREA] >= _SMALLEST
    return np.asarray(keep[labels], np.uint8)


def _still(changed: Sequence[NDArray[np.uint8]]) -> NDArray[np.bool_]:
    """Where hardly anything ever moves."""
    share = np.mean(np.stack(changed), axis=0, dtype=np.float32)
    still = np.asarray(share < 0.1)
    return still if still.any() else np.ones_like(still)


def _box(changed: NDArray[np.uint8]) -> Rect | None:
    """The box around the largest moving thing and all that is near it, in fractions; None where nothing does."""
    height, width = changed.shape
    reach = max(3, round(_JOINS * height))
    joined = cv2.dilate(changed, np.ones((reach, reach), np.uint8))
    count, labels, _, _ = cv2.connectedComponentsWithStats(joined, connectivity=8)
    if count < 2:
        return None
    sizes = np.bincount(labels[changed > 0], minlength=count)
    sizes[0] = 0
    if not sizes.any():
        return None
    rows, columns = np.nonzero((labels == int(sizes.argmax())) & (changed > 0))
    left, right, top, bottom = columns.min(), columns.max() + 1, rows.min(), rows.max() + 1
    if (right - left) * (bottom - top) > _ALL * width * height:
        return None  # the camera moves, or the light changes: then it is not known what else does
    return Rect(
        round(float(left / width), 4),
        round(float(top / height), 4),
        round(float((right - left) / width), 4),
        round(float((bottom - top) / height), 4),
    )

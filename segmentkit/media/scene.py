"""What moves in a clip, and how its background is lit: from the middle of many frames, at every spot of the picture.

Where the camera stands still, the median over time of a spot is the background, however often a club passes. What
differs from it is the player and the club; a player's feet, which hardly move, belong to the background in this sense.
A moving shadow on the ground does not make the player wider (see `shadow`).
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
from segmentkit.media.shadow import Sampled, shadows
from segmentkit.media.store import Store

RECIPE = 3
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
_RESTLESS = 5.0
"""Code values by which an ordinary frame differs from the background when the camera does not stand still: 1.2 to 1.6
were measured from a tripod, 3 with a barely, 6 with a plainly hand-held camera."""
_ACROSS = 0.97
"""What moves over more of the picture's width is no player but another picture: a cut within the clip, other light.
Common practice, no source."""
_JOINS = 0.04
"""Moving things closer than this part of the picture's height belong together."""


def scene_facts(facts: ClipFacts, store: Store, *, first: int, last: int, moments: Sequence[int] = ()) -> SceneFacts:
    """What moves from one frame of a clip to another, or what was measured before.

    Args:
        facts: of a clip that was normalised, filmed from a camera that stands still.
        store: the working folder.
        first: the first frame that is shown.
        last: the last one.
        moments: frames between them that are looked at as well, such as those that are frozen: a moment before impact
            the club is elsewhere.

    Raises:
        MediaUnusable: when the working copy cannot be read.
        OutputFailed: when the working folder cannot be written to.
    """
    frames = tuple(sorted({first, last, *moments}))
    entry = store.path_for(_KIND, RECIPE, facts.content, *frames, suffix=".json")
    return store.make(entry, _read, lambda partial: _write(partial, _measured(facts, frames), facts.content))


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


def _write(partial: Path, scene: SceneFacts, content: str) -> None:
    partial.write_text(
        json.dumps({
            "of": content,
            "frames": scene.frames,
            "boxes": [None if box is None else [box.x, box.y, box.width, box.height] for box in scene.boxes],
            "luma": scene.luma,
            "blue": scene.blue,
            "red": scene.red,
        })
    )  # fmt: skip


def _measured(facts: ClipFacts, moments: Sequence[int]) -> SceneFacts:
    step = max(1, (facts.frames - 1) // _MOST + 1)
    # The whole clip tells what the background is, also where only a moment of it is shown.
    grid = range(0, facts.frames, step)
    frames = sorted({*grid, *moments})
    with ClipReader(facts) as reader:
        pictures = [_small(reader.planes(frame)) for frame in frames]
    even = [picture for frame, picture in zip(frames, pictures, strict=True) if not frame % step]
    some = even[:: max(1, len(even) // _FOR_BACKGROUND)]
    middle = Sampled(*(np.median(np.stack(planes), axis=0).astype(np.uint8) for planes in zip(*some, strict=True)))
    noise = float(np.median([cv2.absdiff(one.y, middle.y).mean() for one in some]))
    changed = [_changed(one, middle, _DIFFERENT + 4 * noise) for one in pictures]
    if noise > _RESTLESS:  # the camera moves, or the light does: it is not known what else moves
        changed = [np.zeros_like(one) for one in changed]
    still = _still(changed)
    boxes = [_player(one, picture, middle) for one, picture in zip(changed, pictures, strict=True)]
    there = cv2.resize(still.astype(np.uint8), middle.u.shape[::-1], interpolation=cv2.INTER_NEAREST) > 0
    low, half, high = (float(value) for value in np.percentile(middle.y[still], [10, 50, 90]))
    return SceneFacts(
        frames=tuple(frames),
        boxes=tuple(boxes),
        luma=(low, half, high),
        blue=float(np.median(middle.u[there])),
        red=float(np.median(middle.v[there])),
    )


def _small(planes: Planes) -> Sampled:
    height = min(_HEIGHT, planes.size.height) // 2 * 2
    width = round(planes.size.width * height / planes.size.height / 2) * 2

    def sized(plane: NDArray[np.uint8], wide: int, high: int) -> NDArray[np.uint8]:
        return np.asarray(cv2.resize(plane, (wide, high), interpolation=cv2.INTER_AREA), np.uint8)

    return Sampled(
        sized(planes.y, width, height), *(sized(plane, width // 2, height // 2) for plane in (planes.u, planes.v))
    )


def _changed(picture: Sampled, background: Sampled, threshold: float) -> NDArray[np.uint8]:
    """1 where something is that is not background; single samples of noise are left out."""
    difference = cv2.absdiff(picture.y, background.y)
    return _without_specks((difference > threshold).astype(np.uint8))


def _without_specks(over: NDArray[np.uint8]) -> NDArray[np.uint8]:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(over, connectivity=8)
    keep = np.zeros(count, np.uint8)
    keep[1:] = stats[1:, cv2.CC_STAT_AREA] >= _SMALLEST
    return np.asarray(keep[labels], np.uint8)


def _still(changed: Sequence[NDArray[np.uint8]]) -> NDArray[np.bool_]:
    """Where hardly anything ever moves."""
    share = np.mean(np.stack(changed), axis=0, dtype=np.float32)
    still = np.asarray(share < 0.1)
    return still if still.any() else np.ones_like(still)


def _player(changed: NDArray[np.uint8], picture: Sampled, background: Sampled) -> Rect | None:
    """The box around what moves, no wider than it is without its shadow; feet stay in it however dark they are."""
    whole = _box(changed)
    if whole is None or whole.width > _ACROSS:
        return None
    height, width = changed.shape
    moved = np.nonzero(changed.any(axis=1))[0]
    rows = slice(int(moved.min()), int(moved.max()) + 1)
    shaded = shadows(picture, background, changed, (rows.start, rows.stop))
    if not shaded.any():
        return whole
    bare = _box(_without_specks(changed * (1 - shaded)))
    if bare is None:
        return whole
    columns = slice(round(bare.x * width), round(bare.right * width))
    rows = slice(round(bare.y * height), rows.stop)
    here = np.nonzero(changed[rows, columns].any(axis=1))[0]
    bottom = (rows.start + here.max() + 1) / height
    return Rect(bare.x, bare.y, bare.width, round(max(float(bottom) - bare.y, bare.height), 4))


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
    return Rect(
        round(float(left / width), 4),
        round(float(top / height), 4),
        round(float((right - left) / width), 4),
        round(float((bottom - top) / height), 4),
    )

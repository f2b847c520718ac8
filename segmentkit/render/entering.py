"""Between two pictures: dissolved, wiped or pushed. Nothing gets brighter or darker than the two pictures are."""

from __future__ import annotations

import cv2
import numpy as np

from segmentkit.media.planes import Plane, Planes
from segmentkit.plan.model import Entry


def part_in(entry: Entry, offset: int) -> float:
    """How much of a shot is there on its frame `offset`: more than nothing on the first one, all of it after the last.

    A dissolve goes evenly, since an eased one looks shorter than it is; what moves starts and stops gently.
    """
    gone = min(1.0, (offset + 1) / (entry.frames + 1))
    return gone if entry.by == "dissolve" else gone * gone * (3 - 2 * gone)


def between_pictures(going: Planes, coming: Planes, entry: Entry, offset: int) -> Planes:
    """The picture of a frame on which a shot takes the place of the one before, in memory of its own.

    Args:
        going: the last picture of the shot before.
        coming: the picture of this shot.
        entry: how it comes in.
        offset: frames from the start of the shot, less than `entry.frames`.
    """
    part = part_in(entry, offset)
    if entry.by == "dissolve":
        return Planes(*(_mixed(a, b, part) for a, b in zip(_three(going), _three(coming), strict=True)))
    width = going.size.width
    edge = 2 * round(part * width / 2)  # chroma samples lie two pixels apart
    made = going.copy()
    for out, old, new, at in zip(
        _three(made), _three(going), _three(coming), (edge, edge // 2, edge // 2), strict=True
    ):
        if entry.by == "wipe":
            out[:, :at] = new[:, :at]
        else:
            out[:, : out.shape[1] - at] = old[:, at:]
            out[:, out.shape[1] - at :] = new[:, :at]
    return made


def _three(planes: Planes) -> tuple[Plane, Plane, Plane]:
    return planes.y, planes.u, planes.v


def _mixed(old: Plane, new: Plane, part: float) -> Plane:
    return np.asarray(cv2.addWeighted(new, part, old, 1 - part, 0), np.uint8)

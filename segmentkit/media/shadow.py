"""Which of what differs from the background is a shadow on the ground, or ground that a shadow has left.

In a shadow the ground keeps its colour and loses light: luma above black and both chroma differences shrink by one
factor (a scaling of R'G'B', which is what less of the same light does within one gamma). Ground that a shadow has left
gains light in the same way. That alone would take a dark blurred club for a shadow, so two more things are asked: that
it lies low, where feet and ground are, and that it holds a patch as broad as a shadow and no shaft is.
"""

from __future__ import annotations

from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

LOW = 0.35
"""Lower part of a moving thing's box in which a shadow lies: up to about the knees. Common practice, no source."""
_BROAD = (5, 3)
"""Samples across and down that a shadow covers somewhere, at a picture height of 540; a shaft is 2 or 3 across."""
_FACTORS = (0.25, 0.93, 1.07, 4.0)
"""Between the first two ground is in shadow, between the last two it was left by one."""
_TINT = 6.0
"""Code values of chroma by which the colour may differ from the scaled one."""
_NEAR, _SLIVERS = 45, 6
"""Samples within which slivers belong to a shadow, and how many of them in a row."""
_FRAYED = (9, 7)
"""Edges of a shadow, half dark, that go with it."""


class Sampled(NamedTuple):
    """Luma and both chroma planes of half its size; uint8, shape (height, width)."""

    y: NDArray[np.uint8]
    u: NDArray[np.uint8]
    v: NDArray[np.uint8]


def shadows(
    picture: Sampled, background: Sampled, changed: NDArray[np.uint8], rows: tuple[int, int]
) -> NDArray[np.uint8]:
    """Where shadows came or went.

    Args:
        picture: a frame.
        background: what is behind everything that moves.
        changed: 1 where the frame differs from the background; uint8, shape (height, width).
        rows: first and last row of the moving thing; only its lower part is looked at.

    Returns:
        1 for a shadow and its edges; uint8, shape (height, width).
    """
    none = np.zeros_like(changed)
    top = round(rows[1] - LOW * (rows[1] - rows[0]))
    low = slice(max(0, top), None)
    alike = _dimmed(picture, background) & (changed > 0)
    none[low] = alike[low]
    broad = cv2.morphologyEx(none, cv2.MORPH_OPEN, np.ones(_BROAD[::-1], np.uint8))
    count, labels, _, _ = cv2.connectedComponentsWithStats(cv2.dilate(none, np.ones((3, 3), np.uint8)), connectivity=8)
    holds = np.zeros(count, np.uint8)
    holds[np.unique(labels[broad > 0])] = 1
    holds[0] = 0
    # Where a shadow has hardly moved only slivers of its edges differ: those near a broad one go with it, one by one.
    reach = np.ones((_NEAR, _NEAR), np.uint8)
    for _ in range(_SLIVERS):
        known = int(holds.sum())
        holds[np.unique(labels[cv2.dilate(holds[labels], reach) > 0])] = 1
        holds[0] = 0
        if known == int(holds.sum()):
            break
    found = cv2.dilate(holds[labels], np.ones(_FRAYED[::-1], np.uint8))
    found[: low.start] = 0
    return np.asarray(found, np.uint8)


def _dimmed(picture: Sampled, background: Sampled) -> NDArray[np.bool_]:
    """Where a frame is the background in another amount of the same light."""
    now, was = (cv2.blur(one.y.astype(np.float32) - 16, (5, 5)) for one in (picture, background))
    factor = now / np.maximum(was, 1)
    half = cv2.resize(factor, picture.u.shape[::-1], interpolation=cv2.INTER_AREA)
    off = np.zeros_like(half)
    for plane, before in ((picture.u, background.u), (picture.v, background.v)):
        new, old = (cv2.blur(one.astype(np.float32) - 128, (3, 3)) for one in (plane, before))
        off = np.maximum(off, np.abs(new - half * old) / np.maximum(half, 1))
    tint = cv2.resize(off, picture.y.shape[::-1], interpolation=cv2.INTER_LINEAR)
    least, dark, light, most = _FACTORS
    lit = ((factor > least) & (factor < dark)) | ((factor > light) & (factor < most))
    return np.asarray(lit & (tint < _TINT))

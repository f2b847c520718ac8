"""Small grey pictures of a working copy, in memory that does not grow with the clip, for all that looks at motion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.facts import ClipFacts
from segmentkit.media.frames import ClipReader

Grey = NDArray[np.float32]
Stack = NDArray[np.uint8]

LONG_SIDE = 320
"""Long side of the small pictures in pixels."""
MOST = 1200
"""Most pictures in memory at once: at 320x180 they take 69 MB."""
_SAMPLES = 48


@dataclass(frozen=True, slots=True, kw_only=True)
class Footage:
    """Small pictures of a clip.

    Attributes:
        frames: source frame of each picture, rising.
        seconds: their moments from the first frame, float64, shape (n,).
        luma: uint8, shape (n, height, width), 16 to 235.
        still: the picture without what moves, float32, shape (height, width): the median over the clip.
        grain: how far a pixel where nothing moves strays from one picture to the next, in steps of luma.
        scale: small pixels for one pixel of the clip.
    """

    frames: tuple[int, ...]
    seconds: NDArray[np.float64]
    luma: Stack
    still: Grey
    grain: float
    scale: float


def read_footage(facts: ClipFacts, wanted: Sequence[int] | None = None) -> Footage:
    """Reads small pictures of a clip: of all its frames, or of every second, third ... when there are too many.

    Args:
        facts: of a clip that was normalised.
        wanted: the frames to read instead; at most `MOST` of them are.
    """
    numbers = list(range(facts.frames)) if wanted is None else sorted(set(wanted))
    step = -(-len(numbers) // MOST)
    numbers = numbers[::step]
    scale = LONG_SIDE / max(facts.size.width, facts.size.height)
    width, height = max(8, round(facts.size.width * scale)), max(8, round(facts.size.height * scale))
    luma = np.empty((len(numbers), height, width), np.uint8)
    with ClipReader(facts, kept=1) as reader:
        for index, number in enumerate(numbers):
            luma[index] = cv2.resize(reader.planes(number).y, (width, height), interpolation=cv2.INTER_AREA)
    seconds = np.array([float(facts.times[number]) for number in numbers])
    return Footage(
        frames=tuple(numbers), seconds=seconds, luma=luma, still=_still(luma), grain=_grain(luma), scale=scale
    )


def _still(luma: Stack) -> Grey:
    """The median of pictures spread over the clip."""
    chosen = luma[np.unique(np.linspace(0, len(luma) - 1, _SAMPLES).round().astype(int))]
    return np.asarray(np.median(chosen, axis=0), np.float32)


def _grain(luma: Stack) -> float:
    """Median absolute difference of neighbours, on the quieter half of the picture, as a standard deviation."""
    if len(luma) < 2:
        return 0.0
    pairs = np.unique(np.linspace(0, len(luma) - 2, 24).round().astype(int))
    steps = np.abs(luma[pairs + 1].astype(np.int16) - luma[pairs])
    quiet = np.sort(steps.mean(axis=0).ravel())[: steps[0].size // 2]
    return float(quiet.mean() * 1.2533 / np.sqrt(2))  # mean absolute to standard deviation; two pictures differ by both

"""Compares a picture with a stored one; a failure writes expected, actual and difference beside one another.

Set SEGMENTKIT_STORE_GOLDENS=1 to store what comes out now, then look at it before it is kept.
"""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image

FOLDER = Path(__file__).parent / "golden"
CLOSE = 24
"""Two values further apart than this differ; other versions of the font rasteriser move edges by less."""
MOST_DIFFERING = 0.002
MOST_MEAN = 0.4


class GoldenDiffersError(AssertionError):
    """A picture is not the stored one."""


def differs(actual: NDArray[np.uint8], expected: NDArray[np.uint8]) -> str:
    """What parts two pictures, in words; empty when they are alike."""
    if actual.shape != expected.shape:
        return f"shape {actual.shape}, stored {expected.shape}"
    gap = np.abs(actual.astype(np.int16) - expected.astype(np.int16))
    share, mean = float((gap > CLOSE).mean()), float(gap.mean())
    if share > MOST_DIFFERING or mean > MOST_MEAN:
        return f"{share:.3%} of the values differ by more than {CLOSE}, {mean:.3f} on average"
    return ""


def compare(actual: NDArray[np.uint8], name: str, failures: Path) -> None:
    """Holds an RGB picture against the stored one of that name."""
    stored = FOLDER / f"{name}.png"
    if os.environ.get("SEGMENTKIT_STORE_GOLDENS") == "1":
        FOLDER.mkdir(exist_ok=True)
        Image.fromarray(actual).save(stored, optimize=True)
        return
    expected = np.asarray(Image.open(stored).convert("RGB"))
    if not (words := differs(actual, expected)):
        return
    failures.mkdir(parents=True, exist_ok=True)
    Image.fromarray(actual).save(failures / f"{name}-actual.png")
    Image.fromarray(expected).save(failures / f"{name}-expected.png")
    if actual.shape == expected.shape:
        gap = np.abs(actual.astype(np.int16) - expected.astype(np.int16)).astype(np.uint8)
        Image.fromarray(np.minimum(gap, 63) * 4).save(failures / f"{name}-difference.png")
    raise GoldenDiffersError(f"{name}: {words}; see {failures}")

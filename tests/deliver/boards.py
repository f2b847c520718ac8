"""A segment with papers for tests: the storyboard without faults, with a sheet, and pictures that tell frames apart."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np

from segmentkit.checks.context import CheckContext
from segmentkit.media.stills import Rgb
from tests.plan_makers import Board, clean, context

SHEET = {
    "person": "maren",
    "what": "At impact there is daylight between your hips and the line.",
    "why": "With less room you catch it thin.",
    "feel": "Let your lead hip go back.",
}


def with_sheet(**changes: Any) -> Board:
    board = clean()
    board["sheet"] = {**SHEET, **changes}
    return board


def segment(board: Board | None = None, **how: Any) -> CheckContext:
    return context(board or with_sheet(), **how)


def pictures(frames: Iterable[int], width: int = 192, height: int = 108) -> dict[int, Rgb]:
    """A picture for each frame, in a shade of its own."""
    return {frame: np.full((height, width, 3), frame % 251, np.uint8) for frame in frames}

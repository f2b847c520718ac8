"""One clip of the planted set."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from segmentkit.storyboard.submission import Part, VerdictWord


@dataclass(frozen=True, kw_only=True)
class Case:
    """One planted clip.

    Attributes:
        name: also its file's name; an ending other than .mp4 is written out.
        make: writes the file.
        word: the verdict it must get.
        reason: the reason that must be among those of that weight; empty for use.
        part: what it is sent as.
        stated: the record's own words on it.
    """

    name: str
    make: Callable[[Path], object]
    word: VerdictWord
    reason: str = ""
    part: str = "down-the-line"
    stated: Part | None = None

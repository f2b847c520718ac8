"""Single frames as PNG, to look at before a long render."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import cv2

from . import clips, shoot


def swing_stills(name: str, wanted: Sequence[str], folder: Path, scale: float) -> None:
    """Write `<clip>-<moment>.png` for each position name or frame number."""
    if name == clips.DRILL:
        shots = shoot.drill_shots(scale)
        for moment in wanted:
            cv2.imwrite(str(folder / f"{name}-{moment}.png"), shoot.drill_frame(shots, int(moment))[..., ::-1])
        return
    clip = next(clip for clip in clips.SWINGS if clip.name == name)
    swing, stage = clips.swing_of(clip), shoot.stage_of(clip, scale)
    for moment in wanted:
        frame = clip.when.frames[moment] if moment in clip.when.frames else int(moment)
        cv2.imwrite(str(folder / f"{name}-{moment}.png"), shoot.swing_frame(clip, swing, stage, frame)[..., ::-1])

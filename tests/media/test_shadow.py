"""A moving shadow on the ground makes no player wider; a dark club low over the ground stays the player's."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from segmentkit.geometry import Size
from segmentkit.media.normalise import normalise
from segmentkit.media.scene import scene_facts
from segmentkit.media.store import Store
from tests.clips import make_clip, steady
from tests.demo import CLIPS, clip_facts
from tests.scenes import textured

WIDE = Size(960, 540)
BODY = (430, 150, 500, 470)
"""Left, top, right and bottom of the player, in pixels."""
SWAY = 40


def picture(frame: int, *, shadow: float = 0.45, club: bool = False) -> np.ndarray:
    """A player who sways before turf, a long shadow at their feet that turns and grows, perhaps a club."""
    made = textured(WIDE, seed=3).astype(np.float32)
    phase = frame / 29
    rows, columns = np.mgrid[0 : WIDE.height, 0 : WIDE.width]
    reach = 140 + 220 * phase  # strong and moving: longer than the player is tall at the end
    slope = 40 * (phase - 0.5)
    centre = BODY[3] - 12 + slope * (BODY[0] - columns) / 300
    dark = (columns > BODY[0] - reach) & (columns < BODY[0] + 10) & (abs(rows - centre) < 16)
    made[dark] *= shadow
    sway = round(SWAY * np.sin(frame / 4))
    made[BODY[1] : BODY[3], BODY[0] + sway : BODY[2] + sway] = (205, 60, 70)
    if club:
        for k in range(120):
            x = BODY[2] + 10 + k
            y = 380 + round(0.55 * k) + round(10 * np.sin(frame / 2))
            made[y - 2 : y + 2, x : x + 2] = (62, 66, 74)
    return made.clip(0, 255).astype(np.uint8)


def measured(folder: Path, **how: object):
    store = Store(folder / "store")
    path = make_clip(folder / "shadow.mp4", steady(30, 1), size=WIDE, picture=lambda k: picture(k, **how))
    return scene_facts(normalise(path, store), store, first=0, last=29)


def test_a_strong_moving_shadow_makes_no_player_wider(tmp_path: Path):
    scene = measured(tmp_path)
    moving = [box for box in scene.boxes if box is not None]
    assert len(moving) > 20
    # With its shadow the player would reach 140 to 360 pixels further to one side.
    assert min(box.x * WIDE.width for box in moving) > BODY[0] - SWAY - 30
    assert max(box.right * WIDE.width for box in moving) < BODY[2] + SWAY + 12
    # Head and feet are where they were.
    whole = scene.box(0, 29)
    assert whole is not None
    assert whole.y * WIDE.height == pytest.approx(BODY[1], abs=4)
    assert whole.bottom * WIDE.height == pytest.approx(BODY[3], abs=12)


@pytest.mark.slow
def test_a_dark_club_low_over_the_turf_is_no_shadow(tmp_path: Path):
    scene = measured(tmp_path, club=True)
    whole = scene.box(0, 29)
    assert whole is not None
    assert whole.right * WIDE.width > BODY[2] + 110


@pytest.mark.slow
@pytest.mark.parametrize("name", ["viewer-dtl", "model-dtl"])
def test_on_the_demo_the_box_is_hardly_wider_than_joints_and_club(tmp_path: Path, name: str):
    """The sun of the demo's film is low: its shadows reach 0.25 of the picture's width to one side."""
    store = Store(tmp_path / "store")
    scene = scene_facts(clip_facts(name), store, first=72, last=284)
    truth = json.loads((CLIPS / f"{name}.truth.json").read_text())
    left = []
    for frame, box in zip(scene.frames, scene.boxes, strict=True):
        spots = np.array(truth["frames"][frame], float).reshape(-1, 2)
        if box is not None and 72 <= frame <= 284:
            left.append(float(spots[:, 0].min()) / 1920 - box.x)
    # Measured: 0.27 in every frame of the finish before shadows were told apart; now one or two frames in a swing.
    assert np.median(left) < 0.02
    assert sum(one > 0.06 for one in left) <= 0.06 * len(left)

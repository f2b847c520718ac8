"""What moves in a clip: against the demo's projected joints, and against a scene whose moving thing is known."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from segmentkit.geometry import Size
from segmentkit.media.normalise import normalise
from segmentkit.media.scene import scene_facts
from segmentkit.media.store import Store
from tests.clips import SMALL, make_clip, steady
from tests.demo import CLIPS, clip_facts
from tests.scenes import SIZE, hand_held, textured

STANDING = {"lead_ankle", "trail_ankle", "lead_heel", "trail_heel", "ball"}
"""What hardly moves is background; named points see to it that feet and ball are in the picture."""


def test_a_moving_thing_is_boxed_and_the_background_lit(tmp_path: Path):
    def picture(frame: int) -> np.ndarray:
        made = np.full((SIZE.height, SIZE.width, 3), 100, np.uint8)
        made[120:240, 40 + 10 * frame : 100 + 10 * frame] = (230, 230, 230)
        return made

    store = Store(tmp_path / "store")
    facts = normalise(make_clip(tmp_path / "bar.mp4", steady(30, 1), size=SIZE, picture=picture), store)
    scene = scene_facts(facts, store, first=0, last=29)
    for frame, box in zip(scene.frames, scene.boxes, strict=True):
        assert box is not None
        assert box.x * SIZE.width == pytest.approx(40 + 10 * frame, abs=3)
        assert box.right * SIZE.width == pytest.approx(100 + 10 * frame, abs=3)
        assert (box.y * SIZE.height, box.bottom * SIZE.height) == pytest.approx((120, 240), abs=3)
    # Grey 100 of full range is 16 + 219 * 100 / 255 = 101.9 in limited range (ITU-R BT.709-6, item 4).
    assert scene.luma == pytest.approx((102, 102, 102), abs=1.5)
    assert (scene.blue, scene.red) == pytest.approx((128, 128), abs=1)
    whole = scene.box(0, 29)
    assert whole is not None
    assert (whole.x * SIZE.width, whole.right * SIZE.width) == pytest.approx((40, 390), abs=3)


@pytest.mark.slow
def test_a_frozen_moment_is_looked_at_itself(tmp_path: Path):
    def picture(frame: int) -> np.ndarray:
        made = np.full((SMALL.height, SMALL.width, 3), 100, np.uint8)
        made[60:120, 20 + frame : 60 + frame] = (230, 230, 230)
        return made

    store = Store(tmp_path / "store")
    facts = normalise(make_clip(tmp_path / "bar.mp4", steady(160, 1), picture=picture), store)
    (with_it, without) = (scene_facts(facts, store, first=0, last=159, moments=at) for at in ((100, 151), ()))
    assert 151 in with_it.frames
    assert 151 not in without.frames
    exact, wide = with_it.box(151, 151), without.box(151, 151)
    assert exact is not None
    assert wide is not None
    assert (exact.x * SMALL.width, exact.right * SMALL.width) == pytest.approx((171, 211), abs=2)
    assert wide.width > exact.width


@pytest.mark.slow
def test_another_picture_in_the_clip_is_no_player(tmp_path: Path):
    def picture(frame: int) -> np.ndarray:
        made = np.full((SIZE.height, SIZE.width, 3), 100 if frame < 20 else 180, np.uint8)
        made[120:240, 40 + frame : 100 + frame] = (230, 230, 230)
        return made

    store = Store(tmp_path / "store")
    facts = normalise(make_clip(tmp_path / "cut.mp4", steady(30, 1), size=SIZE, picture=picture), store)
    scene = scene_facts(facts, store, first=0, last=29)
    boxes = dict(zip(scene.frames, scene.boxes, strict=True))
    assert boxes[10] is not None
    assert boxes[25] is None


@pytest.mark.slow
def test_a_camera_that_moves_tells_nothing_of_what_moves(tmp_path: Path):
    world = textured(Size(1400, 900))
    store = Store(tmp_path / "store")
    path = make_clip(tmp_path / "hand.mp4", steady(30, Fraction(20, 30)), size=SIZE,
                     picture=lambda k: hand_held(world, k, 3.0))  # fmt: skip
    scene = scene_facts(normalise(path, store), store, first=0, last=19)
    assert set(scene.boxes) == {None}
    assert scene.box(0, 19) is None


@pytest.mark.slow
@pytest.mark.parametrize("name", ["viewer-dtl", "model-dtl"])
def test_every_moving_joint_and_the_club_are_in_the_box(tmp_path: Path, name: str):
    store = Store(tmp_path / "store")
    scene = scene_facts(clip_facts(name), store, first=72, last=284)
    truth = json.loads((CLIPS / f"{name}.truth.json").read_text())
    outside = []
    for frame, box in zip(scene.frames, scene.boxes, strict=True):
        spots = np.array(truth["frames"][frame], float).reshape(-1, 2)
        for joint, (x, y) in zip(truth["joints"], spots, strict=True):
            if joint in STANDING or joint == "belt_back":  # the seat hardly moves on the model, who keeps her room
                continue
            assert box is not None
            over = max(box.x * 1920 - x, x - box.right * 1920, box.y * 1080 - y, y - box.bottom * 1080)
            if over > 12:
                outside.append((joint, frame, round(over, 1)))
    assert outside == []
    swing = scene.box(72, 284)
    assert swing is not None
    assert swing.width < 0.6

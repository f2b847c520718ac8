"""The background is found again: against camera paths that are known exactly, and on the demo's clip from a tripod."""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np
import pytest

from segmentkit.facts import TrackFacts
from segmentkit.geometry import Point, Rect, Size
from segmentkit.media.background import background_track
from segmentkit.media.normalise import normalise
from segmentkit.media.store import Store
from tests.clips import make_clip, steady
from tests.demo import CLIPS, clip_facts
from tests.scenes import SIZE, Picture, hand_held, textured, true_spot

PLAYER = Rect(0.36, 0.2, 0.28, 0.7)
SPOTS = tuple(Point(x, y) for x in (0.2, 0.45, 0.7) for y in (0.25, 0.5, 0.85))
FRAMES = 45


def worlds() -> dict[str, Picture]:
    rendered = cv2.imread(str(CLIPS / "practice-tee.png"))
    assert rendered is not None
    return {
        "noise": textured(Size(860, 560)),
        "practice tee": np.ascontiguousarray(cv2.resize(rendered, (996, 560), interpolation=cv2.INTER_AREA)[..., ::-1]),
    }


def tracked(folder: Path, world: Picture, shake: float, anchor: int = 0) -> TrackFacts:
    path = make_clip(
        folder / "hand.mp4", steady(30, Fraction(FRAMES, 30)), size=SIZE,
        picture=lambda k: hand_held(world, k, shake),
    )  # fmt: skip
    store = Store(folder / "store")
    return background_track(normalise(path, store), store, anchor=anchor, frames=range(FRAMES), avoid=(PLAYER,))


def errors(track: TrackFacts, shake: float) -> list[float]:
    """How far each spot is from where it truly lies, in pixels at a picture height of 1080."""
    found = []
    for frame, made in zip(track.frames, track.maps, strict=True):
        for spot in SPOTS:
            at, want = made.of(spot), true_spot(spot, frame, shake)
            found.append(1080 * math.hypot((at.x - want.x) * SIZE.width / SIZE.height, at.y - want.y))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["noise", "practice tee"])
def test_a_hand_held_background_is_followed_to_well_under_two_pixels(tmp_path: Path, kind: str):
    track = tracked(tmp_path, worlds()[kind], 1.0)
    off = errors(track, 1.0)
    # Measured: residual 0.35 and 0.39 at most; true error 0.09 and 0.12 on average, 0.37 and 0.55 at most.
    assert max(track.residuals) < 0.8
    assert max(off) < 1.0
    # The stated residual is no flattery: an ordinary spot is not further off than what is stated.
    assert float(np.mean(off)) < float(np.mean(track.residuals))
    # The camera did move: without following, a line would be far off.
    still = [1080 * abs(true_spot(Point(0.5, 0.5), f).y - 0.5) for f in range(FRAMES)]
    assert max(still) > 20


@pytest.mark.slow
def test_a_tripod_is_told_from_a_hand(tmp_path: Path):
    track = tracked(tmp_path, worlds()["noise"], 0.0)
    assert max(errors(track, 0.0)) < 0.2
    assert max(track.residuals) < 0.5


@pytest.mark.slow
def test_a_background_that_leaves_the_picture_is_taken_up_again(tmp_path: Path):
    # Four times as unsteady: hardly half of what the anchor shows is left at the worst frames.
    track = tracked(tmp_path, textured(Size(1400, 900)), 4.0, anchor=0)
    assert all(math.isfinite(residual) for residual in track.residuals)
    assert max(errors(track, 4.0)) < 1.0


def test_nothing_to_hold_on_to_is_said(tmp_path: Path):
    path = make_clip(tmp_path / "sky.mp4", steady(30, Fraction(4, 30)), size=SIZE,
                     picture=lambda k: np.full((SIZE.height, SIZE.width, 3), 120 + k, np.uint8))  # fmt: skip
    store = Store(tmp_path / "store")
    track = background_track(normalise(path, store), store, anchor=0, frames=(2,))
    assert track.measured(2) is not None
    assert math.isinf(track.residuals[1])


def test_a_track_is_measured_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    world = textured(Size(860, 560))
    path = make_clip(
        tmp_path / "hand.mp4", steady(30, Fraction(4, 30)), size=SIZE, picture=lambda k: hand_held(world, k)
    )
    store = Store(tmp_path / "store")
    facts = normalise(path, store)
    first = background_track(facts, store, anchor=1, frames=(0, 3), avoid=(PLAYER,))
    monkeypatch.setattr("segmentkit.media.background._measured", None)
    assert background_track(facts, store, anchor=1, frames=(0, 3), avoid=(PLAYER,)) == first
    assert first.frames == (0, 1, 3)
    assert first.measured(2) is None


@pytest.mark.slow
def test_the_demo_was_filmed_from_a_tripod(tmp_path: Path):
    store = Store(tmp_path / "store")
    facts = clip_facts("viewer-dtl")
    track = background_track(facts, store, anchor=72, frames=range(72, 300, 24), avoid=(Rect(0.33, 0.2, 0.34, 0.75),))
    moved = [1080 * abs(made.of(spot).y - spot.y) for made in track.maps for spot in SPOTS]
    assert max(moved) < 0.5

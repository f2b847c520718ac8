"""A background textured as real ones are: grass, hedge, clouds; a rolling shutter, a wandering lens, noise, H.264."""

from __future__ import annotations

import math
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from segmentkit.facts import TrackFacts
from segmentkit.geometry import Point, Rect
from segmentkit.media.background import background_track
from segmentkit.media.normalise import normalise
from segmentkit.media.store import Store
from tests.clips import Coding, make_clip, steady
from tests.meadow import FPS, SIZE, Hand, filmed, true_spot

FRAMES = 20
PLAYER = Rect(0.4, 0.15, 0.2, 0.75)
SPOTS = tuple(Point(x, y) for x in (0.1, 0.35, 0.65, 0.9) for y in (0.35, 0.5, 0.7, 0.85))
"""Hedge and grass, at the player's feet and at the edges."""


def tracked(folder: Path, hand: Hand) -> TrackFacts:
    path = make_clip(
        folder / "meadow.mp4", steady(FPS, Fraction(FRAMES, FPS)), size=SIZE,
        picture=lambda k: filmed(k, hand), coding=Coding(options={"preset": "fast", "crf": "24", "g": "30"}),
    )  # fmt: skip
    store = Store(folder / "store")
    return background_track(normalise(path, store), store, anchor=0, frames=range(FRAMES), avoid=(PLAYER,))


def errors(track: TrackFacts, hand: Hand) -> list[float]:
    """How far each spot is from where it truly lies, in pixels at a picture height of 1080."""
    found = []
    for frame, made in zip(track.frames, track.maps, strict=True):
        for spot in SPOTS:
            at, want = made.of(spot), true_spot(spot, 0, frame, hand)
            found.append(1080 * math.hypot((at.x - want.x) * SIZE.width / SIZE.height, at.y - want.y))
    return found


def test_the_scene_knows_where_its_spots_lie():
    hand = Hand()
    for spot in SPOTS:
        back = true_spot(spot, 0, 0, hand)
        assert (back.x, back.y) == pytest.approx((spot.x, spot.y), abs=1e-9)
    moved = [true_spot(Point(0.5, 0.6), 0, k, hand) for k in range(FRAMES)]
    assert 1080 * max(abs(one.x - 0.5) for one in moved) * SIZE.width / SIZE.height > 15


@pytest.mark.slow
def test_a_steady_hand_is_followed_within_two_pixels(tmp_path: Path):
    """Sway of a degree, tremor, 3 mm of wander, an 18 ms shutter and noise, coded as phones do."""
    hand = Hand(wander=0.3)
    track = tracked(tmp_path, hand)
    off = errors(track, hand)
    # Measured over 20 frames: residual 0.80 on average, 0.97 at most; true error 0.17 on average, 0.56 at most.
    assert max(track.residuals) < 1.3
    assert float(np.mean(off)) < 0.5
    assert max(off) < 2.0
    assert float(np.mean(off)) < float(np.mean(track.residuals))


@pytest.mark.slow
def test_a_lens_that_wanders_is_not_hidden_by_its_residual(tmp_path: Path):
    """No single map holds near grass and far hedge when the lens moves by centimetres; the stated residual says so."""
    hand = Hand(wander=2.5)
    track = tracked(tmp_path, hand)
    off = errors(track, hand)
    assert max(off) > 4.0
    # Measured over 20 frames: 7.6 at most. Counting only what fits the map, 45 frames said 1.8.
    assert max(track.residuals) > 2.0, "the limit over which a stroke that follows is a finding"

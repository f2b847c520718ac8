"""Proposals against the truth of the demonstration's swings, whose moments are known to the frame."""

from __future__ import annotations

import json

import pytest

from segmentkit.intake.footage import MOST
from segmentkit.intake.survey import survey
from segmentkit.media.guarded import guarded_clip
from segmentkit.media.store import Store
from segmentkit.storyboard.fields import Rate
from tests.intake import planted
from tests.intake.planted import CLIPS, Making

NAMES = ("viewer-dtl", "viewer-face-on", "model-dtl", "model-face-on")


@pytest.mark.slow
@pytest.mark.parametrize("name", NAMES)
def test_strike_and_top_are_proposed_near_the_truth(name, tmp_path):
    truth = json.loads((CLIPS / f"{name}.truth.json").read_text())
    events, fps = truth["events"], truth["fps"]
    path = planted.write(tmp_path / "a.mp4", planted.swing(name), Making(fps=fps), name)
    clip = guarded_clip(path, Store(tmp_path / "store"))
    seen = survey(clip)
    proposed = {proposal.position: proposal for proposal in seen.proposals}
    assert len(seen.swings) == 1
    # The demonstration's sound has no way to travel, a phone's has 4.5 m: the proposal lies that much early.
    early = 4.5 / 343
    assert float(proposed["impact"].second) == pytest.approx(events["impact"] / fps - early, abs=1.01 / fps)
    assert proposed["impact"].trust == "good"
    assert proposed["top"].frame == pytest.approx(events["top"], abs=0.05 * fps)
    assert events["address"] - 0.3 * fps <= proposed["address"].frame < events["takeaway"]
    assert not any(proposal.chosen for proposal in seen.proposals)
    # Without its sound the fastest motion stands in, and says so.
    silent = planted.write(tmp_path / "b.mp4", planted.swing(name)[::2], Making(fps=60, heard=False), name)
    mute = {p.position: p for p in survey(guarded_clip(silent, Store(tmp_path / "store"))).proposals}
    assert mute["impact"].trust == "weak"
    assert float(mute["impact"].second) == pytest.approx(events["impact"] / fps, abs=0.05)


@pytest.mark.slow
def test_a_slowed_file_has_no_trusted_strike_and_a_known_rate_sets_its_pace(tmp_path):
    path = planted.write(tmp_path / "a.mp4", planted.swing("viewer-dtl"), Making(fps=30))
    clip = guarded_clip(path, Store(tmp_path / "store"))
    guessed = survey(clip)
    assert (guessed.pace, guessed.capture) == (4.0, None)
    assert {p.position: p.trust for p in guessed.proposals}["impact"] == "weak"
    stated = survey(clip, captured=Rate(120).fps * 1)
    assert (stated.pace, stated.capture, stated.true_rate) == (4.0, 120.0, 120.0)
    assert len(stated.swings) == 1


@pytest.mark.slow
def test_the_swing_a_person_names_is_the_one_measured(tmp_path):
    two = planted.twice(planted.swing("viewer-dtl")[::2])
    clip = guarded_clip(planted.write(tmp_path / "a.mp4", two), Store(tmp_path / "store"))
    guessed, named = survey(clip), survey(clip, swing=1)
    assert guessed.chosen == 1
    assert named.chosen == 0
    assert named.swing.fastest < 3 < guessed.swing.fastest


@pytest.mark.slow
def test_a_long_clip_is_measured_frame_by_frame_where_somebody_swings(tmp_path):
    frames = planted.smaller(320)(planted.swing("model-dtl"))
    long = [frames[0]] * 900 + frames
    path = planted.write(tmp_path / "a.mp4", long, Making(fps=120, heard=False))
    seen = survey(guarded_clip(path, Store(tmp_path / "store")))
    truth = json.loads((CLIPS / "model-dtl.truth.json").read_text())["events"]
    assert seen.frames > MOST
    assert seen.swing.fastest == pytest.approx((900 + truth["impact"]) / 120, abs=0.05)
    assert seen.swing.top == pytest.approx((900 + truth["top"]) / 120, abs=0.06)
    assert seen.framing.cut == ()

"""What an encoder is told of standing pictures is true: held against the pictures themselves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import av
import numpy as np
import pytest

from segmentkit.pipeline import Checked
from segmentkit.plan.model import Card, Entry, Plan
from segmentkit.render import movie as making
from segmentkit.render.picture import Composer
from segmentkit.render.quiet import LEAST, quiet
from segmentkit.timebase import Span
from tests.render.movies import checked, movie

CHANGED = 8
"""Codes of luma by which a sample must differ to count."""


@pytest.fixture(scope="module")
def segment(tmp_path_factory: pytest.TempPathFactory) -> Checked:
    return checked(tmp_path_factory.mktemp("segment"))


def changes(segment: Checked, plan: Plan) -> np.ndarray:
    """Share of the picture that differs from the frame before, for each frame; all of it for the first."""
    shares, before = [], None
    with Composer(plan, segment.facts, segment.look) as composer:
        for picture in composer.pictures():
            luma = picture.planes.y.astype(int)
            shares.append(1.0 if before is None else float((abs(luma - before) > CHANGED).mean()))
            shares.extend([0.0] * (picture.repeat - 1))
            before = luma.copy()
    assert len(shares) == plan.frames
    return np.array(shares)


def in_runs(plan: Plan) -> np.ndarray:
    told = np.zeros(plan.frames, bool)
    for run in quiet(plan, Span(0, plan.frames)):
        told[run.start : run.end] = True
    return told


def entering(plan: Plan) -> Plan:
    """The plan with a dissolve, and a card that comes and goes over a frozen picture."""
    shots = [
        replace(shot, enter=Entry(by="dissolve", frames=9)) if shot.beat == "second" else shot for shot in plan.shots
    ]
    held = plan.beat("second").span
    card = Card(
        beat="second", kind="information", index=0, fields=(("line", "One"), ("line", "Two")), enter_frames=6,
        leave_frames=6, span=Span(held.start + 22, held.end - 14),
    )  # fmt: skip
    return replace(plan, shots=tuple(shots), cards=(*plan.cards, card))


@pytest.mark.slow
def test_nothing_but_strokes_and_small_texts_changes_in_a_run(segment):
    for plan in (segment.plan, entering(segment.plan)):
        told, shares = in_runs(plan), changes(segment, plan)
        assert told.sum() > 100
        assert shares[told].max() < 0.1


@pytest.mark.slow
def test_what_fills_the_picture_is_in_no_run(segment):
    plan = entering(segment.plan)
    told, shares = in_runs(plan), changes(segment, plan)
    shot = next(shot for shot in plan.shots if shot.beat == "second")
    coming, card = range(shot.span.start, shot.span.start + 10), plan.cards[-1]
    assert (shares > 0.1).sum() >= 5
    assert not told[shares > 0.1].any()
    assert not told[list(coming)].any()
    assert not told[card.span.start : card.span.start + 7].any()
    assert not told[card.span.end - 6 : card.span.end + 1].any()


def test_frozen_pictures_are_told_but_for_their_first_frame(segment):
    told = in_runs(segment.plan)
    for shot in segment.plan.shots:
        if shot.kind == "freeze":
            assert not told[shot.span.start]
            assert told[shot.span.start + 1 : shot.span.end].all()
        if shot.kind == "run":
            assert not told[shot.span.start : shot.span.end].any()


def test_runs_count_from_the_start_of_the_stretch(segment):
    whole = in_runs(segment.plan)
    for shot in segment.plan.shots:
        runs = quiet(segment.plan, shot.span)
        assert all(run.frames >= LEAST and 0 <= run.start < run.end <= shot.span.frames for run in runs)
        for run in runs:
            assert whole[shot.span.start + run.start : shot.span.start + run.end].all()


@pytest.mark.slow
def test_the_movie_has_the_same_pictures_whatever_the_encoder_was_told(segment, tmp_path: Path, monkeypatch):
    def seen(out: Path) -> np.ndarray:
        with av.open(str(out)) as file:
            return np.array([frame.to_ndarray(format="gray") for frame in file.decode(video=0)])

    movie(segment, tmp_path / "told.mp4", tmp_path / "one")
    monkeypatch.setattr(making, "quiet", lambda *_: ())
    movie(segment, tmp_path / "untold.mp4", tmp_path / "two")
    told, untold = seen(tmp_path / "told.mp4"), seen(tmp_path / "untold.mp4")
    assert told.shape == untold.shape
    wrong = ((told.astype(int) - untold) ** 2).mean(axis=(1, 2))
    assert 10 * np.log10(255**2 / wrong.max()) > 38
    assert (tmp_path / "told.mp4").stat().st_size < 1.1 * (tmp_path / "untold.mp4").stat().st_size

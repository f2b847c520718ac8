"""Previews: the same pictures and sound as in the whole, small; and which beats a change has touched."""

from __future__ import annotations

import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
import pytest

from segmentkit.geometry import Point, Size
from segmentkit.media.stills import planes_to_rgb
from segmentkit.media.store import Store
from segmentkit.pipeline import Checked
from segmentkit.plan.model import ClipPicture, Entry
from segmentkit.render.mix import stems
from segmentkit.render.picture import Composer
from segmentkit.render.preview import (
    excerpt,
    first_otherwise,
    first_picture,
    make_preview,
    preview_size,
    prints,
    scaled,
    telling_frame,
    touched,
)
from segmentkit.timebase import Span, sample_of_frame
from tests.clips import read_number
from tests.render.movies import checked


@pytest.fixture(scope="module")
def segment(tmp_path_factory: pytest.TempPathFactory) -> Checked:
    return checked(tmp_path_factory.mktemp("segment"))


def composed(segment: Checked, plan, frames) -> list:
    with Composer(plan, segment.facts, segment.look) as composer:
        return [composer.still(frame) for frame in frames]


@pytest.mark.parametrize(("size", "small"), [
    (Size(1920, 1080), Size(640, 360)), (Size(1080, 1920), Size(360, 640)), (Size(320, 180), Size(320, 180)),
    (Size(1440, 1080), Size(640, 480)),
])  # fmt: skip
def test_the_usual_size_keeps_the_shape(size: Size, small: Size):
    assert preview_size(size) == small


@pytest.mark.slow
@pytest.mark.parametrize("span", [Span(0, 300), Span(65, 216), Span(80, 250), Span(230, 300)])
def test_an_excerpt_shows_the_very_pictures_of_the_whole(segment: Checked, span: Span):
    part = excerpt(segment.plan, span)
    assert part.frames == span.frames
    assert part.shots[0].span.start == 0
    assert part.shots[-1].span.end == span.frames
    for shot in part.shots:
        picture = shot.panes[0].picture if shot.panes else None
        assert not isinstance(picture, ClipPicture) or len(picture.frames) == shot.span.frames
    offsets = range(0, span.frames, 7)
    whole = composed(segment, segment.plan, [span.start + offset for offset in offsets])
    for ours, theirs in zip(composed(segment, part, offsets), whole, strict=True):
        assert np.array_equal(ours.y, theirs.y)
        assert np.array_equal(ours.u, theirs.u)


def test_a_shot_that_is_cut_into_has_nothing_to_come_in_above(segment: Checked):
    shots = segment.plan.shots
    entering = replace(shots[2], enter=Entry(by="dissolve", frames=8))
    plan = replace(segment.plan, shots=(*shots[:2], entering, *shots[3:]))
    assert [shot.enter is None for shot in excerpt(plan, Span(90, 200)).shots] == [True, False]
    assert excerpt(plan, Span(100, 200)).shots[0].enter is None


@pytest.mark.parametrize("span", [Span(65, 216), Span(80, 250), Span(280, 300)])
def test_an_excerpt_sounds_as_the_whole_does_there(segment: Checked, span: Span):
    sounds = {id_: clip.sound for id_, clip in segment.facts.clips.items() if clip.sound is not None}
    whole = stems(segment.plan, sounds)
    part = stems(excerpt(segment.plan, span), sounds)
    first = sample_of_frame(span.start, segment.plan.rate)
    for ours, theirs in ((part.voices, whole.voices), (part.natural, whole.natural)):
        loud = np.abs(theirs[first : first + len(ours)]).max(axis=1)
        quiet = np.abs(ours).max(axis=1)
        if loud.max() > 0:
            # Beeps lie at the same samples; levels are set by each reading's own loudness, so they may differ.
            assert abs(int(np.argmax(loud > loud.max() / 2)) - int(np.argmax(quiet > quiet.max() / 2))) < 480


def test_a_smaller_canvas_shows_the_same_picture(segment: Checked):
    small = scaled(segment.plan, Size(160, 90))
    for ours, theirs in zip(
        composed(segment, small, (70, 130, 240)), composed(segment, segment.plan, (70, 130, 240)), strict=True
    ):
        assert ours.size == Size(160, 90)
        assert read_number(ours) == read_number(theirs)
        shrunk = cv2.resize(theirs.y, (160, 90), interpolation=cv2.INTER_AREA).astype(float)
        assert np.abs(shrunk - ours.y).mean() < 5


def test_a_preview_is_a_movie_of_the_frames_asked_for(segment: Checked, tmp_path: Path):
    movie = make_preview(
        segment.plan, segment.facts, segment.look, tmp_path / "a.mp4", span=Span(80, 140), size=Size(160, 90),
        store=Store(tmp_path / "store"), progress=lambda *_: None,
    )  # fmt: skip
    assert (movie.frames, movie.size, movie.rate) == (60, Size(160, 90), Fraction(25))
    with av.open(str(tmp_path / "a.mp4")) as container:
        assert sum(1 for _ in container.decode(video=0)) == 60


def test_touched_beats_are_those_that_look_or_sound_otherwise(segment: Checked):
    plan, facts, look = segment.plan, segment.facts, segment.look
    ring, line = plan.strokes
    moved = replace(plan, strokes=(ring, replace(line, points=(Point(0.3, 0.3), line.points[1]))))
    before = prints(plan, facts, look)

    def since(other) -> tuple[str, ...]:
        return touched(before, prints(other, facts, look))

    assert since(plan) == ()
    assert since(moved) == ("second",)
    assert first_otherwise(before, before) is None
    assert first_otherwise(before, prints(moved, facts, look)) == plan.beat("second").span
    (speech,) = plan.speech
    louder = replace(plan, speech=(replace(speech, gain_db=3.0),))
    assert since(louder) == ("first",)
    assert first_otherwise(before, prints(louder, facts, look)) is None
    named = replace(plan, beats=(*plan.beats[:-1], replace(plan.beats[-1], id="new")), shots=(
        *plan.shots[:-1], replace(plan.shots[-1], beat="new"),
    ))  # fmt: skip
    assert since(named) == ("new",)


def test_the_first_picture_shows_all_that_its_shot_draws(segment: Checked, tmp_path: Path):
    plan, size = segment.plan, preview_size(segment.plan.size, 160)
    span = plan.beat("second").span
    frame = telling_frame(plan, span)
    assert frame == span.end - 1
    assert telling_frame(plan, Span(span.start, span.start + 20)) == span.start + 19
    first_picture(plan, segment.facts, segment.look, tmp_path / "new" / "a.png", frame=frame, size=size)
    seen = cv2.imread(str(tmp_path / "new" / "a.png"))
    assert seen.shape == (size.height, size.width, 3)
    (small,) = composed(segment, scaled(plan, size), [frame])
    want = planes_to_rgb(small)[..., ::-1]
    assert np.array_equal(seen, want)


def test_a_still_of_a_warm_project_takes_less_than_a_third_of_a_second(segment: Checked):
    with Composer(segment.plan, segment.facts, segment.look) as composer:
        composer.still(130)
        began = time.process_time()
        composer.still(240)
        assert time.process_time() - began < 0.3

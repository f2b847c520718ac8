"""The timeline, judged by the reference implementation of its format."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import opentimelineio as otio
import pytest

from segmentkit.deliver.papers import write_timeline
from segmentkit.plan.model import ClipPicture
from tests.deliver.boards import segment, with_sheet


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory):
    board = with_sheet()
    board["music"] = [{"file": "bed.wav", "until": "intro"}]
    context = segment(board)
    folder = tmp_path_factory.mktemp("project") / "out"
    file = write_timeline(folder, "x", context.plan, context.facts)
    return context, otio.adapters.read_from_file(str(file)), folder


def test_the_picture_lasts_as_long_as_the_segment(made):
    context, timeline, _ = made
    first = timeline.video_tracks()[0]
    assert sum(int(item.duration().value) for item in first) == context.plan.frames
    assert timeline.duration() == otio.opentime.RationalTime(context.plan.frames, 25)
    for item, shot in zip(first, context.plan.shots, strict=True):
        assert item.range_in_parent().start_time.value == shot.span.start
        assert item.duration().value == shot.span.frames


def test_sound_and_voices_stay_within_the_segment(made):
    context, timeline, _ = made
    assert timeline.audio_tracks()[0].name == "voice"
    for track in timeline.audio_tracks():
        assert track.duration().value <= context.plan.frames
    voices = [clip for clip in timeline.audio_tracks()[0] if isinstance(clip, otio.schema.Clip)]
    starts = [clip.range_in_parent().start_time.value for clip in voices]
    assert starts == [line.span.start for line in context.plan.speech]


def test_what_is_shown_lies_within_what_is_there(made):
    context, timeline, _ = made
    seen = 0
    for clip in timeline.find_clips():
        available = clip.media_reference.available_range
        if available is None or not clip.effects:
            continue
        seen += 1
        scale = clip.effects[0].time_scalar
        start = clip.source_range.start_time.to_seconds()
        used = clip.source_range.duration.to_seconds() * scale
        assert start >= 0
        assert start + used <= available.end_time_exclusive().to_seconds() + 1e-9
    assert seen >= len(context.plan.shots) - 2


def test_freezes_and_slow_motion_are_effects(made):
    context, timeline, _ = made
    for item, shot in zip(timeline.video_tracks()[0], context.plan.shots, strict=True):
        if not shot.panes:
            continue
        (effect,) = item.effects
        picture = shot.panes[0].picture
        assert isinstance(picture, ClipPicture)
        if picture.frozen:
            assert isinstance(effect, otio.schema.FreezeFrame)
        else:
            # At most one output frame short of the written speed, where the clip ends with the shot.
            assert effect.time_scalar == pytest.approx(float(shot.speed or Fraction(1)), rel=1.5 / shot.span.frames)
        assert item.source_range.start_time.value == picture.frames[0]
        assert item.source_range.start_time.rate == 120


def test_a_split_has_its_other_picture_on_a_second_track(made):
    context, timeline, _ = made
    second = timeline.video_tracks()[1]
    clips = [item for item in second if isinstance(item, otio.schema.Clip)]
    assert [clip.metadata["segmentkit"]["clip"] for clip in clips] == ["model"]
    assert second.duration().value == context.plan.frames


def test_strokes_are_markers_at_their_frames(made):
    context, timeline, _ = made
    markers = timeline.video_tracks()[0].markers
    assert [(m.name, int(m.marked_range.start_time.value), int(m.marked_range.duration.value)) for m in markers] == [
        (stroke.id, stroke.span.start, stroke.span.frames) for stroke in context.plan.strokes
    ]
    assert {m.color for m in markers} == {"WHITE", "RED", "CYAN"}
    assert set(markers[0].metadata) == {"segmentkit"}


def test_media_are_found_from_the_timelines_folder(made):
    context, timeline, folder = made
    urls = {
        clip.media_reference.target_url for clip in timeline.find_clips() if hasattr(clip.media_reference, "target_url")
    }
    wanted = {path.resolve() for path in (context.facts.clips["viewer"].path, Path("bed.wav"))}
    assert wanted <= {(folder / url).resolve() for url in urls}


def test_what_was_read_is_written_the_same(made):
    _, timeline, _ = made
    text = otio.adapters.write_to_string(timeline, "otio_json")
    assert otio.adapters.read_from_string(text, "otio_json").is_equivalent_to(timeline)

"""Leaders on whole frames, at every rate that has labels."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.plan.leader import leader_plan
from segmentkit.storyboard.leaders import Leader, leader, leader_names
from segmentkit.storyboard.reading import read_as
from segmentkit.timebase import Rate

R25, R50 = Rate(Fraction(25)), Rate(Fraction(50))
NTSC, NTSC60, FILM = Rate(Fraction(30000, 1001)), Rate(Fraction(60000, 1001)), Rate(Fraction(24000, 1001))


@pytest.mark.parametrize(
    ("rate", "start", "programme"),
    [
        (R25, "09:58:30:00", "10:00:00:00"),
        (R50, "09:58:30:00", "10:00:00:00"),
        (FILM, "09:58:30:00", "10:00:00:00"),
        (NTSC, "09:58:30;00", "10:00:00;00"),
        (NTSC60, "09:58:30;00", "10:00:00;00"),
    ],
)
def test_the_programme_lies_at_its_hour_at_every_rate(rate, start, programme):
    made = leader_plan(leader("ten-hours"), 1000, rate)
    assert (str(made.start), str(made.label(made.programme.start))) == (start, programme)


def test_drop_frame_leaves_out_two_labels_on_the_way():
    # 09:58:30;00 to 10:00:00;00 passes 09:59, where ;00 and ;01 do not exist (SMPTE ST 12-1): 90 x 30 - 2 frames.
    made = leader_plan(leader("ten-hours"), 1000, NTSC)
    assert made.programme.start == 90 * 30 - 2
    # 10:00:00;00 is frame 1 078 920 of the day: a published vector, OpenTimelineIO tests/test_opentime.py.
    assert [part.span.frames for part in made.before] == [1798, 600, 300]


def test_one_pop_two_seconds_before_the_programme():
    # Common practice of post houses: one frame of 1 kHz, two seconds of the label before the first picture.
    for rate, distance in ((R25, 50), (R50, 100), (NTSC, 60), (NTSC60, 120), (FILM, 48)):
        made = leader_plan(leader("one-hour"), 10, rate)
        assert made.programme.start - made.pop == distance
        assert made.second_left(made.pop) == 2
        assert made.second_left(made.pop - 1) == 3


def test_without_a_countdown_there_is_no_pop():
    assert leader_plan(leader("bars-and-black"), 10, R25).pop is None


@given(st.sampled_from([R25, R50, NTSC, NTSC60, FILM]), st.integers(1, 100_000), st.sampled_from(leader_names()))
def test_parts_tile_the_file_and_the_length_never_counts_the_leader(rate, frames, name):
    made = leader_plan(leader(name), frames, rate)
    spans = [*(part.span for part in made.before), made.programme, made.after.span]
    assert spans[0].start == 0
    assert all(one.end == two.start for one, two in pairwise(spans))
    assert made.programme.frames == frames
    assert made.after.span.frames >= 30 * rate.nominal  # EBU R 49 as quoted: at least 30 s of black after it


def test_a_rate_without_labels_has_no_leader():
    with pytest.raises(ValueError, match="no timecode"):
        leader_plan(leader("ten-hours"), 10, Rate(Fraction(25, 2)))


TEXT = "what: x\nprogramme_at: '10:00:00:00'\ntone: -18 dBFS\nparts:\n  - {bars: 10s}\ntail: 5s\n"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("'10:00:00:00'", "'10:00:00:12'", "is not a full hour"),
        ("{bars: 10s}", "{bars: 10.5s}", "whole seconds"),
        ("{bars: 10s}", "{bars: 10s, slate: 5s}", "one of bars, slate, countdown, black"),
        ("{bars: 10s}", "{countdown: 2s}", "3 to 60 s"),
        ("  - {bars: 10s}", "  - {countdown: 5s}\n  - {bars: 10s}", "comes last"),
        ("'10:00:00:00'", "'00:00:00:00'", "longer than the time before"),
        ("tail: 5s", "tail: 5.2s", "tail lasts whole seconds"),
        ("-18 dBFS", "3 dBFS", "tone"),
    ],
)
def test_faults_of_a_house_file_are_told(old, new, said):
    with pytest.raises(StoryboardUnreadable, match=said):
        read_as(Leader, TEXT.replace(old, new), "house.yaml")


def test_a_house_file_is_read_by_its_path(tmp_path):
    (tmp_path / "house.yaml").write_text(TEXT)
    assert leader(str(tmp_path / "house.yaml")).seconds_before == 10


def test_an_unknown_leader_names_the_nearest():
    with pytest.raises(StoryboardUnreadable, match="did you mean `ten-hours`"):
        leader("ten-hour")

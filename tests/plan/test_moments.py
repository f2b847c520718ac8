from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.plan.moments import MomentMissing, motion
from segmentkit.timebase import Rate, SourceFrame, parse_rate, parse_time
from tests.plan.footage import clip_facts, footage

PAL = Rate(Fraction(25))


def test_a_quarter_second_at_an_eighth_is_two_seconds_and_the_frame_that_closes_it():
    # Top to impact takes about 0.25 s, so an eighth of real time makes about 2 s of it: arithmetic, no source needed.
    shown = motion(footage(), 180, 210, Fraction(1, 8), PAL)
    assert len(shown) == 2 * 25 + 1
    assert (shown[0], shown[-1]) == (180, 210)
    assert list(shown) == sorted(shown)


def test_the_written_capture_rate_wins_over_the_files_own_time():
    # Filmed at 120, slowed to 30 afterwards: 30 file frames are a quarter of a second of real time, not one second.
    slowed = footage({"captured": "120 fps"}, clip_facts(fps=Fraction(30)))
    assert len(motion(slowed, 180, 210, Fraction(1, 8), PAL)) == 51


def test_motion_follows_true_timestamps_of_a_variable_rate():
    # One second at 30, then one second at 15: real speed at 30 frames a second shows each late frame twice.
    times = tuple(Fraction(k, 30) for k in range(30)) + tuple(1 + Fraction(k, 15) for k in range(15))
    ramp = footage(facts=clip_facts(times=times))
    shown = motion(ramp, 0, 44, Fraction(1), Rate(Fraction(30)))
    assert shown[:30] == tuple(range(30))
    assert shown[30:58] == tuple(30 + k // 2 for k in range(28))


@pytest.mark.parametrize(
    ("rate", "decimals"),
    # Two decimals tell frames apart up to 50 a second; no fewer decimals are tried at higher rates.
    [(rate, n) for rate in ("25", "30000/1001", "30") for n in (2, 3, 6)]
    + [(rate, n) for rate in ("60", "240") for n in (3, 6)],
)
def test_a_rounded_time_names_the_nearest_frame(rate: str, decimals: int):
    fps = parse_rate(rate).fps
    clip = footage(facts=clip_facts(150, fps))
    for k in range(150):
        written = f"{float(k / fps):.{decimals}f}s"
        assert clip.frame_of(parse_time(written)) == k


def test_positions_are_found_and_the_ends_always_exist():
    clip = footage({"positions": {"top": "f180"}})
    assert (clip.frame_of("top"), clip.frame_of("start"), clip.frame_of("end")) == (180, 0, 359)


def test_labels_count_the_clips_own_frames():
    clip = footage(facts=clip_facts(200, Fraction(25)))
    assert clip.frame_of(parse_time("00:00:02:03")) == 53
    film = footage(facts=clip_facts(2000, Fraction(30000, 1001)))
    assert film.frame_of(parse_time("00:01:00;02")) == 1800


@pytest.mark.parametrize(
    ("when", "says"),
    [
        ("f400", "past the end of clip viewer, whose frames are 0 to 359"),
        ("3.5s", "3.5s is past the end"),
        ("tpo", "no position 'tpo'"),
    ],
)
def test_a_moment_outside_the_clip_is_named(when: str, says: str):
    with pytest.raises(MomentMissing, match=says):
        footage({"positions": {"top": "f180"}}).frame_of(when if when == "tpo" else parse_time(when))


def test_running_backwards_is_refused():
    with pytest.raises(MomentMissing, match="backwards, from frame 210 to frame 180"):
        motion(footage(), 210, 180, Fraction(1), PAL)


@given(
    first=st.integers(0, 359), last=st.integers(0, 359), num=st.integers(1, 16), den=st.integers(1, 16),
    rate=st.sampled_from(["24000/1001", "25", "30000/1001", "50", "60000/1001"]),
)  # fmt: skip
def test_motion_never_goes_back_and_lasts_what_the_arithmetic_says(
    first: int, last: int, num: int, den: int, rate: str
):
    first, last = sorted((first, last))
    speed, out = Fraction(num, den), parse_rate(rate)
    shown = motion(footage(), first, last, speed, out)
    assert list(shown) == sorted(shown)
    assert (shown[-1], shown[0] <= last) == (last, True)
    wanted = Fraction(last - first, 120) / speed * out.fps
    assert abs(len(shown) - 1 - wanted) <= Fraction(1, 2)


def test_frames_can_be_named_by_number():
    assert footage().frame_of(SourceFrame(218)) == 218

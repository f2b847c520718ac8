"""Time against SMPTE ST 12-1, as it is worked in OpenTimelineIO's own tests (tests/test_opentime.py)."""

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.timebase import (
    Rate,
    Seconds,
    SourceFrame,
    Span,
    Timecode,
    TimeNotationError,
    clock_text,
    frame_at,
    frame_of_label,
    frames_covering,
    label_fault,
    label_of_frame,
    nearest_frame,
    nearest_sample,
    parse_rate,
    parse_time,
    sample_of_frame,
    seconds_of,
    seconds_of_frame,
    seconds_text,
)

PAL, FILM, NTSC, NTSC60 = (Rate(Fraction(text)) for text in ("25", "24000/1001", "30000/1001", "60000/1001"))
DAY_OF_NTSC = 2_589_408

# Frames with their labels at 30000/1001, from OpenTimelineIO's tests/test_opentime.py, by the rule of SMPTE ST 12-1.
WORKED = [
    (0, "00:00:00;00"), (1799, "00:00:59;29"), (1800, "00:01:00;02"), (1803, "00:01:00;05"), (8992, "00:05:00;02"),
    (12588, "00:07:00;02"), (17981, "00:09:59;29"), (17982, "00:10:00;00"), (215784, "02:00:00;00"),
    (269730, "02:30:00;00"), (1078920, "10:00:00;00"), (1084319, "10:03:00;05"),
]  # fmt: skip
# By the same rule, counted here: 17,982 frames in ten minutes, 107,892 in an hour, 2,589,408 in a day.
COUNTED = [
    (3598, "00:02:00;02"), (53946, "00:30:00;00"), (107891, "00:59:59;29"), (107892, "01:00:00;00"),
    (DAY_OF_NTSC - 1, "23:59:59;29"),
]  # fmt: skip
# At 60000/1001 the labels ;00 to ;03 are left out (from memory of ST 12-1; four labels a minute keep the clock).
AT_60 = [(3599, "00:00:59;59"), (3600, "00:01:00;04"), (35964, "00:10:00;00"), (215784, "01:00:00;00")]


@pytest.mark.parametrize(
    ("frame", "label", "rate"), [*((*row, NTSC) for row in WORKED + COUNTED), *((*row, NTSC60) for row in AT_60)]
)
def test_drop_frame_labels_both_ways(frame: int, label: str, rate: Rate):
    assert str(label_of_frame(frame, rate)) == label
    time = parse_time(label)
    assert isinstance(time, Timecode)
    assert frame_of_label(time, rate) == frame
    assert seconds_of(time, rate) == frame / rate.fps


@pytest.mark.parametrize(
    ("label", "rate", "why"),
    [
        ("00:01:00;00", NTSC, "does not exist"), ("00:01:00;01", NTSC, "starts with 00:01:00;02"),
        ("12:59:00;00", NTSC, "does not exist"), ("00:01:00;03", NTSC60, "starts with 00:01:00;04"),
        ("00:00:01;00", PAL, "25 is not counted in drop-frame"), ("00:00:01;00", FILM, "not counted in drop-frame"),
        ("00:00:00:25", PAL, "frame 25, but at 25 frames are counted 0 to 24"), ("00:00:00:24", FILM, "0 to 23"),
        ("00:00:00:30", NTSC, "0 to 29"), ("24:00:00:00", PAL, "24 hours"),
        ("00:00:00:00", Rate(Fraction("12.5")), "not labelled"),
    ],
)  # fmt: skip
def test_labels_that_do_not_exist(label: str, rate: Rate, why: str):
    time = parse_time(label)
    assert isinstance(time, Timecode)
    assert why in str(label_fault(time, rate))
    with pytest.raises(TimeNotationError, match=why):
        frame_of_label(time, rate)


@pytest.mark.parametrize("label", ["00:00:00;00", "00:10:00;00", "00:20:00;01", "00:01:00;02", "00:01:01;00"])
def test_labels_that_do(label: str):
    time = parse_time(label)
    assert isinstance(time, Timecode)
    assert label_fault(time, NTSC) is None


@pytest.mark.parametrize(("rate", "day"), [(NTSC, DAY_OF_NTSC), (NTSC60, 2 * DAY_OF_NTSC), (PAL, 25 * 86400)])
def test_a_whole_day_goes_there_and_back(rate: Rate, day: int):
    for frame in [*range(0, day, 997), *range(day - 40_000, day, 7)]:
        assert frame_of_label(label_of_frame(frame, rate), rate) == frame
    assert str(label_of_frame(day, rate)) == str(label_of_frame(0, rate))


def test_labels_rise_frame_by_frame_over_ten_minutes():
    labels = [label_of_frame(frame, NTSC) for frame in range(17_983)]
    counted = [((t.hours * 60 + t.minutes) * 60 + t.seconds) * 30 + t.frames for t in labels]
    steps = [b - a for a, b in pairwise(counted)]
    # Nine minutes of ten leave out two labels.
    assert (steps.count(1), steps.count(3), len(steps)) == (17_973, 9, 17_982)


def test_labels_without_drop_drift_108_frames_an_hour():
    assert frame_of_label(Timecode(1, 0, 0, 0, drop=False), NTSC) - 107_892 == 108
    assert str(label_of_frame(108_000, NTSC, drop=False)) == "01:00:00:00"


def test_labels_are_refused_where_there_are_none():
    for frame, rate, drop in ((-1, PAL, None), (5, PAL, True), (5, FILM, True)):
        with pytest.raises(ValueError, match=r"has no .*label"):
            label_of_frame(frame, rate, drop=drop)


def test_samples_of_ntsc_frames_add_up_to_8008_in_five():
    # 48,000 * 1001 / 30,000 = 1601.6 samples a frame: SMPTE ST 272 groups them in fives of 8008 (from memory).
    starts = [sample_of_frame(frame, NTSC) for frame in range(6)]
    assert [b - a for a, b in pairwise(starts)] == [1602, 1601, 1602, 1601, 1602]
    assert starts[5] == 8008
    assert sample_of_frame(5 * 21_578, NTSC) == 8008 * 21_578


@pytest.mark.parametrize(("rate", "frames"), [(PAL, "750"), (NTSC, "899.10"), (NTSC60, "1798.20"), (FILM, "719.28")])
def test_half_a_minute_in_frames(rate: Rate, frames: str):
    exact = 30 * rate.fps
    assert f"{float(exact):.2f}".removesuffix(".00") == frames
    assert nearest_frame(Fraction(30), rate) == round(float(frames))
    assert frames_covering(Fraction(30), rate) == -(-exact.numerator // exact.denominator)
    assert frame_at(Fraction(30), rate) == int(float(frames))


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("4s", Seconds(Fraction(4))), ("4.5s", Seconds(Fraction(9, 2))), (" 4.5 s ", Seconds(Fraction(9, 2))),
        ("400ms", Seconds(Fraction(2, 5))), ("1:30", Seconds(Fraction(90))), ("1:30.5", Seconds(Fraction(181, 2))),
        ("90:00", Seconds(Fraction(5400))), ("1:02:03", Seconds(Fraction(3723))),
        ("00:01:30:12", Timecode(0, 1, 30, 12, drop=False)), ("00:01:30;12", Timecode(0, 1, 30, 12, drop=True)),
        ("f218", SourceFrame(218)), ("f0", SourceFrame(0)),
    ],
)  # fmt: skip
def test_notations(text: str, time: object):
    assert parse_time(text) == time


@pytest.mark.parametrize(
    "text",
    ["", "4", "4.5", "4 sec", "s", ".5s", "-1s", "1:3", "1:60", "1:75:00", "00:00:60:00", "00:01:30,12", "1::2", "f",
     "f-1", "F218", "218f", "1e3s", "inf", "nan", "٤s", "1:30:12:4:5", "4s 5s", "12345678s", "0x1s"],
)  # fmt: skip
def test_notations_that_are_none(text: str):
    with pytest.raises(TimeNotationError, match=" — "):
        parse_time(text)


@given(st.text(max_size=20) | st.from_regex(r"[0-9:;.fms ]{1,14}", fullmatch=True))
def test_any_text_is_a_time_or_refused(text: str):
    try:
        time = parse_time(text)
    except TimeNotationError:
        return
    if not isinstance(time, Timecode) or label_fault(time, PAL) is None:
        assert seconds_of(time, PAL) >= 0


@pytest.mark.parametrize(
    ("text", "fps"),
    [
        ("25", "25"),
        ("24000/1001", "24000/1001"),
        ("120 fps", "120"),
        ("240fps", "240"),
        ("12.5", "25/2"),
        ("50/2", "25"),
    ],
)
def test_rates(text: str, fps: str):
    assert parse_rate(text).fps == Fraction(fps)
    assert parse_rate(str(parse_rate(text))) == parse_rate(text)


@pytest.mark.parametrize(
    "text", ["29.97", "23.976 fps", "59.94", "fast", "", "0", "1/0", "25/00", "-25", "2001", "1/2", "٢٥"]
)
def test_rates_that_are_none(text: str):
    with pytest.raises(TimeNotationError):
        parse_rate(text)


def test_rounded_rates_are_told_what_they_mean():
    with pytest.raises(TimeNotationError, match="write 30000/1001, which is exact"):
        parse_rate("29.97")


rates = st.sampled_from([PAL, FILM, NTSC, NTSC60, Rate(Fraction(50)), Rate(Fraction(120))])


@given(st.integers(0, 10**7), rates)
def test_a_frame_s_moment_is_in_the_frame(frame: int, rate: Rate):
    moment = seconds_of_frame(frame, rate)
    assert nearest_frame(moment, rate) == frame_at(moment, rate) == frames_covering(moment, rate) == frame
    assert abs(Fraction(sample_of_frame(frame, rate), 48_000) - moment) <= Fraction(1, 96_000)


@given(st.fractions(0, 10**5), rates)
def test_roundings_lie_around_the_moment(moment: Fraction, rate: Rate):
    assert frame_at(moment, rate) <= moment * rate.fps <= frames_covering(moment, rate)
    assert abs(nearest_frame(moment, rate) - moment * rate.fps) <= Fraction(1, 2)
    assert abs(nearest_sample(moment) - moment * 48_000) <= Fraction(1, 2)


def test_halves_go_up():
    assert nearest_frame(Fraction(1, 50), PAL) == 1
    assert nearest_frame(Fraction(3, 50), PAL) == 2
    assert nearest_sample(Fraction(1, 96_000)) == 1


def test_times_for_people():
    assert [seconds_text(Fraction(text)) for text in ("6.2", "6", "0", "1/3", "100", "-0.0001", "-1.5")] == [
        "6.2s", "6s", "0s", "0.333s", "100s", "0s", "-1.5s",
    ]  # fmt: skip
    assert seconds_text(Fraction(100), places=0) == "100s"
    assert [clock_text(Fraction(text)) for text in ("65.2", "0", "59.96", "3600", "-10", "-0.01")] == [
        "1:05.2", "0:00.0", "1:00.0", "60:00.0", "-0:10.0", "0:00.0",
    ]  # fmt: skip
    assert str(parse_time("00:01:30;12")) == "00:01:30;12"
    assert [str(rate) for rate in (PAL, NTSC)] == ["25", "30000/1001"]


def test_spans_are_half_open():
    span = Span(10, 20)
    assert (span.frames, 10 in span, 19 in span, 20 in span) == (10, True, True, False)
    assert (span.overlap(Span(15, 30)), span.overlap(Span(20, 30)), span.overlap(Span(0, 10))) == (5, 0, 0)
    with pytest.raises(ValueError, match="before its start"):
        Span(5, 4)

"""What each kind of value takes and refuses; limits that the format sets itself, no outside source."""

import datetime
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.geometry import Point, Size
from segmentkit.storyboard import scalars
from segmentkit.storyboard.scalars import Hold, NamedPoint
from segmentkit.timebase import Seconds, SourceFrame


def test_holds():
    assert scalars.read_hold("6s") == Hold(Fraction(6), None, Fraction(6))
    assert scalars.read_hold("6s .. 13s") == Hold(Fraction(6), None, Fraction(13))
    assert scalars.read_hold("6s..8.5s..13s") == Hold(Fraction(6), Fraction(17, 2), Fraction(13))
    assert scalars.read_hold("0s..2s").elastic
    assert not scalars.read_hold("1:00").elastic


@pytest.mark.parametrize(
    ("text", "speed"),
    [("1", "1"), ("1/8", "1/8"), ("0.25", "1/4"), ("half", "1/2"), ("real", "1"), ("eighth", "1/8"), ("2", "2")],
)
def test_speeds(text: str, speed: str):
    assert scalars.read_speed(text) == Fraction(speed)


@pytest.mark.parametrize("text", ["0", "1/0", "-1", "9", "1/101", "slow", "1/8/2", "٢"])
def test_speeds_that_are_none(text: str):
    with pytest.raises(ValueError, match=r" — |outside"):
        scalars.read_speed(text)


def test_moments_of_a_clip():
    assert scalars.read_clip_time("impact") == "impact"
    assert scalars.read_clip_time("lead_arm-2") == "lead_arm-2"
    assert scalars.read_clip_time("f218") == SourceFrame(218)
    assert scalars.read_clip_time("1.55s") == Seconds(Fraction(31, 20))
    with pytest.raises(ValueError, match="not a time"):
        scalars.read_clip_time("Impact")


def test_points():
    assert scalars.read_point(["0.46", "-.5"]) == Point(0.46, -0.5)
    assert scalars.read_point("address.belt") == NamedPoint("address", "belt")
    assert scalars.read_point("belt") == NamedPoint(None, "belt")
    assert str(NamedPoint("address", "belt")) == "address.belt"


def test_sizes_and_dates_and_answers():
    assert scalars.read_size("1080 x 1920") == scalars.read_size("1080×1920") == Size(1080, 1920)
    assert scalars.read_date("2028-02-29") == datetime.date(2028, 2, 29)
    assert [scalars.read_yes_no(text) for text in ("yes", "No", "TRUE", "false")] == [True, False, True, False]


@pytest.mark.parametrize("text", ["2027-02-29", "2028-6-30", "20280630", "2028-W10-1", "30.6.2028", "٢٠٢٨-٠٦-٣٠"])
def test_days_that_do_not_exist(text: str):
    with pytest.raises(ValueError, match="is not a date"):
        scalars.read_date(text)


def test_amounts():
    decibels = scalars.amount_reader("dB", -60, 20)
    assert [decibels(text) for text in ("-6 dB", "+3dB", "0.5", "-60")] == [-6, 3, 0.5, -60]
    for text in ("-61 dB", "6 db", "six", "1e1", "", "-"):
        with pytest.raises(ValueError, match="dB"):
            decibels(text)


READERS = [
    scalars.read_duration, scalars.read_moment, scalars.read_clip_time, scalars.read_rate, scalars.read_size,
    scalars.read_speed, scalars.read_hold, scalars.read_yes_no, scalars.read_point, scalars.read_plain_point,
    scalars.read_date, scalars.read_sentence, scalars.read_language, scalars.read_name, scalars.read_fractional,
    scalars.read_zoom, scalars.read_priority, scalars.amount_reader("dB", -60, 20),
]  # fmt: skip
plain = st.recursive(
    st.none() | st.text(max_size=12) | st.from_regex(r"[-+0-9.:;/sfmx ]{0,12}", fullmatch=True),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=2),
    max_leaves=5,
)


@given(value=plain)
def test_each_reader_gives_a_value_or_words(value: object):
    # Making up a value costs far more than reading it, so each is read by all.
    for read in READERS:
        message = ""
        try:
            read(value)
        except ValueError as error:
            message = str(error)
        assert len(message) < 250, read.__name__
        for foreign in ("invalid literal", "could not convert", "Fraction", "must be"):
            assert foreign not in message, read.__name__

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.plan.backtime import back_times, over_text
from segmentkit.timebase import Rate, Seconds, parse_time

PAL = Rate(Fraction(25))
NTSC = Rate(Fraction(30000, 1001))


def seconds(text: str) -> int:
    time = parse_time(text)
    assert isinstance(time, Seconds)
    return int(time.value)


def test_an_item_of_three_minutes_ends_a_show_of_thirty():
    # A broadcaster's glossary, entry "back timing": 3:00 that must end a 30:00 show is rolled at 27:00.
    assert back_times([seconds("3:00")], seconds("30:00"))[0].must_start == seconds("27:00")


def test_the_last_item_of_an_hour():
    # A handbook of radio presenting: off air at 13:00:00, last item 5:00, so it starts at 12:55:00.
    assert back_times([seconds("5:00")], seconds("13:00:00"))[0].must_start == seconds("12:55:00")


def test_a_running_order_that_is_ten_seconds_over():
    # Worked by hand: 0:20 + 1:45 + 2:30 + 0:55 + 0:30 = 6:00 in a slot of 5:50.
    lengths = [seconds(text) for text in ("0:20", "1:45", "2:30", "0:55", "0:30")]
    times = back_times(lengths, seconds("5:50"))
    assert [time.must_start for time in times] == [-10, *(seconds(t) for t in ("0:10", "1:55", "4:25", "5:20"))]
    assert [time.to_go for time in times] == [seconds(t) for t in ("6:00", "5:40", "3:55", "1:25", "0:30")]


def test_the_beats_of_a_three_minute_piece():
    # Worked by hand from the hard end: beats of 6, 14, 11, 16 ... seconds in a slot of 3:00.
    starts = [180, 174, 160, 149, 133, 125, 110, 90, 75, 60, 47, 17, 6]
    lengths = [now - after for now, after in zip(starts, [*starts[1:], 0], strict=True)]
    assert [time.to_go for time in back_times(lengths, 180)] == starts


@given(st.lists(st.integers(0, 500), min_size=1, max_size=12), st.integers(0, 4000))
def test_every_beat_is_late_by_as_much_as_the_whole_is_over(lengths: list[int], slot: int):
    over = sum(lengths) - slot
    assert {time.start - time.must_start for time in back_times(lengths, slot)} == {over}


@pytest.mark.parametrize(
    ("frames", "rate", "text"),
    [(106, PAL, "+0:00:04:06"), (-106, PAL, "-0:00:04:06"), (0, PAL, "0:00:00:00"), (90000, PAL, "+1:00:00:00"),
     # SMPTE ST 12-1: frame 1800 at 30000/1001 is labelled 00:01:00;02, since ;00 and ;01 are left out.
     (1800, NTSC, "+0:01:00;02"), (1799, NTSC, "+0:00:59;29")],
)  # fmt: skip
def test_over_and_under_are_written_as_in_a_running_order(frames: int, rate: Rate, text: str):
    assert over_text(frames, rate) == text

"""How findings say numbers."""

from __future__ import annotations

from fractions import Fraction

import pytest

from segmentkit.checks import say
from segmentkit.timebase import Rate

PAL = Rate(Fraction(25))
NTSC = Rate(Fraction(30000, 1001))


@pytest.mark.parametrize(
    ("frames", "rate", "text"),
    [
        (35, PAL, "1.4 s (35 frames)"),
        (1, PAL, "0.04 s (1 frame)"),
        (30, NTSC, "1 s (30 frames)"),
        (0, PAL, "0 s (0 frames)"),
    ],
)
def test_lengths(frames: int, rate: Rate, text: str):
    assert say.lasting(frames, rate) == text


@pytest.mark.parametrize(
    ("frames", "rate", "text"),
    [
        (55, PAL, "+0:02:05"),
        (-55, PAL, "-0:02:05"),
        (1625, PAL, "+1:05:00"),
        (62, NTSC, "+0:02:02"),
        (0, PAL, "+0:00:00"),
    ],
)
def test_over_and_under(frames: int, rate: Rate, text: str):
    assert say.signed(frames, rate) == text


def test_lists_counts_and_quotations():
    assert say.listed([]) == "none"
    assert say.listed(["a"]) == "a"
    assert say.listed(["a", "b", "c"], "or") == "a, b or c"
    assert say.counted(1, "word") == "1 word"
    assert say.counted(2, "is", "are") == "2 are"
    assert say.number(Fraction(9, 4)) == "2.25"
    assert say.number(4) == "4"
    long = say.quoted("x" * 80)
    assert len(long) <= 62
    assert "…" in long

"""The table of the contributor guide is what the program prints: a few of its rows, made anew."""

from pathlib import Path

import pytest

from tests.hazards import INPUTS, row

GUIDE = Path(__file__).resolve().parent.parent / "DEVELOPERS.md"
SOME = ("portrait, turned by 90", "slow-motion ramp 30/240/30", "sound 0.25 s late", "cut off, no index", "play list")


@pytest.mark.slow
@pytest.mark.parametrize("name", SOME)
def test_the_guide_says_what_becomes_of_a_clip(name: str, tmp_path: Path):
    assert row(name, INPUTS[name], tmp_path) in GUIDE.read_text("utf-8").splitlines()


def test_every_input_stands_in_the_guide():
    told = GUIDE.read_text("utf-8")
    assert [name for name in INPUTS if f"| {name} |" not in told] == []

"""The planted set: each clip gets the verdict and the reason that were planted in it.

`python -m tests.intake.planted_set` prints the confusion tables, with all of the clips that were held out.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from segmentkit.intake.parts import Seen, judge_part
from segmentkit.media.store import Store
from segmentkit.storyboard.submission import VerdictWord
from tests.intake.planted_cases import CASES, HELD_OUT, shot
from tests.intake.planted_set import AFTER_CLEAN, PLAYER, Outcome, judge, limits, table

READ = [case for case in CASES if case.reason != "unreadable"]
UNREADABLE = [case for case in CASES if case.reason == "unreadable"]


@cache
def first():
    """What is remembered of the clean clip; whoever goes on with it takes a copy."""
    clean = Seen()
    with TemporaryDirectory() as name:
        path = Path(name) / "first.mp4"
        shot()(path)
        judge_part("down-the-line", "the first", None, path, PLAYER, Store(Path(name) / "store"), limits(), clean)
    return clean


def judged(case, tmp_path):
    clean = first() if case.name in AFTER_CLEAN else None
    outcome = Outcome(case=case, report=judge(case, tmp_path, Store(tmp_path / "store"), clean))
    assert outcome.right, table([outcome])
    return outcome


@pytest.mark.slow
@pytest.mark.parametrize("case", READ, ids=lambda case: case.name)
def test_the_planted_defect_is_found(case, tmp_path):
    outcome = judged(case, tmp_path)
    if case.word is VerdictWord.USE:
        assert outcome.report.reasons == ()


@pytest.mark.slow
@pytest.mark.parametrize("case", HELD_OUT[::4], ids=lambda case: case.name)
def test_defects_of_clips_that_no_limit_was_set_on_are_found(case, tmp_path):
    judged(case, tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("case", [case for case in UNREADABLE if case.name == "huge"], ids=lambda case: case.name)
def test_a_bomb_is_refused(case, tmp_path):
    judged(case, tmp_path)


@pytest.mark.parametrize("case", [case for case in UNREADABLE if case.name != "huge"], ids=lambda case: case.name)
def test_what_cannot_be_read_is_told(case, tmp_path):
    report = judged(case, tmp_path).report
    assert str(tmp_path) not in report.reasons[0].what
    assert report.thumbs == {}


def test_the_set_is_large_and_holds_every_verdict():
    assert len(CASES) >= 40
    counts = Counter(case.word for case in CASES)
    assert set(counts) == set(VerdictWord)
    assert len({case.reason for case in CASES}) >= 24
    assert len({case.name for case in (*CASES, *HELD_OUT)}) == len(CASES) + len(HELD_OUT)

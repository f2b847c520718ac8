"""What must go by when: the last release that holds decides, a withdrawal at once, what nobody used after a while."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.season.ageing import UNUSED, endings, let_go
from segmentkit.storyboard.season import load_season
from tests.season.withdraw_case import plant, put, state

RECORD = """\
intake: 1
people:
  ada: {shown: Ada, adult: yes, release: {for: [web], until: 2026-06-30}}
  bea: {shown: Bea, adult: yes, release: {for: [web]}}
  cleo: {shown: Cleo, adult: yes, release: {for: [web]}, withdrawn: 2026-04-01}
  dora: {shown: Dora, adult: yes}
submissions:
  s1: {person: ada, received: 2026-03-02, face-on: {file: a.mp4}}
  s2: {person: bea, received: 2026-03-02, face-on: {file: b.mp4}}
  s3: {person: cleo, received: 2026-03-02, face-on: {file: c.mp4}}
  s4: {person: dora, received: 2026-03-02, face-on: {file: d.mp4}}
"""
SEASON = """\
season: Spring
template: review
items:
  - {id: a, submission: in#s1}
  - {id: b, submission: in#s2}
  - {id: c, submission: in#s3}
"""


@pytest.fixture
def season(tmp_path):
    put(tmp_path / "in" / "submissions.yaml", RECORD)
    return load_season(put(tmp_path / "season.yaml", SEASON))


def ends(season, **options):
    return {one.who: one.on for one in endings(season, **options)}


def test_each_person_has_the_end_that_the_record_gives(season):
    assert ends(season) == {
        "cleo": datetime.date(2026, 4, 1),  # at once
        "ada": datetime.date(2026, 7, 1),  # the day after the last one on which the release holds
        # Nobody used it; the days are counted by numpy's calendar.
        "dora": (np.datetime64("2026-03-02") + UNUSED).astype(object),
        "bea": None,
    }
    assert list(ends(season)) == ["cleo", "ada", "dora", "bea"]


def test_a_later_release_keeps_a_person(season, tmp_path):
    later = RECORD.replace("until: 2026-06-30", "until: 2027-06-30").replace("s1:", "s9:")
    put(tmp_path / "in-july" / "submissions.yaml", later)
    assert ends(season)["ada"] == datetime.date(2027, 7, 1)


def test_what_nobody_used_is_kept_as_long_as_the_house_says(season):
    assert ends(season, unused=30)["dora"] == datetime.date(2026, 4, 1)
    assert ends(season, unused=30)["bea"] is None  # used


def test_what_is_due_goes_and_the_rest_stays(tmp_path):
    root = tmp_path / "season"
    plant(root)
    record = root / "in-s03" / "submissions.yaml"
    record.write_text(record.read_text().replace("for: [web]", "for: [web], until: 2026-06-30"))
    season, day = load_season(root / "season.yaml"), datetime.date(2026, 7, 1)
    due = [one for one in endings(season) if one.due(day)]
    assert [one.who for one in due] == ["vera"]
    before = state(root)
    [(ending, withdrawal, left)] = let_go(due, root / "season.yaml", root / "out", day)
    assert (ending.who, left) == ("vera", 1)  # a note that somebody wrote by hand
    assert withdrawal.items == ("s03",)
    after = state(root)
    assert not any("vera" in name for name in after)
    assert all(after[name] == before[name] for name in before if "olga" in name or "s04" in name)


def test_nothing_goes_before_its_day(season, tmp_path):
    due = [one for one in endings(season) if one.who == "ada"]
    with pytest.raises(StoryboardUnreadable, match="kept until 2026-07-01"):
        list(let_go(due, tmp_path / "season.yaml", tmp_path / "out", datetime.date(2026, 6, 30)))

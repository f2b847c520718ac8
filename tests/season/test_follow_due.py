"""Who is due: a hundred days after the airing, unless answered, barred, or a new clip is there already."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from segmentkit.season.follow_due import Stage, due_list, reminder, said_day, write_reminders
from segmentkit.storyboard.limits_file import intake_limits
from segmentkit.storyboard.season import load_season
from tests.season.withdraw_case import put

RECORD = """\
intake: 1
people:
  ada: {shown: Ada Berg, adult: yes, club: 7-iron, release: {for: [web]}}
  bea: {shown: Bea, adult: yes, release: {for: [web], until: 2026-05-01}}
  cleo: {shown: Cleo, adult: yes, release: {for: [web]}, withdrawn: 2026-06-01}
  rowan: {shown: Rowan Field, adult: no, guardian: Kim Field, club: driver, release: {for: [web], by: Kim Field}}
  dora: {shown: Dora, adult: yes, release: {for: [web]}}
submissions:
  s1: {person: ada, received: 2026-03-02, down-the-line: {file: a.mp4}}
  s2: {person: bea, received: 2026-03-02, face-on: {file: b.mp4}}
  s3: {person: cleo, received: 2026-03-02, face-on: {file: c.mp4}}
  s4: {person: rowan, received: 2026-03-02, face-on: {file: d.mp4}}
  s5: {person: dora, received: 2026-03-02, face-on: {file: e.mp4}}
  s6: {person: ada, received: 2026-07-02, down-the-line: {file: f.mp4}}
  s7: {person: dora, received: 2026-07-02, face-on: {file: g.mp4}}
"""
SEASON = """\
season: Spring
template: review
items:
  - {id: i1, submission: in#s1, air: 2026-04-05}
  - {id: i2, submission: in#s2, air: 2026-04-12}
  - {id: i3, submission: in#s3, air: 2026-04-19}
  - {id: i4, submission: in#s4, air: 2026-04-01}
  - {id: i5, submission: in#s5, air: 2026-04-02}
  - {id: i6, submission: in#s6, air: 2026-08-02, follows: i1}
  - {id: i7, submission: in#s2}
  - {id: i8, storyboard: x/storyboard.yaml, air: 2026-04-05}
"""
TODAY = datetime.date(2026, 7, 15)


@pytest.fixture
def season(tmp_path):
    put(tmp_path / "in" / "submissions.yaml", RECORD)
    return load_season(put(tmp_path / "season.yaml", SEASON))


def listed(season, today=TODAY, **options):
    return {due.item: due for due in due_list(season, today, **options)}


def test_the_day_is_a_hundred_days_on(season):
    # Judge of the calendar: numpy.
    for due in listed(season).values():
        assert np.datetime64(due.on) - np.datetime64(due.aired) == np.timedelta64(100, "D")
    assert listed(season, days=30)["i1"].on == datetime.date(2026, 5, 5)


def test_each_is_at_its_stage(season):
    found = {item: due.stage for item, due in listed(season).items()}
    assert found == {
        "i4": Stage.DUE, "i5": Stage.CAME, "i1": Stage.FOLLOWED, "i2": Stage.WAITING, "i3": Stage.BARRED,
    }  # fmt: skip
    assert list(found) == ["i4", "i5", "i1", "i2", "i3"]  # in the order in which they are due
    told = listed(season)
    assert (told["i1"].by, told["i5"].by) == ("i6", "s7")
    assert "taken back" in told["i3"].why
    assert listed(season, datetime.date(2026, 7, 21))["i2"].stage is Stage.DUE  # an ended release asks for a new one


def test_a_reminder_says_how_to_film_the_same_again(season):
    text = reminder(listed(season)["i1"], intake_limits(), None, TODAY)
    for said in ("Dear Ada Berg,", "on 5 April 2026", "from behind, down the line with your 7-iron", "4.5 m away",
                 "new release"):  # fmt: skip
        assert said in " ".join(text.split()), said
    assert "{" not in text
    assert max(map(len, text.splitlines())) <= 78
    for hard in ("better", "worse", "%", "improve", "unfortunately"):
        assert hard not in text


def test_a_minors_reminder_goes_to_the_guardian_and_gives_nothing_away(season):
    text = reminder(listed(season)["i4"], intake_limits(), None, TODAY)
    assert "Dear parent or guardian of Rowan," in text
    for secret in ("Field", "driver", "Kim"):
        assert secret not in text


def test_letters_go_to_those_who_are_due_and_once(season, tmp_path):
    due = due_list(season, TODAY)
    first = write_reminders(due, tmp_path / "letters", intake_limits(), None, TODAY)
    assert list(first) == ["i4"]
    first["i4"].write_text("sent, with a word added by hand")
    assert write_reminders(due, tmp_path / "letters", intake_limits(), None, TODAY) == {}
    assert first["i4"].read_text() == "sent, with a word added by hand"


def test_days_are_said_as_people_say_them():
    assert said_day(datetime.date(2026, 5, 3)) == "3 May 2026"

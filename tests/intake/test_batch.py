"""A batch: consent before anything opens, one bad file costs itself, a person's choice stands, minors stay hidden."""

from __future__ import annotations

import json
import re

import pytest

from segmentkit.intake.batch import run_batch, run_loose
from segmentkit.intake.page import batch_page
from segmentkit.intake.record import as_data, csv_text
from segmentkit.media.store import Store
from segmentkit.storyboard.submission import load_batch
from tests.clips import make_clip, steady
from tests.intake.makers import LIMITED, NOT_USED, RESHOOT, TODAY, USE
from tests.intake.planted_cases import shot
from tests.intake.planted_set import limits

PEOPLE = """\
intake: 1
people:
  vera: {shown: Vera Lund, place: Lindholm Bay, handed: right, adult: yes, release: {for: [web, marketing]}}
  tom:
    {shown: Tom Field, place: Hill End, handicap: "19", club: Stone Club, handed: right, adult: no,
     guardian: Ann Field, release: {for: [web, marketing], by: Ann Field}}
  ida: {shown: Ida, adult: yes}
  kim: {shown: Kim, adult: yes, pain: yes, release: {for: [web]}}
submissions:
"""


def quiet(*_):
    """Tells nobody."""


@pytest.fixture
def judged(tmp_path):
    def judge(submissions):
        (tmp_path / "submissions.yaml").write_text(PEOPLE + submissions)
        store = Store(tmp_path / "store")
        return {r.id: r for r in run_batch(load_batch(tmp_path), store, limits(), TODAY, quiet)}

    return judge


def test_nothing_is_opened_without_a_release(tmp_path, judged):
    make_clip(tmp_path / "a.mp4", steady(30, 1))
    told = judged("  s-1: {person: ida, down-the-line: {file: a.mp4}}\n  s-2: {person: kim, grip: {file: a.mp4}}\n")
    assert [(r.word, r.parts, [x.id for x in r.reasons]) for r in told.values()] == [
        (NOT_USED, (), ["no-release"]), (NOT_USED, (), ["pain"]),
    ]  # fmt: skip
    assert not (tmp_path / "store").exists()


def test_the_list_of_withdrawals_is_looked_at(tmp_path, judged):
    make_clip(tmp_path / "a.mp4", steady(30, 1))
    (tmp_path / "withdrawn.yaml").write_text("withdrawn: {vera: 2027-03-01}\n")
    told = judged("  s-1: {person: vera, down-the-line: {file: a.mp4}}\n")["s-1"]
    assert (told.word, told.reasons[0].id, told.uses) == (NOT_USED, "withdrawn", ())
    assert not (tmp_path / "store").exists()


def test_bad_files_cost_themselves_only(tmp_path, judged):
    make_clip(tmp_path / "a.mp4", steady(30, 1))
    (tmp_path / "b.mp4").write_bytes(b"words " * 99)
    told = judged(
        "  s-1: {person: vera, down-the-line: {file: none.mp4}}\n"
        "  s-2: {person: vera, down-the-line: {file: b.mp4}}\n"
        "  s-3: {person: vera, down-the-line: {file: a.mp4}, face-on: {file: a.mp4}}\n"
        "  s-4: {person: vera, grip: {file: .}}\n"
    )
    assert [part.reasons[0].id for report in told.values() for part in report.parts] == [
        "unreadable", "unreadable", "too-short", "same-file", "unreadable",
    ]  # fmt: skip
    assert "there is no such file" in told["s-1"].parts[0].reasons[0].what
    assert told["s-4"].reasons[0].id == "no-swing-sent"
    assert "s-1, s-2, s-4" in next(r.what for r in told["s-3"].reasons if r.id == "same-person")


def test_a_persons_decision_stands_but_not_against_consent(tmp_path, judged):
    (tmp_path / "b.mp4").write_bytes(b"words " * 99)
    told = judged(
        "  s-1: {person: vera, down-the-line: {file: b.mp4}, decision: {verdict: use, by: Jo, why: seen it}}\n"
        "  s-2: {person: ida, down-the-line: {file: b.mp4}, decision: {verdict: use, by: Jo}}\n"
        "  s-3: {person: kim, down-the-line: {file: b.mp4}, decision: {verdict: use, by: a physiotherapist}}\n"
    )
    assert [told[id_].word for id_ in told] == [USE, NOT_USED, USE]
    assert told["s-1"].decided == "Jo decided: use — seen it"
    assert told["s-2"].decided.endswith("consent does not allow it")


@pytest.mark.slow
def test_a_folder_without_a_record_is_judged_by_its_pictures(tmp_path):
    make_clip(tmp_path / "a\nb.mp4", steady(30, 1))
    (tmp_path / "c.txt").write_text("no clip\n" * 20)
    told = run_loose(sorted(tmp_path.glob("*")), Store(tmp_path / "store"), limits(), quiet)
    assert [(r.id, r.word, r.reasons[0].id, r.uses) for r in told] == [
        ("a\\nb.mp4", RESHOOT, "no-record", ()), ("c.txt", RESHOOT, "no-record", ()),
    ]  # fmt: skip


@pytest.mark.slow
def test_a_whole_submission_its_choices_and_what_a_minors_pages_hold(tmp_path, judged):
    shot()(tmp_path / "Tom_Field_Hill_End.mp4")
    told = judged(
        "  s-1:\n    person: tom\n    question: How far?\n    filmed_by: Ann Field\n"
        "    down-the-line: {file: Tom_Field_Hill_End.mp4, positions: {impact: f99, top: 1.2s}}\n"
        "    face-on: {file: Field_Tom.mp4}\n"
    )
    report = told["s-1"]
    swing, other = report.parts
    assert (report.word, swing.word, other.word) == (LIMITED, USE, RESHOOT)
    assert report.uses == ("web",)
    chosen = {p.position: (p.frame, p.chosen) for p in swing.proposals}
    assert chosen["impact"] == (99, True)
    assert chosen["top"] == (72, True)
    assert chosen["address"][1] is False
    assert "face-on: nothing of ball position, sway or the lead arm through the ball" in report.without
    assert "nothing of the grip" in report.without
    data = json.dumps(as_data((report,)), ensure_ascii=False)
    pages = batch_page((report,), "Intake", TODAY) + csv_text((report,)) + data
    for secret in ("Field", "Hill", "Ann", "Stone", "19 "):
        assert secret not in re.sub(r"base64,[^\"]*", "", pages), secret
    assert "Tom" in pages

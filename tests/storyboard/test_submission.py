"""Batches, contacts, withdrawals and limits as a person writes them."""

from __future__ import annotations

import datetime

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.limits_file import IntakeLimits, intake_limits
from segmentkit.storyboard.load import load
from segmentkit.storyboard.submission import VerdictWord, load_batch, load_contacts, withdrawals, without_entry
from segmentkit.timebase import SourceFrame
from tests.makers import LESSON

BATCH = """\
intake: 1
people:
  # the first one
  vera: {shown: Vera, adult: yes, release: {for: [web]}}
  tom:
    shown: Tom
    adult: no        # asked
submissions:
  s-1:
    person: vera
    down-the-line: {file: a.mp4, swing: 2, positions: {impact: f103, top: 1.4s}, captured: 240}
    question: "Why?"
    decision: {verdict: "use, limited", by: Jo}
  # Tom's
  s-2: {person: tom, grip: {file: g.jpg}}
"""


@pytest.fixture
def batch(tmp_path):
    (tmp_path / "submissions.yaml").write_text(BATCH)
    return tmp_path


def test_a_batch_reads(batch):
    loaded = load_batch(batch)
    first = loaded.batch.submissions["s-1"]
    assert [name for name, _ in first.parts] == ["down-the-line"]
    assert first.down_the_line.swing == 2
    assert first.down_the_line.positions["impact"] == SourceFrame(103)
    assert first.decision.verdict is VerdictWord.LIMITED
    assert loaded.batch.people["tom"].adult is False


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("person: vera", "person: vrea", r":10:\d+: .*`vrea` is not among people — did you mean `vera`"),
        ("swing: 2", "swing: 0", "count from 1"),
        ("intake: 1", "intake: 2", "write `intake: 1`"),
        ("question:", "qestion:", "did you mean `question`"),
        ("by: Jo", "by:", "by"),
    ],
)
def test_faults_have_a_place(batch, old, new, said):
    (batch / "submissions.yaml").write_text(BATCH.replace(old, new))
    with pytest.raises(StoryboardUnreadable, match=said):
        load_batch(batch)


def test_withdrawals_of_every_folder_above_count_and_the_earliest_day_wins(batch, tmp_path):
    inner = tmp_path / "season" / "week"
    inner.mkdir(parents=True)
    (tmp_path / "withdrawn.yaml").write_text("withdrawn: {vera: 2027-05-01, ida: 2027-01-01}\n")
    (inner / "withdrawn.yaml").write_text("withdrawn: {vera: 2027-04-01}\n")
    assert withdrawals(inner) == {"vera": datetime.date(2027, 4, 1), "ida": datetime.date(2027, 1, 1)}
    assert load_batch(batch).batch.people["vera"].withdrawn == datetime.date(2027, 5, 1)
    assert load_batch(batch).batch.people["tom"].withdrawn is None


def test_a_storyboard_knows_the_withdrawals_beside_it(tmp_path):
    path = tmp_path / "lesson.yaml"
    path.write_text(LESSON)
    assert load(path).board.people["marta"].withdrawn is None
    (tmp_path / "withdrawn.yaml").write_text("withdrawn: {marta: 2027-05-01}\n")
    assert load(path).board.people["marta"].withdrawn == datetime.date(2027, 5, 1)


def test_a_list_of_withdrawals_that_cannot_be_read_stops_everything(batch, tmp_path):
    (tmp_path / "withdrawn.yaml").write_text("withdrawn: {vera: soon}\n")
    with pytest.raises(StoryboardUnreadable, match="not a date"):
        load_batch(batch)


def test_contacts_read(tmp_path):
    (tmp_path / "contacts.yaml").write_text("contacts: {vera: {name: Vera Lund, email: v@mail.example}}\n")
    assert load_contacts(tmp_path / "contacts.yaml")["vera"].email == "v@mail.example"


class TestTakingOut:
    def test_a_block_entry_goes_with_its_lines_and_the_rest_stays(self):
        text = without_entry(BATCH, ("people", "tom"), "x")
        assert text == BATCH.replace("  tom:\n    shown: Tom\n    adult: no        # asked\n", "")

    def test_an_entry_before_a_comment_leaves_the_comment(self):
        text = without_entry(BATCH, ("submissions", "s-1"), "x")
        assert "# Tom's\n  s-2:" in text
        assert "s-1" not in text
        assert "question" not in text

    def test_the_last_entry_goes(self):
        assert without_entry(BATCH, ("submissions", "s-2"), "x") == BATCH[: BATCH.index("  s-2:")]

    def test_what_is_not_there_changes_nothing(self):
        assert without_entry(BATCH, ("people", "nobody"), "x") == BATCH

    def test_inside_braces_a_person_must_do_it(self):
        with pytest.raises(StoryboardUnreadable, match="take it out by hand"):
            without_entry("contacts: {vera: {name: V}}\n", ("contacts", "vera"), "x")


def test_every_limit_of_the_file_is_known_and_has_a_meaning():
    text = (templates_folder() / "intake" / "limits.yaml").read_text()
    for name, field in IntakeLimits.model_fields.items():
        assert f"\n{name}: " in text
        assert field.description
    assert intake_limits().rate_impact == 59


def test_a_limits_file_of_ones_own_is_read_with_care(tmp_path):
    text = (templates_folder() / "intake" / "limits.yaml").read_text()
    (tmp_path / "l.yaml").write_text(text.replace("drift_most: 2.5 %", "drift_most: 250 %"))
    with pytest.raises(StoryboardUnreadable, match="drift_most"):
        intake_limits(tmp_path / "l.yaml")

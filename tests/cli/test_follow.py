"""`segmentkit follow`: a list of who is due, and two clips compared, for people and for machines."""

from __future__ import annotations

import json

import pytest

from segmentkit.cli.main import run
from tests.season.test_follow_due import RECORD, SEASON
from tests.season.withdraw_case import put


@pytest.fixture
def root(tmp_path):
    put(tmp_path / "in" / "submissions.yaml", RECORD)
    put(tmp_path / "season.yaml", SEASON)
    return tmp_path


def call(capsys, *arguments):
    with pytest.raises(SystemExit) as stopped:
        run([str(argument) for argument in arguments])
    told = capsys.readouterr()
    return stopped.value.code, told.out, told.err


def test_the_list_is_by_day_and_letters_are_written_on_request(root, capsys):
    code, out, _ = call(capsys, "follow", root / "season.yaml", "--today", "2026-07-15")
    assert code == 0
    assert out.splitlines()[0] == "2026-07-10  i4 (rowan), aired 2026-04-01 — due"
    assert not (root / "letters").exists()
    _, out, _ = call(capsys, "follow", root / "season.yaml", "--today", "2026-07-15", "--letters", "--json")
    listed = json.loads(out)
    assert [one["stage"] for one in listed] == [
        "due", "a new clip is there", "followed", "not yet", "not to be written to",
    ]  # fmt: skip
    assert listed[0]["letter"].endswith("letters/i4.follow-up.txt")
    assert (root / "letters" / "i4.follow-up.txt").is_file()


def test_clips_that_are_not_comparable_are_said_not_to_be_before_any_is_opened(root, capsys):
    code, out, _ = call(capsys, "follow", f"{root}/in#s1", f"{root}/in#s2", "--today", "2026-04-20", "--json")
    data = json.loads(out)
    assert code == 1
    assert data["answer"] == "not comparable"
    code, out, _ = call(capsys, "follow", f"{root}/in#s1", f"{root}/in#s6", "--today", "2026-07-15")
    assert code == 1
    assert "write from: with the day of the new one" in out
    assert "not comparable" in out
    assert "fits  7-iron both times" in out


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["follow"], 2),
        (["follow", "a", "b", "c"], 2),
        (["follow", "nowhere.yaml"], 3),
        (["follow", "nowhere", "nothing"], 3),
        (["follow", "a", "b", "--then", "yesterday"], 2),
    ],
)
def test_what_cannot_be_meant_is_told(arguments, code, capsys):
    told, _, err = call(capsys, *arguments)
    assert told == code
    assert err

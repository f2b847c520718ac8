"""The verbs for what viewers send, from the command line."""

from __future__ import annotations

import json

import pytest

from segmentkit.cli.main import run

BATCH = """\
intake: 1
people:
  vera: {shown: Vera, adult: yes, release: {for: [web]}}
submissions:
  s-1:
    person: vera
    down-the-line: {file: a.mp4}
"""


def said(args, capsys):
    with pytest.raises(SystemExit) as ended:
        run([str(arg) for arg in args])
    captured = capsys.readouterr()
    return ended.value.code, captured.out, captured.err


@pytest.fixture
def batch(tmp_path):
    (tmp_path / "submissions.yaml").write_text(BATCH)
    (tmp_path / "a.mp4").write_text("no clip\n" * 20)
    return tmp_path


def test_from_files_to_letters_to_nothing(batch, capsys):
    code, out, _ = said(["intake", batch, "--today", "2027-03-04"], capsys)
    assert code == 0
    assert "s-1: reshoot" in out
    assert "is text, not a clip" in out
    for name in ("intake.html", "intake.csv", "intake.json"):
        assert (batch / "intake" / name).read_text()
    code, out, _ = said(["letters", batch, "--today", "2027-03-04"], capsys)
    letter = batch / "letters" / "s-1.reshoot.txt"
    assert (code, out.strip()) == (0, str(letter))
    assert "send the original file again" in letter.read_text()
    code, out, err = said(["erase", "vera", "--folder", batch], capsys)
    assert code == 0
    assert out.count("would be removed") == 5  # clip, letter, page, CSV, JSON
    assert "entry would go" in out
    assert "nothing was touched" in err
    code, out, _ = said(["erase", "vera", "--folder", batch, "--now"], capsys)
    assert code == 0
    assert not letter.exists()
    assert not (batch / "a.mp4").exists()
    assert "vera" not in (batch / "submissions.yaml").read_text()


def test_data_for_machines(batch, capsys):
    code, out, _ = said(["intake", batch, "--json", "--today", "2027-03-04"], capsys)
    assert code == 0
    assert json.loads(out)["submissions"][0]["parts"][0]["reasons"][0]["id"] == "unreadable"
    code, out, _ = said(["erase", "vera", "--folder", batch, "--json"], capsys)
    assert json.loads(out)["removed"] is False


def test_loose_files_and_an_empty_folder(tmp_path, capsys):
    (tmp_path / "x.mov").write_text("no clip\n" * 20)
    code, out, _ = said(["intake", tmp_path / "x.mov", "-o", tmp_path / "out"], capsys)
    assert code == 0
    assert "x.mov: reshoot" in out
    (tmp_path / "empty").mkdir()
    code, _, err = said(["intake", tmp_path / "empty"], capsys)
    assert code == 4
    assert "holds no files" in err


def test_the_sheet(tmp_path, capsys):
    code, out, _ = said(["sheet", "-o", tmp_path / "sheet.html"], capsys)
    assert (code, out.strip()) == (0, str(tmp_path / "sheet.html"))
    assert "4.5 m" in (tmp_path / "sheet.html").read_text()


def test_wrong_calls_are_told(batch, capsys):
    assert said(["letters", batch, "--set", "day"], capsys)[0] == 2
    code, _, err = said(["letters", batch, "--only", "s-9"], capsys)
    assert code == 3
    assert "no submission `s-9`" in err
    code, _, err = said(["erase", "nobody", "--folder", batch], capsys)
    assert code == 3
    assert "people are called vera" in err

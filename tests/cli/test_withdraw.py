"""The verbs that let viewers go: nothing is touched before it is said twice, and machines get data."""

from __future__ import annotations

import json

import pytest

from segmentkit.cli.main import run
from tests.season.withdraw_case import plant, state


@pytest.fixture
def root(tmp_path):
    folder = tmp_path / "season"
    plant(folder)
    return folder


def call(capsys, *arguments):
    with pytest.raises(SystemExit) as stopped:
        run([str(argument) for argument in arguments])
    told = capsys.readouterr()
    return stopped.value.code, told.out, told.err


def test_without_yes_all_is_listed_and_nothing_touched(root, capsys):
    before = state(root)
    code, out, err = call(capsys, "withdraw", "vera", "--season", root / "season.yaml", "--today", "2026-04-08")
    assert code == 0
    assert "remove: " in out
    assert "left to a person" in out
    assert "cannot be recalled: finished file s03-web.mp4 — aired on 2026-04-05" in out
    assert "nothing was touched" in err
    assert state(root) == before


def test_with_yes_it_goes_and_a_receipt_is_there(root, capsys):
    receipt = root.parent / "receipt.txt"
    code, out, _ = call(
        capsys, "withdraw", "vera", "--season", root / "season.yaml", "--yes", "--receipt", receipt, "--today",
        "2026-04-08",
    )  # fmt: skip
    assert code == 1  # a note that somebody wrote by hand is left
    assert "removed: " in out
    assert "Vera" not in receipt.read_text()
    assert not (root / "s03").exists()
    assert (root / "s04" / "storyboard.yaml").exists()


def test_machines_get_data(root, capsys):
    code, out, _ = call(capsys, "withdraw", "olga", "--season", root / "season.yaml", "--json")
    data = json.loads(out)
    assert code == 0
    assert data["items"] == ["s04"]
    assert data["removed"] is False
    assert {"file", "why", "how", "lines"} == set(data["found"][0])


def test_nobody_of_that_name_is_an_error_with_the_names_there_are(root, capsys):
    code, _, err = call(capsys, "withdraw", "wera", "--season", root / "season.yaml")
    assert code == 3
    assert "model, olga, vera" in err


def test_keep_lists_by_day_and_removes_what_is_due(root, capsys):
    record = root / "in-s03" / "submissions.yaml"
    record.write_text(record.read_text().replace("for: [web]", "for: [web], until: 2026-06-30"))
    code, out, _ = call(capsys, "keep", root / "season.yaml", "--today", "2026-06-30")
    assert code == 0
    assert out.splitlines()[0].startswith("2026-07-01  kept  vera: the release ends on 2026-06-30")
    code, out, err = call(capsys, "keep", root / "season.yaml", "--today", "2026-07-01", "--by", "2026-12-31")
    assert code == 1
    assert "due   vera" in out
    assert "olga" not in out
    assert "1 are due" in err
    call(capsys, "keep", root / "season.yaml", "--today", "2026-07-01", "--yes")
    assert not (root / "s03").exists()
    code, out, _ = call(capsys, "keep", root / "season.yaml", "--today", "2026-07-01", "--json")
    assert code == 0
    assert [one["person"] for one in json.loads(out)] == ["olga"]

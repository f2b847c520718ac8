"""`segmentkit season` and `segmentkit models`: pages and lists from the command line."""

from __future__ import annotations

import json

import pytest

from segmentkit.cli.main import run
from tests.season.report_case import plant
from tests.season.test_models_rank import BOARD, LIBRARY
from tests.season.withdraw_case import put


def call(capsys, *arguments):
    with pytest.raises(SystemExit) as stopped:
        run([str(argument) for argument in arguments])
    told = capsys.readouterr()
    return stopped.value.code, told.out, told.err


def test_a_season_gives_a_page_with_the_same_numbers_beside_it(tmp_path, capsys):
    file = plant(tmp_path)
    code, out, _ = call(capsys, "season", file, "--today", "2026-07-20", "--quick")
    assert code == 0
    assert "10 items, 9 aired; 20 submissions, 10 used" in out
    assert "median 55 days, nine in ten within 74.4" in out
    data = json.loads((tmp_path / "statistics.json").read_text())
    assert data["submissions"] == {"came": 20, "used": 10}
    assert (tmp_path / "statistics.html").read_text().startswith("<!doctype html>")
    assert (tmp_path / "statistics.csv").read_bytes().startswith(b"figure,of,number\r\n")
    assert not list(tmp_path.glob("people*"))  # named people only on request


def test_the_list_of_people_is_written_on_request_and_data_for_machines(tmp_path, capsys):
    file = plant(tmp_path)
    code, out, _ = call(
        capsys, "season", file, "--today", "2026-07-20", "--quick", "--json", "-o", tmp_path / "x.html", "--people",
        tmp_path / "apart.csv",
    )  # fmt: skip
    assert code == 0
    assert json.loads(out)["season"] == "Spring season"
    assert "viewer0" not in out
    assert "viewer0" in (tmp_path / "apart.csv").read_text()


def test_storyboards_are_planned_unless_it_must_be_quick(tmp_path, capsys, monkeypatch):
    monkeypatch.setenv("SEGMENTKIT_STORE", str(tmp_path / "store"))
    file = plant(tmp_path, boards=2)
    code, _, err = call(capsys, "season", file, "--today", "2026-07-20")
    assert code == 0
    assert "storyboards" in err
    data = json.loads((tmp_path / "statistics.json").read_text())
    assert data["planned"] == 2
    assert data["sponsors"] == {"items": 2, "seconds": "12"}  # 6 s each


def test_models_are_listed_best_first_with_reasons(tmp_path, capsys):
    put(tmp_path / "library.yaml", LIBRARY)
    board = put(tmp_path / "board.yaml", BOARD)
    code, out, _ = call(capsys, "models", f"{board}#swing", tmp_path, "--today", "2026-04-01")
    assert code == 0
    assert out.splitlines()[0] == "1. ines_dtl (ines)"
    assert "not otto_dtl: driver, the viewer 7-iron" in out
    code, out, _ = call(capsys, "models", f"{board}#swing", tmp_path, "--today", "2026-04-01", "--json", "--most", "1")
    data = json.loads(out)
    assert [one["clip"] for one in data["best"]] == ["ines_dtl"]
    assert {one["clip"] for one in data["refused"]} == {"ines_face", "otto_dtl", "pia_dtl"}


def test_nobody_fits_is_an_answer(tmp_path, capsys):
    put(tmp_path / "library.yaml", LIBRARY.replace("view: down-the-line", "view: rear"))
    board = put(tmp_path / "board.yaml", BOARD)
    code, out, _ = call(capsys, "models", f"{board}#swing", tmp_path, "--today", "2026-04-01")
    assert code == 1
    assert "nobody in the library fits" in out

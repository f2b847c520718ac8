"""The verb `batch`: what it prints, what it returns, what it refuses."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from segmentkit.cli.main import run
from tests.season import small
from tests.season.rows import rows

DAY = ("--today", "2028-04-01")


def said(args, capsys):
    with pytest.raises(SystemExit) as ended:
        run([str(arg) for arg in args])
    captured = capsys.readouterr()
    return ended.value.code, captured.out, captured.err


def test_a_dry_run_says_what_would_be_made_and_writes_nothing(tmp_path, capsys):
    path = small.season(tmp_path / "a", 3)
    (path.parent / "s1" / "withdrawn.yaml").write_text("withdrawn: {viewer1: 2028-03-01}\n")
    code, out, _ = said(["batch", path, "--dry", *DAY], capsys)
    assert code == 1
    assert out.splitlines()[0] == "Small: 3 items: 2 ready to be made, 1 explained"
    assert "usual bit rates" in out
    assert "[release-withdrawn]" in out
    assert not (path.parent / "out").exists()
    code, out, _ = said(["batch", path, "--dry", "--json", "--only", "s0", *DAY], capsys)
    assert code == 0
    item, season = (json.loads(line) for line in out.splitlines())
    assert (item["item"], item["state"], item["shown"]) == ("s0", "ready", "Viewer0")
    assert season["counts"] == {"done": 0, "kept": 0, "failed-qc": 0, "ready": 1, "explained": 0}
    assert season["needed"]["seconds"] == 1.0


def test_what_cannot_start_returns_two(tmp_path, capsys):
    (tmp_path / "bad.csv").write_text("id,air\na b,never\n")
    code, _, err = said(["batch", tmp_path / "bad.csv", *DAY], capsys)
    assert code == 2
    assert "row 2, column id" in err
    assert "row 2, column air" in err
    code, _, err = said(["batch", rows(tmp_path / "s", shift=1), *DAY], capsys)
    assert code == 2
    assert "the table has slipped" in err
    path = small.season(tmp_path / "a", 1)
    assert said(["batch", path, "--only", "s7", *DAY], capsys)[0] == 2
    assert said(["batch", path, "--until", "soon", *DAY], capsys)[0] == 2
    assert said(["batch", tmp_path / "none.yaml"], capsys)[0] == 2
    assert not (path.parent / "out").exists()


def test_too_little_memory_is_said_once_and_papers_are_as_the_season_says(tmp_path, capsys, monkeypatch):
    path = small.season(tmp_path / "a", 1)
    (path.parent / "s0" / "storyboard.yaml").write_text("segmentkit: 1\n")
    monkeypatch.setattr("segmentkit.season.room.free_memory", lambda: 4 * 10**9)
    code, out, err = said(["batch", path, "--jobs", "4", *DAY], capsys)
    assert code == 1
    assert err.count("1 of 4 workers: 4.0 GB of memory are free, and each is given 2.4 GB") == 1
    assert "of memory" not in out
    assert "of memory" not in said(["batch", path, "--jobs", "4", "--dry", *DAY], capsys)[2]
    listed = (path.parent / "out" / "deliveries.csv").read_text().splitlines()
    assert listed[1] == "s0,2028-04-01,,,,,,,,,,,not delivered"
    asked = []
    monkeypatch.setattr("segmentkit.season.run.run_season", lambda *given, **_: asked.append(given[2].papers) or 1 / 0)
    path.write_text("papers: yes\n" + path.read_text())
    for option in ((), ("--no-papers",)):
        with pytest.raises(ZeroDivisionError):
            run(["--debug", "batch", str(path), *option, *DAY])
    assert asked == [True, False]


def test_help_and_the_list_of_verbs_name_it(capsys):
    code, out, _ = said(["batch", "--help"], capsys)
    assert code == 0
    assert "--scheduler" in out
    assert "nothing was begun" in out
    assert "batch" in said(["--help"], capsys)[1]


@pytest.mark.slow
def test_from_rows_to_files(tmp_path):
    path = small.season(tmp_path / "a", 2)
    (path.parent / "s1" / "coded.mp4").write_text("no clip" * 50)
    command = [sys.executable, "-m", "segmentkit", "batch", str(path), "-o", str(tmp_path / "there"), *DAY]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 1, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0] == "Small: 2 items: 1 done, 1 explained"
    assert lines[-1] == f"page: {tmp_path / 'there' / 'season.html'}"
    assert (tmp_path / "there" / "s0" / "s0-web.mp4").stat().st_size > 1000
    assert "making" in done.stderr

"""A file that fails quality control never has the delivery's name, unless a person answers for it."""

from __future__ import annotations

import json

import numpy as np
import pytest

from segmentkit.cli.main import run
from segmentkit.deliver.qc_data import Override
from segmentkit.errors import NotReleased
from segmentkit.pipeline import render
from tests.clips import make_clip, steady
from tests.render.movies import project

STROBE = """
segmentkit: 1
segment: {title: Strobe, slot: 4s, rate: 25, size: 320x180}
clips:
  strobe: {file: strobe.mp4}
beats:
  - beat: only
    show:
      - run: {clip: strobe, from: f0, to: f99, speed: 1}
"""


def strobing(k):
    """Black and white by turns, six times a second: beyond three flashes in any second (WCAG 2.2, ITU-R BT.1702)."""
    return np.full((180, 320, 3), 235 if k // 2 % 2 else 20, np.uint8)


@pytest.fixture
def strobe(tmp_path):
    make_clip(tmp_path / "strobe.mp4", steady(25, 4), picture=strobing)
    (tmp_path / "strobe.yaml").write_text(STROBE)
    return tmp_path / "strobe.yaml"


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_file_that_passes_has_its_report_beside_it(tmp_path):
    made = render(project(tmp_path / "project"), tmp_path / "out" / "good.mp4")
    assert names(tmp_path / "out") == ["good.manifest.json", "good.mp4", "good.qc.html", "good.qc.json"]
    assert {path.name for path in made.beside} == {"good.manifest.json", "good.qc.html", "good.qc.json"}
    listed = json.loads((tmp_path / "out" / "good.manifest.json").read_text())
    assert listed["qc"]["verdict"] in {"pass", "warn"}
    assert {file["file"] for file in listed["files"]} == {"good.qc.html", "good.qc.json"}


@pytest.mark.slow
def test_a_second_render_does_not_judge_the_same_bytes_again(tmp_path):
    board = project(tmp_path / "project")
    told: list[str] = []
    first = render(board, tmp_path / "good.mp4", progress=lambda step, _done, _of: told.append(step))
    assert "quality control" in told
    entry = json.loads((tmp_path / "good.manifest.json").read_text())["qc"]
    told.clear()
    again = render(board, tmp_path / "good.mp4", progress=lambda step, _done, _of: told.append(step))
    assert "quality control" not in told
    assert again.beside == first.beside
    assert json.loads((tmp_path / "good.manifest.json").read_text())["qc"] == entry
    (tmp_path / "good.qc.json").unlink()
    render(board, tmp_path / "good.mp4", progress=lambda step, _done, _of: told.append(step))
    assert "quality control" in told


@pytest.mark.slow
def test_a_file_that_fails_is_kept_under_another_name_and_the_older_one_stays(strobe, tmp_path):
    out = tmp_path / "out" / "strobe.mp4"
    out.parent.mkdir()
    out.write_bytes(b"an older delivery")
    with pytest.raises(NotReleased, match="failed quality control") as caught:
        render(strobe, out)
    assert "qc-flash" in str(caught.value)
    assert out.read_bytes() == b"an older delivery"
    assert {"strobe.failed-qc.mp4", "strobe.failed-qc.qc.html", "strobe.failed-qc.manifest.json"} <= set(
        names(out.parent)
    )


@pytest.mark.slow
def test_a_person_may_answer_for_it_and_is_named(strobe, tmp_path):
    out = tmp_path / "strobe-out.mp4"
    word = Override(by="Jonna", reason="warned of on air, agreed with compliance", on="2026-11-25")
    made = render(strobe, out, override=word)
    assert made.movie.path == out
    assert out.is_file()
    for path in (tmp_path / "strobe-out.manifest.json", tmp_path / "strobe-out.qc.json"):
        data = json.loads(path.read_text())
        told = data.get("qc", data)["override"]
        assert told == {"by": "Jonna", "reason": word.reason, "on": word.on}
    assert "Jonna" in (tmp_path / "strobe-out.qc.html").read_text()


@pytest.mark.slow
def test_rehearsals_are_no_deliveries(strobe, tmp_path):
    render(strobe, tmp_path / "try.mp4", final=False)
    assert json.loads((tmp_path / "try.manifest.json").read_text())["qc"] is None
    assert not (tmp_path / "try.qc.html").exists()


def typed(*args):
    """The exit code of a command line."""
    with pytest.raises(SystemExit) as ended:
        run([str(arg) for arg in args])
    return ended.value.code


@pytest.mark.slow
def test_the_command_line_says_so_and_takes_the_answer(strobe, tmp_path, capsys):
    out = tmp_path / "cli.mp4"
    assert typed("render", strobe, "-o", out) == 1
    said = "".join(capsys.readouterr())
    assert "failed quality control" in said
    assert "--override-by" in said
    assert typed("render", strobe, "-o", out, "--override-by", "Jonna") == 2
    assert not out.exists()
    assert typed("render", strobe, "-o", out, "--override-by", "Jonna", "--because", "compliance agreed") == 0
    assert out.is_file()

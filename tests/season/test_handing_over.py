"""What a season hands over: files that pass and files that fail quality control, papers, and one list of all."""

from __future__ import annotations

import csv
import hashlib
import io
import json

import numpy as np
import pytest

from segmentkit.deliver.rights import as_csv
from segmentkit.season.delivery_list import (
    ASIDE,
    DELIVERED,
    HEAD,
    HELD,
    OPEN,
    list_page,
    rows_of,
    write_delivery_list,
)
from segmentkit.season.journal import FAILED_QC, PAPERS, Failed, Journal, Line, Made
from segmentkit.season.page import write_pages
from segmentkit.season.report import figures
from segmentkit.season.summary import summary
from segmentkit.storyboard.season import load_season
from tests.clips import make_clip, steady
from tests.season import small
from tests.season.whole import TODAY, made

STROBE = """\
segmentkit: 1
segment: {title: Strobe, slot: 2s, rate: 25, size: 320x180}
clips: {coded: {file: coded.mp4}}
beats:
  - beat: only
    show: [{run: {clip: coded, from: f0, to: f49, speed: 1}}]
"""


def strobing(k):
    """Dark and white by turns, six times a second: beyond three flashes in any second (WCAG 2.2, ITU-R BT.1702)."""
    return np.full((180, 320, 3), 235 if k // 2 % 2 else 60, np.uint8)


def states(report):
    return {one.entry.id: one.state for one in report.outcomes}


@pytest.mark.slow
def test_a_file_that_failed_quality_control_is_noted_shown_and_never_taken_for_done(place):
    path = small.season(place / "a", 2)
    (path.parent / "s0" / "storyboard.yaml").write_text(STROBE)
    make_clip(path.parent / "s0" / "coded.mp4", steady(25, 2), picture=strobing)
    report = made(path)
    out = path.parent / "out"
    assert states(report) == {"s0": FAILED_QC, "s1": "done"}
    assert report.exit_code == 1
    line = Journal(out).lines()["s0"]
    (failed,) = line.failed
    assert (line.state, failed.made.file, failed.made.profile, failed.why) == (
        FAILED_QC, "s0-web.failed-qc.mp4", "web", "qc-flashes",
    )  # fmt: skip
    assert "flash" in failed.what
    assert not any(one.seconds for one in line.files)
    kept = out / "s0" / failed.made.file
    assert failed.made.sha256 == hashlib.sha256(kept.read_bytes()).hexdigest()
    assert {one.file.split(".", 1)[1] for one in failed.beside} == {
        "failed-qc.qc.html", "failed-qc.qc.json", "failed-qc.manifest.json",
    }  # fmt: skip
    assert not (out / "s0" / "s0-web.mp4").exists()
    # A person is told: on the screen, on the page, in the season's figures.
    assert summary(report)[0] == "Small: 2 items: 1 done, 1 failed quality control"
    (told,) = (text for text in summary(report) if "failed-qc.mp4" in text)
    assert told.startswith("  s0/s0-web.failed-qc.mp4: ")
    assert told.endswith("[qc-flashes]")
    html = write_pages(report)[0].read_text()
    assert 'href="s0/s0-web.failed-qc.mp4"' in html
    assert 'href="s0/s0-web.failed-qc.qc.html"' in html
    counted = figures(load_season(path), TODAY, out=out)
    assert (counted.delivered, counted.failed) == ((("web", 1),), (("web", 1),))
    # It is not made again to fail again, nor is it taken for done.
    crews = []
    again = made(path, crews)
    assert (states(again), again.exit_code, crews) == ({"s0": FAILED_QC, "s1": "kept"}, 1, [])
    assert summary(again)[1].startswith("nothing was made")
    assert states(made(path, dry=True)) == {"s0": FAILED_QC, "s1": "kept"}
    kept.unlink()
    assert states(made(path)) == {"s0": FAILED_QC, "s1": "kept"}
    assert kept.exists()
    # Put right, it is delivered, and what was kept aside goes.
    small.item(path.parent, "s0", 0)
    assert states(made(path)) == {"s0": "done", "s1": "kept"}
    assert [one.name for one in (out / "s0").iterdir() if FAILED_QC in one.name] == []
    assert Journal(out).lines()["s0"].failed == ()


@pytest.mark.slow
def test_papers_come_when_they_are_asked_for_and_go_with_consent(place):
    path = small.season(place / "a", 2)
    made(path)
    out = path.parent / "out"
    assert not (out / "s0" / PAPERS).exists()
    before = (out / "s0" / "s0-web.mp4").read_bytes()
    report = made(path, papers=True)
    assert states(report) == {"s0": "done", "s1": "done"}
    assert (out / "s0" / "s0-web.mp4").read_bytes() == before
    names = {one.name for one in (out / "s0" / PAPERS).iterdir()}
    assert {"s0-rights.csv", "s0-music-cues.csv", "s0-contact.pdf", "s0-papers.json", "s0.otio"} <= names
    noted = {one.file for one in Journal(out).lines()["s0"].files if one.file.startswith("papers/")}
    assert noted == {f"papers/{name}" for name in names}
    crews = []
    assert (states(made(path, crews, papers=True)), crews) == ({"s0": "kept", "s1": "kept"}, [])
    assert states(made(path)) == {"s0": "kept", "s1": "kept"}  # unasked they stay
    (out / "s1" / PAPERS / "s1-rights.csv").unlink()
    assert states(made(path, papers=True)) == {"s0": "kept", "s1": "done"}
    (path.parent / "withdrawn.yaml").write_text("withdrawn: {viewer0: 2028-03-30}\n")
    made(path, papers=True)
    assert list((out / "s0" / PAPERS).iterdir()) == []


@pytest.mark.slow
def test_the_list_says_of_each_file_what_is_asked_where_it_is_taken_in(place):
    path = small.season(place / "a", 2, deliver="web, short")
    board = path.parent / "s0" / "storyboard.yaml"
    board.write_text(board.read_text().replace(
        "freeze: {clip: coded, at: f4, hold: 0.4s..9s}", "run: {clip: coded, speed: 1, sound: yes}"
    ))  # fmt: skip
    report = made(path, papers=True)
    season = load_season(path)
    table, page = write_delivery_list(report, season, TODAY)
    read = list(csv.DictReader(io.StringIO(table.read_bytes().decode(), newline="")))
    assert tuple(read[0]) == HEAD
    first, held, *_ = read
    movie = report.out / first["file"]
    listed = json.loads(movie.with_name("s0-web.manifest.json").read_text())
    assert (first["item"], first["profile"], first["allowed for"], first["state"]) == ("s0", "web", "web", DELIVERED)
    assert first["SHA-256"] == hashlib.sha256(movie.read_bytes()).hexdigest()
    assert (first["bytes"], first["length"]) == (str(movie.stat().st_size), "00:00:01:00")
    assert float(first["loudness LUFS"]) == pytest.approx(listed["loudness_lufs"], abs=0.06)
    assert float(first["true peak dBTP"]) == pytest.approx(listed["true_peak_dbtp"], abs=0.06)
    assert first["quality control"] in {"passed", "passed, with warnings"}
    assert int(first["papers"]) > 5
    assert (held["profile"], held["file"], held["state"]) == ("short", "", HELD)
    html = page.read_text()
    assert "2 files of 2 items delivered, 2 not delivered" in html
    assert "Viewer" not in html
    # The same after a run that made one item only.
    before = table.read_bytes()
    write_delivery_list(made(path, only=("s1",), papers=True), season, TODAY)
    assert table.read_bytes() == before


def test_rows_follow_the_journal_and_names_with_marks_stay_text(tmp_path):
    (tmp_path / "season.yaml").write_text(
        "season: A & B\nitems:\n  - {id: late, storyboard: x, air: 2028-05-02}\n"
        "  - {id: early, storyboard: x, air: 2028-05-01}\n  - {id: open, storyboard: x}\n"
    )
    season = load_season(tmp_path / "season.yaml")
    good = Made(file="late-web.mp4", sha256="ab" * 32, bytes=5_000_000, profile="profiles/web.yaml", seconds=4.0,
                length="00:00:04:00", loudness=-14.04, peak=-1.25, qc="warn", scope="web")  # fmt: skip
    bad = Made(file="late-tv.failed-qc.mp4", sha256="cd" * 32, bytes=7, profile="tv", seconds=4.0, length="00:00:04:00",
               qc="fail", scope="broadcast")  # fmt: skip
    lines = {
        "late": Line(
            item="late", state=FAILED_QC, files=(good, Made(file="papers/late-rights.csv", sha256="", bytes=1)),
            failed=(Failed(made=bad, why="qc-flashes", what="4 flashes < 1 s"),), held=(("short", "no <release>"),),
        ),
        "early": Line(item="early", state="explained", why="pain", what="told of pain", files=(good,)),
    }  # fmt: skip
    rows = rows_of(season, lines)
    assert [(row.item.id, row.profile, row.state) for row in rows] == [
        ("early", "", HELD), ("late", "web", DELIVERED), ("late", "tv", ASIDE), ("late", "short", HELD),
        ("open", "", OPEN),
    ]  # fmt: skip
    assert rows[1].cells[3:] == (
        "web", "late/late-web.mp4", "00:00:04:00", "-14.0", "-1.2", "5000000", "ab" * 32, "passed, with warnings", "1",
        DELIVERED,
    )  # fmt: skip
    assert rows[2].cells[-1] == f"{ASIDE}: qc-flashes"
    assert all(len(row.cells) == len(HEAD) for row in rows)
    text = list_page(season, rows, TODAY)
    assert "A &amp; B" in text
    assert "pain" not in text
    assert "release&gt;" not in text
    assert text.count("late</b>") == 1
    assert len(list(csv.reader(io.StringIO(as_csv(HEAD, [row.cells for row in rows]))))) == 6

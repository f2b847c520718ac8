"""A season from rows to files: resumed, isolated, taken away again; with small coded clips and one thread."""

from __future__ import annotations

import datetime
import shutil

import pytest

from segmentkit.errors import OutputFailed
from segmentkit.media.store import Store, sha256_of
from segmentkit.season import estimate as estimating
from segmentkit.season.carry import Shared
from segmentkit.season.entry import CannotStart
from segmentkit.season.estimate import COPIES, Estimate, estimate, refuse_if_short, usual_rate
from segmentkit.season.journal import Journal
from segmentkit.season.outcome import Options
from segmentkit.season.page import write_pages
from segmentkit.season.run import run_season
from segmentkit.season.summary import LINES, WIDTH, report_data, summary
from segmentkit.storyboard.load import load
from segmentkit.storyboard.profiles import delivery
from segmentkit.storyboard.season import load_season
from tests.season import small
from tests.season.rows import entries, rows
from tests.season.tasks import Inline
from tests.season.whole import TODAY, made


def states(report):
    return {one.entry.id: one.state for one in report.outcomes}


def files(path):
    return {file.relative_to(path).as_posix(): sha256_of(file) for file in path.rglob("*") if file.is_file()}


def test_what_is_done_is_left_alone_and_only_what_changed_is_made(place):
    path = small.season(place / "a", 3)
    first = made(path)
    assert states(first) == {"s0": "done", "s1": "done", "s2": "done"}
    assert first.exit_code == 0
    before, crews = files(path.parent / "out"), []
    again = made(path, crews)
    assert states(again) == {"s0": "kept", "s1": "kept", "s2": "kept"}
    assert crews == []  # nobody was hired
    assert {k: v for k, v in files(path.parent / "out").items() if "journal" not in k} == {
        k: v for k, v in before.items() if "journal" not in k
    }
    small.item(path.parent, "s1", 1, frame="f9")  # another picture
    (path.parent / "out" / "s2" / "s2-web.mp4").write_bytes(b"gone bad")
    third = made(path)
    assert states(third) == {"s0": "kept", "s1": "done", "s2": "done"}
    after = files(path.parent / "out")
    assert after["s1/s1-web.mp4"] != before["s1/s1-web.mp4"]
    assert after["s2/s2-web.mp4"] == before["s2/s2-web.mp4"]


@pytest.mark.slow
def test_one_bad_item_costs_itself(place):
    path = small.season(place / "a", 4)
    (path.parent / "s0" / "coded.mp4").write_bytes(b"no clip" * 99)
    (path.parent / "s1" / "storyboard.yaml").write_text("segmentkit: 1\n")
    small.item(path.parent, "s2", 2, slot="99s")  # cannot fit
    report = made(path)
    assert states(report) == {"s0": "explained", "s1": "explained", "s2": "explained", "s3": "done"}
    why = {one.entry.id: one.why for one in report.outcomes if one.why}
    assert (why["s0"].id, why["s1"].id, why["s2"].id) == ("unusable", "unreadable", "slot-under")
    assert str(place) not in "".join(one.what for one in why.values())
    assert report.exit_code == 1
    assert sorted(one.name for one in (path.parent / "out").iterdir() if one.is_dir()) == ["s3"]
    lines = summary(report, "page.html")
    assert lines[0] == "Small: 4 items: 1 done, 3 explained"
    # What can only go wrong again is not tried again; what was put right is.
    crews = []
    assert states(made(path, crews)) == {**states(report), "s3": "kept"}
    assert crews == []
    small.item(path.parent, "s2", 2)
    assert states(made(path))["s2"] == "done"


@pytest.mark.slow
def test_a_release_that_was_taken_back_takes_its_files_away(place):
    path = small.season(place / "a", 2)
    report = made(path)
    write_pages(report)
    assert (path.parent / "out" / "s0" / "s0-lower-third.jpg").exists()
    (path.parent / "withdrawn.yaml").write_text("withdrawn: {viewer0: 2028-03-30}\n")
    assert states(made(path, dry=True)) == {"s0": "explained", "s1": "kept"}
    assert (path.parent / "out" / "s0" / "s0-web.mp4").exists()  # a dry run touches nothing
    report = made(path)
    html, _ = write_pages(report)
    assert states(report) == {"s0": "explained", "s1": "kept"}
    assert [one.why.id for one in report.outcomes if one.why] == ["release-withdrawn"]
    assert list((path.parent / "out" / "s0").iterdir()) == []
    assert html.read_text().count("<figure>") == 1
    assert "Viewer0" not in html.read_text()
    assert "Viewer0" not in Journal(path.parent / "out").path.read_text()
    assert Journal(path.parent / "out").lines()["s0"].files == ()
    # A file that was made but not noted, because the run was killed in between, goes too.
    (path.parent / "out" / "s0" / "s0-web.mp4").write_bytes(b"not noted")
    made(path)
    assert list((path.parent / "out" / "s0").iterdir()) == []
    # The same on a rerun, and when all is put back.
    assert states(made(path)) == {"s0": "explained", "s1": "kept"}
    (path.parent / "withdrawn.yaml").unlink()
    assert states(made(path)) == {"s0": "done", "s1": "kept"}


@pytest.mark.slow
def test_a_release_that_ends_is_asked_on_each_day(place):
    path = small.season(place / "a", 2)
    small.item(path.parent, "s0", 0, until="2028-04-10")
    assert states(made(path)) == {"s0": "done", "s1": "done"}
    late = made(path, today=datetime.date(2028, 4, 11))
    assert states(late) == {"s0": "explained", "s1": "kept"}
    assert not (path.parent / "out" / "s0" / "s0-web.mp4").exists()


@pytest.mark.slow
def test_a_profile_that_nobody_allowed_is_held_and_the_others_are_made(place):
    path = small.season(place / "a", 1, deliver="web, short")
    report = made(path)
    assert states(report) == {"s0": "done"}
    assert [name for name, _ in report.outcomes[0].line.held] == ["short"]
    assert report.exit_code == 1
    assert any("no short: " in line for line in summary(report))
    # A profile that is taken out of a release later loses its file.
    path.write_text(path.read_text().replace("web, short", "web, broadcast"))
    assert made(path).exit_code == 0
    out = path.parent / "out" / "s0"
    assert {".json", ".mp4"} <= {one.suffix for one in out.glob("s0-broadcast*")}
    board = path.parent / "s0" / "storyboard.yaml"
    board.write_text(board.read_text().replace("[web, broadcast]", "[web]"))
    made(path)
    assert list(out.glob("s0-broadcast*")) == []
    assert (out / "s0-web.mp4").exists()


@pytest.mark.slow
def test_only_until_and_dry(place):
    path = small.season(place / "a", 3)
    dry = made(path, dry=True)
    assert states(dry) == {"s0": "ready", "s1": "ready", "s2": "ready"}
    assert dry.exit_code == 0
    assert not (path.parent / "out").exists()
    assert states(made(path, until=datetime.date(2028, 4, 2))) == {"s0": "done", "s1": "done"}
    assert states(made(path, only=("s2", "s0"))) == {"s0": "kept", "s2": "done"}
    assert states(made(path, only=("s2",), until=datetime.date(2028, 4, 2))) == {}


def test_a_table_that_has_slipped_begins_nothing(place):
    path = rows(place / "a", shift=1)
    crews = []
    with pytest.raises(CannotStart, match="the table has slipped") as raised:
        made(path, crews)
    assert "row 2, column submission" in str(raised.value) or "row 2, column id" in str(raised.value)
    assert crews == []
    assert not (path.parent / "out").exists()


@pytest.mark.slow
def test_stopping_leaves_nothing_half_and_the_next_run_goes_on(place):
    path, crews, told = small.season(place / "a", 3), [], []

    def hire():
        crews.append(Inline())
        return crews[-1], Shared()

    def seen(outcome):
        told.append(outcome.entry.id)
        if len(told) == 2:
            raise KeyboardInterrupt

    options = Options(today=TODAY, retries=0)
    with pytest.raises(KeyboardInterrupt):
        run_season(load_season(path), path.parent / "out", options, hire, seen=seen)
    assert crews[0].closed == [True]
    assert list((path.parent / "out").rglob("*partial*")) == []
    report = made(path)
    assert sorted(states(report).values()) == ["done", "kept", "kept"]


def test_the_estimate_is_seconds_times_bit_rate(place):
    """Bytes are bits a second times seconds over eight: the definition."""
    path = small.season(place / "a", 2)
    for number in range(2):
        small.item(path.parent, f"s{number}", number, slot="100s")
    made_ready = entries(path)
    web = delivery("web")
    loaded = load(path.parent / "s0" / "storyboard.yaml")
    share = 160 * 90 / (1920 * 1080)
    assert usual_rate(loaded, web) == pytest.approx((8e6 * share + web.sound.bit_rate) / 8)
    needed = estimate(made_ready, {}, Store(place / "none"))
    assert needed.delivered == pytest.approx(2 * 100 * usual_rate(loaded, web), abs=2)
    assert (needed.seconds, needed.measured) == (200, False)
    clips = sum((path.parent / f"s{k}" / "coded.mp4").stat().st_size for k in range(2))
    assert needed.kept == pytest.approx(needed.delivered + COPIES * clips, abs=2)


@pytest.mark.slow
def test_measured_bit_rates_take_the_place_of_usual_ones(place):
    path = small.season(place / "a", 2)
    report = made(path)
    lines = Journal(report.out).lines()
    needed = estimate(entries(path), lines, Store(place / "store"))
    sizes = [one.bytes for line in lines.values() for one in line.files if one.seconds]
    assert (needed.measured, needed.delivered) == (True, sum(sizes))
    assert needed.kept == needed.delivered  # their working copies are there


def test_a_disk_that_is_too_small_begins_nothing(tmp_path, monkeypatch):
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(estimating.shutil, "disk_usage", lambda _: usage._replace(free=10**9))
    needed = Estimate(delivered=2 * 10**9, kept=10**9, seconds=60, measured=False)
    with pytest.raises(CannotStart, match=r"needs about 3\.3 GB, and 1\.0 GB are free: 2\.3 GB short"):
        refuse_if_short(needed, tmp_path / "out", tmp_path / "store")
    refuse_if_short(Estimate(delivered=10**8, kept=10**8, seconds=1, measured=True), tmp_path / "out", tmp_path)


def test_the_summary_fits_one_screen_whatever_happens(place):
    path = place / "a" / "season.yaml"
    for number in range(60):
        (place / "a" / f"s{number}").mkdir(parents=True)
        (place / "a" / f"s{number}" / "storyboard.yaml").write_text("segmentkit: 1\n" + "x" * 300 + ": 1\n")
    lines = [f"  - {{id: s{number}, storyboard: s{number}/storyboard.yaml}}\n" for number in range(60)]
    path.write_text(f"season: Many\nitems:\n{''.join(lines)}")
    report = made(path)
    lines = summary(report, "out/season.html")
    assert len(lines) <= LINES
    assert all(len(line) <= WIDTH for line in lines)
    assert "60 explained" in lines[0]
    assert any(" of 60:" in line for line in lines)
    assert lines[-1] == "page: out/season.html"
    assert report_data(report)["counts"]["explained"] == 60


@pytest.mark.slow
def test_a_disk_that_refuses_ends_the_run_and_not_the_files(place, monkeypatch):
    path = small.season(place / "a", 2)
    written = Journal.write

    def refusing(journal, line):
        if line.item == "s1":
            raise OutputFailed("journal — could not be written")
        written(journal, line)

    monkeypatch.setattr(Journal, "write", refusing)
    with pytest.raises(OutputFailed):
        made(path)
    monkeypatch.undo()
    monkeypatch.setenv("SEGMENTKIT_STORE", str(place / "store"))
    assert states(made(path)) == {"s0": "kept", "s1": "done"}

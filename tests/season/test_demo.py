"""The demonstration's season: fourteen submissions, ten with trouble; whatever happens on the way."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import av
import pytest

from demo_project.season.make import EXPECTED, HELD, TODAY, make
from segmentkit.media.store import sha256_of
from segmentkit.season.journal import Journal
from segmentkit.season.summary import LINES, WIDTH
from tests.season import small

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    return make(tmp_path_factory.mktemp("clinic"))


def batch(path, *more, store=None):
    environment = {**os.environ}
    environment.pop("SEGMENTKIT_STORE", None)
    if store is not None:
        environment["SEGMENTKIT_STORE"] = str(store)
    return [sys.executable, "-m", "segmentkit", "batch", str(path), "--today", TODAY, *more], environment


def run(path, *more, store=None):
    command, environment = batch(path, *more, store=store)
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False)


def delivered(out):
    """Movies by name, with the hash of their bytes."""
    return {path.name: sha256_of(path) for path in sorted(out.rglob("*.mp4"))}


def partials(folder):
    return list(folder.rglob(".*partial*"))


def test_the_expected_ones_are_done_and_the_others_explained(clinic):
    done = run(clinic, "--jobs", "2", "--json")
    assert done.returncode == 1, done.stderr
    events = [json.loads(line) for line in done.stdout.splitlines()]
    became = {
        event["item"]: "done" if event["state"] == "done" else event["why"]["id"]
        for event in events if event["event"] == "item"
    }  # fmt: skip
    assert became == EXPECTED
    held = {event["item"]: tuple(one["profile"] for one in event["held"]) for event in events[:-1] if event["held"]
            and event["state"] == "done"}  # fmt: skip
    assert held == HELD
    out = clinic.parent / "out"
    assert sorted(delivered(out)) == [
        "c01-phone.mp4", "c01-web.mp4", "c02-web.mp4", "c09-phone.mp4", "c09-web.mp4", "c14-phone.mp4", "c14-web.mp4",
    ]  # fmt: skip
    for name in delivered(out):
        with av.open(str(out / name[:3] / name)) as container:
            assert sum(1 for _ in container.decode(video=0)) == 500
    # A minor is shown by the first name, and nothing says more: neither names of files nor what is in them.
    texts = [path.name + path.read_text("utf-8", "replace") for path in (out / "c02").iterdir()]
    assert all("Kim Ask" not in text for text in texts)
    assert (out / "wall.png").stat().st_size > 10_000
    assert (out / "season.html").read_text().count("<figure>") == 4
    before = {path: path.stat().st_mtime_ns for path in out.rglob("c*") if path.is_file()}
    began = time.monotonic()
    again = run(clinic)
    assert time.monotonic() - began < 40
    lines = again.stdout.splitlines()
    assert "4 as before, 10 explained" in lines[0]
    assert len(lines) <= LINES
    assert all(len(line) <= WIDTH for line in lines[:-1])  # the last is the page's path
    assert {path: path.stat().st_mtime_ns for path in out.rglob("c*") if path.is_file()} == before


def test_what_was_edited_by_hand_stays(clinic):
    board = clinic.parent / "c01" / "storyboard.yaml"
    text = board.read_text().replace("The arm folds right after the strike", "The arm folds early")
    board.write_text(text)
    done = run(clinic, "--only", "c01")
    assert done.returncode == 0, done.stdout
    assert "1 done" in done.stdout
    assert "edited by hand" in done.stdout
    assert board.read_text() == text


def test_killed_at_any_moment_it_goes_on_to_the_same_bytes(tmp_path):
    """Kill -9 of the whole season, four times, each a little later; then it is let be."""
    plain = small.season(tmp_path / "plain", 4)
    assert run(plain, "--jobs", "1").returncode == 0
    path = small.season(tmp_path / "killed", 4)
    out = path.parent / "out"
    for seconds in (1.5, 2.5, 3.5, 4.5):
        command, environment = batch(path, "--jobs", "1")
        process = subprocess.Popen(
            command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        time.sleep(seconds)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        for line in Journal(out).lines().values():  # what is noted is there
            assert all(sha256_of(out / line.item / made.file) == made.sha256 for made in line.files)
    assert run(path, "--jobs", "1").returncode == 0
    assert delivered(out) == delivered(plain.parent / "out")
    assert partials(path.parent) == []
    assert {line.state for line in Journal(out).lines().values()} == {"done"}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_stopped_by_a_person_it_leaves_nothing_half_and_nobody_behind(tmp_path, number):
    path = small.season(tmp_path / "a", 1)
    board = path.parent / "s0" / "storyboard.yaml"
    text = board.read_text().replace("rate: 25, size: 160x90", "rate: 50, size: 1280x720")
    board.write_text(text.replace("slot: 1s", "slot: 8s"))  # long enough to be met while it works
    command, environment = batch(path, "--jobs", "1")
    process = subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    until = time.monotonic() + 60
    while not partials(path.parent / ".segmentkit" / "pieces") and process.poll() is None and time.monotonic() < until:
        time.sleep(0.02)
    children = {int(pid) for pid in Path(f"/proc/{process.pid}/task/{process.pid}/children").read_text().split()}
    process.send_signal(number)
    _, said = process.communicate(timeout=60)
    assert process.returncode == 130
    assert b"nothing was left under a final name" in said
    assert partials(path.parent) == []
    assert children
    until = time.monotonic() + 5  # the interpreter's own helper for semaphores ends after its process
    while [pid for pid in children if Path(f"/proc/{pid}").exists()]:
        assert time.monotonic() < until
        time.sleep(0.05)
    assert run(path, "--jobs", "1").returncode == 0


def test_the_next_viewer_costs_a_part_of_the_first(clinic, tmp_path):
    """Title, end board and demonstrator are found in the common working folder, so only the rest is drawn."""
    path, store = clinic.parent / "two.yaml", tmp_path / "store"
    path.write_text(
        "season: Two\ndeliver: web\nitems:\n  - {id: c01, storyboard: c01/storyboard.yaml}\n"
        "  - {id: c14, storyboard: c14/storyboard.yaml}\n"
    )
    made = []
    for name in ("c01", "c14"):
        assert run(path, "--only", name, "-o", str(tmp_path / "out"), store=store).returncode == 0
        made.append(len(list((store / "pieces").rglob("*.mp4"))) - sum(made))
    # Seven pieces: title, the swing, its end, the strike, the demonstrator, the end board, the sound.
    first, further = made
    assert 0 < further <= 0.6 * first

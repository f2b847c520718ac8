"""Watching: what counts as a save, and verbs that stay and answer each one."""

from __future__ import annotations

import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import av
import cv2
import pytest
import yaml

from segmentkit.cli.watching import Superseded, Watch
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.sources import sources
from tests.clips import make_clip, steady
from tests.render.movies import BOARD, project

LOOK = Path(__file__).parents[2] / "templates" / "looks" / "dune.yaml"


def test_a_save_is_told_once_and_in_whatever_file(tmp_path: Path):
    board, clip, takes = tmp_path / "board.yaml", tmp_path / "clip.mp4", tmp_path / "takes"
    board.write_text("one")
    watch = Watch(board)
    watch.follow([clip, takes])
    assert not watch.saved()
    board.write_text("other")
    assert watch.saved()
    assert not watch.saved()
    clip.write_text("comes later")
    assert watch.saved()
    takes.mkdir()
    (takes / "first.wav").write_text("a take")
    assert watch.saved()
    (takes / "first.wav").unlink()
    assert watch.saved()
    watch.follow([])
    clip.write_text("is not followed any more")
    assert not watch.saved()


def test_a_save_in_many_steps_is_one(tmp_path: Path):
    board = tmp_path / "board.yaml"
    board.write_text("")
    watch = Watch(board)

    def slowly() -> None:
        with board.open("w") as file:
            for _ in range(8):
                file.write("some more\n")
                file.flush()
                time.sleep(0.04)

    writer = threading.Thread(target=slowly)
    writer.start()
    watch.wait()
    whole = board.read_text()
    writer.join()
    assert whole.count("some more") == 8
    assert not watch.saved()


def test_a_file_that_never_rests_is_taken_up_all_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("segmentkit.cli.watching._LONGEST", 0.3)
    board, over = tmp_path / "board.yaml", threading.Event()
    board.write_text("")
    watch = Watch(board)

    def restless() -> None:
        while not over.wait(0.02):
            board.write_text(board.read_text() + "x")

    writer = threading.Thread(target=restless)
    writer.start()
    try:
        began = time.monotonic()
        watch.wait()
        assert time.monotonic() - began < 5
    finally:
        over.set()
        writer.join()


def test_a_save_before_what_is_named_is_known_is_not_lost(tmp_path: Path):
    board = tmp_path / "board.yaml"
    board.write_text("one")
    watch = Watch(board)
    board.write_text("saved while the first one was read")
    watch.follow([tmp_path / "clip.mp4"])
    assert watch.saved()


def test_work_that_is_out_of_date_is_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("segmentkit.cli.watching._LOOKS", 0.0)
    board, told = tmp_path / "board.yaml", []
    board.write_text("one")
    watch = Watch(board)
    report = watch.heeding(lambda *step: told.append(step))
    report("picture", 0, 2)
    board.write_text("other")
    with pytest.raises(Superseded):
        report("picture", 1, 2)
    assert told == [("picture", 0, 2), ("picture", 1, 2)]


def test_everything_that_a_storyboard_is_made_from_is_watched(tmp_path: Path):
    text = BOARD + (
        "stills: {tee: {file: tee.png}}\nmusic: [{file: bed.wav, from: first}]\nlook: mine.yaml\n"
        "deliver: [web, house/ours.yaml]\n"
    )
    (tmp_path / "house").mkdir()
    (tmp_path / "house" / "ours.yaml").write_text("what: ours\nscope: web\nloudness: -16 LUFS\ntrue_peak: -1 dBTP\n")
    found = sources(loads(text, folder=tmp_path))
    for name in (
        "coded.mp4",
        "takes",
        "tee.png",
        "bed.wav",
        "mine.yaml",
        "house/ours.yaml",
        "faults",
        "withdrawn.yaml",
    ):
        assert tmp_path / name in found
    assert tmp_path.parent / "withdrawn.yaml" in found
    shipped = sources(loads(BOARD, folder=tmp_path))
    assert any(path.name == "dune.yaml" for path in shipped)


class Stayer:
    """A verb that stays, and what it says."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.said: list[str] = []
        self._heard = 0
        self._reader = threading.Thread(target=self._read)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        self.said.extend(iter(self.process.stdout.readline, ""))

    def until(self, text: str) -> str:
        """Waits for a line with a text in it after those that were waited for before."""
        deadline = time.monotonic() + 90
        while True:
            for index in range(self._heard, len(self.said)):
                if text in self.said[index]:
                    self._heard = index + 1
                    return self.said[index]
            assert self.process.poll() is None, self.said
            assert time.monotonic() < deadline, self.said
            time.sleep(0.02)

    def type(self, text: str) -> None:
        """Types a line."""
        assert self.process.stdin is not None
        self.process.stdin.write(text + "\n")
        self.process.stdin.flush()

    def close(self) -> None:
        """Ends it, however it stands."""
        self.process.kill()
        self.process.wait()
        self._reader.join(10)
        for stream in (self.process.stdin, self.process.stdout):
            if stream is not None:
                stream.close()


@contextmanager
def staying(*arguments: object) -> Iterator[Stayer]:
    command = [sys.executable, "-u", "-m", "segmentkit", *map(str, arguments), "--watch"]
    stayer = Stayer(
        subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    )
    try:
        yield stayer
        stayer.process.send_signal(signal.SIGINT)
        assert stayer.process.wait(30) == 130
    finally:
        stayer.close()


def frames(path: Path) -> int:
    with av.open(str(path)) as container:
        return sum(1 for _ in container.decode(video=0))


@pytest.mark.slow
def test_watching_renders_the_touched_beat_on_save_and_outlives_a_fault(tmp_path: Path):
    path, out = project(tmp_path), tmp_path / "a.mp4"
    with staying("preview", path, "-o", out) as preview:
        preview.until("watching board.yaml")
        preview.until("a.png: ")
        preview.until("a.mp4: ")
        assert frames(out) == 300
        path.write_text(BOARD.replace("[0.7, 0.8]", "[0.6, 0.8]"))
        preview.until("touched: second")
        assert "00:00:11:00" in preview.until("a.png: ")  # the last frame of what was touched
        assert "00:00:08:16 to 00:00:11:01" in preview.until("a.mp4: ")
        assert frames(out) == 60
        good = out.read_bytes()
        path.write_text(BOARD.replace("beats:", "boats:"))
        preview.until("boats")
        path.write_text(BOARD[:400])
        preview.until("board.yaml:")
        assert out.read_bytes() == good
        path.write_text(BOARD)
        preview.until("touched: second")
        preview.until("a.mp4: ")
        # A cue of the words: the take stays, so only what it starts is touched.
        path.write_text(BOARD.replace("at: 0.2s, draw", "at: 0.6s, draw"))
        preview.until("touched: second")
        preview.until("a.mp4: ")


@pytest.mark.slow
def test_watching_takes_up_clips_looks_and_rules(tmp_path: Path):
    rules = tmp_path / "rules.yaml"
    rules.write_text("severity: {}\n")
    look = yaml.safe_load(LOOK.read_text())
    mine = tmp_path / "mine.yaml"
    mine.write_text(yaml.safe_dump(look, sort_keys=False))
    path = project(tmp_path, BOARD + "look: mine.yaml\n")
    (tmp_path / "coded.mp4").rename(tmp_path / "later.mp4")
    with staying("preview", path, "--beat", "second", "--rules", rules, "-o", tmp_path / "a.mp4") as preview:
        preview.until("coded.mp4 — there is no such file")
        (tmp_path / "later.mp4").rename(tmp_path / "coded.mp4")
        preview.until("a.mp4: ")
        look["palette"]["ground"] = "#203040"
        mine.write_text(yaml.safe_dump(look, sort_keys=False))
        preview.until("touched: title, first, second, third")
        preview.until("a.mp4: ")
        make_clip(tmp_path / "coded.mp4", steady(61, 2))
        preview.until("touched: first, second, third")
        preview.until("a.mp4: ")
        rules.write_text("severity: {no-such-check: off}\n")
        preview.until("no-such-check")
        rules.write_text("severity: {}\n\n")
        preview.until("nothing looks or sounds otherwise")


@pytest.mark.slow
def test_a_still_stays_ready_for_moments_and_saves(tmp_path: Path):
    path, out = project(tmp_path), tmp_path / "now.png"
    with staying("still", path, "--at", "f250", "-o", out) as still:
        still.until("00:00:10:00, in ")
        first = cv2.imread(str(out))
        assert first.shape == (180, 320, 3)
        still.type("1:05")
        still.until("is outside the segment's 0 to 299")
        still.type("never")
        still.until("never")
        assert (cv2.imread(str(out)) == first).all()
        still.type("2s")
        still.until("00:00:02:00, in ")
        assert (cv2.imread(str(out)) != first).any()
        still.type("f250")
        still.until("00:00:10:00, in ")
        assert (cv2.imread(str(out)) == first).all()
        path.write_text(BOARD.replace("[0.7, 0.8]", "[0.6, 0.8]"))
        still.until("00:00:10:00, in ")
        assert (cv2.imread(str(out)) != first).any()
        path.write_text(BOARD.replace("beats:", "boats:"))
        still.until("boats")
        still.type("f250")  # of the last storyboard that could be read
        still.until("00:00:10:00, in ")

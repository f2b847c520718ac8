"""The one door to the ffmpeg program."""

from __future__ import annotations

import os
import subprocess
import time
from pathlib import Path

import pytest

from segmentkit.errors import MediaUnusable
from segmentkit.media import ffmpeg

SOUND = ["-f", "lavfi", "-i", "sine=frequency=440:duration=0.1"]


def children() -> set[int]:
    """Processes that this one started and that still run."""
    me = os.getpid()
    found = set()
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                fields = (folder / "stat").read_text().rsplit(")", 1)[1].split()
            except OSError:
                continue
            if int(fields[1]) == me and fields[0] != "Z":
                found.add(int(folder.name))
    return found


def test_output_comes_back_whole():
    done = ffmpeg.run([*SOUND, "-f", "s16le", "-ar", "8000", "pipe:1"])
    assert len(done.output) == 800 * 2


def test_bytes_can_be_given_as_input():
    done = ffmpeg.run(
        ["-f", "s16le", "-ar", "8000", "-ac", "1", "-i", "pipe:0", "-f", "s16le", "pipe:1"], given=bytes(range(200))
    )
    assert done.output == bytes(range(200))


@pytest.mark.parametrize("name", ["it's.wav", "a:b,c[1];d.wav", "100%.wav", "-dash.wav", "line\nbreak.wav", "é ü.wav"])
def test_any_name_is_a_name(tmp_path, monkeypatch, name):
    monkeypatch.chdir(tmp_path)
    ffmpeg.run([*SOUND, ffmpeg.named(Path(name))])
    done = ffmpeg.run(["-i", ffmpeg.named(Path(name)), "-f", "s16le", "pipe:1"])
    assert len(done.output) > 1000


def test_an_error_says_the_cause_in_one_line(tmp_path):
    (tmp_path / "text.mp4").write_text("no film in here " * 40)
    with pytest.raises(ffmpeg.FfmpegError) as raised:
        ffmpeg.run(["-i", ffmpeg.named(tmp_path / "text.mp4"), "-f", "null", "-"])
    assert "Invalid data found" in str(raised.value)
    assert "\n" not in str(raised.value)
    assert "0x" not in str(raised.value)


def test_a_run_that_takes_too_long_is_ended_with_all_its_children():
    before = children()
    start = time.monotonic()
    with pytest.raises(ffmpeg.FfmpegError, match=r"did not finish within 0\.5 s"):
        ffmpeg.run(["-re", "-f", "lavfi", "-i", "sine", "-f", "null", "-"], timeout=0.5)
    assert time.monotonic() - start < 10
    assert children() == before


def test_much_talk_on_the_side_does_not_stop_a_run():
    done = ffmpeg.run(
        [
            "-loglevel",
            "debug",
            "-f",
            "lavfi",
            "-i",
            "testsrc=duration=20:size=64x64",
            "-vf",
            "showinfo",
            "-f",
            "null",
            "-",
        ],
        timeout=60,
    )
    assert len(done.said) > 5_000


def test_no_child_stays_after_an_exception(monkeypatch):
    before = children()
    real = subprocess.Popen.wait
    calls = []

    def interrupted_once(process, timeout=None):
        calls.append(timeout)
        if len(calls) == 1:
            raise KeyboardInterrupt
        return real(process, timeout)

    monkeypatch.setattr(subprocess.Popen, "wait", interrupted_once)
    with pytest.raises(KeyboardInterrupt):
        ffmpeg.run(["-re", "-f", "lavfi", "-i", "sine", "-f", "null", "-"])
    assert children() == before


def test_another_program_can_be_named(tmp_path, monkeypatch):
    ffmpeg.program.cache_clear()
    monkeypatch.setenv("SEGMENTKIT_FFMPEG", str(tmp_path / "none"))
    try:
        with pytest.raises(MediaUnusable, match="SEGMENTKIT_FFMPEG"):
            ffmpeg.program()
        script = tmp_path / "mine"
        script.write_text("#!/bin/sh\n")
        script.chmod(0o755)
        monkeypatch.setenv("SEGMENTKIT_FFMPEG", str(script))
        assert ffmpeg.program() == script
    finally:
        ffmpeg.program.cache_clear()


@pytest.mark.parametrize(
    ("lines", "cause"),
    [
        (["[in#0 @ 0x55] Error opening input: Invalid data found", "Error opening input files: x"],
         "Error opening input: Invalid data found"),
        (["[vost#0:0/libx264 @ 0x1] File too large", "Conversion failed!"], "File too large"),
        (["", "frame=  12 fps=0"], ""),
    ],
)  # fmt: skip
def test_the_last_line_that_says_something_is_found(lines, cause):
    assert ffmpeg.last_meaningful(lines) == cause

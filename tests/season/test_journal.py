"""The journal: whole lines whatever happens, one writer, and nothing believed that the files do not bear out."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.media.store import sha256_of
from segmentkit.season.entry import CannotStart
from segmentkit.season.journal import Failed, Journal, Line, Made, stands


def line(item, **changes):
    made = Made(file="a.mp4", sha256="ab", bytes=3, profile="web", seconds=1.5)
    return Line(**{"item": item, "state": "done", "key": "k", "files": (made,), "held": (("short", "why"),), **changes})


def test_the_last_line_of_an_item_counts(tmp_path):
    with Journal(tmp_path) as journal:
        journal.write(line("a"))
        journal.write(line("b", what="Zoë — ü"))
        journal.write(line("a", state="explained", why="withdrawn"))
        assert journal.lines() == {
            "a": line("a", state="explained", why="withdrawn"), "b": line("b", what="Zoë — ü"),
        }  # fmt: skip


@pytest.mark.slow
@given(st.integers(0, 2000))
def test_torn_anywhere_it_gives_whole_lines_and_goes_on(tmp_path_factory, cut):
    folder = tmp_path_factory.mktemp("torn")
    journal = Journal(folder)
    for name in "abcde":
        journal.write(line(name))
    whole = journal.path.read_bytes()
    cut = min(cut, len(whole))
    journal.path.write_bytes(whole[:cut])
    # What is whole is a line ended, or one that lacks nothing but its end.
    ends = [k for k, byte in enumerate(whole) if byte == ord("\n")]
    expected = [name for name, end in zip("abcde", ends, strict=True) if end <= cut]
    assert sorted(journal.lines()) == expected
    journal.write(line("f"))
    assert sorted(journal.lines()) == [*expected, "f"]


def test_what_failed_is_read_back_as_it_was_written_and_must_be_there(tmp_path):
    path = tmp_path / "a.failed-qc.mp4"
    path.write_bytes(b"abc")
    kept = Made(file=path.name, sha256=sha256_of(path), bytes=3, qc="fail", loudness=-20.5, length="00:00:01:00")
    page = Made(file="a.failed-qc.qc.html", sha256="", bytes=0)
    failed = Failed(made=kept, why="qc-flash", what="4 flashes", beside=(page,))
    noted = line("a", state="failed-qc", files=(), failed=(failed,))
    with Journal(tmp_path) as journal:
        journal.write(noted)
    assert journal.lines() == {"a": noted}
    assert failed.page == page.file
    assert noted.every == (kept, page)
    whole = line("a", files=(), failed=(Failed(made=kept, why="", what=""),))
    assert stands(whole, tmp_path)
    path.unlink()
    assert not stands(whole, tmp_path)


def test_one_season_at_a_time_writes_into_a_folder(tmp_path):
    with Journal(tmp_path), pytest.raises(CannotStart, match="one at a time"), Journal(tmp_path):
        pass
    with Journal(tmp_path):  # given back
        pass


@pytest.mark.slow
def test_the_folder_is_given_back_when_its_process_is_killed(tmp_path):
    script = (
        "import sys, os, signal, pathlib; from segmentkit.season.journal import Journal\n"
        "Journal(pathlib.Path(sys.argv[1])).__enter__(); os.kill(os.getpid(), signal.SIGKILL)"
    )
    assert subprocess.run([sys.executable, "-c", script, str(tmp_path)], check=False).returncode == -9
    with Journal(tmp_path):
        pass


def test_files_must_bear_a_line_out(tmp_path):
    path = tmp_path / "a.mp4"
    path.write_bytes(b"abc")
    good = line("a", files=(Made(file="a.mp4", sha256=sha256_of(path), bytes=3),))
    assert stands(good, tmp_path)
    path.write_bytes(b"abd")
    assert not stands(good, tmp_path)
    path.unlink()
    assert not stands(good, tmp_path)

"""The working folder, and files that are whole or not there."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys

import pytest

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import safe
from segmentkit.media.store import Store, sha256_of


def test_sha256_is_that_of_the_standard(tmp_path):
    # FIPS 180-4, example of the message "abc".
    (tmp_path / "a").write_bytes(b"abc")
    assert sha256_of(tmp_path / "a") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_a_missing_file_and_a_folder_are_named(tmp_path):
    with pytest.raises(MediaUnusable, match="there is no such file"):
        sha256_of(tmp_path / "none")
    with pytest.raises(MediaUnusable, match="is a folder"):
        sha256_of(tmp_path)


class TestEntries:
    def test_a_name_depends_on_kind_version_and_inputs(self, tmp_path):
        store = Store(tmp_path)
        paths = {
            store.path_for("a", 1, "x", suffix=".json"),
            store.path_for("b", 1, "x", suffix=".json"),
            store.path_for("a", 2, "x", suffix=".json"),
            store.path_for("a", 1, "x", "y", suffix=".json"),
            store.path_for("a", 1, "xy", suffix=".json"),
        }
        assert len(paths) == 5
        assert store.path_for("a", 1, "x", suffix=".json") in paths

    def test_an_entry_is_made_once(self, tmp_path):
        store, made = Store(tmp_path), []
        path = store.path_for("a", 1, suffix=".txt")

        def write(partial):
            made.append(partial)
            partial.write_text("7")

        assert store.make(path, lambda p: int(p.read_text()), write) == 7
        assert store.make(path, lambda p: int(p.read_text()), write) == 7
        assert len(made) == 1

    def test_an_unreadable_entry_is_made_again(self, tmp_path):
        store = Store(tmp_path)
        path = store.path_for("a", 1, suffix=".txt")
        path.parent.mkdir(parents=True)
        path.write_text("torn")
        assert store.make(path, lambda p: int(p.read_text()), lambda p: p.write_text("7")) == 7

    def test_an_error_while_making_leaves_nothing(self, tmp_path):
        store = Store(tmp_path)
        path = store.path_for("a", 1, suffix=".txt")

        def write(partial):
            partial.write_text("half")
            raise MediaUnusable("no good")

        with pytest.raises(MediaUnusable):
            store.make(path, lambda p: int(p.read_text()), write)
        assert list(path.parent.iterdir()) == []

    def test_two_processes_may_make_the_same_entry(self, tmp_path):
        code = (
            "import sys, time; from pathlib import Path; from segmentkit.media.store import Store\n"
            "store = Store(Path(sys.argv[1])); path = store.path_for('a', 1, suffix='.txt')\n"
            "def write(p):\n    p.write_text('4'); time.sleep(0.3); p.write_text('42')\n"
            "print(store.make(path, lambda p: int(p.read_text()), write))"
        )
        both = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path)], stdout=subprocess.PIPE) for _ in range(2)]
        assert [int(p.communicate(timeout=60)[0]) for p in both] == [42, 42]
        assert [p.name for p in tmp_path.rglob("*.partial*")] == []


class TestContents:
    def old(self, path, text, age=100):
        path.write_text(text)
        moment = path.stat().st_mtime - age
        os.utime(path, (moment, moment))

    def test_a_settled_file_is_hashed_once(self, tmp_path, monkeypatch):
        store, path = Store(tmp_path / "s"), tmp_path / "a"
        self.old(path, "abc")
        first = store.content_of(path)
        assert first == hashlib.sha256(b"abc").hexdigest()
        monkeypatch.setattr("segmentkit.media.store.sha256_of", lambda _: pytest.fail("hashed again"))
        assert store.content_of(path) == first

    def test_another_size_or_time_is_hashed_again(self, tmp_path):
        store, path = Store(tmp_path / "s"), tmp_path / "a"
        self.old(path, "abc")
        store.content_of(path)
        self.old(path, "abd", age=50)
        assert store.content_of(path) == hashlib.sha256(b"abd").hexdigest()

    def test_a_file_changed_just_now_is_not_trusted_to_stay(self, tmp_path):
        store, path = Store(tmp_path / "s"), tmp_path / "a"
        path.write_text("abc")
        stamp = path.stat()
        store.content_of(path)
        path.write_text("abd")
        os.utime(path, ns=(stamp.st_atime_ns, stamp.st_mtime_ns))
        assert store.content_of(path) == hashlib.sha256(b"abd").hexdigest()


class TestWriting:
    def test_the_name_appears_at_the_end_only(self, tmp_path):
        final = tmp_path / "new" / "a.txt"
        with safe.writing(final) as partial:
            partial.write_text("done")
            assert not final.exists()
            assert partial.parent == final.parent
            assert partial.suffix == ".txt"
        assert final.read_text() == "done"
        assert list(final.parent.iterdir()) == [final]

    def test_after_an_interrupt_the_old_file_is_still_there(self, tmp_path):
        final = tmp_path / "a.txt"
        final.write_text("old")

        def torn():
            with safe.writing(final) as partial:
                partial.write_text("half")
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            torn()
        assert final.read_text() == "old"
        assert list(tmp_path.iterdir()) == [final]

    def test_a_folder_that_cannot_be_is_named(self, tmp_path):
        (tmp_path / "file").write_text("")
        with pytest.raises(OutputFailed, match="check that the folder"), safe.writing(tmp_path / "file" / "a.txt"):
            pytest.fail("no partial name can exist here")

    def test_what_dead_processes_left_goes_and_what_living_ones_write_stays(self, tmp_path):
        ended = subprocess.Popen([sys.executable, "-c", "pass"])
        ended.wait()
        mine = safe.partial_beside(tmp_path / "a.mp4")
        mine.write_text("")
        dead = tmp_path / mine.name.replace(f"-{os.getpid()}-", f"-{ended.pid}-")
        dead.write_text("")
        elsewhere = tmp_path / dead.name.replace(dead.name.split("-")[1], "00000000")
        elsewhere.write_text("")
        assert safe.clear_stale(tmp_path) == 1
        assert {p.name for p in tmp_path.iterdir()} == {mine.name, elsewhere.name}


class FakeKernel:
    """Answers as the Windows API does: no handle and an error, or a handle and an exit code."""

    def __init__(self, handle: int, error: int, code: int) -> None:
        self.handle, self.error, self.code = handle, error, code
        self.closed: list[int] = []

    def OpenProcess(self, rights: int, inherited: bool, process: int) -> int:  # noqa: N802
        assert (rights, inherited, process) == (0x1000, False, 77)
        return self.handle

    def GetLastError(self) -> int:  # noqa: N802
        return self.error

    def GetExitCodeProcess(self, handle: int, code) -> int:  # noqa: N802
        assert handle == self.handle
        code._obj.value = self.code
        return 1

    def CloseHandle(self, handle: int) -> None:  # noqa: N802
        self.closed.append(handle)


@pytest.mark.parametrize(
    ("handle", "error", "code", "runs"),
    [(0, 87, 0, False), (0, 5, 0, True), (9, 0, 259, True), (9, 0, 0, False)],
    ids=["no such process", "somebody else's", "running", "ended"],
)
def test_on_windows_a_process_is_asked_about_and_not_sent_a_signal(handle, error, code, runs):
    kernel = FakeKernel(handle, error, code)
    assert safe._runs_on_windows(kernel, 77) is runs
    assert kernel.closed == [handle] * bool(handle)

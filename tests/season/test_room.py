"""The memory of workers: a share each, fewer workers where it is short, one line for who takes too much."""

from __future__ import annotations

import datetime
import errno

import av
import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.cli.main import run
from segmentkit.errors import OutputFailed
from segmentkit.season import room
from segmentkit.season.carry import Shared
from segmentkit.season.crew import LocalCrew, busy
from segmentkit.season.journal import Journal
from segmentkit.season.outcome import Options
from segmentkit.season.room import EXPECTED, LEAST, SHARE, free_memory, room_for
from segmentkit.season.run import run_season
from segmentkit.season.work import explained
from segmentkit.storyboard.season import load_season
from tests.season import small, tasks
from tests.season.test_loop import job, worked

GB = 10**9


@given(st.integers(1, 64), st.integers(0, 10**12), st.one_of(st.none(), st.integers(LEAST, 10**11)))
def test_together_workers_take_no_more_than_their_share(wanted, free, memory):
    found = room_for(wanted, free, memory)
    assert 1 <= found.workers <= wanted
    assert found.memory is not None
    if found.workers > 1:
        assert found.workers * found.memory <= SHARE * free
        assert found.memory >= (memory or EXPECTED)
    assert bool(found.said) == (found.workers < wanted)


def test_few_workers_where_memory_is_short_and_it_is_said():
    short = room_for(8, 6 * GB)
    assert (short.workers, short.memory) == (2, 2_400_000_000)
    assert short.said == "2 of 8 workers: 6.0 GB of memory are free, and each is given 2.4 GB"
    assert room_for(2, 24 * GB) == room.Room(workers=2, memory=9_600_000_000)
    assert room_for(4, GB // 2).memory == LEAST  # it is tried, with one
    assert room_for(4, None) == room.Room(workers=4, memory=None)
    assert room_for(4, 24 * GB, 3 * GB) == room.Room(workers=4, memory=3 * GB)


def test_what_is_free_is_the_least_of_machine_and_group(tmp_path, monkeypatch):
    machine = free_memory()
    assert machine is not None
    assert machine > 0
    limit, used = tmp_path / "max", tmp_path / "current"
    monkeypatch.setattr(room, "_CGROUPS", ((str(limit), str(used)),))
    limit.write_text("5000000\n")
    used.write_text("2000000\n")
    assert free_memory() == 3_000_000
    limit.write_text("max\n")  # as version 2 says that there is no limit
    assert free_memory() > 3_000_000


def test_want_of_memory_is_told_as_such_whichever_library_said_so():
    failed = OutputFailed("x.mp4 — could not be written")
    failed.__cause__ = av.error.MemoryError(errno.ENOMEM, "Cannot allocate memory")
    told = explained(failed)
    assert (told.id, told.passing) == ("out-of-memory", True)
    with pytest.raises(cv2.error) as caught:
        cv2.resize(np.zeros((2, 2), np.uint8), (2**30, 2**30))
    assert caught.value.code == -4
    assert explained(caught.value).id == "out-of-memory"
    assert explained(OutputFailed("x.mp4 — could not be written")).id == "not-written"


@pytest.mark.slow
def test_who_takes_too_much_is_told_and_the_worker_lives_on():
    done = worked(
        LocalCrew(1, 1_200_000_000), [job("eats", tasks.eats, 2 * GB), job("fits", tasks.eats, 100_000_000)], retries=0
    )
    assert done["eats"].why.id == "out-of-memory"
    assert done["eats"].why.what.startswith("needed more memory than the 1.2 GB that a worker may take here — ")
    assert done["fits"].result.value == 100_000_000
    free = worked(LocalCrew(1), [job("eats", tasks.eats, GB // 2)], retries=0)
    assert free["eats"].result.value == GB // 2


class _Planted(Shared):
    """Has one item swell."""

    def make(self, executor, task, entry):
        if task.id == "s1":
            return executor.submit(busy, tasks.swelling_make, task)
        return super().make(executor, task, entry)


@pytest.mark.slow
def test_an_item_that_swells_is_in_the_journal_and_the_others_are_made(tmp_path, monkeypatch):
    monkeypatch.setenv("SEGMENTKIT_STORE", str(tmp_path / "store"))
    path = small.season(tmp_path / "a", 3)
    options = Options(today=datetime.date(2028, 4, 1), retries=1)
    report = run_season(
        load_season(path), path.parent / "out", options, lambda: (LocalCrew(1, 1_200_000_000), _Planted())
    )
    assert {one.entry.id: one.state for one in report.outcomes} == {"s0": "done", "s1": "explained", "s2": "done"}
    line = Journal(report.out).lines()["s1"]
    assert (line.why, line.tries) == ("out-of-memory", 2)
    assert "\n" not in line.what
    assert "1.2 GB" in line.what
    # Another run tries it again: there may be more memory then.
    again = run_season(load_season(path), path.parent / "out", options, lambda: (LocalCrew(1), Shared()))
    assert {one.entry.id: one.state for one in again.outcomes} == {"s0": "kept", "s1": "done", "s2": "kept"}


def test_a_size_is_read_or_refused(tmp_path, capsys):
    path = small.season(tmp_path / "a", 1)
    for text in ("much", "3", "100MB", "-3GB"):
        with pytest.raises(SystemExit) as ended:
            run(["batch", str(path), "--dry", "--memory", text])
        assert ended.value.code == 2
        assert "at least 600MB" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        run(["batch", str(path), "--dry", "--memory", "3 GB", "--today", "2028-04-01"])
    assert ended.value.code == 0

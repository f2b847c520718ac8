"""The loop and the crew: each loss its own, another try only for what may pass, nothing keeps running."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from functools import partial
from pathlib import Path

import pytest

from segmentkit.season.crew import LocalCrew, busy
from segmentkit.season.loop import Job, work_through
from tests.season import tasks
from tests.season.tasks import Inline


def job(name, work, argument=None, patience=None):
    def submit(executor):
        return executor.submit(partial(busy, work), argument)

    return Job(name, submit, patience)


def nobody():
    """Asks for nothing."""


def worked(crew, jobs, retries=2):
    try:
        done = list(work_through(jobs, crew, retries=retries, heed=nobody, pause=0.01))
    finally:
        crew.close(now=False)
    return {one.id: one for one in done}


def lives(pid):
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return Path(f"/proc/{pid}/stat").read_text().split(")")[1].split()[0] != "Z"


def wait_for(what, seconds=20.0):
    until = time.monotonic() + seconds
    while not what():
        assert time.monotonic() < until
        time.sleep(0.02)


def test_jobs_are_begun_in_order_and_a_few_at_a_time():
    crew, begun = Inline(room=2), []

    def submit(name, executor):
        begun.append(name)
        return executor.submit(tasks.slow, 0.01)

    jobs = [Job(str(k), partial(submit, str(k))) for k in range(6)]
    done = work_through(jobs, crew, retries=0, heed=nobody)
    next(done)
    assert begun == ["0", "1"]
    assert len(list(done)) == 5
    assert begun == list("012345")
    crew.close(now=False)


def test_only_what_may_pass_is_tried_again_and_not_for_ever(tmp_path):
    marks = [str(tmp_path / name) for name in "abc"]
    done = worked(Inline(), [
        job("passes", tasks.passing, marks[0]), job("never", tasks.refusing, marks[1]), job("ours", tasks.raising),
        job("good", tasks.good, 7),
    ])  # fmt: skip
    assert (done["passes"].result.value, done["passes"].tries, done["passes"].why) == (2, 3, None)
    assert (done["never"].why.id, Path(marks[1]).read_text()) == ("not-fit", "x")
    assert (done["ours"].why.id, done["ours"].tries) == ("failed", 1)
    assert "a mistake of ours" in done["ours"].why.what
    assert done["good"].result.value == 7
    again = worked(Inline(), [job("passes", tasks.passing, marks[2])], retries=1)
    assert (again["passes"].why.id, again["passes"].tries) == ("system", 2)


def test_a_worker_that_a_scheduler_gave_up_is_tried_again_and_then_told():
    crew = Inline()
    crew.lost = (ZeroDivisionError,)
    done = worked(crew, [job("bad", tasks.raising), job("good", tasks.good)], retries=2)
    assert (done["bad"].why.id, done["bad"].tries) == ("worker-lost", 3)
    assert done["good"].why is None


@pytest.mark.slow
def test_who_kills_workers_is_found_and_costs_nobody_else(tmp_path):
    jobs = [job("a", tasks.slow, 0.1), job("bad", tasks.killed), *(job(str(k), tasks.good, k) for k in range(5))]
    jobs.append(job("once", tasks.killed_once, str(tmp_path / "mark")))
    done = worked(LocalCrew(2), jobs, retries=1)
    assert {name for name, one in done.items() if one.why is not None} == {"bad"}
    assert done["bad"].why.id == "worker-lost"
    assert "out of memory, or a crash" in done["bad"].why.what
    assert done["once"].result.value == "second time"
    assert [done[str(k)].result.value for k in range(5)] == list(range(5))


@pytest.mark.slow
def test_what_hangs_is_ended_and_the_others_go_on():
    jobs = [job("hangs", tasks.hanging, patience=1.0), job("long", tasks.slow, 1.5), job("next", tasks.good, 1)]
    done = worked(LocalCrew(2), jobs)
    assert done["hangs"].why.id == "hangs"
    assert (done["long"].why, done["long"].tries) == (None, 1)
    assert done["next"].why is None


@pytest.mark.slow
def test_stopping_lets_workers_take_their_things_away(tmp_path):
    crew, mark = LocalCrew(1), tmp_path / "mark"
    done = work_through([job("x", tasks.ends_with, str(mark))], crew, retries=0, heed=lambda: stop_if(mark))
    with pytest.raises(KeyboardInterrupt):
        next(done)
    crew.close(now=True)
    assert Path(f"{mark}.gone").exists()
    assert not lives(int(mark.read_text()))


def stop_if(mark):
    if mark.exists() and mark.read_text():
        raise KeyboardInterrupt


_ORPHANS = """
import sys
from functools import partial
from segmentkit.season.crew import LocalCrew, busy
from tests.season import tasks
if __name__ == "__main__":
    crew = LocalCrew(1)
    crew.executor.submit(partial(busy, tasks.ends_with), sys.argv[1]).result()
"""


@pytest.mark.slow
def test_workers_end_when_their_season_is_killed(tmp_path):
    mark, script = tmp_path / "mark", tmp_path / "script.py"
    script.write_text(_ORPHANS)
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    process = subprocess.Popen([sys.executable, str(script), str(mark)], env=environment)
    wait_for(lambda: mark.exists() and mark.read_text())
    process.send_signal(signal.SIGKILL)
    process.wait()
    wait_for(lambda: not lives(int(mark.read_text())))
    assert Path(f"{mark}.gone").exists()

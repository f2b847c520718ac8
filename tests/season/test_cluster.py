"""Many machines, played by processes of a dask LocalCluster; and what travels where nothing is shared."""

from __future__ import annotations

import datetime
import os
import shutil
import signal
import threading
import time
from pathlib import Path

import distributed
import pytest

from segmentkit.season.carry import Shared
from segmentkit.season.cluster import Carried, ClusterCrew, SchedulerUnusable
from segmentkit.season.outcome import Options
from segmentkit.season.parcel import item_parcel, look_carried, look_parcel, make_carried
from segmentkit.season.run import run_season
from segmentkit.season.work import LookTask, MakeTask, look
from segmentkit.storyboard.limits_file import intake_limits
from segmentkit.storyboard.season import load_season
from tests.season import small
from tests.season.rows import entries, rows
from tests.season.test_run import files

TODAY = datetime.date(2028, 4, 1)


@pytest.fixture
def place(tmp_path, monkeypatch):
    monkeypatch.setenv("SEGMENTKIT_STORE", str(tmp_path / "store"))
    monkeypatch.setenv("SEGMENTKIT_WORKER_STORE", str(tmp_path / "workers"))
    return tmp_path


def task_of(entry, out, store):
    return MakeTask(
        id=entry.id, board=entry.path.absolute(), profiles=(("web", f"{entry.id}-web.mp4"),), out=out, store=store,
        today=TODAY,
    )  # fmt: skip


def test_a_parcel_holds_all_that_is_needed_and_only_that(place):
    path = small.season(place / "a", 1)
    (path.parent / "s0" / "withdrawn.yaml").write_text("withdrawn: {somebody: 2028-01-01}\n")
    (path.parent / "s0" / "private.txt").write_text("not needed")
    entry = entries(path)[0]
    parcel = item_parcel(task_of(entry, place / "out", place / "store"), entry)
    assert sorted(parcel.paths) == ["coded.mp4", "storyboard.yaml", "withdrawn.yaml"]


@pytest.mark.slow
def test_made_from_a_parcel_where_the_season_cannot_be_seen(place):
    path = small.season(place / "a", 1)
    entry = entries(path)[0]
    task = task_of(entry, place / "out" / "s0", place / "store")
    parcel = item_parcel(task, entry)
    blobs = [parcel.read(name) for name in parcel.paths]
    shutil.rmtree(path.parent)
    back = make_carried(task, parcel, *blobs)
    assert back.why is None
    assert not (place / "out").exists()  # nothing was written where only the sender may
    made = Carried(None).receive(back, task)
    assert files(place / "out" / "s0") == {one.file: one.sha256 for one in made.files}
    assert list((place / "workers" / "carried").iterdir()) == []


@pytest.mark.slow
def test_a_look_from_a_parcel_says_the_same(place):
    entry = entries(rows(place / "a"))[0]
    task = LookTask(
        id=entry.id, name=entry.sent.name, submission=entry.sent.submission, person=entry.sent.person,
        folder=entry.sent.folder.absolute(), store=place / "store", limits=intake_limits(), today=TODAY,
    )  # fmt: skip
    parcel = look_parcel(task, entry)
    assert parcel.paths == ("a.mp4",)
    there, here = look_carried(task, parcel, parcel.read("a.mp4")), look(task)
    assert (there.why.id, there.why) == ("unreadable", here.why)


def test_a_parcel_cannot_lead_out_of_its_folder(place):
    path = small.season(place / "a", 1)
    entry = entries(path)[0]
    task = task_of(entry, place / "out", place / "store")
    parcel = item_parcel(task, entry)
    evil = type(parcel)(root=parcel.root, paths=("../../evil.txt",), contents=("",))
    assert make_carried(task, evil, b"x").why.id == "system"
    assert not list(place.rglob("evil.txt"))


def test_without_a_scheduler_it_says_what_to_start():
    with pytest.raises(SchedulerUnusable, match="dask scheduler"):
        ClusterCrew("tcp://127.0.0.1:9", wait=1)


@pytest.fixture(scope="module")
def cluster():
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, worker_dashboard_address=None,
        silence_logs=50,
    ) as made:  # fmt: skip
        yield made


def run(path, cluster, **changes):
    crews = []

    def hire():
        crew = ClusterCrew(cluster.scheduler_address)
        crews.append(crew)
        return crew, changes.get("carrier", lambda crew: crew.carrier(path.parent / "out"))(crew)

    options = Options(today=TODAY, retries=2)
    return run_season(
        load_season(path), path.parent / "out", options, hire, progress=changes.get("progress", lambda *_: None)
    )


def movies(path):
    return {name: content for name, content in files(path.parent / "out").items() if name.endswith(".mp4")}


@pytest.mark.slow
def test_a_cluster_makes_the_same_bytes_shared_or_carried(place, cluster):
    shared, carried, alone = (small.season(place / name, 3) for name in ("shared", "carried", "alone"))
    seen = []

    def looked(crew):
        seen.append(crew.carrier(shared.parent / "out"))
        return seen[0]

    assert run(shared, cluster, carrier=looked).exit_code == 0
    assert isinstance(seen[0], Shared)  # found out by itself: all see one disk
    assert run(carried, cluster, carrier=lambda crew: Carried(crew.client.scatter)).exit_code == 0
    from tests.season.test_run import made

    assert made(alone).exit_code == 0
    assert movies(shared) == movies(carried) == movies(alone)
    assert len(movies(alone)) == 3


@pytest.mark.slow
def test_workers_that_are_killed_on_the_way_cost_time_only(place, cluster):
    path = small.season(place / "a", 6)
    with distributed.Client(cluster, set_as_default=False) as client:
        pids = list(client.run(os.getpid).values())
    killed = []

    def killer():
        until = time.monotonic() + 30
        while time.monotonic() < until and not list((path.parent / "out").rglob("*.mp4")):
            time.sleep(0.02)
        for pid in pids[:1]:
            os.kill(pid, signal.SIGKILL)
            killed.append(pid)

    thread = threading.Thread(target=killer)
    thread.start()
    report = run(path, cluster)
    thread.join()
    assert killed
    assert [one.state for one in report.outcomes] == ["done"] * 6
    assert not list(Path(path.parent / "out").rglob("*partial*"))

"""What a season costs: measured here, then played through for thousands of submissions on many machines.

    python3 -m tests.benchmarks.season                        measure, then 10,000 submissions on 1 to 64 machines
    python3 -m tests.benchmarks.season --size 1920x1080 --length 20
    python3 -m tests.benchmarks.season --submissions 5000 --machines 8 32 --workers 4 --price 0.40 --lost 0.02

Measured in one run: judging a submission; the first viewer, with an empty working folder; a further one, who shares
title, demonstrator and end board; the check alone; what an empty task costs, in a pool of processes and in a cluster.
The play is list scheduling: whoever is free takes the next task. It knows the barrier between judging and making
(nobody is made before all fingerprints have met), the dispatcher that hands out one task after the other, working
folders that are empty at first, and workers that are lost now and then. It does not know slow disks, full networks or
people.
"""

from __future__ import annotations

import argparse
import datetime
import heapq
import os
import random
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.geometry import Size


@dataclass(frozen=True, kw_only=True)
class Costs:
    """Seconds of one worker, unless said otherwise.

    Attributes:
        look: to judge one submission.
        first: to make an item when nothing is there; `further` when what all share is there.
        check: to measure what is there already, plan and judge an item; it is part of `further`.
        stretches: how many pieces an item's picture has, over its profiles.
        dispatch: of the coordinator, to hand out one task and take its result.
        used: share of submissions that are made; the others are explained.
    """

    look: float
    first: float
    further: float
    check: float = 0.0
    stretches: int = 1
    dispatch: float = 0.0
    used: float = 1.0


@dataclass(frozen=True, kw_only=True)
class Played:
    """A season that was played through: wall time and paid time in seconds, and how busy the workers were."""

    wall: float
    paid: float
    busy: float
    lost: int


def play(
    submissions: int, workers: int, costs: Costs, *, machines: int = 1, shared: bool = True, lost: float = 0.0,
    spread: float = 0.0, seed: int = 1,
) -> Played:  # fmt: skip
    """Plays a season through.

    Args:
        submissions: how many came.
        workers: in all.
        costs: what was measured.
        machines: that are paid for from beginning to end.
        shared: whether all share one working folder; else each machine fills its own.
        lost: workers lost for each worker and hour; what they did is done again.
        spread: standard deviation of the costs, as a share; the same for each item in each play.
        seed: of chance.
    """
    chance = random.Random(seed)

    def vary(seconds: float) -> float:
        return seconds * max(0.2, chance.gauss(1, spread)) if spread else seconds

    looks = [vary(costs.look) for _ in range(submissions)]
    empty = 1 if shared else machines
    makes = [
        vary(costs.first if k < empty else costs.further) for k in range(round(submissions * costs.used))
    ]  # fmt: skip
    wall = busy = 0.0
    gone = 0
    for tasks in (looks, makes):
        wall, used, lost_now = _phase(tasks, workers, costs.dispatch, lost, wall, chance)
        busy += used
        gone += lost_now
    return Played(wall=wall, paid=wall * machines, busy=busy / max(1e-9, wall * workers), lost=gone)


def _phase(
    tasks: Sequence[float], workers: int, dispatch: float, lost: float, start: float, chance: random.Random
) -> tuple[float, float, int]:
    """One phase by list scheduling: its end, the seconds worked, how many workers were lost."""
    free = [start] * workers
    heapq.heapify(free)
    handed, end, worked, gone = start, start, 0.0, 0
    waiting = list(reversed(tasks))
    while waiting:
        seconds = waiting.pop()
        handed = max(handed, heapq.heappop(free)) + dispatch
        fails = chance.expovariate(lost / 3600) if lost else float("inf")
        if fails < seconds:  # begun again by another one; the lost worker is replaced after half a minute
            waiting.append(seconds)
            gone += 1
            heapq.heappush(free, handed + fails + 30)
            worked += fails
            continue
        worked += seconds
        heapq.heappush(free, handed + seconds)
        end = max(end, handed + seconds)
    return end, worked, gone


def nothing(_: int) -> int:
    """An empty task."""
    return 0


def per_task(executor: Executor, count: int) -> float:
    """Seconds that an empty task costs, handed out and taken back; after a warm-up."""
    for future in [executor.submit(nothing, k) for k in range(20)]:
        future.result()
    began = time.perf_counter()
    for future in [executor.submit(nothing, k) for k in range(count)]:
        future.result()
    return (time.perf_counter() - began) / count


def overheads(count: int = 400) -> dict[str, float]:
    """Seconds that an empty task costs in a pool of two processes, and in a cluster of two where there is dask."""
    from segmentkit.season.crew import LocalCrew

    crew = LocalCrew(2)
    found = {"pool of processes": per_task(crew.executor, count)}
    crew.close(now=False)
    try:
        import distributed
    except ImportError:
        return found
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, dashboard_address=None, worker_dashboard_address=None, silence_logs=50
        ) as cluster,
        distributed.Client(cluster, set_as_default=False) as client,
    ):
        found["dask cluster"] = per_task(client.get_executor(pure=False), count)
    return found


def measure(folder: Path, size: Size, length: int) -> Costs:
    """Judges and makes two viewers of the demonstration's season, one after the other, in this process."""
    from demo_project.season import make as clinic
    from segmentkit.media.store import Store
    from segmentkit.pipeline import check
    from segmentkit.render.beats import stretches
    from segmentkit.season.ready import make_ready
    from segmentkit.season.work import LookTask, MakeTask, look, make
    from segmentkit.storyboard.limits_file import intake_limits
    from segmentkit.storyboard.profiles import delivery
    from segmentkit.storyboard.season import load_season

    senders = tuple(sender for sender in clinic.SENDERS if sender.id in {"c01", "c03", "c14"})
    path = clinic.make(folder, senders)
    template = folder / "arm.yaml"
    text = template.read_text("utf-8").replace("320x180", str(size)).replace("slot: 0:20", f"slot: 0:{length}")
    template.write_text(text, "utf-8")
    season, today = load_season(path), datetime.date.fromisoformat(clinic.TODAY)
    store = folder / "store"
    os.environ["SEGMENTKIT_STORE"] = str(store)
    ready = make_ready(
        season, season.season.items, store=Store(store), today=today, rules=None, final=True, write=True,
        told=lambda *_: None,
    )  # fmt: skip
    looked, made = {}, {}
    for number, entry in enumerate((ready[1], ready[0], ready[2])):  # the first one only loads the libraries
        assert entry.sent is not None
        assert entry.path is not None
        task = LookTask(
            id=entry.id, name=entry.sent.name, submission=entry.sent.submission, person=entry.sent.person,
            folder=entry.sent.folder, store=store, limits=intake_limits(), today=today,
        )  # fmt: skip
        looked[entry.id] = look(replace(task, store=folder / "warm" if number == 0 else store)).took
        making = MakeTask(
            id=entry.id, board=entry.path, profiles=(("web", f"{entry.id}.mp4"),), out=folder / "out",
            store=folder / "warm" if number == 0 else store, today=today,
        )  # fmt: skip
        result = make(making)
        if result.why is not None:
            raise SystemExit(f"{entry.id}: {result.why.what}")
        made[entry.id] = result.took
    began = time.perf_counter()
    checked = check(ready[2].path, final=True, today=today, deliver=["web"])
    once = time.perf_counter() - began
    parts = stretches(checked.plan, checked.facts, checked.look, delivery("web"))
    return Costs(
        look=(looked["c01"] + looked["c14"]) / 2, first=made["c01"], further=made["c14"], check=once,
        stretches=len(parts),
    )  # fmt: skip


def main() -> None:
    """Measures, plays, prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--size", default="640x360", help="of the picture")
    parser.add_argument("--length", type=int, default=20, help="seconds of an item, 20 to 30")
    parser.add_argument("--submissions", type=int, default=10_000)
    parser.add_argument("--machines", type=int, nargs="+", default=[1, 4, 16, 64])
    parser.add_argument("--workers", type=int, default=2, help="of each machine")
    parser.add_argument("--price", type=float, default=0.2, help="of a machine and hour")
    parser.add_argument("--used", type=float, default=0.3, help="share of submissions that are made")
    parser.add_argument("--lost", type=float, default=0.01, help="workers lost for each worker and hour")
    options = parser.parse_args()
    width, height = (int(one) for one in options.size.split("x"))
    with tempfile.TemporaryDirectory() as name:
        costs = measure(Path(name), Size(width, height), options.length)
    handed = overheads()
    print(
        f"one item of {options.length} s at {options.size}, one worker, {os.cpu_count()} processors shared with others"
    )
    print(f"judging a submission        {costs.look:8.2f} s")
    print(f"the first viewer            {costs.first:8.2f} s")
    print(f"a further viewer            {costs.further:8.2f} s   {costs.further / costs.first:.2f} of the first")
    print(f"of that, measure and check  {costs.check:8.2f} s")
    for kind, seconds in handed.items():
        print(f"an empty task, {kind:18} {1000 * seconds:5.1f} ms  {1 / seconds:6.0f} tasks a second")
    _unit(costs, max(handed.values()))
    costs = replace(costs, dispatch=max(handed.values()), used=options.used)
    print(f"\n{options.submissions:,} submissions, {options.used:.0%} made; {options.workers} workers a machine")
    print(f"{'machines':>8} {'wall':>10} {'machine hours':>14} {'price':>9} {'busy':>6} {'lost':>5}")
    for machines in options.machines:
        played = play(
            options.submissions, machines * options.workers, costs, machines=machines, lost=options.lost, spread=0.25
        )
        hours = played.paid / 3600
        print(
            f"{machines:8} {_clock(played.wall):>10} {hours:14.1f} {hours * options.price:9.2f} {played.busy:6.0%}"
            f" {played.lost:5}"
        )


def _unit(costs: Costs, dispatch: float) -> None:
    """Whole items against single stretches as the unit of work."""
    draw, parts = costs.further - costs.check, max(1, costs.stretches)
    item = costs.further + dispatch
    pieces = parts * (costs.check + dispatch) + draw
    print(f"unit of work: an item takes {item:.2f} s of workers; its {parts} stretches as tasks {pieces:.2f} s,")
    print(f"{pieces / item:.2f} times as much, since each plans the item; one item alone would be done")
    print(f"{item / (costs.check + dispatch + draw / parts):.1f} times sooner, by {parts} workers")


def _clock(seconds: float) -> str:
    return f"{int(seconds // 3600)}:{int(seconds % 3600 // 60):02}:{int(seconds % 60):02}"


if __name__ == "__main__":
    sys.exit(main())


__all__ = ["Costs", "Played", "measure", "overheads", "play"]

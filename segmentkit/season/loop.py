"""Keeps a crew at work: in order, a few at a time, each loss its own, another try only for what may pass."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, CancelledError, Executor, Future, wait
from dataclasses import dataclass
from typing import Any

from segmentkit.season.crew import Crew
from segmentkit.season.entry import Why

_LOOK = 0.2  # seconds after which the loop looks up, for a request to stop and for what hangs


@dataclass(slots=True)
class Job:
    """Something to be done.

    Attributes:
        id: of the item.
        submit: hands it to an executor; what comes back has a field `why`, None when all went well.
        patience: seconds after which it is held to hang; None for never.
        tries: how often it was begun.
        crashes: how often a worker was surely lost over it.
        ready: the moment before which it is not begun again.
        alone: whether nothing else may be under way with it, because one of several has cost a worker.
    """

    id: str
    submit: Callable[[Executor], Future[Any]]
    patience: float | None = None
    tries: int = 0
    crashes: int = 0
    ready: float = 0.0
    alone: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """A job with its result, or with why there is none."""

    id: str
    result: Any
    why: Why | None
    tries: int


def work_through(
    jobs: Iterable[Job], crew: Crew, *, retries: int, heed: Callable[[], None], pause: float = 1.0
) -> Generator[Finished, None, None]:
    """Has jobs done, those at the front first; yields each when it is done.

    Args:
        jobs: what to do.
        crew: who does it.
        retries: how many further tries a job has, where another may go better.
        heed: asked several times a second; raises to stop.
        pause: seconds before a second try; doubled for each further one.
    """
    waiting = deque(jobs)
    flying: dict[Future[Any], tuple[Job, float]] = {}
    try:
        while waiting or flying:
            heed()
            _send_out(waiting, flying, crew)
            if not flying:
                time.sleep(_LOOK / 4)  # all that is left waits for its next try
                continue
            done, _ = wait(flying, timeout=_LOOK, return_when=FIRST_COMPLETED)
            broken: list[Job] = []
            for future in done:
                job, _ = flying.pop(future)
                finished = _result(job, future, crew, broken)
                if finished is None:
                    continue
                if finished.why is not None and finished.why.passing and job.tries <= retries:
                    job.ready = time.monotonic() + pause * 2 ** (job.tries - 1)
                    waiting.appendleft(job)
                    continue
                yield finished
            overdue = _overdue(flying)
            if overdue:
                crew.kill()
            if broken or overdue:
                broken += [job for job, _ in flying.values()]
                flying.clear()
                crew.renew()
                yield from _after_loss(broken, overdue, waiting, retries)
    finally:
        for future in flying:
            future.cancel()  # stopped: what was not begun is taken back


def _send_out(waiting: deque[Job], flying: dict[Future[Any], tuple[Job, float]], crew: Crew) -> None:
    now, room = time.monotonic(), crew.room
    while len(flying) < room and not any(job.alone for job, _ in flying.values()):
        ready = next((job for job in waiting if job.ready <= now and not (job.alone and flying)), None)
        if ready is None or (ready.alone and flying):
            return
        waiting.remove(ready)
        ready.tries += 1
        try:
            flying[ready.submit(crew.executor)] = ready, now
        except BrokenExecutor:  # a worker was lost while nothing was under way
            crew.renew()
            flying[ready.submit(crew.executor)] = ready, now


def _result(job: Job, future: Future[Any], crew: Crew, broken: list[Job]) -> Finished | None:
    """What became of a job; None when its worker was lost together with others."""
    try:
        result = future.result()
    except BrokenExecutor:
        broken.append(job)
        return None
    except CancelledError as error:
        return Finished(id=job.id, result=None, why=_lost(type(error).__name__), tries=job.tries)
    except Exception as error:
        if isinstance(error, crew.lost):
            return Finished(id=job.id, result=None, why=_lost(type(error).__name__), tries=job.tries)
        what = f"{type(error).__name__}: {error} — this should not happen — report it with the storyboard"
        return Finished(id=job.id, result=None, why=Why(id="failed", what=what), tries=job.tries)
    return Finished(id=job.id, result=result, why=result.why, tries=job.tries)


def _lost(how: str) -> Why:
    return Why(
        id="worker-lost",
        what=f"the process that worked on it ended unasked ({how}): out of memory, or a crash in a library"
        " — look at its clips, or give fewer workers more memory with --jobs",
        passing=True,
    )


def _overdue(flying: dict[Future[Any], tuple[Job, float]]) -> list[Job]:
    now = time.monotonic()
    return [
        job for future, (job, since) in flying.items()
        if job.patience is not None and now - since > job.patience and not future.done()
    ]  # fmt: skip


def _after_loss(broken: list[Job], overdue: list[Job], waiting: deque[Job], retries: int) -> Iterator[Finished]:
    """Who is to blame is known when one job was under way alone; else each of them is tried by itself."""
    for job in overdue:
        what = f"was not done after {job.patience:.0f} s and was ended — look at its clips"
        yield Finished(id=job.id, result=None, why=Why(id="hangs", what=what), tries=job.tries)
    rest = [job for job in broken if job not in overdue]
    for job in reversed(rest):
        if len(rest) == 1 and not overdue:
            job.crashes += 1
        elif overdue:
            job.tries -= 1  # it did nothing wrong
        job.alone = not overdue
        if job.crashes > retries:
            yield Finished(id=job.id, result=None, why=_lost("process pool"), tries=job.tries)
        else:
            waiting.appendleft(job)

"""Many machines, through the executor of dask.distributed (BSD licence): `segmentkit batch SEASON --scheduler tcp://…`.

Setting it up, on machines that reach one another, each with one version of segmentkit and its extra `cluster`:

    machine A   dask scheduler
    machine B…  dask worker tcp://A:8786 --nworkers 2 --nthreads 1 --memory-limit 4GB
    anywhere    segmentkit --store /mnt/season/store batch season.yaml --scheduler tcp://A:8786

One thread a worker: an encoder brings its own four. Two gigabytes a worker are enough for 1080p. Where all machines see
the season, its output and the store under the same names, only names travel; that is found out by itself, with a small
file. Else what an item needs goes to a worker once, by content, finished files come back, and each worker keeps a store
of its own. Workers may come and go: what a lost one was doing is done by another, and doing it twice harms nothing,
since pieces are named by their content and files appear whole or not at all. Traffic is not encrypted unless the
scheduler is set up for TLS; keep it inside a network of your own.
"""

from __future__ import annotations

import importlib
import time
import uuid
from collections.abc import Callable
from concurrent.futures import Executor, Future
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from segmentkit import __version__
from segmentkit.errors import OutputFailed
from segmentkit.media import safe
from segmentkit.season.carry import Carrier, Shared
from segmentkit.season.entry import CannotStart, Entry
from segmentkit.season.inputs import program
from segmentkit.season.parcel import Parcel, item_parcel, look_carried, look_parcel, make_carried
from segmentkit.season.work import LookTask, MadeItem, MakeTask, write

_AHEAD = 2  # tasks a worker: one under way, one that waits, so that nobody is idle while a result travels

_COUNT = 3.0  # seconds


class SchedulerUnusable(CannotStart):
    """There is no scheduler, or its workers cannot be used."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Told:
    """What a worker says of itself."""

    version: str
    program: str
    sees: bool


def _hello(token: str, text: str) -> _Told:
    try:
        sees = Path(token).read_text() == text
    except OSError:
        sees = False
    return _Told(version=__version__, program=program(), sees=sees)


class ClusterCrew:
    """Workers behind a scheduler.

    Args:
        address: of the scheduler, such as tcp://10.0.0.5:8786.
        wait: seconds to wait for the first worker.
    """

    shares_blame = False
    _room, _counted = 1, 0.0

    def __init__(self, address: str, wait: float = 30.0) -> None:
        try:
            distributed: Any = importlib.import_module("distributed")  # an extra
        except ImportError:
            raise SchedulerUnusable(
                "--scheduler — dask.distributed is not installed here — it is needed to reach a scheduler"
                " — install segmentkit with the extra `cluster`"
            ) from None
        self.lost: tuple[type[BaseException], ...] = (distributed.KilledWorker,)
        try:
            self.client: Any = distributed.Client(address, timeout=f"{wait}s", set_as_default=False)
            self.client.wait_for_workers(1, timeout=wait)
        except (OSError, TimeoutError, ValueError) as error:
            raise SchedulerUnusable(
                f"{address} — no scheduler with a worker answers there within {wait:.0f} s ({type(error).__name__})"
                " — start one with `dask scheduler`, and a `dask worker` for it"
            ) from None
        # A look may be taken twice and an item made twice without harm, so a lost worker's work is handed on.
        self._executor: Executor = self.client.get_executor(pure=False, retries=0)

    @property
    def executor(self) -> Executor:
        """The scheduler's executor."""
        return self._executor

    @property
    def room(self) -> int:
        """Workers may come and go, so they are counted every few seconds."""
        if time.monotonic() - self._counted > _COUNT:
            threads: dict[str, int] = self.client.nthreads()
            self._room, self._counted = max(1, _AHEAD * sum(threads.values())), time.monotonic()
        return self._room

    def renew(self) -> None:
        """Nothing is to be done: the scheduler hands on what a lost worker was doing."""

    def kill(self) -> None:
        """Restarts the workers: the only way to end a task that hangs."""
        self.client.restart(wait_for_workers=False)

    def close(self, *, now: bool) -> None:
        """Takes leave: the scheduler drops what nobody asks for, and what is under way ends by itself, whole."""
        del now
        self.client.close()

    def carrier(self, out: Path) -> Carrier:
        """How to get work to these workers: by name when each sees the output folder, else by content.

        Raises:
            SchedulerUnusable: when a worker has another version of segmentkit.
        """
        token, text = out.absolute() / f".seen-{uuid.uuid4().hex}", uuid.uuid4().hex
        out.mkdir(parents=True, exist_ok=True)
        try:
            token.write_text(text)
            told: dict[str, _Told] = self.client.run(_hello, str(token), text)
        finally:
            safe.discard(token)
        for worker, one in told.items():
            if one.program != program():
                raise SchedulerUnusable(
                    f"{worker} — runs segmentkit {one.version} with another text than here ({__version__})"
                    " — pictures must not depend on who draws them — install the same version everywhere"
                )
        if all(one.sees for one in told.values()):
            return Shared()
        return Carried(self.client.scatter)


class Carried:
    """Inputs go to a worker by content, finished files come back. Nothing is shared but the network.

    Args:
        scatter: sends values to workers and gives what stands for them; equal values are sent once.
    """

    def __init__(self, scatter: Callable[..., Any]) -> None:
        self._scatter = scatter

    def look(self, executor: Executor, task: LookTask, entry: Entry) -> Future[Any]:
        """Has a submission judged on a machine that does not see it."""
        return self._send(executor, look_carried, task, look_parcel(task, entry))

    def make(self, executor: Executor, task: MakeTask, entry: Entry) -> Future[Any]:
        """Has an item made on a machine that does not see it."""
        return self._send(executor, make_carried, task, item_parcel(task, entry))

    def _send(self, executor: Executor, work: Callable[..., Any], task: Any, parcel: Parcel) -> Future[Any]:
        blobs = [self._scatter(parcel.read(path), hash=True) for path in parcel.paths]
        return executor.submit(work, task, parcel, *blobs)

    def receive(self, result: Any, task: MakeTask) -> MadeItem:
        """Puts the files that came back into their place.

        Raises:
            OutputFailed: when one cannot be written, or is not what was sent off.
        """
        made: MadeItem = result.made
        for one in made.every:
            data = result.files.get(one.file, b"")
            if len(data) != one.bytes:
                raise OutputFailed(f"{task.out / one.file} — came back with {len(data)} of {one.bytes} bytes")
            write(task.out / one.file, data)
        return made

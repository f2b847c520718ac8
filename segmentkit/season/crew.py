"""Who does the work: processes of this machine. All that is asked of them is in the standard `concurrent.futures`.

A process may crash, be killed for want of memory, or hang; then the pool is made anew and only what was under way is
begun again. Processes end when their season ends, also when that is killed.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor
from multiprocessing.connection import wait
from types import FrameType
from typing import Any, Protocol

from segmentkit.season.room import bind

_GRACE = 15.0  # seconds in which a stopped worker takes its partial files away


class Crew(Protocol):
    """Workers behind an executor.

    Attributes:
        executor: to submit to; another one after `renew`.
        shares_blame: whether the loss of one worker fails all that is under way, whosever fault it is.
        lost: kinds of errors that mean that a worker was lost.
    """

    shares_blame: bool
    lost: tuple[type[BaseException], ...]

    @property
    def executor(self) -> Executor:
        """To submit to."""
        ...

    @property
    def room(self) -> int:
        """How many tasks may be under way."""
        ...

    def renew(self) -> None:
        """Replaces workers that were lost."""
        ...

    def kill(self) -> None:
        """Ends all workers where they stand."""
        ...

    def close(self, *, now: bool) -> None:
        """Sends the workers home; `now` does not wait for what is under way, but for partial files to be gone."""
        ...


class LocalCrew:
    """Processes of this machine.

    Args:
        workers: how many. An encoder has four threads by itself and files must not differ by how many work, so work is
            divided by this number and by nothing else.
        memory: bytes that each may take; no bound when None.
    """

    shares_blame = True
    lost: tuple[type[BaseException], ...] = ()

    def __init__(self, workers: int, memory: int | None = None) -> None:
        self.workers, self.memory = workers, memory
        # Started afresh, not forked: decoders and encoders have threads, and a fork of those may never wake.
        self._context = multiprocessing.get_context("spawn")
        self._pool, self._born = self._made()
        self._pids: set[int] = set()

    def _made(self) -> tuple[ProcessPoolExecutor, Any]:
        born = self._context.SimpleQueue()
        pool = ProcessPoolExecutor(
            self.workers, mp_context=self._context, initializer=begin, initargs=(born, self.memory)
        )
        return pool, born

    @property
    def executor(self) -> Executor:
        """The pool."""
        return self._pool

    @property
    def room(self) -> int:
        """As many as there are workers: what is handed out early cannot be ordered any more."""
        return self.workers

    def _known(self) -> set[int]:
        while not self._born.empty():
            self._pids.add(self._born.get())
        return self._pids

    def renew(self) -> None:
        """Ends what is left of the pool and makes another."""
        self.kill()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._born.close()
        self._pool, self._born = self._made()
        self._pids = set()

    def kill(self) -> None:
        """Ends all processes where they stand; their partial files are taken away by whoever comes next."""
        for pid in self._known():
            _send(pid, signal.SIGKILL)

    def close(self, *, now: bool) -> None:
        """Waits for what is under way; with `now` asks it to stop, and ends what does not."""
        if not now:
            self._pool.shutdown(wait=True, cancel_futures=True)
            self._born.close()
            return
        pids = self._known()
        self._pool.shutdown(wait=False, cancel_futures=True)
        for pid in pids:
            _send(pid, signal.SIGTERM)
        until = time.monotonic() + _GRACE
        while time.monotonic() < until and any(_lives(pid) for pid in pids):
            time.sleep(0.05)
        self.kill()
        self._pool.shutdown(wait=True, cancel_futures=True)
        self._born.close()


def _send(pid: int, number: int) -> None:
    try:
        os.kill(pid, number)
    except (ProcessLookupError, PermissionError):
        return


def _lives(pid: int) -> bool:
    for child in multiprocessing.active_children():  # also takes leave of those that have ended
        if child.pid == pid:
            return child.is_alive()
    return False


def usual_workers() -> int:
    """How many items this machine makes at once: two processors each, since drawing and encoding run side by side."""
    processors = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return max(1, processors // 2)


_busy = False
_asked = False


def begin(born: Any, memory: int | None = None) -> None:
    """Starts a worker: tells its number, bounds its memory, heeds a request to stop, ends with who started it."""
    born.put(os.getpid())
    bind(memory)
    signal.signal(signal.SIGTERM, _stop)
    signal.signal(signal.SIGINT, _stop)
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_follow, args=(parent.sentinel,), daemon=True).start()


def _stop(number: int, frame: FrameType | None) -> None:  # noqa: ARG001  the signal's signature
    global _asked  # noqa: PLW0603  there is one process to be stopped
    if not _busy:
        os._exit(0)
    if not _asked:  # a second request must not disturb what the first one takes away
        _asked = True
        raise KeyboardInterrupt


def _follow(sentinel: int) -> None:
    """Ends this worker when the season is gone, however it went."""
    wait([sentinel])
    os.kill(os.getpid(), signal.SIGTERM)
    time.sleep(_GRACE)
    os._exit(1)


def busy(work: Callable[[Any], Any], task: Any) -> Any:
    """Does a task in a worker; a request to stop is heeded while it lasts."""
    global _busy  # noqa: PLW0603
    _busy = True
    try:
        heed()
        return work(task)
    finally:
        _busy = False
        if _asked:
            os._exit(0)


def heed() -> None:
    """Stops here if it was asked for: a library in C may have swallowed the interrupt.

    Raises:
        KeyboardInterrupt: when it was.
    """
    if _asked:
        raise KeyboardInterrupt

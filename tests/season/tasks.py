"""Tasks for crews, good and bad; they must be importable by worker processes."""

from __future__ import annotations

import os
import signal
import time
from concurrent.futures import Executor, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Never

from segmentkit.season.entry import Why
from segmentkit.season.work import MadeItem, MakeTask, explained, make


@dataclass(frozen=True)
class Result:
    value: object = None
    why: Why | None = None


class Inline:
    """A crew of one thread in this process."""

    shares_blame = False
    lost: tuple[type[BaseException], ...] = ()

    def __init__(self, room: int = 1) -> None:
        self.executor: Executor = ThreadPoolExecutor(room)
        self.room = room
        self.closed: list[bool] = []

    def renew(self) -> None:
        raise AssertionError("nothing was lost")

    kill = renew

    def close(self, *, now: bool) -> None:
        self.closed.append(now)
        self.executor.shutdown(cancel_futures=True)


def eats(size: int) -> Result:
    """Wants that many bytes at once."""
    try:
        return Result(len(bytearray(size)))
    except MemoryError as error:
        return Result(why=explained(error))


def swelling_make(task: MakeTask) -> MadeItem:
    """Makes an item whose checking swells by a gigabyte: as a picture of a hundred million pixels would."""
    from segmentkit import pipeline

    real = pipeline.check

    def swollen(*_: object, **__: object) -> Never:
        held = [bytearray(100_000_000) for _ in range(12)]
        raise AssertionError(f"{len(held)} blocks were had")

    pipeline.check = swollen  # type: ignore[assignment]
    try:
        return make(task)
    finally:
        pipeline.check = real


def good(value: object) -> Result:
    return Result(value)


def slow(seconds: float) -> Result:
    time.sleep(seconds)
    return Result(seconds)


def killed(_: object) -> Result:
    """Ends as a process does for which there is no memory left."""
    os.kill(os.getpid(), signal.SIGKILL)
    return Result()


def killed_once(mark: str) -> Result:
    if not Path(mark).exists():
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return Result("second time")


def raising(_: object) -> Result:
    raise ZeroDivisionError("a mistake of ours")


def passing(mark: str) -> Result:
    """Goes well at the third try."""
    tries = int(Path(mark).read_text() or "0") if Path(mark).exists() else 0
    Path(mark).write_text(str(tries + 1))
    return Result(tries) if tries == 2 else Result(why=Why(id="system", what="not now", passing=True))


def refusing(mark: str) -> Result:
    Path(mark).write_text(Path(mark).read_text() + "x" if Path(mark).exists() else "x")
    return Result(why=Why(id="not-fit", what="will never do"))


def hanging(_: object) -> Result:
    time.sleep(600)
    return Result()


def ends_with(mark: str) -> Result:
    """Notes its process, then works until it is stopped; takes something away when it is."""
    Path(mark).write_text(str(os.getpid()))
    try:
        time.sleep(600)
    finally:
        Path(mark + ".gone").touch()
    return Result()

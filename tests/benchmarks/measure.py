"""Runs a command and measures it: wall time, processor time with all children, most memory of all at once."""

from __future__ import annotations

import os
import subprocess
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from time import monotonic


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """Seconds on the clock and of the processors, and megabytes."""

    wall: float
    cpu: float
    memory: float


def measured(command: Sequence[str], folder: Path) -> Run:
    """Runs a command to its end.

    Raises:
        RuntimeError: when it fails.
    """
    began = monotonic()
    with (folder / "said.txt").open("w+") as said:
        process = subprocess.Popen(command, stdout=said, stderr=said, stdin=subprocess.DEVNULL)
        most = [0]
        over = threading.Event()

        def watch() -> None:
            while not over.wait(0.1):
                most[0] = max(most[0], _memory(process.pid))

        watcher = threading.Thread(target=watch)
        watcher.start()
        try:
            _, status, used = os.wait4(process.pid, 0)
        finally:
            over.set()
            watcher.join()
        process.returncode = os.waitstatus_to_exitcode(status)
        wall = monotonic() - began
        if process.returncode:
            said.seek(0)
            raise RuntimeError(f"{' '.join(command)} ended with {process.returncode}:\n{said.read()[-2000:]}")
    return Run(wall=wall, cpu=used.ru_utime + used.ru_stime, memory=max(most[0], used.ru_maxrss / 1024))


def _memory(root: int) -> int:
    """Resident megabytes of a process and all below it."""
    family, total = {root}, 0
    rows = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rsplit(")", 1)[1].split()
                rows.append((int(entry.name), int(fields[1]), int(fields[21]) * os.sysconf("SC_PAGE_SIZE")))
            except (OSError, IndexError, ValueError):
                continue
    grown = True
    while grown:
        more = {pid for pid, parent, _ in rows if parent in family} - family
        family |= more
        grown = bool(more)
    for pid, _, size in rows:
        if pid in family:
            total += size
    return total >> 20

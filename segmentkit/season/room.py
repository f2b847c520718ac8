"""How much memory a worker may take, and how many workers that leaves room for on this machine.

Without a bound, one item that swells takes the whole machine with it, and the system ends whichever process it likes.
With one, the item that swells is explained in one line and the others go on.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

EXPECTED = 2_400_000_000
"""Bytes that a worker is given at least while there is a choice. Measured: an item of grain at 1080p, in two profiles
with its papers, had 1.0 GB that may be written and held 0.5; at 2160p they were 2.2 and 1.5, at 320x180 0.5 and 0.2."""
LEAST = 1_000_000_000
"""Bytes below which no worker is bound: the libraries alone take a good part of it."""
SHARE = 0.8
"""Of what is free, what workers may take together: files that are read and written have their pages in memory too."""
_CGROUPS = (
    ("/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory.current"),
    ("/sys/fs/cgroup/memory/memory.limit_in_bytes", "/sys/fs/cgroup/memory/memory.usage_in_bytes"),
)
"""Limit and use of the group of processes that this one is in: version 2, version 1 (cgroups(7))."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """What there is room for.

    Attributes:
        workers: how many.
        memory: bytes that each may take; None where nobody knows what is free.
        said: why there are fewer than were wanted; empty when there are not.
    """

    workers: int
    memory: int | None
    said: str = ""


def room_for(wanted: int, free: int | None, memory: int | None = None) -> Room:
    """As many workers as memory allows, at least one, and an equal part of it for each.

    Args:
        wanted: how many there would be by processors, or were asked for.
        free: bytes that are free on this machine; None where it does not say.
        memory: bytes that a person allows each worker; else an equal part of what is free.
    """
    if free is None:
        return Room(workers=wanted, memory=memory)
    most = int(free * SHARE)
    each = memory or EXPECTED
    workers = max(1, min(wanted, most // each))
    given = memory or max(LEAST, most // workers)
    said = ""
    if workers < wanted:
        said = (
            f"{workers} of {wanted} workers: {free / 1e9:.1f} GB of memory are free, and each is given"
            f" {each / 1e9:.1f} GB"
        )
    return Room(workers=workers, memory=given, said=said)


def free_memory() -> int | None:
    """Bytes that are free on this machine, and in the group that this process is kept in; None where none says so."""
    found = [*_of_machine(), *_of_group()]
    return min(found) if found else None


def _of_machine() -> Iterator[int]:
    """MemAvailable of proc_meminfo(5): what may be taken without swapping, in KiB."""
    with contextlib.suppress(OSError, ValueError, IndexError):
        for line in Path("/proc/meminfo").read_text("ascii").splitlines():
            if line.startswith("MemAvailable:"):
                yield int(line.split()[1]) * 1024
                return
    with contextlib.suppress(AttributeError, OSError, ValueError):  # another system: all that there is
        yield os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")


def _of_group() -> Iterator[int]:
    for limit, used in _CGROUPS:
        with contextlib.suppress(OSError, ValueError):  # no such group, or "max": no limit
            yield max(0, int(Path(limit).read_text("ascii")) - int(Path(used).read_text("ascii")))


def bind(memory: int | None) -> None:
    """Bounds what this process may have written to, as far as the system can.

    Data only (getrlimit(2), RLIMIT_DATA: since Linux 4.7 all private memory that may be written), since libraries map
    far more than they use. The hard limit is left alone, so that the process for a strange file may set its own.
    """
    if memory is None:
        return
    with contextlib.suppress(ImportError, OSError, ValueError):
        import resource  # noqa: PLC0415  not on every system

        _, hard = resource.getrlimit(resource.RLIMIT_DATA)
        most = memory if hard == resource.RLIM_INFINITY else min(memory, hard)
        resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def bound() -> int | None:
    """Bytes that this process may take; None where there is no bound."""
    try:
        import resource  # noqa: PLC0415  not on every system
    except ImportError:
        return None
    soft, _ = resource.getrlimit(resource.RLIMIT_DATA)
    return None if soft == resource.RLIM_INFINITY else soft

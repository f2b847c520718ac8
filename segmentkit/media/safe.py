"""Files that are whole or not there: written beside their final name, flushed to the disk, then renamed in one step.

A partial name carries the machine and the process that writes it, so that what a killed process left behind can be
told from what a living one is still writing.
"""

from __future__ import annotations

import contextlib
import ctypes
import errno
import itertools
import os
import re
import socket
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from segmentkit.errors import OutputFailed

_MACHINE = f"{zlib.crc32(socket.gethostname().encode()):08x}"
_PARTIAL = re.compile(r"\.(?P<final>.+)\.partial-(?P<machine>[0-9a-f]{8})-(?P<process>\d+)-\d+(\.[A-Za-z0-9]+)?")
_COUNTER = itertools.count()


def partial_beside(final: Path) -> Path:
    """A hidden name in the same folder that no other writer uses; it keeps the suffix, which encoders read."""
    return final.with_name(f".{final.name}.partial-{_MACHINE}-{os.getpid()}-{next(_COUNTER)}{final.suffix}")


def clear_stale(folder: Path) -> int:
    """Removes partial files of processes of this machine that no longer run; returns how many."""
    removed = 0
    with contextlib.suppress(OSError):
        for path in folder.iterdir():
            match = _PARTIAL.fullmatch(path.name)
            if match and match["machine"] == _MACHINE and not _runs(int(match["process"])):
                with contextlib.suppress(OSError):
                    path.unlink()
                    removed += 1
    return removed


def _runs(process: int) -> bool:
    if os.name == "nt":  # there a signal of 0 is Ctrl-C
        return _runs_on_windows(getattr(ctypes, "WinDLL")("kernel32"), process)  # noqa: B009  it is there only there
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:  # it runs, but belongs to somebody else
        return True
    return True


_MAY_ASK, _DENIED, _STILL_ACTIVE = 0x1000, 5, 259
"""A right to ask about a process, an error and an exit code, in the numbers of the Windows API."""


def _runs_on_windows(kernel: Any, process: int) -> bool:
    """Whether a process runs, asked of the system's own library."""
    handle = kernel.OpenProcess(_MAY_ASK, False, process)
    if not handle:
        return bool(kernel.GetLastError() == _DENIED)
    try:
        code = ctypes.c_ulong()
        return bool(kernel.GetExitCodeProcess(handle, ctypes.byref(code))) and code.value == _STILL_ACTIVE
    finally:
        kernel.CloseHandle(handle)


def commit(partial: Path, final: Path) -> None:
    """Gives a finished partial file its final name; after this the file survives a power cut.

    Raises:
        OSError: when the disk is full or the folder is gone.
    """
    with partial.open("r+b") as handle:  # Windows flushes only what may be written to
        os.fsync(handle.fileno())
    partial.replace(final)
    with contextlib.suppress(OSError):  # some file systems do not let a folder be flushed
        folder = os.open(final.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)


def discard(partial: Path) -> None:
    """Removes a partial file, if it is there and can be removed."""
    with contextlib.suppress(OSError):
        partial.unlink()


@contextlib.contextmanager
def writing(final: Path) -> Iterator[Path]:
    """Lends a partial name to write to; at the end of the block the file takes its final name, after an error it goes.

    Raises:
        OutputFailed: when the folder cannot be made or the disk refuses.
    """
    partial = partial_beside(final)
    try:
        final.parent.mkdir(parents=True, exist_ok=True)
        yield partial
        commit(partial, final)
    except OSError as error:
        raise OutputFailed(cannot_write(final, error)) from error
    finally:
        discard(partial)


def cannot_write(final: Path, error: OSError) -> str:
    """The designed text for a file that the disk would not take."""
    cause = os.strerror(error.errno) if error.errno else str(error)
    if error.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}:
        remedy = "make room on the disk, or write to another folder"
    else:
        remedy = "check that the folder exists and may be written to"
    return f"{final} — could not be written: {cause} — nothing was left under that name — {remedy}"

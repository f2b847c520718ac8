"""Gives memory back to the system between pieces.

An encoder and the pictures around it come and go by hundreds of megabytes. What they leave is kept by the C library for
later, in pieces that the next encoder may not fit, so a long render would seem to need more and more. What is as large
as an encoder's picture is better had from the system, and given back, on its own.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache

_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3  # malloc.h of glibc, mallopt(3)
_LARGE = 4 << 20
"""Bytes from which a block is had on its own: more than a plane of 1920x1080, less than an encoder's picture."""


@cache
def _trim() -> Callable[[int], int] | None:
    """The C library's way to do so; None where it has none (glibc does: malloc_trim(3))."""
    try:
        found: Callable[[int], int] = ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError, TypeError):
        return None
    return found


def give_back() -> None:
    """Hands what is free back to the system, where the C library can."""
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def keep_large_apart() -> None:
    """Has large blocks come from the system and go back at once, where the C library can: 60 MB less at 1920x1080.

    Left to itself, glibc raises the size from which it does so with each large block that is freed.
    """
    try:
        choose = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError, TypeError):
        return
    choose(_MMAP_THRESHOLD, _LARGE)
    choose(_TRIM_THRESHOLD, 2 * _LARGE)

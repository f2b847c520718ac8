"""Gives memory back to the system between pieces.

An encoder and the pictures around it come and go by hundreds of megabytes. What they leave is kept by the C library for
later, in pieces that the next encoder may not fit, so a long render would seem to need more and more.
"""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache


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

"""Stopping on request: Ctrl-C and a polite end from outside are answered alike, and never lost.

Python raises the interrupt wherever the main thread is, and a library written in C that happens to ask for an attribute
just then may swallow it. So the request is also noted, and asked for again at each step that is told to a person.
"""

from __future__ import annotations

import signal
from types import FrameType

_asked = False


def listen() -> None:
    """Answers SIGINT and SIGTERM with KeyboardInterrupt from now on."""
    global _asked  # noqa: PLW0603  there is one process to be stopped
    _asked = False
    signal.signal(signal.SIGTERM, _stop)
    signal.signal(signal.SIGINT, _stop)


def _stop(number: int, frame: FrameType | None) -> None:  # noqa: ARG001  the signal's signature
    global _asked  # noqa: PLW0603
    _asked = True
    raise KeyboardInterrupt


def heed() -> None:
    """Stops here if it was asked for before.

    Raises:
        KeyboardInterrupt: when it was.
    """
    if _asked:
        raise KeyboardInterrupt

"""Opens pieces for reading, by name or by an open file."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO

import av
from av.container import InputContainer

Source = Path | BinaryIO
"""A file by its name, or one that is open for reading: what is open stays readable when its name is taken away."""


@contextlib.contextmanager
def opened(source: Source) -> Iterator[InputContainer]:
    """Opens a piece from its start."""
    if isinstance(source, Path):
        with av.open(str(source)) as container:
            yield container
    else:
        source.seek(0)
        with av.open(source, mode="r", format="mp4") as container:
            yield container

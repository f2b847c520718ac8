"""The one door to the ffmpeg program: how it is found, started, listened to and ended.

Names go in as items of a list and with `file:` before them, so that no name is ever read as an option, a protocol or
a filter. What the program says is drained while it runs: a full pipe nobody reads would stop it for ever.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import tempfile
import threading
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import IO, cast

from segmentkit.errors import MediaUnusable, SegmentkitError

LONGEST_RUN = 600.0
"""Seconds after which a run is ended, unless told otherwise."""
_KEPT_LINES = 200
_PREFIX = re.compile(r"^(\[[^\]]*\]\s*)+")
_EMPTY_WORDS = re.compile(
    r"^(conversion failed|error opening (input|output) files?|error while (filtering|decoding)|press \[q\]|exiting"
    r"|frame=|size=|terminating thread|task finished|nothing was written|received no packets)",
    re.IGNORECASE,
)


class FfmpegError(SegmentkitError):
    """The program ended with an error or was ended; the text is its last meaningful line."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Finished:
    """What a run gave: all of its standard output, and the last lines it wrote beside it."""

    output: bytes
    said: str


@cache
def program() -> Path:
    """Where the program is: what SEGMENTKIT_FFMPEG names, else the one that comes with imageio-ffmpeg.

    Raises:
        MediaUnusable: when there is none.
    """
    if named := os.environ.get("SEGMENTKIT_FFMPEG"):
        path = Path(named)
        if not (path.is_file() and os.access(path, os.X_OK)):
            raise MediaUnusable(
                f"SEGMENTKIT_FFMPEG — {named} is not a program that can be started"
                " — name an ffmpeg, or unset it to use the one that is installed with segmentkit"
            )
        return path
    import imageio_ffmpeg  # noqa: PLC0415  (looks for the program when imported)

    try:
        return Path(imageio_ffmpeg.get_ffmpeg_exe())
    except RuntimeError as error:
        raise MediaUnusable(
            "ffmpeg — none was found — install imageio-ffmpeg, or set SEGMENTKIT_FFMPEG to a program"
        ) from error


def named(path: Path) -> str:
    """A file name as an argument: absolute and marked as a file, so that `-x`, `a:b` or `concat:` stay names."""
    return f"file:{path.absolute()}"


def run(arguments: Sequence[str], *, timeout: float = LONGEST_RUN, given: bytes | None = None) -> Finished:
    """Runs the program to its end.

    Args:
        arguments: what follows the program's name; inputs through `named`.
        timeout: seconds after which the run is ended with all its children.
        given: bytes for its standard input; without them it has none.

    Raises:
        FfmpegError: for a non-zero exit or a run that took too long.
    """
    with tempfile.TemporaryFile() as source:
        if given is not None:
            source.write(given)
            source.seek(0)
        with _started(arguments, stdin=source if given is not None else None) as (process, listener):
            chunks: list[bytes] = []
            output = cast("IO[bytes]", process.stdout)
            reader = threading.Thread(target=_drain, args=(output, chunks.append), daemon=True)
            reader.start()
            try:
                code = process.wait(timeout)
            except subprocess.TimeoutExpired:
                raise FfmpegError(f"ffmpeg did not finish within {timeout:g} s and was ended") from None
            reader.join()
            lines = listener.lines()
    if code != 0:
        raise FfmpegError(last_meaningful(lines) or f"ffmpeg ended with code {code} and said nothing")
    return Finished(output=b"".join(chunks), said="\n".join(lines))


class _Listener:
    """Keeps the last lines of a stream, whatever its length."""

    def __init__(self, stream: IO[bytes]) -> None:
        self._stream = stream
        self._kept: deque[str] = deque(maxlen=_KEPT_LINES)
        self._thread = threading.Thread(target=self._listen, daemon=True)
        self._thread.start()

    def _listen(self) -> None:
        with contextlib.suppress(OSError, ValueError):
            for line in self._stream:
                self._kept.append(line.decode("utf-8", "replace").rstrip())

    def lines(self) -> list[str]:
        """The last lines; waits a moment for what is still in the pipe."""
        self._thread.join(2)
        return list(self._kept)


@contextlib.contextmanager
def _started(
    arguments: Sequence[str], *, stdin: int | IO[bytes] | None
) -> Iterator[tuple[subprocess.Popen[bytes], _Listener]]:
    """Starts the program in a process group of its own, and ends the group whatever happens in the block."""
    command = [str(program()), "-nostdin", "-hide_banner", "-loglevel", "warning", "-y", *arguments]
    try:
        process = subprocess.Popen(
            command,
            stdin=subprocess.DEVNULL if stdin is None else stdin,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            start_new_session=True,
        )
    except OSError as error:
        raise FfmpegError(f"ffmpeg could not be started: {error.strerror or error}") from error
    try:
        yield process, _Listener(cast("IO[bytes]", process.stderr))
    finally:
        if process.poll() is None:
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        for stream in (process.stdin, process.stdout, process.stderr):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()


def _drain(stream: IO[bytes], take: Callable[[bytes], object]) -> None:
    with contextlib.suppress(OSError, ValueError):
        while data := stream.read(1 << 16):
            take(data)


def last_meaningful(lines: Sequence[str]) -> str:
    """The last line that says a cause, without the program's own tags; empty when there is none."""
    for line in reversed(lines):
        bare = _PREFIX.sub("", line).strip()
        if bare and not _EMPTY_WORDS.match(bare):
            return bare.rstrip(".")
    return ""

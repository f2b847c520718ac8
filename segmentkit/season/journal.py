"""What has become of each item, a line a time, so that a season goes on where it was when it was stopped.

A line is written in one step at the end of the file and flushed to the disk (POSIX: a write to a file opened with
O_APPEND starts at its end). After a crash the last line may be torn; it is passed over, and the item it spoke of is
looked at again. Nothing is believed that the files do not bear out: an item counts as done when its files are there
with the bytes that were noted, and were made from the same inputs.
"""

from __future__ import annotations

import contextlib
import json
import os
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import safe
from segmentkit.media.store import sha256_of
from segmentkit.season.entry import CannotStart

JOURNAL = "journal.jsonl"
FAILED_QC = "failed-qc"
"""The state of an item of which a file failed quality control, and what the names of such files have in them."""
PAPERS = "papers"
"""The folder of an item's papers, in its own."""
_LOCK = ".running"


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A file in the item's folder.

    Attributes:
        file: its name from there, with `/` between steps.
        sha256: of its bytes, in hex; `bytes` how many they are.
        profile: what it was made for; empty for what belongs to the whole item.
        seconds: how long a movie runs, with its leader; 0 for all else. The rest is of movies, too.
        length: of the programme, as a label at its own rate.
        loudness: integrated, in LUFS; None where it is silent or has no sound. `peak` its true peak in dBTP.
        qc: the verdict of quality control: pass, warn, fail, or empty where there was none.
        scope: the use that releases and licences allowed on the day it was made.
    """

    file: str
    sha256: str
    bytes: int
    profile: str = ""
    seconds: float = 0.0
    length: str = ""
    loudness: float | None = None
    peak: float | None = None
    qc: str = ""
    scope: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Failed:
    """A finished file that failed quality control and is kept aside for looking at.

    Attributes:
        made: the file, under the name that says so.
        why: stable name of the first check that failed; `what` what it says.
        beside: the report, for people and for machines, and the manifest.
    """

    made: Made
    why: str
    what: str
    beside: tuple[Made, ...] = ()

    @property
    def page(self) -> str:
        """Name of the report to look at; empty where there is none."""
        return next((one.file for one in self.beside if one.file.endswith(".html")), "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """What became of an item.

    Attributes:
        item: its id.
        state: done, failed-qc (a file was made, failed quality control and is kept aside), explained, or removed.
        key: hash of all that it was made from.
        files: what was delivered.
        why: stable name of the reason, where it was explained; `what` the text of it.
        held: profiles that were not delivered, with the reason.
        failed: files that failed quality control; they are no deliveries.
        took: seconds of work; `tries` how often it was begun.
    """

    item: str
    state: str
    key: str = ""
    files: tuple[Made, ...] = ()
    why: str = ""
    what: str = ""
    held: tuple[tuple[str, str], ...] = ()
    took: float = 0.0
    tries: int = 1
    notes: tuple[str, ...] = field(default=())
    failed: tuple[Failed, ...] = field(default=())

    @property
    def every(self) -> tuple[Made, ...]:
        """All files that lie in the item's folder: what was delivered, and what failed with its reports."""
        return (*self.files, *(one for failed in self.failed for one in (failed.made, *failed.beside)))


class Journal:
    """The journal of one output folder. One season at a time may write there; use as a context manager to say so.

    Args:
        out: the folder.
    """

    def __init__(self, out: Path) -> None:
        self.path = out / JOURNAL
        self._out = out
        self._lock: int | None = None

    def __enter__(self) -> Journal:
        try:
            self._out.mkdir(parents=True, exist_ok=True)
            self._lock = os.open(self._out / _LOCK, os.O_CREAT | os.O_RDWR, 0o644)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(self.path, error)) from error
        try:
            # Given back by the system when the process ends, however it ends.
            with contextlib.suppress(ImportError):
                import fcntl  # noqa: PLC0415  not on every system

                fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(self._lock)
            self._lock = None
            raise CannotStart(
                f"{self._out} — another season is being made into this folder — one at a time may write there"
                " — wait until it is done, or write to another folder with --out"
            ) from None
        return self

    def __exit__(self, *_: object) -> None:
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def lines(self) -> dict[str, Line]:
        """The last line of each item."""
        return {line.item: line for line in self._read()}

    def _read(self) -> Iterator[Line]:
        try:
            texts = self.path.read_bytes().split(b"\n")
        except OSError:
            return
        for text in texts:
            with contextlib.suppress(ValueError, KeyError, TypeError):
                yield line_from(json.loads(text))

    def write(self, line: Line) -> None:
        """Adds a line; when this returns it survives a power cut.

        Raises:
            OutputFailed: when the disk refuses.
        """
        text = json.dumps(asdict(line), ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
        try:
            handle = os.open(self.path, os.O_CREAT | os.O_RDWR | os.O_APPEND, 0o644)
            try:
                size = os.fstat(handle).st_size
                torn = size and os.pread(handle, 1, size - 1) != b"\n"
                text = b"\n" + text if torn else text
                if os.write(handle, text) != len(text):
                    raise OSError(28, "no space left")
                os.fsync(handle)
            finally:
                os.close(handle)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(self.path, error)) from error


def line_from(data: Mapping[str, Any]) -> Line:
    """A line from its plain data.

    Raises:
        KeyError, TypeError: when it is none.
    """
    files = tuple(Made(**one) for one in data.get("files", ()))
    held = tuple((str(a), str(b)) for a, b in data.get("held", ()))
    notes = tuple(str(note) for note in data.get("notes", ()))
    failed = tuple(
        Failed(**{**one, "made": Made(**one["made"]), "beside": tuple(Made(**file) for file in one.get("beside", ()))})
        for one in data.get("failed", ())
    )
    return Line(**{**data, "item": data["item"], "files": files, "held": held, "notes": notes, "failed": failed})


def stands(line: Line, folder: Path) -> bool:
    """Whether every file of a line is there with the bytes that were noted."""
    try:
        return all(
            (folder / made.file).stat().st_size == made.bytes and sha256_of(folder / made.file) == made.sha256
            for made in line.every
        )
    except (OSError, MediaUnusable):
        return False

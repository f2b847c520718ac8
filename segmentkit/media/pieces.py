"""Encoded pieces of movies in the working folder: kept by what they were made from, proven when read, limited in size.

A piece is one file: an MP4 with a seal behind it, a `free` box (ISO/IEC 14496-12, 8.1.2, which players pass over) that
holds the SHA-256 of all before it and what was measured of it. The file gets its name in one step when all of it is on
the disk, so after a crash at any instant there is a whole piece or none. A piece that does not match its seal is
removed and made again.

Pieces in use are kept open: an open file stays readable when another process throws its name out.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Self

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import safe
from segmentkit.media.store import Store

KIND = "pieces"
RECIPE = 1
"""Version of how pieces are sealed; a higher one makes every piece anew."""
LIMIT_VARIABLE = "SEGMENTKIT_STORE_LIMIT"
USUAL_LIMIT = 20 * 10**9
"""Bytes that pieces may take up, unless told otherwise."""
_MARK = b"segmentkit piece"
_LONGEST = 1 << 16  # bytes of a seal
_BLOCK = 1 << 20
_OPEN_IS_FIXED = os.name == "nt"
"""Whether a file that is open can be neither renamed nor thrown out; then nobody throws out a piece in use either."""
_UNITS = {"": 1, "k": 10**3, "m": 10**6, "g": 10**9, "t": 10**12}


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece that matches its seal, open for reading.

    Attributes:
        path: its name when it was opened.
        handle: the file.
        measured: what was measured when it was made, as plain data.
    """

    path: Path
    handle: BinaryIO
    measured: dict[str, Any]

    @property
    def packets(self) -> str:
        """SHA-256 of its coded packets in their order, in hex."""
        return str(self.measured["packets"])

    @property
    def headers(self) -> str:
        """SHA-256 of what a decoder must know before its pictures, in hex."""
        return str(self.measured["headers"])

    @property
    def ahead(self) -> int:
        """By how many frames decoding is ahead of showing."""
        return int(self.measured["ahead"])

    @property
    def frames(self) -> int:
        """How many pictures it holds; 0 for sound."""
        return int(self.measured.get("frames", 0))


class Pieces:
    """The pieces of one working folder, as one render uses them. Use as a context manager.

    Args:
        store: the working folder.
        limit: bytes that pieces may take up, when the render is over; what SEGMENTKIT_STORE_LIMIT says, unless given.
    """

    def __init__(self, store: Store, limit: int | None = None) -> None:
        self._store = store
        self._limit = store_limit() if limit is None else limit
        self._open = contextlib.ExitStack()
        self._grown = False

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._open.close()
        if self._grown:
            trim(self._store.root / KIND, self._limit)

    def path_for(self, key: str) -> Path:
        """Where the piece with a key is or will be."""
        return self._store.path_for(KIND, RECIPE, key, suffix=".mp4")

    def find(self, key: str) -> Piece | None:
        """The piece with a key, proven; None when there is none. One that does not match its seal is removed."""
        path = self.path_for(key)
        try:
            handle = self._open.enter_context(path.open("rb"))
        except OSError:
            return None
        measured = _proven(handle)
        if measured is None:
            handle.close()
            safe.discard(path)
            return None
        with contextlib.suppress(OSError):  # somebody else's folder may be read only
            os.utime(path)
        return Piece(path=path, handle=handle, measured=measured)

    @contextlib.contextmanager
    def making(self, key: str) -> Iterator[Path]:
        """Lends a partial name for a piece, which is removed at the end of the block unless `keep` gave it its own.

        Raises:
            OutputFailed: when the folder cannot be made.
        """
        final = self.path_for(key)
        try:
            final.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(final, error)) from error
        safe.clear_stale(final.parent)
        partial = safe.partial_beside(final)
        try:
            yield partial
        finally:
            safe.discard(partial)

    def keep(self, key: str, partial: Path, measured: dict[str, Any]) -> Piece:
        """Seals a finished file and gives it its name.

        Raises:
            OutputFailed: when the disk refuses, or the file does not read back as it was sealed.
        """
        final = self.path_for(key)
        self._grown = True
        try:
            _seal(partial, measured)
            if _OPEN_IS_FIXED:
                _named_closed(partial, final)
                handle = self._open.enter_context(final.open("rb"))
            else:
                # Opened before it has its name: from then on another process may throw it out.
                handle = self._open.enter_context(partial.open("rb"))
            if _proven(handle) != measured:
                raise OutputFailed(f"{final} — does not read back as it was written — check the disk")
            if not _OPEN_IS_FIXED:
                safe.commit(partial, final)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(final, error)) from error
        return Piece(path=final, handle=handle, measured=measured)


def _named_closed(partial: Path, final: Path) -> None:
    """Gives a file its name while nobody here has it open; where another process has that name open, its file stays.

    What is under a name was made from the same, whoever made it.
    """
    try:
        safe.commit(partial, final)
    except PermissionError:
        if not final.exists():
            raise


def _seal(path: Path, measured: dict[str, Any]) -> None:
    with path.open("r+b") as file:
        content = _digest(file, file.seek(0, os.SEEK_END))
        text = json.dumps({"sha256": content, "measured": measured}).encode()
        length = 8 + len(_MARK) + len(text) + 4
        # The length stands at both ends of the box, so that it is found from the end of the file.
        file.write(length.to_bytes(4, "big") + b"free" + _MARK + text + length.to_bytes(4, "big"))


def _proven(file: BinaryIO) -> dict[str, Any] | None:
    """What a seal says was measured; None when there is no seal or the file is not what was sealed."""
    try:
        size = file.seek(0, os.SEEK_END)
        file.seek(max(0, size - 4))
        length = int.from_bytes(file.read(4), "big")
        if not len(_MARK) + 12 <= length <= min(size, _LONGEST):
            return None
        file.seek(size - length)
        box = file.read(length)
        if box[4 : 8 + len(_MARK)] != b"free" + _MARK:
            return None
        said = json.loads(box[8 + len(_MARK) : -4])
        measured = said["measured"]
        return measured if isinstance(measured, dict) and said["sha256"] == _digest(file, size - length) else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _digest(file: BinaryIO, length: int) -> str:
    """SHA-256 of the first bytes of a file, in hex; leaves the file there."""
    digest = hashlib.sha256()
    file.seek(0)
    while length > 0 and (block := file.read(min(_BLOCK, length))):
        digest.update(block)
        length -= len(block)
    return digest.hexdigest()


def store_limit() -> int:
    """Bytes that pieces may take up: what SEGMENTKIT_STORE_LIMIT says, such as `20 GB`, else `USUAL_LIMIT`.

    Raises:
        MediaUnusable: when it says something else.
    """
    text = os.environ.get(LIMIT_VARIABLE, "").strip()
    if not text:
        return USUAL_LIMIT
    match = re.fullmatch(r"(\d{1,9}(?:\.\d{1,3})?)\s*([kmgt]?)b?", text.lower(), re.ASCII)
    if match is None:
        raise MediaUnusable(f"{LIMIT_VARIABLE} — {text!r} is not a size — write one such as 20 GB or 500 MB")
    return int(float(match[1]) * _UNITS[match[2]])


def trim(folder: Path, limit: int) -> int:
    """Throws out the pieces that were not used for the longest time until the rest is within a limit.

    Partial files of processes that no longer run go too. Safe while others read and write: an open piece stays
    readable, and what is thrown out is only made again.

    Returns:
        How many pieces went.
    """
    pieces: list[tuple[float, int, Path]] = []
    with contextlib.suppress(OSError):
        for sub in [entry for entry in folder.iterdir() if entry.is_dir()]:
            safe.clear_stale(sub)
            for path in sub.glob("[!.]*"):
                with contextlib.suppress(OSError):
                    found = path.stat()
                    pieces.append((min(found.st_mtime, time.time()), found.st_size, path))
    size = sum(length for _, length, _ in pieces)
    gone = 0
    for _, length, path in sorted(pieces, key=lambda piece: (piece[0], piece[2].name)):
        if size <= limit:
            break
        with contextlib.suppress(OSError):
            path.unlink()
            gone += 1
            size -= length
    return gone

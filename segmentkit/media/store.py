"""The working folder: what was made once from the same bytes in the same way is not made again.

An entry is a file whose name is the SHA-256 of what it was made from: kind, version of the recipe, inputs. Entries are
written whole (see `safe`), so two processes may work in one folder; at worst both make the same thing. Nothing in here
is needed: deleting the folder costs time only.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TypeVar

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import safe

FOLDER = ".segmentkit"
FOLDER_VARIABLE = "SEGMENTKIT_STORE"
"""Names one working folder for all projects, so that a season shares working copies and encoded pieces."""
_BLOCK = 1 << 20
_SETTLED = 2.0  # seconds; see `Store.content_of`
T = TypeVar("T")


def sha256_of(path: Path) -> str:
    """SHA-256 of a file's bytes, in hex.

    Raises:
        MediaUnusable: when the file cannot be read.
    """
    digest = hashlib.sha256()
    try:
        with path.open("rb") as handle:
            while block := handle.read(_BLOCK):
                digest.update(block)
    except OSError as error:
        raise MediaUnusable(unreadable(path, error)) from error
    return digest.hexdigest()


def unreadable(path: Path, error: OSError) -> str:
    """The designed text for a file that cannot be opened."""
    if isinstance(error, FileNotFoundError):
        return f"{path} — there is no such file — check the name, or put the file there"
    if isinstance(error, IsADirectoryError):
        return f"{path} — is a folder, not a file — name a file in it"
    return f"{path} — cannot be read: {error.strerror or error} — check its permissions"


class Store:
    """A working folder of entries named by what they were made from.

    Args:
        root: the folder; made when first written to.
    """

    def __init__(self, root: Path) -> None:
        self.root = root

    @classmethod
    def of(cls, project: Path) -> Store:
        """The working folder of a project: the one that SEGMENTKIT_STORE names, else one in the project's folder."""
        named = os.environ.get(FOLDER_VARIABLE, "").strip()
        return cls(Path(named).expanduser() if named else project / FOLDER)

    def path_for(self, kind: str, version: int, *inputs: object, suffix: str) -> Path:
        """Where the entry made from these inputs is or will be; inputs are told apart by their JSON text."""
        text = json.dumps([kind, version, *inputs], default=str, sort_keys=True, ensure_ascii=True)
        name = hashlib.sha256(text.encode()).hexdigest()
        return self.root / kind / name[:2] / f"{name}{suffix}"

    @contextlib.contextmanager
    def writing(self, path: Path) -> Iterator[Path]:
        """Lends a partial name for an entry; what killed processes left in its folder goes.

        Raises:
            OutputFailed: when the folder cannot be written to.
        """
        safe.clear_stale(path.parent)
        with safe.writing(path) as partial:
            yield partial

    def make(self, path: Path, read: Callable[[Path], T], write: Callable[[Path], None]) -> T:
        """Reads an entry, making it first when it is missing or cannot be read.

        Args:
            path: from `path_for`.
            read: gives the entry's value; raises ValueError, KeyError, TypeError or OSError when it is unreadable.
            write: writes the entry under the partial name it is given.

        Raises:
            OutputFailed: when the folder cannot be written to, or the entry cannot be read after it was made.
        """
        try:
            return read(path)
        except (ValueError, KeyError, TypeError, OSError):
            pass
        with self.writing(path) as partial:
            write(partial)
        try:
            return read(path)
        except (ValueError, KeyError, TypeError, OSError) as error:
            raise OutputFailed(f"{path} — could not be read after it was written: {error} — check the disk") from error

    def content_of(self, path: Path) -> str:
        """SHA-256 of a file's bytes, from an index when size and time of change are the same as when it was read.

        A change within two seconds of the reading, with the same size, could leave both as they were (file systems
        keep coarse times); such a file is not put in the index and is read again next time. A program that rewrites
        bytes, keeps the size *and* sets the old time of change would fool it: delete the folder then.

        Raises:
            MediaUnusable: when the file cannot be read.
        """
        try:
            before = path.stat()
        except OSError as error:
            raise MediaUnusable(unreadable(path, error)) from error
        stamp = [before.st_size, before.st_mtime_ns, before.st_ino]
        entry = self.path_for("index", 1, str(path.resolve()), suffix=".json")
        try:
            known = json.loads(entry.read_text())
            if known["stamp"] == stamp:
                return str(known["content"])
        except (OSError, ValueError, KeyError, TypeError):
            pass
        content = sha256_of(path)
        if time.time() - before.st_mtime > _SETTLED:
            with self.writing(entry) as partial:
                partial.write_text(json.dumps({"stamp": stamp, "content": content}))
        return content

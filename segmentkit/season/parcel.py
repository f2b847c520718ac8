"""What an item needs, to be sent to a machine that does not see it: each file once, by content, under its own path."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.media import safe
from segmentkit.season.crew import busy
from segmentkit.season.entry import Entry, Why
from segmentkit.season.work import Looked, LookTask, MadeItem, MakeTask, explained, look, make
from segmentkit.storyboard.submission import WITHDRAWN

_KEPT = "carried"


@dataclass(frozen=True, slots=True, kw_only=True)
class Parcel:
    """Files below one folder.

    Attributes:
        root: the folder, on the sender's machine.
        paths: files, from there.
        contents: SHA-256 of each.
    """

    root: Path
    paths: tuple[str, ...]
    contents: tuple[str, ...]

    def read(self, path: str) -> bytes:
        """The bytes of one."""
        return (self.root / path).read_bytes()


@dataclass(frozen=True, slots=True, kw_only=True)
class Back:
    """A made item with the bytes of its files, by name."""

    made: MadeItem
    files: dict[str, bytes]

    @property
    def why(self) -> Why | None:
        """Why nothing was made."""
        return self.made.why


def look_parcel(task: LookTask, entry: Entry) -> Parcel:
    """The parts of a submission."""
    files = [path for _, path in entry.sent.files()] if entry.sent is not None else []
    return _parcel(task.folder, [path.absolute() for path in files], entry)


def item_parcel(task: MakeTask, entry: Entry) -> Parcel:
    """A storyboard with all that it names, and the lists of withdrawals beside it."""
    folder = task.board.parent
    files = [task.board, *(path.absolute() for path in entry.contents)]
    if (folder / WITHDRAWN).is_file():
        files.append(folder / WITHDRAWN)
    return _parcel(folder, [path for path in files if path.is_relative_to(folder)], entry)


def _parcel(root: Path, files: list[Path], entry: Entry) -> Parcel:
    known = {path.absolute(): content for path, content in entry.contents.items()}
    there = [path for path in dict.fromkeys(files) if path.is_file()]
    contents = tuple(known.get(path) or _hash(path) for path in there)
    return Parcel(root=root, paths=tuple(path.relative_to(root).as_posix() for path in there), contents=contents)


def _hash(path: Path) -> str:
    from segmentkit.media.store import sha256_of  # noqa: PLC0415

    return sha256_of(path)


def look_carried(task: LookTask, parcel: Parcel, *blobs: bytes) -> Looked:
    """Judges a submission that came in a parcel."""
    try:
        with _unpacked(parcel, blobs) as (folder, store):
            looked: Looked = busy(look, replace(task, folder=folder, store=store))
            return looked
    except OSError as error:
        return Looked(id=task.id, why=explained(error))


def make_carried(task: MakeTask, parcel: Parcel, *blobs: bytes) -> Back:
    """Makes an item that came in a parcel; its files go back with the result."""
    try:
        with _unpacked(parcel, blobs) as (folder, store):
            board = folder / task.board.relative_to(parcel.root)
            out = folder / ".out"
            made: MadeItem = busy(make, replace(task, board=board, out=out, store=store))
            return Back(made=made, files={one.file: (out / one.file).read_bytes() for one in made.every})
    except OSError as error:
        return Back(made=MadeItem(id=task.id, why=explained(error)), files={})


@contextmanager
def _unpacked(parcel: Parcel, blobs: tuple[bytes, ...]) -> Iterator[tuple[Path, Path]]:
    """A folder with the files, and this machine's own store, in which what came stays by its content.

    Raises:
        OSError: when the disk refuses.
    """
    store = own_store()
    (store / _KEPT).mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix="item-", dir=store / _KEPT))
    try:
        for path, data in zip(parcel.paths, blobs, strict=True):
            target = folder / path
            if not target.resolve().is_relative_to(folder.resolve()):
                raise PermissionError(1, f"{path} leads out of its folder")
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
        yield folder, store
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        safe.clear_stale(store / _KEPT)


def own_store() -> Path:
    """The working folder of a worker that shares none: SEGMENTKIT_WORKER_STORE, else one among temporary files."""
    named = os.environ.get("SEGMENTKIT_WORKER_STORE", "").strip()
    return Path(named) if named else Path(tempfile.gettempdir()) / f"segmentkit-worker-{os.getuid()}"

"""Finds what a working folder holds of a person: by content where an entry tells it, by name where it says one."""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from segmentkit.media.guarded import header_entry, still_entry
from segmentkit.media.holds import KIND as HOLDS
from segmentkit.media.holds import noted
from segmentkit.media.normalise import copy_entry
from segmentkit.media.pieces import KIND as PIECES
from segmentkit.media.screen_kept import KIND as SCREENED
from segmentkit.media.store import Store

_OTHERS = {"clip", "header", "still", "index", "guide", "sounds", PIECES, HOLDS, "movies"}
"""Kinds of entries whose names tell their content, that hold nothing of anybody, or that have a search of their own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One thing that holds something of a person.

    Attributes:
        path: the file.
        why: what it is.
        how: `remove` the file; take out an `entry` of a text; leave it to a `person`.
        entries: paths of keys, for an entry.
        lines: lines that name the person, counted from 1, where it is left to a person.
        original: whether its copies are found by its bytes, so that it goes after them.
    """

    path: Path
    why: str
    how: str
    entries: tuple[tuple[str, ...], ...] = ()
    lines: tuple[int, ...] = ()
    original: bool = False


def working_copies(
    folders: Sequence[Path], sources: dict[Path, str], contents: set[str], names: Sequence[str]
) -> Iterator[Trace]:
    """What working folders hold: by content where an entry tells it; where it does not, it is made again for all."""
    for folder in folders:
        store = Store(folder)
        for content in sorted(contents):
            entry = copy_entry(content, store)
            for suffix in (".json", ".mp4", ".wav"):
                yield Trace(path=entry.with_suffix(suffix), why="working copy", how="remove")
            yield Trace(path=header_entry(content, store), why="header of the clip", how="remove")
            yield Trace(path=still_entry(content, store), why="clean still", how="remove")
        for path in sources:
            entry = store.path_for("index", 1, str(path), suffix=".json")
            yield Trace(path=entry, why="index entry of the working folder", how="remove")
        if contents or names:
            yield from _pieces(folder, contents, names)
            yield from _measured(folder, contents, names)


def _pieces(folder: Path, contents: set[str], names: Sequence[str]) -> Iterator[Trace]:
    """Encoded pieces that show the person, and the notes that say so; pieces of which no note tells go as well."""
    known: set[str] = set()
    for path, pieces in noted(folder):
        hers = {name for name, held in pieces.items() if held.shows(contents, names)}
        known |= pieces.keys()
        for name in sorted(hers):
            yield Trace(path=folder / PIECES / name[:2] / name, why="encoded piece that shows the person", how="remove")
        if hers:
            yield Trace(path=path, why="note of what encoded pieces hold", how="remove")
            record = _record_of(path, folder)
            if record is not None:
                yield Trace(path=record, why="record of a finished file", how="remove")
    for path in sorted((folder / PIECES).rglob("*")):
        if path.is_file() and path.name not in known:
            yield Trace(path=path, why="encoded piece, whose is not written; it is made again", how="remove")


def _record_of(note: Path, folder: Path) -> Path | None:
    data = read_json(note)
    movie = data.get("movie") if isinstance(data, dict) else None
    if not isinstance(movie, str) or Path(movie).name != movie:
        return None
    return folder / "movies" / movie[:2] / movie


def _measured(folder: Path, contents: set[str], names: Sequence[str]) -> Iterator[Trace]:
    """What was measured of pictures and readings, and guide voices that say the name."""
    for path in sorted(folder.rglob("*")):
        if not path.is_file():
            continue
        kind = path.relative_to(folder).parts[0]
        if kind == "guide" and path.suffix == ".json" and any(says(path, name) for name in names):
            yield Trace(path=path, why="guide voice that says the name", how="remove")
            yield Trace(path=path.with_suffix(".wav"), why="guide voice that says the name", how="remove")
        elif kind not in _OTHERS:
            of = _made_of(path)
            if of is not None and of & contents:
                yield Trace(path=path, why="what was measured of the pictures or the voice", how="remove")
            elif of is None and (contents or kind == SCREENED):  # small pictures may show a name, too
                yield Trace(path=path, why="made from pictures, whose is not written; it is made again", how="remove")


def _made_of(path: Path) -> set[str] | None:
    """SHA-256 of what an entry of a working folder was made from; None where it does not say."""
    if path.suffix == ".npz":
        try:
            with np.load(path, allow_pickle=False) as arrays:
                data: object = json.loads(bytes(arrays["said"]))
        except (OSError, ValueError, KeyError, zipfile.BadZipFile):
            return None
    else:
        data = read_json(path)
    of = data.get("of") if isinstance(data, dict) else None
    match of:
        case str():
            return {of}
        case list() if of:
            return {str(one) for one in of}
        case _:
            return None


def read_json(path: Path) -> object:
    """What a JSON file holds; None where it is none."""
    try:
        return json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return None


def says(path: Path, word: str) -> bool:
    """Whether a word stands in a text by itself."""
    try:
        text = path.read_text("utf-8", errors="replace")
    except OSError:
        return False
    return re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text) is not None

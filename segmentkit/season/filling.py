"""Fills a template for an item, once: what a person has edited since then stays as it is.

A storyboard reaches only into its own folder. So what a filled one names and has not got is brought there: from the
submission's folder, else from the season's, where demonstrators, music and looks lie that all items share.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import safe
from segmentkit.media.store import sha256_of
from segmentkit.season.sent import Sent
from segmentkit.storyboard.load import LoadedStoryboard, load, loads
from segmentkit.storyboard.reading import read_text
from segmentkit.storyboard.season import Item, LoadedSeason
from segmentkit.storyboard.submission_values import read_records, values_from
from segmentkit.storyboard.template import fill, load_template
from segmentkit.storyboard.values import Values, read_values, values_of

FILLED = ".filled.json"
"""Beside a filled storyboard: SHA-256 of the texts and files that this program has put there."""
EDITED = "was edited by hand since it was filled: template and row are not looked at again"


@dataclass(slots=True)
class _Known:
    """What this program has put into an item's folder: hashes of texts, and of files by path, the last one or two."""

    texts: list[str] = field(default_factory=list)
    files: dict[str, str] = field(default_factory=dict)


def filled(
    season: LoadedSeason, item: Item, sent: Sent | None, *, write: bool
) -> tuple[Path, LoadedStoryboard, tuple[str, ...]]:
    """The storyboard of an item with a template: its path, the storyboard as it stands, what a producer should know.

    Args:
        season: the season.
        item: the item; it has no storyboard of its own.
        sent: its submission, which fills what the row leaves open.
        write: whether anything may be written; else it is only read.

    Raises:
        StoryboardUnreadable: when template, values or what was written by hand have faults.
        OutputFailed: when it cannot be written.
    """
    folder = season.folder / item.id
    path = folder / "storyboard.yaml"
    known = _known(folder)
    there = read_text(path) if path.is_file() else None
    if there is not None and _hash(there) not in known.texts:
        loaded = load(path)
        if write:
            _bring_all(loaded, season, item, sent, known)
        return path, loaded, (EDITED,)
    text = _text(season, item, sent, folder)
    loaded = loads(text, str(path), folder)
    if not write:
        return path, loaded, ()
    if there != text:
        # First the note, then the text: killed between the two, the text is taken for ours, which it is.
        known.texts = [*known.texts, _hash(text)][-50:]
        _note(folder, known)
        _write(path, text)
    _bring_all(loaded, season, item, sent, known)
    return path, load(path), ()


def _text(season: LoadedSeason, item: Item, sent: Sent | None, folder: Path) -> str:
    name = item.template or season.season.template or ""
    named = season.folder / name
    template = load_template(named if named.is_file() else name)
    values = values_of({})
    if sent is not None:
        record = next(one for one in read_records(Path(sent.record.file)) if one.id == sent.name)
        values = values_from(record, template.blanks)
    given: Values | None = None
    if isinstance(item.fill, str):
        given = read_values(season.folder / item.fill)
    elif item.fill is not None:
        given = values_of(item.fill, f"item {item.id}")
    return fill(template, given.over(values) if given is not None else values, folder)


def named_files(loaded: LoadedStoryboard) -> Iterator[str]:
    """Every path that a storyboard names, from its folder; the takes as a folder."""
    board = loaded.board
    yield from (clip.file for clip in board.clips.values())
    yield from (still.file for still in board.stills.values())
    yield from (music.file for music in board.music)
    yield from (name for name in (board.voice.takes, board.look, *board.deliver) if name is not None)


def _bring_all(
    loaded: LoadedStoryboard, season: LoadedSeason, item: Item, sent: Sent | None, known: _Known
) -> None:  # fmt: skip
    folder = season.folder / item.id
    profiles = item.deliver or season.season.deliver or ()
    places = [*([sent.folder] if sent is not None else []), season.folder]
    names = tuple(dict.fromkeys((*named_files(loaded), *profiles)))
    for name in names:
        source = next((place / name for place in places if (place / name).exists()), None)
        if source is None or source.resolve() == (folder / name).resolve():
            continue
        files = [source] if source.is_file() else sorted(path for path in source.iterdir() if path.is_file())
        for file in files:
            inside = name if source.is_file() else f"{name}/{file.name}"
            _bring(file, folder, inside, known)
    # What a wrong row had brought, perhaps of another viewer, goes when the row is put right.
    for inside in [one for one in known.files if one not in names and one.rpartition("/")[0] not in names]:
        with contextlib.suppress(MediaUnusable):
            if sha256_of(folder / inside) in known.files[inside].split():
                safe.discard(folder / inside)
        del known.files[inside]
        _note(folder, known)


def _bring(source: Path, folder: Path, inside: str, known: _Known) -> None:
    """Puts a file into the item's folder; one that a person has put there stays."""
    target = folder / inside
    try:
        content = sha256_of(source)
        there = sha256_of(target) if target.is_file() else None
    except MediaUnusable:
        return  # told when it is opened
    ours = known.files.get(inside, "").split()
    if there == content or (there is not None and there not in ours):
        return
    # First the note, as with texts; until the file is there, the one before it counts as ours too.
    known.files[inside] = " ".join([*ours[-1:], content])
    _note(folder, known)
    partial = safe.partial_beside(target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            os.link(source, partial)  # the same bytes once on the disk, where the system can
        except OSError:
            shutil.copyfile(source, partial)
        partial.replace(target)
    except OSError as error:
        raise OutputFailed(safe.cannot_write(target, error)) from error
    finally:
        safe.discard(partial)


def _known(folder: Path) -> _Known:
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError, AttributeError):
        data = json.loads((folder / FILLED).read_text("utf-8"))
        return _Known([str(one) for one in data["texts"]], {str(k): str(v) for k, v in data["files"].items()})
    return _Known()


def _note(folder: Path, known: _Known) -> None:
    _write(folder / FILLED, json.dumps({"texts": known.texts, "files": known.files}, indent=1) + "\n")


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def _write(path: Path, text: str) -> None:
    with safe.writing(path) as partial:
        partial.write_text(text, "utf-8", newline="")

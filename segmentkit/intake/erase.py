"""Finds and removes everything that was made of a person's clips, with a list. A dry run comes first.

What is found: the files that the batch names and every copy of their bytes; working copies, headers and clean stills;
pages and letters of the intake; finished files of every storyboard that names the person or a clip of theirs. What a
person wrote by hand is named with its line and left to a person, but for the entries of batch and contacts.
"""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from segmentkit.errors import OutputFailed, StoryboardUnreadable
from segmentkit.media import safe
from segmentkit.media.guarded import header_entry, still_entry
from segmentkit.media.normalise import copy_entry
from segmentkit.media.store import FOLDER, Store, sha256_of
from segmentkit.storyboard.load import LoadedStoryboard, load
from segmentkit.storyboard.submission import BATCH, CONTACTS, WITHDRAWN, LoadedBatch, load_batch, without_entry

REPORTS = ("intake.html", "intake.json", "intake.csv", "send.csv")
_OTHERS = {"clip", "header", "still", "index", "guide", "sounds", "take"}
"""Kinds of entries whose names tell their content, or that hold no pictures of anybody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trace:
    """One thing that holds something of a person.

    Attributes:
        path: the file.
        why: what it is.
        how: `remove` the file; take out an `entry` of a text; leave it to a `person`.
        entries: paths of keys, for an entry.
        lines: lines that name the person, counted from 1, where it is left to a person.
    """

    path: Path
    why: str
    how: str
    entries: tuple[tuple[str, ...], ...] = ()
    lines: tuple[int, ...] = ()


def traces(name: str, root: Path) -> tuple[Trace, ...]:
    """Everything below a folder that holds something of a person.

    Args:
        name: the person's name among `people`.
        root: the folder of batches, storyboards and outputs.

    Raises:
        StoryboardUnreadable: when nobody of that name is found, or a batch cannot be read.
    """
    files = sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink())
    batches = [load_batch(path) for path in files if path.name == BATCH]
    boards = list(_boards(files))
    _known(name, batches, boards, root)
    sources = dict(_sources(name, batches, boards))
    contents = {sha256_of(path) for path in sources if path.is_file()}
    found: dict[Path, Trace] = {}
    for trace in (
        *(Trace(path=path, why=why, how="remove") for path, why in sources.items()),
        *_copies(files, sources, contents),
        *_working_copies(root, sources, contents),
        *_records(name, batches, files),
        *_outputs(name, contents, boards, files),
        *(
            Trace(path=Path(board.file), why="storyboard", how="person", lines=_lines(Path(board.file), name))
            for board in boards
            if name in board.board.people
        ),
    ):
        if trace.path.exists():
            found.setdefault(trace.path, trace)
    return tuple(found.values())


def _known(name: str, batches: list[LoadedBatch], boards: list[LoadedStoryboard], root: Path) -> None:
    named = [*(batch.batch.people for batch in batches), *(board.board.people for board in boards)]
    if any(name in people for people in named):
        return
    known = sorted({person for people in named for person in people})
    raise StoryboardUnreadable(
        f"{root} — nobody here is called `{name}` — people are called {', '.join(known) or 'nothing yet'}"
        " — give a name as it stands under people"
    )


def remove(found: tuple[Trace, ...]) -> tuple[Trace, ...]:
    """Removes what can be removed; returns what could not, and what is left to a person.

    The list of withdrawals stays: it keeps the person from coming back.
    """
    left = []
    for trace in found:
        try:
            if trace.how == "remove":
                trace.path.unlink()
            elif trace.how == "entry":
                _take_out(trace)
            else:
                left.append(trace)
        except (OSError, StoryboardUnreadable, OutputFailed) as error:
            left.append(Trace(path=trace.path, why=f"{trace.why}: could not be removed ({error})", how="person"))
    return tuple(left)


def _take_out(trace: Trace) -> None:
    text = trace.path.read_text("utf-8")
    for entry in trace.entries:
        text = without_entry(text, entry, str(trace.path))
    with safe.writing(trace.path) as partial:
        partial.write_text(text, "utf-8", newline="")


def _boards(files: list[Path]) -> Iterator[LoadedStoryboard]:
    """Storyboards among the files; a text that is none, or has faults, is passed over."""
    for path in files:
        if path.suffix in {".yaml", ".yml"} and path.name not in {BATCH, CONTACTS, WITHDRAWN}:
            with contextlib.suppress(StoryboardUnreadable):
                yield load(path)


def _sources(name: str, batches: list[LoadedBatch], boards: list[LoadedStoryboard]) -> Iterator[tuple[Path, str]]:
    for batch in batches:
        for id_, submission in batch.batch.submissions.items():
            if submission.person == name:
                for part, value in submission.parts:
                    yield (batch.folder / value.file).resolve(), f"{part} of submission {id_}"
    for board in boards:
        for kind, items in (("clip", board.board.clips), ("still", board.board.stills)):
            for id_, item in items.items():
                if item.person == name:
                    yield (board.folder / item.file).resolve(), f"{kind} {id_} of {Path(board.file).name}"


def _copies(files: list[Path], sources: dict[Path, str], contents: set[str]) -> Iterator[Trace]:
    """Files of the same size whose bytes are the same."""
    sizes = {path.stat().st_size for path in sources if path.is_file()}
    for path in files:
        if path.stat().st_size in sizes and path.resolve() not in sources and sha256_of(path) in contents:
            yield Trace(path=path, why="a copy of the same bytes", how="remove")


def _working_copies(root: Path, sources: dict[Path, str], contents: set[str]) -> Iterator[Trace]:
    """What working folders hold: by content where the entry's name tells it, else every entry made from pictures."""
    for folder in sorted({path for path in root.rglob(FOLDER) if path.is_dir()} | {Store.of(root).root}):
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
        if contents:
            for path in sorted(folder.rglob("*")):
                if path.is_file() and path.relative_to(folder).parts[0] not in _OTHERS:
                    yield Trace(
                        path=path, why="made from pictures, whose is not written; it is made again", how="remove"
                    )


def _records(name: str, batches: list[LoadedBatch], files: list[Path]) -> Iterator[Trace]:
    """Entries of batches and contacts; letters; reports that hold the person among others."""
    for batch in batches:
        ids = [id_ for id_, submission in batch.batch.submissions.items() if submission.person == name]
        if name in batch.batch.people:
            entries = (*(("submissions", id_) for id_ in ids), ("people", name))
            yield Trace(path=Path(batch.file), why="entries of the batch", how="entry", entries=entries)
        for path in files:
            if path.is_relative_to(batch.folder) and path.parent.name == "letters" and path.stem.split(".")[0] in ids:
                yield Trace(path=path, why="letter", how="remove")
            elif path.name in REPORTS and any(_names(path, id_) for id_ in ids):
                yield Trace(path=path, why="report of the batch; run the intake again to have it anew", how="remove")
    for path in files:
        if path.name == CONTACTS and _names(path, name):
            yield Trace(path=path, why="contact data", how="entry", entries=(("contacts", name),))


def _outputs(name: str, contents: set[str], boards: list[LoadedStoryboard], files: list[Path]) -> Iterator[Trace]:
    """Finished files: by the people and sources of a manifest, and by the storyboard they were made from."""
    shown = [board for board in boards if name in board.board.people]
    titles = {board.board.segment.title for board in shown}
    for path in files:
        data = _json(path) if path.suffix == ".json" else None
        if not isinstance(data, dict) or not {"tool", "title"} <= data.keys():
            continue
        sources = data.get("sources")
        hashes = {s.get("sha256") for s in sources if isinstance(s, dict)} if isinstance(sources, list) else set()
        people = data.get("people")
        if (isinstance(people, list) and name in people) or hashes & contents or data["title"] in titles:
            yield Trace(path=path, why=f"manifest of {data['title']!r}", how="remove")
            for file in _made(data):
                yield Trace(path=path.with_name(file), why=f"finished file of {data['title']!r}", how="remove")
    for board in shown:
        source = Path(board.file)
        like = re.compile(rf"{re.escape(source.stem)}([.\-_].*)?")
        for path in files:
            if path.is_relative_to(board.folder) and path.suffix not in {".yaml", ".yml"}:
                parts = path.relative_to(board.folder).parts
                if FOLDER not in parts and any(like.fullmatch(part) for part in parts):
                    yield Trace(path=path, why=f"made from {source.name}", how="remove")


def _made(data: dict[str, object]) -> Iterator[str]:
    """Names of files in a manifest; a name that leaves its folder is not followed."""
    entries = data.get("files")
    names = [data.get("file")]
    if isinstance(entries, list):
        names += [entry.get("file") for entry in entries if isinstance(entry, dict)]
    for value in names:
        if isinstance(value, str) and Path(value).name == value:
            yield value


def _json(path: Path) -> object:
    try:
        return json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return None


def _names(path: Path, word: str) -> bool:
    try:
        text = path.read_text("utf-8", errors="replace")
    except OSError:
        return False
    return re.search(rf"(?<![\w-]){re.escape(word)}(?![\w-])", text) is not None


def _lines(path: Path, word: str) -> tuple[int, ...]:
    pattern = re.compile(rf"(?<![\w-]){re.escape(word)}(?![\w-])")
    return tuple(number for number, line in enumerate(path.read_text("utf-8").splitlines(), 1) if pattern.search(line))

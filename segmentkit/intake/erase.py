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

REPORTS = ("intake.html", "intake.json", "intake.csv")
_SIZE = 5_000_000_000


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
    stores = [Store(folder) for folder in sorted(root.rglob(FOLDER)) if folder.is_dir()]
    named = [*(batch.batch.people for batch in batches), *(board.board.people for board in boards)]
    if not any(name in people for people in named):
        known = sorted({person for people in named for person in people})
        raise StoryboardUnreadable(
            f"{root} — nobody here is called `{name}` — people are called {', '.join(known) or 'nothing yet'}"
            " — give a name as it stands under people"
        )
    found: dict[Path, Trace] = {}

    def add(path: Path, why: str, how: str = "remove", **more: object) -> None:
        if path.exists() and path not in found:
            found[path] = Trace(path=path, why=why, how=how, **more)  # type: ignore[arg-type]

    sources = dict(_sources(name, batches, boards))
    contents = {}
    for path, why in sources.items():
        if path.is_file():
            contents[sha256_of(path)] = why
            add(path, why)
    for path in _copies(files, sources, set(contents)):
        add(path, "a copy of the same bytes")
    for store in stores:
        for content in contents:
            for path, why in _working(store, content):
                add(path, why)
        for path in _indexed(store, sources):
            add(path, "index entry of the working folder")
    for batch in batches:
        ids = [id_ for id_, submission in batch.batch.submissions.items() if submission.person == name]
        if name in batch.batch.people:
            entries = (*(("submissions", id_) for id_ in ids), ("people", name))
            add(Path(batch.file), "entries of the batch", "entry", entries=entries)
        for path in _papers(batch.folder, ids, files):
            add(path, "letter, or report of the whole batch: run the intake again to have it without the person")
    for path in files:
        if path.name == CONTACTS and _names(path, name):
            add(path, "contact data", "entry", entries=(("contacts", name),))
    for path, why in _outputs(name, set(contents), boards, files):
        add(path, why)
    for board in boards:
        if name in board.board.people:
            add(Path(board.file), "storyboard", "person", lines=_lines(Path(board.file), name))
    return tuple(found.values())


def remove(name: str, found: tuple[Trace, ...]) -> tuple[Trace, ...]:
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


def _copies(files: list[Path], sources: dict[Path, str], contents: set[str]) -> Iterator[Path]:
    """Files of the same size whose bytes are the same."""
    sizes = {path.stat().st_size for path in sources if path.is_file()}
    for path in files:
        size = path.stat().st_size
        if size in sizes and size < _SIZE and path.resolve() not in sources and sha256_of(path) in contents:
            yield path


def _working(store: Store, content: str) -> Iterator[tuple[Path, str]]:
    entry = copy_entry(content, store)
    for suffix in (".json", ".mp4", ".wav"):
        yield entry.with_suffix(suffix), "working copy"
    yield header_entry(content, store), "header of the clip"
    yield still_entry(content, store), "clean still"


def _indexed(store: Store, sources: dict[Path, str]) -> Iterator[Path]:
    for path in sources:
        yield store.path_for("index", 1, str(path), suffix=".json")


def _papers(folder: Path, ids: list[str], files: list[Path]) -> Iterator[Path]:
    """Letters of the submissions, and reports that hold them, below the batch's folder."""
    for path in files:
        if not path.is_relative_to(folder):
            continue
        if path.parent.name == "letters" and path.stem in ids:
            yield path
        elif path.name in REPORTS and any(_names(path, id_) for id_ in ids):
            yield path
        elif path.name == "send.csv" and any(_names(path, id_) for id_ in ids):
            yield path


def _outputs(
    name: str, contents: set[str], boards: list[LoadedStoryboard], files: list[Path]
) -> Iterator[tuple[Path, str]]:
    """Finished files: by the people and sources of a manifest, and by the storyboard they were made from."""
    stems = {Path(board.file).stem: board for board in boards if name in board.board.people}
    titles = {board.board.segment.title for board in stems.values()}
    for path in files:
        if not path.name.endswith(".json"):
            continue
        data = _json(path)
        if not isinstance(data, dict) or "tool" not in data or "title" not in data:
            continue
        sources = data.get("sources") if isinstance(data.get("sources"), list) else []
        hit = (
            name in (data.get("people") or [])
            or any(isinstance(s, dict) and s.get("sha256") in contents for s in sources)
            or data["title"] in titles
        )
        if hit:
            yield path, f"manifest of {data['title']!r}"
            for file in _made(data):
                yield path.with_name(file), f"finished file of {data['title']!r}"
    for stem, board in stems.items():
        for path in files:
            inside = path.is_relative_to(board.folder) and path.parent != board.folder
            if inside and FOLDER not in path.parts and re.match(rf"{re.escape(stem)}([.\-_]|$)", path.name):
                yield path, f"made from {Path(board.file).name}"


def _made(data: dict[str, object]) -> Iterator[str]:
    """Names of files in a manifest; a name that leaves its folder is not followed."""
    entries = data.get("files")
    names = (
        [data.get("file"), *(e.get("file") for e in entries if isinstance(e, dict))]
        if isinstance(entries, list)
        else [data.get("file")]
    )
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

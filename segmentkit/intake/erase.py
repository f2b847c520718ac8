"""Finds and removes everything that was made of a person's clips, with a list. A dry run comes first.

What is found: the files that the batch names and every copy of their bytes; working copies, headers and clean stills;
pages and letters of the intake; finished files of every storyboard that names the person or a clip of theirs. What a
person wrote by hand is named with its line and left to a person, but for the entries of batch and contacts.
"""

from __future__ import annotations

import contextlib
import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.errors import MediaUnusable, OutputFailed, StoryboardUnreadable
from segmentkit.intake.erase_store import Trace, read_json, says, working_copies
from segmentkit.media import safe
from segmentkit.media.store import FOLDER, Store, sha256_of
from segmentkit.media.takes import all_takes
from segmentkit.plan.speech import speech_requests
from segmentkit.storyboard.load import LoadedStoryboard, load
from segmentkit.storyboard.people import Clip, Person, Still
from segmentkit.storyboard.submission import BATCH, CONTACTS, WITHDRAWN, LoadedBatch, load_batch, without_entry

REPORTS = ("intake.html", "intake.json", "intake.csv", "send.csv")


def traces(name: str, root: Path, stores: Sequence[Path] = ()) -> tuple[Trace, ...]:
    """Everything below a folder that holds something of a person.

    Args:
        name: the person's name among `people`.
        root: the folder of batches, storyboards and outputs.
        stores: working folders elsewhere.

    Raises:
        StoryboardUnreadable: when nobody of that name is found, or a batch cannot be read.
    """
    files = sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink())
    batches = [load_batch(path) for path in files if path.name == BATCH]
    boards = list(_boards(files))
    _known(name, batches, boards, root)
    sources = dict(_sent(name, batches))
    entered = {batch.batch.people[name].shown for batch in batches if name in batch.batch.people}
    theirs = tuple(_theirs(name, boards, _hashes(sources), entered))
    sources |= dict(_shown(theirs))
    voices = dict(_voices(theirs))
    contents = _hashes((*sources, *voices))
    shown = sorted({way for person in _entered(name, batches, theirs) for way in said_as(person.shown)})
    folders = sorted({path for path in root.rglob(FOLDER) if path.is_dir()} | {Store.of(root).root} | set(stores))
    found: dict[Path, Trace] = {}
    for trace in (
        *(Trace(path=path, why=why, how="remove", original=True) for path, why in (*sources.items(), *voices.items())),
        *_copies(files, sources, contents),
        *working_copies(folders, sources, contents, shown),
        *_records(name, batches, files),
        *finished_files(
            None if _has_namesake(name, boards, entered) else name, contents, files, _titles(theirs, boards)
        ),
        *_beside(theirs, files),
        *(Trace(path=Path(one.board.file), why="storyboard", how="person", lines=_lines(one)) for one in theirs),
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

    Copies go first, then the originals by whose bytes they are found, then the entries of texts, and these only if all
    files are gone: stopped at any moment, it finds the rest when it is called again. The list of withdrawals stays: it
    keeps the person from coming back.
    """
    left = [trace for trace in found if trace.how not in {"remove", "entry"}]
    stuck = []
    for trace in sorted((t for t in found if t.how == "remove"), key=lambda trace: trace.original):
        try:
            trace.path.unlink(missing_ok=True)
        except OSError as error:
            stuck.append(replace(trace, why=f"{trace.why}: could not be removed ({error})", how="person"))
    for trace in (t for t in found if t.how == "entry"):
        try:
            if stuck:
                raise OutputFailed("it stays until all files are gone")
            _take_out(trace)
        except (OSError, StoryboardUnreadable, OutputFailed) as error:
            stuck.append(replace(trace, why=f"{trace.why}: could not be removed ({error})", how="person"))
    return (*left, *stuck)


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


@dataclass(frozen=True, slots=True)
class Theirs:
    """A storyboard that shows the person, and the names under which its people have them."""

    board: LoadedStoryboard
    ids: frozenset[str]


def _namesake(shown: str, entered: Collection[str]) -> bool:
    """Whether a storyboard's person is plainly somebody else than the one in the records: another name is shown."""
    first = shown.casefold().split()[:1]
    return bool(entered) and all(first != other.casefold().split()[:1] for other in entered)


def _theirs(
    name: str, boards: list[LoadedStoryboard], contents: set[str], entered: Collection[str]
) -> Iterator[Theirs]:  # fmt: skip
    """Storyboards that know the person by name, or show what was sent under another one."""
    known: dict[Path, str] = {}
    for board in boards:
        known_as = board.board.people.get(name)
        ids = {name} if known_as is not None and not _namesake(known_as.shown, entered) else set()
        shown: tuple[Clip | Still, ...] = (*board.board.clips.values(), *board.board.stills.values())
        for item in shown:
            path = (board.folder / item.file).resolve()
            if item.person is None or item.person in ids or not contents or not path.is_file():
                continue
            known[path] = known.get(path) or sha256_of(path)
            if known[path] in contents:
                ids.add(item.person)
        if ids:
            yield Theirs(board, frozenset(ids))


def _sent(name: str, batches: list[LoadedBatch]) -> Iterator[tuple[Path, str]]:
    for batch in batches:
        for id_, submission in batch.batch.submissions.items():
            if submission.person == name:
                for part, value in submission.parts:
                    yield (batch.folder / value.file).resolve(), f"{part} of submission {id_}"


def _shown(theirs: Sequence[Theirs]) -> Iterator[tuple[Path, str]]:
    for one in theirs:
        board = one.board.board
        for kind, items in (("clip", board.clips), ("still", board.stills)):
            for id_, item in items.items():
                if item.person in one.ids:
                    yield (one.board.folder / item.file).resolve(), f"{kind} {id_} of {Path(one.board.file).name}"


def _hashes(paths: Iterable[Path]) -> set[str]:
    return {sha256_of(path) for path in paths if path.is_file()}


def _voices(theirs: Sequence[Theirs]) -> Iterator[tuple[Path, str]]:
    """Recorded readings in which the person speaks, or is named."""
    for one in theirs:
        board, folder = one.board.board, one.board.folder
        if board.voice.takes is None or not (folder / board.voice.takes).is_dir():
            continue
        speakers = {id_ for id_, speaker in board.speakers.items() if speaker.person in one.ids}
        spoken = [said_name(board.people[id_].shown) for id_ in one.ids if id_ in board.people]
        requests = {(request.beat, request.line): request for request in speech_requests(board)}
        with contextlib.suppress(MediaUnusable):
            for (beat, line), path in all_takes(folder / board.voice.takes, tuple(requests.values())):
                request = requests[beat, line]
                where = f"of beat {beat}, line {line + 1}, of {Path(one.board.file).name}"
                if request.speaker in speakers:
                    yield path.resolve(), f"reading in the person's voice, {where}"
                elif any(name.search(" ".join(request.words)) for name in spoken):
                    yield path.resolve(), f"reading that says the name, {where}"


def said_as(shown: str) -> tuple[str, ...]:
    """How somebody is called: as shown; where all words of that are names, by the first alone as well."""
    words = shown.split()
    if len(words) > 1 and all(word[:1].isupper() for word in words) and len(words[0]) > 2:
        return " ".join(words), words[0]
    return (" ".join(words),)


def said_name(shown: str) -> re.Pattern[str]:
    """Finds a name in a text, in any of the ways in which somebody is called."""
    ways = (r"\s+".join(map(re.escape, way.split())) for way in said_as(shown))
    return re.compile(rf"(?<![\w-])(?:{'|'.join(ways)})(?![\w-])")


def _entered(name: str, batches: list[LoadedBatch], theirs: Sequence[Theirs]) -> Iterator[Person]:
    """The person as entered in each record and storyboard."""
    for batch in batches:
        if name in batch.batch.people:
            yield batch.batch.people[name]
    for one in theirs:
        yield from (one.board.board.people[id_] for id_ in one.ids if id_ in one.board.board.people)


def _copies(files: list[Path], sources: dict[Path, str], contents: set[str]) -> Iterator[Trace]:
    """Files of the same size whose bytes are the same."""
    sizes = {path.stat().st_size for path in sources if path.is_file()}
    for path in files:
        if path.stat().st_size in sizes and path.resolve() not in sources and sha256_of(path) in contents:
            yield Trace(path=path, why="a copy of the same bytes", how="remove")


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
            elif path.name in REPORTS and any(says(path, id_) for id_ in ids):
                yield Trace(path=path, why="report of the batch; run the intake again to have it anew", how="remove")
    for path in files:
        if path.name == CONTACTS and says(path, name):
            yield Trace(path=path, why="contact data", how="entry", entries=(("contacts", name),))


def _titles(theirs: Sequence[Theirs], boards: list[LoadedStoryboard]) -> set[str]:
    """Titles that only storyboards of the person have."""
    files = {one.board.file for one in theirs}
    others = {board.board.segment.title for board in boards if board.file not in files}
    return {one.board.board.segment.title for one in theirs} - others


def _has_namesake(name: str, boards: list[LoadedStoryboard], entered: Collection[str]) -> bool:
    return any(name in b.board.people and _namesake(b.board.people[name].shown, entered) for b in boards)


def has_namesake(name: str, root: Path) -> bool:
    """Whether a storyboard below a folder has somebody else under a person's name.

    Raises:
        StoryboardUnreadable: when a batch cannot be read.
    """
    files = sorted(path for path in root.rglob("*") if path.is_file() and not path.is_symlink())
    batches = [load_batch(path) for path in files if path.name == BATCH]
    entered = {batch.batch.people[name].shown for batch in batches if name in batch.batch.people}
    return _has_namesake(name, list(_boards(files)), entered)


def finished_files(
    name: str | None, contents: set[str], files: Sequence[Path], titles: Collection[str] = ()
) -> Iterator[Trace]:  # fmt: skip
    """Finished files by the people and sources of their manifests; by title where a manifest tells neither.

    Args:
        name: the person's name among `people`; None where somebody else has it too, so that content alone decides.
        contents: SHA-256 of what shows the person.
        files: where to look.
        titles: those of storyboards that show the person and nobody else's.
    """
    for path in files:
        data = read_json(path) if path.suffix == ".json" else None
        if not isinstance(data, dict) or not {"tool", "title"} <= data.keys():
            continue
        sources = data.get("sources")
        hashes = {s.get("sha256") for s in sources if isinstance(s, dict)} if isinstance(sources, list) else set()
        people = data.get("people")
        told = isinstance(people, list) or isinstance(sources, list)
        named = name is not None and isinstance(people, list) and name in people
        if named or hashes & contents or (not told and data["title"] in titles):
            yield Trace(path=path, why=f"manifest of {data['title']!r}", how="remove")
            for file in _made(data):
                yield Trace(path=path.with_name(file), why=f"finished file of {data['title']!r}", how="remove")


def _beside(theirs: Sequence[Theirs], files: list[Path]) -> Iterator[Trace]:
    """What is called after a storyboard of the person and lies by it: papers, versions, previews."""
    for one in theirs:
        source = Path(one.board.file)
        like = re.compile(rf"{re.escape(source.stem)}([.\-_].*)?")
        for path in files:
            if path.is_relative_to(one.board.folder) and path.suffix not in {".yaml", ".yml"}:
                parts = path.relative_to(one.board.folder).parts
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


def _lines(one: Theirs) -> tuple[int, ...]:
    path = Path(one.board.file)
    pattern = re.compile(rf"(?<![\w-])(?:{'|'.join(sorted(map(re.escape, one.ids)))})(?![\w-])")
    return tuple(number for number, line in enumerate(path.read_text("utf-8").splitlines(), 1) if pattern.search(line))

"""Whether a row is about one person: id, name, record, release, clip and takes must all belong together.

The classic mistake of a table is a row that has slipped: the name of one viewer over the pictures of the next. Nothing
in one row shows it, so the rows are held against one another, by content and not by file name.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from pathlib import Path

from segmentkit.checks.uses import pictures_used
from segmentkit.errors import SegmentkitError
from segmentkit.media.takes import find_takes
from segmentkit.plan.speech import speech_requests
from segmentkit.season.entry import Entry, Why
from segmentkit.storyboard.people import Person

SLIPPED = 3
"""From so many rows on that contradict themselves, and a third of all, it is the table that has slipped."""


def contradictions(entries: Sequence[Entry]) -> dict[str, tuple[Why, ...]]:
    """What does not belong together, by item. Entries that were refused for other reasons still count as witnesses."""
    found: dict[str, list[Why]] = defaultdict(list)
    for make in (_names, _ids, _releases, _clips, _takes, _take_folders):
        for id_, why in make(entries):
            found[id_].append(why)
    return {id_: tuple(whys) for id_, whys in found.items()}


def slipped(found: dict[str, tuple[Why, ...]], entries: Sequence[Entry]) -> bool:
    """Whether so many rows contradict themselves that none can be trusted."""
    return len(found) >= SLIPPED and 3 * len(found) >= len(entries)


def _alike(one: str, other: str) -> bool:
    """Whether two writings of a name can mean one person: equal, or the first name alone."""
    a, b = one.casefold().split(), other.casefold().split()
    return a == b or (a[:1] == b[:1] and 1 in {len(a), len(b)})


def _names(entries: Sequence[Entry]) -> Iterator[tuple[str, Why]]:
    """The name in the row, in the fill, in the storyboard and in the record."""
    for entry in entries:
        record = entry.sent.person.shown if entry.sent is not None else None
        board = _viewer(entry)
        written = [("the row", entry.item.name), ("the storyboard", board.shown if board is not None else None)]
        known = [(where, name) for where, name in (("the record", record), *written) if name]
        for where, name in known[1:]:
            if not _alike(known[0][1], name):
                yield (
                    entry.id,
                    Why(
                        id="other-name",
                        what=f"{known[0][0]} names {known[0][1]}, {where} names {name} — one item shows one viewer"
                        " — see whether rows have slipped",
                    ),
                )
                break


def _viewer(entry: Entry) -> Person | None:
    """The viewer in the storyboard: who the record says, else whose name the record's person has, else as written."""
    if entry.loaded is None:
        return None
    people = entry.loaded.board.people
    return people[entry.person] if entry.person is not None else None


def _ids(entries: Sequence[Entry]) -> Iterator[tuple[str, Why]]:
    """An item that is called like the submission of another one."""
    named: dict[str, str] = {}
    for entry in entries:
        if entry.sent is not None:
            for name in {entry.sent.name, entry.sent.folder.name}:
                named.setdefault(name.casefold(), entry.id)
    for entry in entries:
        if entry.sent is None:
            continue
        owner = named.get(entry.id.casefold())
        if owner is not None and owner != entry.id:
            yield (
                entry.id,
                Why(
                    id="other-submission",
                    what=f"takes the submission {entry.sent.name}, while {entry.id} is the submission that item {owner}"
                    " takes — see whether rows have slipped",
                ),
            )


def _releases(entries: Sequence[Entry]) -> Iterator[tuple[str, Why]]:
    """The release in the storyboard may not allow more than the one that was signed."""
    for entry in entries:
        if entry.sent is None or entry.loaded is None or entry.person != entry.sent.person_id:
            continue
        signed, written = entry.sent.person.release, entry.loaded.board.people[entry.sent.person_id].release
        if signed is None or written is None:
            continue
        more = [scope.value for scope in written.for_ if scope not in signed.for_]
        if signed.by and written.by and signed.by.casefold() != written.by.casefold():
            what = f"the release is signed by {signed.by}, in the storyboard by {written.by}"
        elif more:
            what = f"the storyboard's release allows {', '.join(more)}, the one that was signed does not"
        elif signed.until is not None and (written.until is None or written.until > signed.until):
            ends = written.until or "no day"
            what = f"the storyboard's release ends on {ends}, the one that was signed on {signed.until}"
        else:
            continue
        yield entry.id, Why(id="other-release", what=f"{what} — the record counts — put it into the storyboard")


def _clips(entries: Sequence[Entry]) -> Iterator[tuple[str, Why]]:
    """Pictures of one viewer under the name of another, told by their bytes."""
    owners: dict[str, tuple[str, str, str]] = {}  # content -> item, part, name
    for entry in entries:
        if entry.sent is not None:
            for part, path in entry.sent.files():
                content = entry.contents.get(path)
                if content:
                    owners.setdefault(content, (entry.id, part, entry.sent.person.shown))
    shown: dict[str, tuple[str, str]] = {}
    for entry in entries:
        viewer = _viewer(entry)
        if entry.loaded is None or viewer is None:
            continue
        board = entry.loaded.board
        clips, stills = pictures_used(board)
        files = [(f"clip {id_}", board.clips[id_].person, board.clips[id_].file) for id_ in sorted(clips)]
        files += [(f"still {id_}", board.stills[id_].person, board.stills[id_].file) for id_ in sorted(stills)]
        for what, person, file in files:
            content = entry.contents.get(entry.loaded.folder / file)
            name = board.people[person].shown if person in board.people else None
            if content is None or name is None:
                continue
            owner = owners.get(content)
            if owner is not None and not _alike(owner[2], name):
                yield (
                    entry.id,
                    Why(
                        id="other-clip",
                        what=f"{what} under the name of {name} is the {owner[1]} that {owner[2]} sent (item {owner[0]})"
                        " — see whether rows have slipped",
                    ),
                )
                continue
            first = shown.setdefault(content, (entry.id, name))
            if not _alike(first[1], name):
                yield (
                    entry.id,
                    Why(
                        id="other-clip",
                        what=f"{what} under the name of {name} is shown in item {first[0]} under the name of {first[1]}"
                        " — one of the two is wrong",
                    ),
                )


def _takes(entries: Sequence[Entry]) -> Iterator[tuple[str, Why]]:
    """One recording cannot speak two different texts."""
    spoken: dict[str, tuple[str, str]] = {}
    for entry in entries:
        if entry.loaded is None or entry.loaded.board.voice.takes is None:
            continue
        requests = {(one.beat, one.line): " ".join(one.words) for one in speech_requests(entry.loaded.board)}
        folder = entry.loaded.folder / entry.loaded.board.voice.takes
        for (beat, line), path in _found(folder, entry):
            content, text = entry.contents.get(path), " ".join(requests[beat, line].casefold().split())
            if content is None:
                continue
            first = spoken.setdefault(content, (entry.id, text))
            if first[1] != text:
                yield (
                    entry.id,
                    Why(
                        id="other-take",
                        what=f"the take {path.name} of beat {beat} is the one that item {first[0]} uses for other words"
                        " — see whether the folder of takes is the right one",
                    ),
                )


def _found(folder: Path, entry: Entry) -> list[tuple[tuple[str, int], Path]]:
    if entry.loaded is None:
        return []
    try:
        return sorted(find_takes(folder, speech_requests(entry.loaded.board)).items())
    except SegmentkitError:  # its text is told when the item is made
        return []


def _take_folders(entries: Sequence[Entry]) -> Iterator[tuple[str, Why]]:
    """A folder of takes that carries the name of another item, or of another item's submission."""
    names: dict[str, str] = {}
    for entry in entries:
        names[entry.id.casefold()] = entry.id
        if entry.sent is not None:
            names.setdefault(entry.sent.name.casefold(), entry.id)
    for entry in entries:
        if entry.loaded is None or entry.loaded.board.voice.takes is None:
            continue
        own = {entry.id.casefold(), *([entry.sent.name.casefold()] if entry.sent else [])}
        folder = (entry.loaded.folder / entry.loaded.board.voice.takes).resolve()
        parts = [part.casefold() for part in folder.parts[-2:]]
        others = [names[part] for part in parts if part in names and part not in own]
        if others and not any(part in own for part in parts):
            yield (
                entry.id,
                Why(
                    id="other-take-folder",
                    what=f"its takes lie in {entry.loaded.board.voice.takes}, which is called like item {others[0]}"
                    " — see whether the folder of takes is the right one",
                ),
            )

"""Everything of one viewer across a season: found, listed, removed, and confirmed without naming anybody.

What `intake.erase` finds below the season's folder, and beside it all that a season adds: the item's own folder, what
was delivered for it, its lines in the journal, its row in the season's file, pages and tables that name it, reminders.
At the end every file that is left is searched for the person's names. What is found there is left to a person, with
its lines: a program that cuts names out of other people's texts would do harm.
"""

from __future__ import annotations

import contextlib
import datetime
import json
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit import __version__
from segmentkit.errors import OutputFailed, StoryboardUnreadable
from segmentkit.intake.erase import finished_files, has_namesake, remove, traces
from segmentkit.intake.erase_store import Trace
from segmentkit.media import safe
from segmentkit.media.store import FOLDER, Store, sha256_of
from segmentkit.season.everyone import batches
from segmentkit.season.journal import FAILED_QC, JOURNAL
from segmentkit.season.sent import Records, Sent
from segmentkit.season.withdraw_search import Names, mentions, names_of
from segmentkit.storyboard.season import Item, LoadedSeason
from segmentkit.storyboard.season_rows import without_items
from segmentkit.storyboard.submission import BATCH, load_batch

ROWS = "rows"
LINES = "lines"
"""Ways of removing that `intake.erase` does not know: rows of the season's file, lines of the journal."""
_PICTURES = {".png", ".jpg", ".jpeg", ".pdf", ".webp"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SentCopy:
    """Something that has left the house and cannot be removed from here.

    Attributes:
        what: what it is.
        file: its name here.
        sha256: of its bytes, so that whoever has it can find it.
        who: where it may be.
    """

    what: str
    file: str
    sha256: str
    who: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Withdrawal:
    """What there is of a person.

    Attributes:
        who: the person's name among `people`.
        items: ids of the items that are the person's.
        found: all that holds something of the person, and how it goes.
        sent: copies that cannot be recalled.
    """

    who: str
    items: tuple[str, ...]
    found: tuple[Trace, ...]
    sent: tuple[SentCopy, ...]


def look_for(
    who: str, season: LoadedSeason, out: Path, today: datetime.date, stores: Sequence[Path] = ()
) -> Withdrawal:
    """Finds everything of a person; nothing is touched.

    Args:
        who: the person's name among `people`.
        season: the season.
        out: the folder of finished files.
        today: the day, to tell what has been aired.
        stores: working folders elsewhere.

    Raises:
        StoryboardUnreadable: when nobody of that name is found, or two people share it.
    """
    _one_person(who, season.folder)
    items = {item.id: item for item in season.season.items if _is_of(who, item, season)}
    root = season.folder
    found: dict[Path, Trace] = {}
    places = [*stores, Store.of(root).root]
    if season.season.store is not None:
        places.append(root / season.season.store)
    base = list(traces(who, root, places))
    if out.is_dir() and not out.resolve().is_relative_to(root.resolve()):
        base += _elsewhere(None if has_namesake(who, root) else who, out, base)
    for trace in (*_items(season, items), *_delivered(out, items), *_rows(season, items), *base):
        if trace.path.exists():
            found.setdefault(trace.path.resolve(), trace)
    names = names_of(who, root)
    keep_out = [place.resolve() for place in places]
    for path in _files(root, out):
        inside = FOLDER in path.parts or any(path.resolve().is_relative_to(place) for place in keep_out)
        if inside or path.resolve() in found:
            continue
        if (named := _named(path, names, out, items)) is not None:
            found[path.resolve()] = named
    every = tuple(found.values())
    return Withdrawal(who=who, items=tuple(items), found=every, sent=tuple(_sent(every, items, out, today)))


def carry_out(found: Sequence[Trace], season: LoadedSeason, out: Path) -> tuple[Trace, ...]:
    """Removes what can be removed; returns what could not, and what is left to a person.

    Files first; then lines of the journal, rows of the season and entries of records, and these only when all files
    are gone. Killed at any moment, it finds the rest when it is called again. Folders that are empty now go as well.
    """
    files = tuple(trace for trace in found if trace.how == "remove")
    left = [trace for trace in found if trace.how == "person"]
    stuck = list(remove(files))
    for trace in found:
        if trace.how not in {ROWS, LINES, "entry"}:
            continue
        try:
            if stuck:
                raise OutputFailed("it stays until all files are gone")
            ids = {entry[0] for entry in trace.entries}
            if trace.how == LINES:
                _without_lines(trace.path, ids)
            elif trace.how == ROWS:
                _write(trace.path, without_items(season, ids))
            else:
                stuck += remove((trace,))
                _without_empty(trace.path)
        except (OSError, StoryboardUnreadable, OutputFailed) as error:
            stuck.append(replace(trace, why=f"{trace.why}: could not be removed ({error})", how="person"))
    _fold_up([trace.path.parent for trace in found], {season.folder.resolve(), out.resolve()})
    return (*left, *stuck)


def _without_empty(path: Path) -> None:
    """Removes a record in which nobody is left; its folder may be named after who was in it."""
    if path.name == BATCH:
        batch = load_batch(path).batch
        if not batch.people and not batch.submissions:
            path.unlink()


def _without_lines(path: Path, ids: set[str]) -> None:
    """A journal without the lines of some items; a torn line goes too, since nobody can say whose it was."""
    kept = []
    for line in path.read_text("utf-8", errors="replace").splitlines():
        with contextlib.suppress(ValueError, KeyError, TypeError):
            if json.loads(line)["item"] not in ids:
                kept.append(line + "\n")
    _write(path, "".join(kept))


def _write(path: Path, text: str) -> None:
    with safe.writing(path) as partial:
        partial.write_text(text, "utf-8", newline="")


def _fold_up(folders: Sequence[Path], tops: set[Path]) -> None:
    """Removes folders that hold nothing any more, from the inside out; their names may be a person's."""
    for folder in sorted({path.resolve() for path in folders}, key=lambda path: -len(path.parts)):
        place = folder
        while place not in tops and any(place.is_relative_to(top) for top in tops):
            try:
                place.rmdir()
            except OSError:
                break
            place = place.parent


def receipt(withdrawal: Withdrawal, left: Sequence[Trace], day: datetime.date, number: str) -> str:
    """Confirms a removal without saying whose it was: counts by kind, what is left, what cannot be recalled.

    Args:
        withdrawal: what there was.
        left: what could not be removed, or is left to a person.
        day: the day.
        number: a number by which the viewer's request can be filed.
    """
    gone = Counter(kind_of(trace) for trace in withdrawal.found if trace.how != "person")
    failed = Counter(kind_of(trace) for trace in left if trace.how == "person" and "could not be removed" in trace.why)
    gone -= failed
    out = Counter(copy.what for copy in withdrawal.sent)
    lines = [
        "Receipt of a withdrawal", "",
        f"Number: {number}", f"Day: {day.isoformat()}", f"Made by: segmentkit {__version__}", "",
        "Removed:",
        *(f"  {count} x {kind}" for kind, count in sorted(gone.items())),
        *(["  nothing"] if not gone else []),
        "", "Not removed:",
        *(f"  {count} x {kind}: the disk refused" for kind, count in sorted(failed.items())),
        f"  {sum(trace.how == 'person' for trace in withdrawal.found)} texts that somebody has to look through by hand",
        "", "Sent out before, so that they cannot be removed from here:",
        *(f"  {count} x {what}" for what, count in sorted(out.items())),
        *(["  nothing that is known of"] if not out else []),
        "", "Nothing in this receipt says whose data it was.", "",
    ]  # fmt: skip
    return "\n".join(lines)


_KINDS = (
    ("down-the-line of", "clip as it was sent"), ("face-on of", "clip as it was sent"),
    ("grip of", "clip or still as it was sent"), ("portrait of", "clip or still as it was sent"),
    ("clip ", "clip in a storyboard"), ("still ", "still in a storyboard"), ("reading", "recorded reading"),
    ("a copy", "copy of a clip"), ("working copy", "working copy"), ("header", "working copy"),
    ("clean still", "working copy"), ("index entry", "working copy"), ("encoded piece", "encoded piece"),
    ("note of what", "record of the working folder"), ("record of", "record of the working folder"),
    ("what was measured", "measurement"), ("made from pictures", "measurement"), ("guide voice", "guide voice"),
    ("manifest", "manifest"), ("finished file", "finished file"), ("delivered", "delivered file"),
    ("in the folder", "file of an item"), ("storyboard", "storyboard"), ("values", "values of a template"),
    ("letter", "letter"), ("report", "report"), ("page of all", "page or table of a batch"),
    ("lines of", "entry of a list"), ("rows of", "entry of a list"), ("entries of", "entry of a list"),
    ("contact", "entry of a list"), ("made from", "paper or preview"), ("names", "text"),
)  # fmt: skip


def kind_of(trace: Trace) -> str:
    """What a trace is, in words that fit everybody."""
    return next((kind for start, kind in _KINDS if trace.why.startswith(start)), "other file")


def _one_person(who: str, folder: Path) -> None:
    """Two records may use one name for two people; then it is not known who is meant."""
    shown: dict[str, str] = {}
    for record in batches(folder):
        person = record.batch.people.get(who)
        if person is not None:
            shown.setdefault(" ".join(person.shown.casefold().split()), record.file)
    if len(shown) > 1:
        raise StoryboardUnreadable(
            f"{folder} — {len(shown)} people are called `{who}`: in {' and in '.join(shown.values())} — it must be"
            " plain whose things are removed — give them different names under people, or erase in one folder with"
            " `segmentkit erase`"
        )


def _is_of(who: str, item: Item, season: LoadedSeason) -> bool:
    try:
        sent: Sent | None = Records().sent(item, season.folder)
    except StoryboardUnreadable:
        return False  # its record is gone already, or has faults that are told elsewhere
    return sent is not None and sent.person_id == who


def _items(season: LoadedSeason, items: dict[str, Item]) -> Iterator[Trace]:
    """The folder of each item, which holds nothing of others, and files that only its row names."""
    for id_, item in items.items():
        folder = season.folder / id_
        if folder.is_dir() and not folder.is_symlink() and _alone(folder, season, items):
            for path in _below(folder):
                yield Trace(path=path, why=f"in the folder of item {id_}", how="remove")
        if item.storyboard is not None and not _shared(season, items, item.storyboard):
            yield Trace(path=season.folder / item.storyboard, why="storyboard of the viewer's item", how="remove")
        if isinstance(item.fill, str) and not _shared(season, items, item.fill):
            yield Trace(path=season.folder / item.fill, why="values of the viewer's item", how="remove")
        yield Trace(path=season.folder / "letters" / f"{id_}.follow-up.txt", why="letter", how="remove")


def _alone(folder: Path, season: LoadedSeason, items: dict[str, Item]) -> bool:
    """Whether no other item and no record of others has anything in a folder."""
    for item in season.season.items:
        if item.id in items:
            continue
        named = [item.submission, item.storyboard, item.fill if isinstance(item.fill, str) else None]
        for one in (name for name in named if name):
            if (season.folder / one.split("#")[0]).resolve().is_relative_to(folder.resolve()):
                return False
    return not any(folder.rglob("submissions.yaml"))


def _shared(season: LoadedSeason, items: dict[str, Item], path: str) -> bool:
    return any(path in {item.storyboard, item.fill} for item in season.season.items if item.id not in items)


def _delivered(out: Path, items: dict[str, Item]) -> Iterator[Trace]:
    for id_ in items:
        if (out / id_).is_dir() and not (out / id_).is_symlink():
            for path in _below(out / id_):
                yield Trace(path=path, why=f"delivered for item {id_}", how="remove")
    if items and (out / JOURNAL).is_file():
        yield Trace(path=out / JOURNAL, why="lines of the journal", how=LINES, entries=tuple((id_,) for id_ in items))


def _rows(season: LoadedSeason, items: dict[str, Item]) -> Iterator[Trace]:
    if items:
        entries = tuple((id_,) for id_ in items)
        yield Trace(path=Path(season.file), why="rows of the season", how=ROWS, entries=entries)


def _elsewhere(who: str | None, out: Path, known: Sequence[Trace]) -> list[Trace]:
    """Finished files outside the season's folder whose manifest names the person or holds bytes of theirs."""
    contents = {sha256_of(trace.path) for trace in known if trace.original and trace.path.is_file()}
    return list(finished_files(who, contents, _below(out)))


def _files(root: Path, out: Path) -> Iterator[Path]:
    seen = set()
    for folder in (root, out):
        for path in _below(folder):
            if path.resolve() not in seen:
                seen.add(path.resolve())
                yield path


def _below(folder: Path) -> list[Path]:
    return sorted(path for path in folder.rglob("*") if path.is_file() and not path.is_symlink())


def _named(path: Path, names: Names, out: Path, items: dict[str, Item]) -> Trace | None:
    """A file that nothing else has found, if the person is named in it."""
    lines = mentions(path, names)
    made_here = path.is_relative_to(out) and path.parent == out
    if made_here and items and (lines or path.suffix.lower() in _PICTURES):
        return Trace(path=path, why="page of all items; the next batch makes it anew", how="remove")
    if lines is None:
        return None
    return Trace(path=path, why="names the person", how="person", lines=lines)


def _sent(
    found: Sequence[Trace], items: dict[str, Item], out: Path, today: datetime.date
) -> Iterator[SentCopy]:  # fmt: skip
    aired = {id_: item.air for id_, item in items.items() if item.air is not None and item.air <= today}
    for trace in found:
        if trace.how != "remove" or not trace.path.is_file():
            continue
        path = trace.path
        item = path.relative_to(out).parts[0] if path.is_relative_to(out) else ""
        if path.suffix.lower() in {".mp4", ".mov", ".mxf", ".mkv"} and item in items:
            if f".{FAILED_QC}." in path.name:
                continue  # it was kept aside and handed to nobody
            when = f"aired on {aired[item]}: the channel, its archive and whoever recorded it" if item in aired else ""
            yield SentCopy(
                what="finished file", file=path.name, sha256=sha256_of(path),
                who=when or "whoever it was handed to; it has not been aired by the season's dates",
            )  # fmt: skip
        elif path.parent.name == "letters":
            yield SentCopy(what="letter", file=path.name, sha256=sha256_of(path), who="the viewer, by mail")
        elif "takehome" in path.name.replace("-", ""):
            yield SentCopy(what="take-home sheet", file=path.name, sha256=sha256_of(path), who="the viewer")

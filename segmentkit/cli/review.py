"""`segmentkit review`: versions, what changed, notes, and the lock."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import counted, progress, show_findings, show_json
from segmentkit.cli.options import STORYBOARD, json_output
from segmentkit.cli.review_copy import copy
from segmentkit.deliver.review_notes import KINDS
from segmentkit.errors import NotFit
from segmentkit.timebase import parse_rate

if TYPE_CHECKING:
    from segmentkit.deliver.frozen import FrozenPicture
    from segmentkit.deliver.review_versions import Data, Version
    from segmentkit.media.stills import Rgb
    from segmentkit.pipeline import Checked

BY = click.option("--by", required=True, help="Who it is: a name or initials.")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Now:
    """The segment as it is: judged, and as a version would keep it."""

    checked: Checked
    frozen: tuple[FrozenPicture, ...]
    pictures: dict[int, Rgb]
    data: Data


def _now(storyboard: Path, *, quiet: bool = False) -> _Now:
    from segmentkit.deliver import lock as locks  # noqa: PLC0415
    from segmentkit.deliver.frozen import frozen_pictures  # noqa: PLC0415
    from segmentkit.deliver.review_versions import snapshot  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415
    from segmentkit.render.stills import stills  # noqa: PLC0415

    with progress(quiet=quiet) as report:
        checked = check(storyboard, progress=report)
        frozen = frozen_pictures(checked.plan)
        report("pictures", 0, 1)
        pictures = stills(checked.plan, checked.facts, checked.look, [one.frame for one in frozen])
    hashes = locks.inputs(checked.loaded, checked.facts)
    return _Now(
        checked=checked, frozen=frozen, pictures=pictures, data=snapshot(checked.plan, hashes, frozen, pictures)
    )


@click.group("review")
def command() -> None:
    """Mark versions, see what changed since, keep notes by timecode, lock what was signed; make copies to look at."""


@command.command("mark")
@STORYBOARD
@BY
@click.option("--why", default="", help="What this version is, such as fine cut.")
def _mark(storyboard: Path, by: str, why: str) -> int:
    """Keep STORYBOARD as its next version: plan, words, strokes and every frozen picture."""
    version, fresh = _marked(storyboard, _now(storyboard), by, why)
    click.echo(f"version {version.number}{'' if fresh else ': nothing changed since it was marked'}")
    return 0


def _marked(storyboard: Path, now: _Now, by: str, why: str) -> tuple[Version, bool]:
    from segmentkit.deliver.review_versions import mark, versions  # noqa: PLC0415

    before = versions(storyboard)
    today = datetime.date.today().isoformat()
    version = mark(storyboard, now.checked.plan, now.data, now.frozen, now.pictures, by=by, why=why, on=today)
    return version, not before or version.number != before[-1].number


@command.command("changes")
@STORYBOARD
@click.argument("other", required=False, type=click.Path(path_type=Path, dir_okay=False))
@click.option("--from", "old", type=int, help="A version's number; else the last one.")
@click.option("--to", "new", type=int, help="Another version's number; else the segment as it is now.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The page; else out/<name>-changes.html."
)
@click.option(
    "--pairs", "sheet", type=click.Path(path_type=Path, dir_okay=False),
    help="Also write the pictures before and after, two pairs a page: .pdf or .png.",
)  # fmt: skip
@json_output
def _changes(
    storyboard: Path, other: Path | None, old: int | None, new: int | None, out: Path | None, sheet: Path | None,
    as_json: bool,
) -> int:  # fmt: skip
    """Show what changed in STORYBOARD since a version, or from it to the storyboard OTHER.

    A page is written with all changes and with pictures before and after.
    """
    from segmentkit.deliver.review_changes import changes, pairs  # noqa: PLC0415
    from segmentkit.deliver.review_page import changes_page, changes_text  # noqa: PLC0415
    from segmentkit.deliver.review_pairs import write_pairs  # noqa: PLC0415
    from segmentkit.media import safe  # noqa: PLC0415

    if other is not None and (old is not None or new is not None):
        raise click.UsageError("two storyboards are compared as they are now — leave --from and --to out")
    if other is not None:
        first, second = _shown_now(storyboard, quiet=as_json), _shown_now(other, quiet=as_json)
        stem = f"{storyboard.stem}-to-{other.stem}"
    else:
        first, second = _shown_versions(storyboard, old, new, quiet=as_json)
        stem = storyboard.stem
    found, looks = changes(first.data, second.data), pairs(first.data, second.data)
    names, title = (first.name, second.name), str(second.data["title"])
    target = out or storyboard.parent / "out" / f"{stem}-changes.html"
    with safe.writing(target) as partial:
        partial.write_text(changes_page(title, names, found, looks, first.pictures, second.pictures), "utf-8")
    written = [target]
    if sheet is not None:
        written += write_pairs(sheet, title, names, looks, found, first.pictures, second.pictures)
    if as_json:
        told = [{"kind": one.kind, "where": one.where, "what": one.what} for one in found]
        show_json({"from": names[0], "to": names[1], "changes": told, "pictures": [one.name for one in looks]})
    else:
        click.echo(changes_text(names, found, looks), nl=False)
        for path in written:
            click.echo(str(path))
    return 0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """One side of a comparison: its name, all its data, its frozen pictures by shot."""

    name: str
    data: Data
    pictures: dict[str, Rgb]


def _shown_now(storyboard: Path, name: str | None = None, *, quiet: bool) -> _Shown:
    from segmentkit.deliver.review_versions import smaller  # noqa: PLC0415

    now = _now(storyboard, quiet=quiet)
    shown = {one.shot.id: smaller(now.pictures[one.frame]) for one in now.frozen}
    return _Shown(name=name or storyboard.name, data=now.data, pictures=shown)


def _shown_versions(storyboard: Path, old: int | None, new: int | None, *, quiet: bool) -> tuple[_Shown, _Shown]:
    from segmentkit.deliver.review_versions import versions  # noqa: PLC0415

    known = {version.number: version for version in versions(storyboard)}
    if not known:
        raise click.UsageError(
            "there is no version yet — mark one with `segmentkit review mark`, or name a second storyboard"
        )

    def kept(number: int) -> _Shown:
        data = _version(known, number).data
        pictures = {one["shot"]: _kept(storyboard, number, one["shot"]) for one in data["freezes"]}
        return _Shown(name=f"version {number}", data=data, pictures=pictures)

    first = kept(old or max(known))
    return first, kept(new) if new is not None else _shown_now(storyboard, "now", quiet=quiet)


def _version(known: dict[int, Version], number: int) -> Version:
    if number not in known:
        listed = ", ".join(str(one) for one in known)
        raise click.UsageError(f"there is no version {number} — there are {listed}")
    return known[number]


def _kept(storyboard: Path, number: int, shot: str) -> Rgb:
    from segmentkit.deliver.review_versions import picture_file  # noqa: PLC0415
    from segmentkit.media.stills import load_still, planes_to_rgb  # noqa: PLC0415

    return planes_to_rgb(load_still(picture_file(storyboard, number, shot))[1])


@command.command("notes")
@STORYBOARD
@click.option("--open", "only_open", is_flag=True, help="Leave closed notes out.")
@json_output
def _notes(storyboard: Path, only_open: bool, as_json: bool) -> int:
    """List the notes on STORYBOARD, each where its word is spoken now."""
    from segmentkit.deliver.review_notes import FILE, find, note_list, read_notes  # noqa: PLC0415
    from segmentkit.deliver.review_versions import snapshot, versions  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415

    with progress(quiet=True) as report:
        checked = check(storyboard, progress=report)
    notes = read_notes(_text(storyboard), FILE)
    kept = {version.number: version.data for version in versions(storyboard)}
    data = snapshot(checked.plan, {}, (), {})
    found = find([note for note in notes if not (only_open and note.closed)], kept, data)
    if as_json:
        show_json([
            {"number": one.note.number, "closed": one.note.closed, "by": one.note.by, "kind": one.note.kind,
             "text": one.note.text, "version": one.note.version, "time": one.note.time, "beat": one.beat,
             "frame_now": one.frame}
            for one in found
        ])  # fmt: skip
    else:
        click.echo(note_list(found, checked.plan.rate), nl=False)
    return 0


def _text(storyboard: Path) -> str:
    from segmentkit.deliver import lock as locks  # noqa: PLC0415
    from segmentkit.deliver.review_notes import FILE  # noqa: PLC0415

    file = locks.review_folder(storyboard) / FILE
    return file.read_text("utf-8") if file.exists() else ""


@command.command("add")
@STORYBOARD
@click.argument("time")
@click.argument("text")
@BY
@click.option("--kind", type=click.Choice(KINDS), default="factual", show_default=True, help="What sort of note it is.")
@click.option("--version", "number", type=int, help="The version that was looked at; else the last one.")
def _add(storyboard: Path, time: str, text: str, by: str, kind: str, number: int | None) -> int:
    """Add a note on STORYBOARD at TIME, a timecode such as 00:01:05:12, saying TEXT."""
    from segmentkit.deliver import lock as locks  # noqa: PLC0415
    from segmentkit.deliver.review_notes import FILE, Note, frame_of, read_notes, save, with_note  # noqa: PLC0415
    from segmentkit.deliver.review_versions import versions  # noqa: PLC0415

    known = {version.number: version for version in versions(storyboard)}
    if not known:
        raise click.UsageError("there is no version to note anything on — mark one with `segmentkit review mark`")
    version = _version(known, number or max(known))
    fields = {"by": " ".join(by.split()), "text": " ".join(text.split())}
    note = Note(number=0, line=0, version=version.number, time=time, kind=kind, closed=False, **fields)
    frame_of(time, parse_rate(version.data["rate"]))
    updated = with_note(_text(storyboard), note)
    count = len(read_notes(updated))
    save(locks.review_folder(storyboard) / FILE, updated)
    click.echo(f"note {count} on version {version.number}")
    return 0


@command.command("close")
@STORYBOARD
@click.argument("number", type=int)
@click.option("--reopen", is_flag=True, help="Open it again.")
def _close(storyboard: Path, number: int, reopen: bool) -> int:
    """Close note NUMBER on STORYBOARD."""
    from segmentkit.deliver import lock as locks  # noqa: PLC0415
    from segmentkit.deliver.review_notes import FILE, save, with_closed  # noqa: PLC0415

    save(locks.review_folder(storyboard) / FILE, with_closed(_text(storyboard), number, closed=not reopen))
    click.echo(f"note {number} {'open' if reopen else 'closed'}")
    return 0


@command.command("lock")
@STORYBOARD
@BY
def _lock(storyboard: Path, by: str) -> int:
    """Mark STORYBOARD as a version and lock it: any later change is an error until it is locked again or unlocked."""
    from segmentkit.checks.lock import lock_broken  # noqa: PLC0415
    from segmentkit.deliver import lock as locks  # noqa: PLC0415
    from segmentkit.deliver.review_notes import read_notes  # noqa: PLC0415
    from segmentkit.pipeline import forbids  # noqa: PLC0415

    now = _now(storyboard)
    # A broken lock is what locking again is for; every other error stands in the way.
    findings = tuple(one for one in now.checked.findings if one.id != lock_broken.id)
    if forbids(findings):
        show_findings(findings)
        raise NotFit(f"nothing was locked: {counted(findings)}", findings)
    version, _ = _marked(storyboard, now, by, "locked")
    today = datetime.date.today().isoformat()
    target = locks.lock(storyboard, now.checked.loaded, now.checked.facts, version=version.number, by=by, on=today)
    waiting = sum(not note.closed for note in read_notes(_text(storyboard)))
    click.echo(f"version {version.number} locked by {by}: {target}")
    if waiting:
        click.echo(f"{waiting} note(s) are still open", err=True)
    return 0


@command.command("unlock")
@STORYBOARD
def _unlock(storyboard: Path) -> int:
    """Take the lock off STORYBOARD."""
    from segmentkit.deliver import lock as locks  # noqa: PLC0415

    click.echo("unlocked" if locks.unlock(storyboard) else "there was no lock")
    return 0


command.add_command(copy)

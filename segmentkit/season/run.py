"""OPEN FIRST of this room: a season from rows to delivered files: ready, held together, looked at, made, noted.

What was finished before and has not changed is left alone; what cannot be made is explained and stops nobody else. All
that is known lies in the journal and in the files themselves, so it may be stopped at any moment and started again.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from segmentkit.findings import Finding
from segmentkit.media.store import FOLDER_VARIABLE, Store
from segmentkit.season.carry import Carrier
from segmentkit.season.clashes import by_air, clashes
from segmentkit.season.crew import Crew
from segmentkit.season.doing import Run, as_before, fate
from segmentkit.season.entry import CannotStart, Entry
from segmentkit.season.estimate import estimate, refuse_if_short
from segmentkit.season.identity import contradictions, slipped
from segmentkit.season.journal import Journal, Line
from segmentkit.season.outcome import Options, Outcome, Progress, SeasonReport, Seen, nobody
from segmentkit.season.ready import make_ready
from segmentkit.storyboard.season import LoadedSeason


def run_season(
    season: LoadedSeason,
    out: Path,
    options: Options,
    hire: Callable[[], tuple[Crew, Carrier]],
    *,
    progress: Progress = nobody,
    seen: Seen = lambda _: None,
) -> SeasonReport:
    """Makes a season.

    Args:
        season: what to make.
        out: folder of finished files and of the journal.
        options: what is asked of this run.
        hire: gets workers; called only when there is something to do.
        progress: told what is going on.
        seen: told of each item's fate.

    Raises:
        CannotStart: when so many rows contradict themselves that the table must have slipped, or the disk has no room.
        OutputFailed: when the disk refuses on the way; what was finished stays.
        KeyboardInterrupt: as raised by `progress`; nothing is left half.
    """
    began = time.monotonic()
    store = store_of(season)
    entries = _ready_entries(season, options, store, progress)
    chosen = _chosen(entries, options)
    if options.dry:
        return _dry(season, out, options, chosen, clashes(entries), Journal(out).lines(), began)
    with Journal(out) as journal:
        run = Run(season, out, options, store, journal, progress, seen)
        todo = run.sort_out(chosen)
        needed = estimate(todo, run.lines, store)
        refuse_if_short(needed, out, store.root)
        if todo:
            crew, carrier = hire()
            finished = False
            try:
                run.make_all(run.look_all(todo, crew, carrier), crew, carrier)
                finished = True
            finally:
                crew.close(now=not finished)
                run.clear()
    outcomes = tuple(run.outcomes[entry.id] for entry in chosen if entry.id in run.outcomes)
    return SeasonReport(
        title=season.season.season, out=out, outcomes=outcomes, clashes=clashes(entries), needed=needed,
        took=time.monotonic() - began,
    )  # fmt: skip


def store_of(season: LoadedSeason) -> Store:
    """The working folder: the one that is named for all projects, else the season's own."""
    named = season.season.store
    if named is None or os.environ.get(FOLDER_VARIABLE, "").strip():
        return Store.of(season.folder)
    return Store(season.folder / Path(named).expanduser())


def _ready_entries(season: LoadedSeason, options: Options, store: Store, progress: Progress) -> tuple[Entry, ...]:
    """All items, those that contradict themselves refused. All: each row is a witness for the others."""
    entries = make_ready(
        season, by_air(season.season.items), store=store, today=options.today, rules=options.rules,
        final=options.final, write=not options.dry, told=lambda done, of: progress("rows", done, of),
    )  # fmt: skip
    found = contradictions(entries)
    if slipped(found, entries):
        lines = [f"{season.fault(id_, whys[0].what).headline} [{whys[0].id}]" for id_, whys in found.items()]
        raise CannotStart("\n".join([
            f"{season.file} — {len(found)} of {len(entries)} rows contradict themselves: the table has slipped"
            " — nothing was made — put the rows right", *lines,
        ]))  # fmt: skip
    return tuple(
        replace(entry, refused=found[entry.id][0]) if entry.id in found and entry.refused is None else entry
        for entry in entries
    )


def _chosen(entries: Sequence[Entry], options: Options) -> list[Entry]:
    def wanted(entry: Entry) -> bool:
        air = entry.item.air
        in_time = options.until is None or (air is not None and air <= options.until)
        return in_time and (not options.only or entry.id in options.only)

    return [entry for entry in entries if wanted(entry)]


def _dry(
    season: LoadedSeason, out: Path, options: Options, chosen: list[Entry], clashing: tuple[Finding, ...],
    lines: dict[str, Line], began: float,
) -> SeasonReport:  # fmt: skip
    outcomes, todo = [], []
    for entry in chosen:
        line = lines.get(entry.id)
        if entry.refused is not None:
            why = replace(entry.refused, what=entry.refused.what.replace(f"{season.folder}{os.sep}", ""))
            outcomes.append(Outcome(entry=entry, state="explained", why=why))
        elif line is not None and as_before(line, entry, out, papers=options.papers):
            outcomes.append(fate(line, entry))
        else:
            outcomes.append(Outcome(entry=entry, state="ready"))
            todo.append(entry)
    return SeasonReport(
        title=season.season.season, out=out, outcomes=tuple(outcomes), clashes=clashing,
        needed=estimate(todo, lines, store_of(season)), took=time.monotonic() - began,
    )  # fmt: skip

"""One run of a season: what is to be done is told from what is done, looked at, made, and noted as soon as it is."""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor, Future
from contextlib import closing
from dataclasses import replace
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from segmentkit.media import safe
from segmentkit.media.store import Store
from segmentkit.season.carry import Carrier
from segmentkit.season.crew import Crew
from segmentkit.season.entry import Entry, Why
from segmentkit.season.estimate import length_of
from segmentkit.season.journal import FAILED_QC, PAPERS, Journal, Line, stands
from segmentkit.season.looks import entry_of, keep, kept, light, limited, repeats
from segmentkit.season.loop import Finished, Job, work_through
from segmentkit.season.outcome import Options, Outcome, Progress, Seen
from segmentkit.season.profiles import file_name, profile
from segmentkit.season.work import Looked, LookTask, MakeTask
from segmentkit.storyboard.limits_file import intake_limits
from segmentkit.storyboard.season import LoadedSeason


def _received(entry: Entry) -> datetime.date:
    """The day on which a submission came: as the row says, else the record."""
    there = entry.sent.submission.received if entry.sent is not None else None
    return entry.item.received or there or datetime.date.max


def as_before(line: Line, entry: Entry, out: Path, *, papers: bool) -> bool:
    """Whether an item was made from the same inputs, and its files are there, those that failed quality control too.

    Args:
        line: what the journal says of it.
        entry: the item as it is now.
        out: the folder of finished files.
        papers: whether its papers must be there as well.
    """
    lacks = papers and not any(made.file.startswith(f"{PAPERS}/") for made in line.files)
    if lacks and any(made.seconds for made in line.files):
        return False
    return line.state in {"done", FAILED_QC} and line.key == entry.key and stands(line, out / entry.id)


def fate(line: Line, entry: Entry) -> Outcome:
    """What an item that was made before counts as: a file that failed quality control is never taken for a delivery."""
    return Outcome(entry=entry, state="kept" if line.state == "done" else line.state, line=line, before=True)


class Run:
    """One run: what is known of each item, and the journal that it is noted in."""

    def __init__(
        self, season: LoadedSeason, out: Path, options: Options, store: Store, journal: Journal, progress: Progress,
        seen: Seen,
    ) -> None:  # fmt: skip
        self.season, self.out, self.options, self.store, self.journal = season, out, options, store, journal
        self.progress, self.seen = progress, seen
        self.lines = journal.lines()
        self.outcomes: dict[str, Outcome] = {}
        self.limits = options.limits or intake_limits()
        self.known: list[Entry] = []

    def sort_out(self, chosen: Sequence[Entry]) -> list[Entry]:
        """What there is to do. What may not be shown any more is taken away first, before anything is made."""
        todo = []
        for entry in chosen:
            line = self._taken_away(entry, self.lines.get(entry.id))
            if entry.refused is not None:
                self._explain(entry, entry.refused)
            elif line is not None and as_before(line, entry, self.out, papers=self.options.papers):
                self._settle(fate(line, entry))
                self.known.append(entry)
            elif line is not None and line.state == "explained" and line.key == entry.key and not _another_try(line):
                self._settle(Outcome(entry=entry, state="explained", line=line, why=Why(id=line.why, what=line.what)))
            else:
                todo.append(entry)
        return todo

    def _taken_away(self, entry: Entry, line: Line | None) -> Line | None:
        """Removes what consent does not cover any more: all of it, or the files of the profiles that are held.

        By their names as well as by the journal: killed between the two, a run leaves files that it did not note.
        """
        gone = {name for name, why in entry.held if why.consent}
        everything = entry.refused is not None and entry.refused.consent
        stems = [f"{entry.id}-"] if everything else [
            file_name(entry.id, name, profile(name, entry.loaded)).rpartition(".")[0] + "."
            for name in gone if entry.loaded is not None
        ]  # fmt: skip
        folder = self.out / entry.id
        for place in (folder, folder / PAPERS):
            for path in sorted(place.iterdir()) if stems and place.is_dir() else ():
                if path.is_file() and path.name.startswith(tuple(stems)):
                    safe.discard(path)
        barred = [made for made in line.every if everything or made.profile in gone] if line is not None else []
        if line is None or not barred:
            return line
        for made in barred:
            safe.discard(folder / made.file)
        left = tuple(made for made in line.files if made not in barred)
        failed = tuple(one for one in line.failed if one.made not in barred)
        state = FAILED_QC if failed else "done" if left else "removed"
        line = replace(line, state=state, files=left, failed=failed, key="")
        self.journal.write(line)
        self.lines[entry.id] = line
        return line

    def look_all(self, todo: Sequence[Entry], crew: Crew, carrier: Carrier) -> list[tuple[Entry, bytes]]:
        """Items that may be made, with a face for each; submissions that cannot be used are explained."""
        looks: dict[str, Looked] = {}
        jobs = []
        sent = [entry for entry in (*self.known, *todo) if entry.sent is not None]
        by_id, by_all = {entry.id: entry for entry in todo}, {entry.id: entry for entry in sent}
        for entry in sent:
            path = entry_of(self.store, entry, self.limits)
            if (looked := kept(path, entry.id, whole=False)) is not None:
                looks[entry.id] = looked
            elif entry.id in by_id:
                jobs.append(Job(entry.id, partial(self._send_look, carrier, entry), self.options.patience))
        self.progress("looking", 0, len(jobs))
        refused: dict[str, tuple[Why, int]] = {}
        for done, finished in enumerate(self._work(jobs, crew, "looking"), 1):
            entry = by_id[finished.id]
            if isinstance(finished.result, Looked):
                looks[entry.id] = light(finished.result)
                parts = set() if entry.sent is None else {path for _, path in entry.sent.files()}
                of = [content for path, content in entry.contents.items() if path in parts]
                keep(self.store, entry_of(self.store, entry, self.limits), finished.result, of)
            if finished.why is not None:
                refused[entry.id] = finished.why, finished.tries
            self.progress("looking", done, len(jobs))
        came = sorted(
            ((entry, looks[entry.id]) for entry in sent if entry.id in looks and entry.id not in refused),
            key=lambda pair: (_received(pair[0]), pair[0].item.air or datetime.date.max),
        )

        @lru_cache(maxsize=128)  # a season's fingerprints do not fit into memory, a neighbourhood's do
        def prints_of(id_: str) -> Looked | None:
            return kept(entry_of(self.store, by_all[id_], self.limits), id_)

        again = repeats([pair for pair in came if pair[1].why is None], prints_of)
        made = []
        for entry in todo:
            looked = looks.get(entry.id)
            why, tries = refused.get(entry.id, (looked.why if looked is not None else None, 1))
            why = why or again.get(entry.id) or (limited(entry, looked) if looked is not None else None)
            if why is not None:
                self._explain(entry, why, tries)
            else:
                made.append((entry, looked.face if looked is not None else b""))
        return made

    def _send_look(self, carrier: Carrier, entry: Entry, executor: Executor) -> Future[Any]:
        assert entry.sent is not None
        task = LookTask(
            id=entry.id, name=entry.sent.name, submission=entry.sent.submission, person=entry.sent.person,
            folder=entry.sent.folder.absolute(), store=self.store.root.absolute(), limits=self.limits,
            today=self.options.today,
        )  # fmt: skip
        return carrier.look(executor, task, entry)

    def make_all(self, todo: Sequence[tuple[Entry, bytes]], crew: Crew, carrier: Carrier) -> None:
        """Makes items, earliest on air first; each is noted as soon as it is done."""
        tasks = {entry.id: (entry, self._task(entry, face)) for entry, face in todo}
        jobs = [
            Job(entry.id, partial(self._send_make, carrier, entry, task), self._patience(entry))
            for entry, task in tasks.values()
        ]
        self.progress("making", 0, len(jobs))
        for done, finished in enumerate(self._work(jobs, crew, "making"), 1):
            entry, task = tasks[finished.id]
            if finished.why is not None or finished.result is None:
                self._explain(
                    entry, finished.why or Why(id="failed", what="nothing came back"), finished.tries, make=True
                )
            else:
                result = carrier.receive(finished.result, task)
                held = tuple((name, why.what) for name, why in (*entry.held, *result.held))
                # A mistake of ours may be mended by the next run; all else only when something changes.
                key = "" if any(why.id == "failed" for _, why in result.held) else entry.key
                state = FAILED_QC if result.failed else "done"
                line = Line(
                    item=entry.id, state=state, key=key, files=result.files, held=held, notes=result.notes,
                    took=round(result.took, 2), tries=finished.tries, failed=result.failed,
                )  # fmt: skip
                self.journal.write(line)
                self._settle(Outcome(entry=entry, state=state, line=line))
                self._old_files(entry, line)
            self.progress("making", done, len(jobs))

    def _send_make(self, carrier: Carrier, entry: Entry, task: MakeTask, executor: Executor) -> Future[Any]:
        return carrier.make(executor, task, entry)

    def _task(self, entry: Entry, face: bytes) -> MakeTask:
        assert entry.path is not None
        assert entry.loaded is not None
        files = tuple((name, file_name(entry.id, name, profile(name, entry.loaded))) for name in entry.profiles)
        return MakeTask(
            id=entry.id, board=entry.path.absolute(), profiles=files, out=(self.out / entry.id).absolute(),
            store=self.store.root.absolute(), today=self.options.today, rules=self.options.rules,
            final=self.options.final, face=face, papers=self.options.papers,
        )  # fmt: skip

    def _patience(self, entry: Entry) -> float:
        if self.options.patience is not None:
            return self.options.patience
        assert entry.loaded is not None
        return 1800 + 240 * sum(length_of(entry.loaded, profile(name, entry.loaded)) for name in entry.profiles)

    def _work(self, jobs: Sequence[Job], crew: Crew, step: str) -> Iterator[Finished]:
        done = 0

        def heed() -> None:
            self.progress(step, done, len(jobs))

        with closing(work_through(jobs, crew, retries=self.options.retries, heed=heed)) as finished:
            for one in finished:
                done += 1
                yield one

    def _explain(self, entry: Entry, why: Why, tries: int = 1, *, make: bool = False) -> None:
        """Notes why an item is not made; what is finished of it stays where consent does not forbid it."""
        why = replace(why, what=self._without_folder(why.what))
        before = self.lines.get(entry.id)
        line = Line(
            item=entry.id, state="explained", key=entry.key if make else "", why=why.id, what=why.what, tries=tries,
            files=before.files if before is not None else (), failed=before.failed if before is not None else (),
        )  # fmt: skip
        if before is None or replace(before, tries=tries, took=0.0) != line:
            self.journal.write(line)
        self._settle(Outcome(entry=entry, state="explained", line=line, why=why))

    def _without_folder(self, text: str) -> str:
        """A text with paths from the season's folder: nobody else has this machine's."""
        for folder in (self.season.folder.absolute(), self.season.folder):
            if len(folder.parts) > 1:
                text = text.replace(f"{folder}{os.sep}", "")
        return text

    def _old_files(self, entry: Entry, line: Line) -> None:
        """Removes files of an earlier run that this one did not make again; not a delivery older than a failed file."""
        before = self.lines.get(entry.id)
        names = {made.file for made in line.every}
        failed = {one.made.profile for one in line.failed}
        for made in before.every if before is not None else ():
            if made.file not in names and (made.profile not in failed or f".{FAILED_QC}." in made.file):
                safe.discard(self.out / entry.id / made.file)

    def _settle(self, outcome: Outcome) -> None:
        self.outcomes[outcome.entry.id] = outcome
        self.seen(outcome)

    def clear(self) -> None:
        """Takes away what processes that were killed have left."""
        for entry in self.outcomes:
            safe.clear_stale(self.out / entry)
        for item in self.season.season.items:
            safe.clear_stale(self.out / item.id)
            safe.clear_stale(self.out / item.id / PAPERS)
        for folder in self.store.root.glob("*/??"):
            safe.clear_stale(folder)


def _another_try(line: Line) -> bool:
    """Whether what was explained may go better in another run."""
    return line.why in {"worker-lost", "hangs", "failed", "not-written", "system", "out-of-memory"}

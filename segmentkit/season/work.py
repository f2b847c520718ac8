"""What a worker does with one item: looks at what was sent, makes what is delivered. Nothing it does can raise.

The unit of work is an item. A stretch would be the smaller one, but each task has to plan the item anew, and an item
has a working copy of each clip to make first; `tests/benchmarks/season.py` prints what both would cost.
"""

from __future__ import annotations

import datetime
import json
import os
import time
import traceback
from dataclasses import dataclass, replace
from fractions import Fraction
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from segmentkit.checks.rules import Rules
from segmentkit.errors import MediaUnusable, NotFit, NotReleased, OutputFailed, SegmentkitError, StoryboardUnreadable
from segmentkit.findings import Finding, Severity
from segmentkit.intake.fingerprint import Fingerprint
from segmentkit.season.crew import heed
from segmentkit.season.entry import Why
from segmentkit.season.journal import PAPERS, Failed, Made
from segmentkit.season.room import bound
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.submission import Submission, VerdictWord

if TYPE_CHECKING:
    from segmentkit.pipeline import Checked


@dataclass(frozen=True, slots=True, kw_only=True)
class LookTask:
    """A submission to be judged.

    Attributes:
        id: of the item; `name` of the submission.
        folder: where its paths start.
        store: the working folder.
    """

    id: str
    name: str
    submission: Submission
    person: Person
    folder: Path
    store: Path
    limits: IntakeLimits
    today: datetime.date


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """A submission, judged by itself; whether it was sent before is found where all of them meet.

    Attributes:
        word: the verdict.
        why: why it is not used; None when it may be.
        limits: what limits it: part, name of the reason, and its text.
        prints: fingerprints of its swings, by part.
        face: a JPEG of the person: the portrait where there is one, else standing to the ball; may be empty.
        took: seconds.
    """

    id: str
    word: VerdictWord = VerdictWord.USE
    why: Why | None = None
    limits: tuple[tuple[str, str, str], ...] = ()
    prints: tuple[tuple[str, Fingerprint], ...] = ()
    face: bytes = b""
    took: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MakeTask:
    """An item to be made.

    Attributes:
        id: of the item.
        board: its storyboard.
        profiles: what to deliver, with the name of each file.
        out: the item's folder of finished files.
        store: the working folder.
        today: the day on which releases must hold.
        rules: of the house.
        final: whether guide voices are refused.
        face: a JPEG to lie beside the name; may be empty.
        papers: whether papers and transcripts are written as well.
    """

    id: str
    board: Path
    profiles: tuple[tuple[str, str], ...]
    out: Path
    store: Path
    today: datetime.date
    rules: Rules | None = None
    final: bool = True
    face: bytes = b""
    papers: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeItem:
    """What became of an item.

    Attributes:
        files: what lies in its folder now.
        why: why nothing was made; None when something was.
        held: profiles that were not made, with the reason.
        failed: files that failed quality control.
        notes: findings that are no errors, counted.
        took: seconds.
    """

    id: str
    files: tuple[Made, ...] = ()
    why: Why | None = None
    held: tuple[tuple[str, Why], ...] = ()
    failed: tuple[Failed, ...] = ()
    notes: tuple[str, ...] = ()
    took: float = 0.0

    @property
    def every(self) -> tuple[Made, ...]:
        """All files that lie in its folder, also those that are no deliveries."""
        return (*self.files, *(one for failed in self.failed for one in (failed.made, *failed.beside)))


def look(task: LookTask) -> Looked:
    """Judges the parts of a submission, each in a process that may fail."""
    began = time.monotonic()
    try:
        return _looked(task, began)
    except Exception as error:
        return Looked(id=task.id, why=explained(error), took=time.monotonic() - began)


def _looked(task: LookTask, began: float) -> Looked:
    from segmentkit.intake.batch import judge_submission  # noqa: PLC0415  loads decoders
    from segmentkit.intake.parts import Seen  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415

    os.environ["SEGMENTKIT_STORE"] = str(task.store)
    seen = Seen()
    report = judge_submission(
        task.name, task.submission, task.person, task.folder, Store(task.store), task.limits, task.today, seen
    )
    heed()
    reasons = [*report.reasons, *(reason for part in report.parts for reason in part.reasons)]
    worst = [reason for reason in reasons if reason.word is report.word] or reasons
    why = None
    if report.word.rank >= VerdictWord.RESHOOT.rank:
        first = worst[0] if worst else None
        why = Why(
            id=first.id if first else "verdict",
            what=f"{report.word.value}: {first.what if first else report.decided}",
        )
    faces = {part.part: part.thumbs for part in report.parts if part.thumbs}
    thumbs = faces.get("portrait") or faces.get("face-on") or faces.get("down-the-line") or {}
    limits = tuple(
        (part.part, reason.id, f"{reason.what}: {reason.without}")
        for part in report.parts for reason in part.reasons if reason.word is VerdictWord.LIMITED
    )  # fmt: skip
    names = [called.removeprefix(f"{task.name} ") for called, _ in seen.prints]
    return Looked(
        id=task.id, word=report.word, why=why, limits=limits,
        prints=tuple(zip(names, (one for _, one in seen.prints), strict=True)),
        face=next(iter(thumbs.values()), b""), took=time.monotonic() - began,
    )  # fmt: skip


def make(task: MakeTask) -> MadeItem:
    """Checks an item once and renders each of its profiles; one that cannot be made does not hold up the others."""
    began = time.monotonic()
    os.environ["SEGMENTKIT_STORE"] = str(task.store)
    files: list[Made] = []
    held: list[tuple[str, Why]] = []
    failed: list[Failed] = []
    notes: tuple[str, ...] = ()
    try:
        from segmentkit.pipeline import check  # noqa: PLC0415  loads decoders and encoders

        checked = check(
            task.board, final=task.final, today=task.today, rules=task.rules,
            deliver=[name for name, _ in task.profiles], progress=lambda *_: heed(),
        )  # fmt: skip
        lesser = [one for one in checked.findings if one.severity is Severity.WARNING]
        notes = tuple(f"{one.where}: {one.what} [{one.id}]" for one in lesser[:5])
        for name, file in task.profiles:
            try:
                files += _rendered(task, checked, name, file)
            except NotReleased as error:
                failed.append(_failed(task, checked, name, file, explained(error)))
            except Exception as error:  # whatever it is, it is this profile's alone
                held.append((name, explained(error)))
        if files or failed:
            files += _pictures(task, checked)
        if files and task.papers:
            try:
                files += _papers(task, checked)
            except SegmentkitError as error:
                held.append(("papers", explained(error)))
    except Exception as error:  # whatever it is, it is this item's alone
        held.append(("", explained(error)))
    # What may pass is tried again as a whole: what is finished is found then, and costs little.
    nothing = held[0][1] if held and not files and not failed else None
    why = next((one for _, one in held if one.passing), nothing)
    return MadeItem(
        id=task.id, files=tuple(files), why=why, held=tuple(held) if why is None else (), failed=tuple(failed),
        notes=notes, took=time.monotonic() - began,
    )  # fmt: skip


def _rendered(task: MakeTask, checked: Checked, name: str, file: str) -> list[Made]:
    from segmentkit import pipeline  # noqa: PLC0415
    from segmentkit.deliveries import captions_beside  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415

    to = delivery(name, checked.loaded.folder)
    version = checked.version(to)
    if version is not None and not version.fits:
        raise NotFit(pipeline.refusal(version.findings), version.findings)
    out = task.out / file
    beside = captions_beside(checked, version, to, out) if version is not None else ()
    how = pipeline.Making(today=task.today, rehearsal=not task.final, sidecars=bool(beside) or None)
    made = pipeline.make(checked, to, task.board, out, how, progress=lambda *_: heed())
    seconds = float(made.movie.frames / made.movie.rate)
    movie = _measured(told(out, name, seconds), out, to.scope)
    return [movie, *(told(path, name) for path in (*made.beside, *beside))]


def _failed(task: MakeTask, checked: Checked, name: str, file: str, why: Why) -> Failed:
    """A file that failed quality control, where it is kept, with what lies beside it."""
    from segmentkit.deliver.release import failed_name  # noqa: PLC0415
    from segmentkit.storyboard.profiles import delivery  # noqa: PLC0415

    kept = failed_name(task.out / file)
    beside = [kept.with_name(f"{kept.stem}{end}") for end in (".qc.html", ".qc.json", ".manifest.json")]
    to = delivery(name, checked.loaded.folder)
    return Failed(
        made=_measured(told(kept, name), kept, to.scope), why=why.id, what=why.what,
        beside=tuple(told(path, name) for path in beside if path.is_file()),
    )  # fmt: skip


def _measured(made: Made, path: Path, scope: str) -> Made:
    """A movie with what its manifest says of it."""
    data = json.loads(path.with_name(f"{path.stem}.manifest.json").read_text("utf-8"))
    loud, peak = data["loudness_lufs"], data["true_peak_dbtp"]
    heard = data["audio"] is not None and isfinite(loud) and isfinite(peak)
    return replace(
        made, length=data["length"], loudness=loud if heard else None, peak=peak if heard else None, scope=scope,
        seconds=made.seconds or round(float(data["frames"] / Fraction(data["rate"])), 3),
        qc=data["qc"]["verdict"] if data["qc"] else "",
    )  # fmt: skip


def told(path: Path, profile: str = "", seconds: float = 0.0, folder: Path | None = None) -> Made:
    """A finished file as the journal notes it: by its name in the item's folder, which is its own if not told."""
    from segmentkit.media.store import sha256_of  # noqa: PLC0415

    name = path.name if folder is None else path.relative_to(folder).as_posix()
    size = path.stat().st_size
    return Made(file=name, sha256=sha256_of(path), bytes=size, profile=profile, seconds=round(seconds, 3))


def _papers(task: MakeTask, checked: Checked) -> list[Made]:
    """The papers of an item, in a folder of their own."""
    from segmentkit.deliveries import write_all_papers  # noqa: PLC0415

    written = write_all_papers(checked, task.id, task.out / PAPERS, task.today, lambda *_: heed())
    return [told(path, folder=task.out) for path in written]


def _pictures(task: MakeTask, checked: Checked) -> list[Made]:
    """The face and the lower third that names it, to be looked at side by side."""
    from segmentkit.season.named import named_picture  # noqa: PLC0415

    made = []
    for name, data in (("face", task.face), ("lower-third", named_picture(checked))):
        if data:
            path = task.out / f"{task.id}-{name}.jpg"
            write(path, data)
            made.append(told(path))
    return made


def write(path: Path, data: bytes) -> None:
    """Writes bytes whole or not at all.

    Raises:
        OutputFailed: when the disk refuses.
    """
    from segmentkit.media import safe  # noqa: PLC0415

    with safe.writing(path) as partial:
        partial.write_bytes(data)


_KINDS: tuple[tuple[type[BaseException], str], ...] = (
    (StoryboardUnreadable, "unreadable"), (MediaUnusable, "unusable"), (SegmentkitError, "refused"),
)  # fmt: skip


def explained(error: BaseException) -> Why:
    """An error as a reason; only what has to do with the machine, and not with the item, may pass."""
    if _wanted_memory(error):
        return Why(id="out-of-memory", what=_too_much(), passing=True)
    match error:
        case NotFit() if errors := [f for f in error.findings if isinstance(f, Finding) and _forbids(f)]:
            more = f" (and {len(errors) - 1} more errors)" if len(errors) > 1 else ""
            why = Why(id=errors[0].id, what=f"{errors[0].where}: {errors[0].what} — {errors[0].remedy}{more}")
        case OutputFailed():
            why = Why(id="not-written", what=str(error).splitlines()[0], passing=True)
        case OSError():
            why = Why(id="system", what=f"the system refused: {error.strerror or error}", passing=True)
        case SegmentkitError():
            name = next(name for kind, name in _KINDS if isinstance(error, kind))
            why = Why(id=name, what=(str(error).splitlines() or [name])[0])
        case _:
            last = traceback.extract_tb(error.__traceback__)[-1:]
            where = f" in {Path(last[0].filename).name}:{last[0].lineno}" if last else ""
            what = f"{type(error).__name__}: {error}{where} — this should not happen — report it with the storyboard"
            why = Why(id="failed", what=what)
    return why


def _wanted_memory(error: BaseException | None) -> bool:
    """Whether an error is for want of memory, or was raised because another one was."""
    while error is not None:
        # OpenCV has no class of its own for it but a number: StsNoMem of its core/base.hpp.
        if isinstance(error, MemoryError) or getattr(error, "code", None) == -4:
            return True
        error = error.__cause__ or error.__context__
    return False


def _too_much() -> str:
    memory = bound()
    what = "no memory was left"
    if memory is not None:
        what = f"needed more memory than the {memory / 1e9:.1f} GB that a worker may take here"
    return f"{what} — look at the size of its pictures, or give fewer workers more with --jobs or --memory"


def _forbids(finding: Finding) -> bool:
    return finding.severity is Severity.ERROR

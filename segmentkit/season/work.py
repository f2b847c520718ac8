"""What a worker does with one item: looks at what was sent, makes what is delivered. Nothing it does can raise.

The unit of work is an item. A stretch would be the smaller one, but each task has to plan the item anew, and an item
has a working copy of each clip to make first; `tests/benchmarks/season.py` prints what both would cost.
"""

from __future__ import annotations

import datetime
import os
import time
import traceback
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from segmentkit.checks.rules import Rules
from segmentkit.errors import MediaUnusable, NotFit, OutputFailed, SegmentkitError, StoryboardUnreadable
from segmentkit.findings import Finding, Severity
from segmentkit.intake.fingerprint import Fingerprint
from segmentkit.season.crew import heed
from segmentkit.season.entry import Why
from segmentkit.season.journal import Made
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


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeItem:
    """What became of an item.

    Attributes:
        files: what lies in its folder now.
        why: why nothing was made; None when something was.
        held: profiles that were not made, with the reason.
        notes: findings that are no errors, counted.
        took: seconds.
    """

    id: str
    files: tuple[Made, ...] = ()
    why: Why | None = None
    held: tuple[tuple[str, Why], ...] = ()
    notes: tuple[str, ...] = ()
    took: float = 0.0


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
            except Exception as error:  # whatever it is, it is this profile's alone
                held.append((name, explained(error)))
        if files:
            files += _pictures(task, checked)
    except Exception as error:  # whatever it is, it is this item's alone
        held.append(("", explained(error)))
    # What may pass is tried again as a whole: what is finished is found then, and costs little.
    failed = next((one for _, one in held if one.passing), held[0][1] if held and not files else None)
    return MadeItem(
        id=task.id, files=tuple(files), why=failed, held=tuple(held) if failed is None else (), notes=notes,
        took=time.monotonic() - began,
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
    return [told(out, name, seconds), *(told(path, name) for path in (*made.beside, *beside))]


def told(path: Path, profile: str = "", seconds: float = 0.0) -> Made:
    """A finished file as the journal notes it."""
    from segmentkit.media.store import sha256_of  # noqa: PLC0415

    return Made(
        file=path.name, sha256=sha256_of(path), bytes=path.stat().st_size, profile=profile, seconds=round(seconds, 3)
    )


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
    match error:
        case NotFit() if errors := [f for f in error.findings if isinstance(f, Finding) and _forbids(f)]:
            more = f" (and {len(errors) - 1} more errors)" if len(errors) > 1 else ""
            why = Why(id=errors[0].id, what=f"{errors[0].where}: {errors[0].what} — {errors[0].remedy}{more}")
        case OutputFailed():
            why = Why(id="not-written", what=str(error).splitlines()[0], passing=True)
        case MemoryError():
            why = Why(id="out-of-memory", what="no memory was left — give fewer workers more with --jobs", passing=True)
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


def _forbids(finding: Finding) -> bool:
    return finding.severity is Severity.ERROR

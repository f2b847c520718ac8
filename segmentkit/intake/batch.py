"""A batch of submissions from files to verdicts. A file that breaks costs itself and nothing else."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from segmentkit.intake.consent import consent_reasons, shown_name, shown_place, uses_allowed
from segmentkit.intake.parts import Seen, judge_part
from segmentkit.intake.verdict import PartReport, Reason, ordered, worst
from segmentkit.media.store import Store
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.submission import LoadedBatch, Submission, VerdictWord

Progress = Callable[[str, int, int], None]
MISSING = {
    "down-the-line": "nothing of hip line, hand path or the club's way down",
    "face-on": "nothing of ball position, sway or the lead arm through the ball",
    "grip": "nothing of the grip",
    "portrait": "no face on the opening card",
    "miss": "no cause for a flight of the ball",
    "question": "no question to answer",
}
"""What may not be said when a part of a submission is missing."""


_NOBODY = Reason(
    id="no-record", word=VerdictWord.USE,
    what="there is no record of a person — nothing of it may be rendered before there is a release",
)  # fmt: skip


def printable(name: str) -> str:
    """A file's name as it can be shown: line ends, control characters and broken bytes made visible."""
    text = name.encode("utf-8", "backslashreplace").decode("utf-8")
    return "".join(c if c.isprintable() else c.encode("unicode_escape").decode() for c in text)


@dataclass(frozen=True, slots=True, kw_only=True)
class SubmissionReport:
    """One submission, judged.

    Attributes:
        id: as in the batch file; the file's own name for a loose clip.
        shown, place: as they may be written anywhere.
        minor: whether the person is not known to be of age.
        word: the verdict; a person's decision where there is one and consent allows it.
        decided: who decided, and why; empty where nobody has.
        reasons: of the whole submission; those of its parts stand with the parts.
        parts: the parts that came.
        without: what may not be said or shown.
        uses: what the release allows today.
        question, miss: as written.
        person: name among people; None for a loose clip.
    """

    id: str
    shown: str
    place: str
    minor: bool
    word: VerdictWord
    decided: str
    reasons: tuple[Reason, ...]
    parts: tuple[PartReport, ...]
    without: tuple[str, ...]
    uses: tuple[str, ...]
    question: str
    miss: str
    person: str | None


def run_batch(
    loaded: LoadedBatch, store: Store, limits: IntakeLimits, today: datetime.date, progress: Progress
) -> tuple[SubmissionReport, ...]:
    """Judges every submission of a batch, in its order.

    Raises:
        OutputFailed: when the working folder cannot be written to.
    """
    seen = Seen()
    batch = loaded.batch
    reports = []
    by_person: dict[str, list[str]] = {}
    for done, (id_, submission) in enumerate(batch.submissions.items()):
        progress("submissions", done, len(batch.submissions))
        person = batch.people[submission.person]
        reports.append(judge_submission(id_, submission, person, loaded.folder, store, limits, today, seen))
        by_person.setdefault(submission.person, []).append(id_)
    progress("submissions", len(reports), len(reports))
    return tuple(_same_person(report, by_person) for report in reports)


def run_loose(
    files: Sequence[Path], store: Store, limits: IntakeLimits, progress: Progress
) -> tuple[SubmissionReport, ...]:
    """Judges clips that have no record: what they can be used for once there is a release."""
    seen = Seen()
    reports = []
    for done, path in enumerate(files):
        progress("clips", done, len(files))
        called = printable(path.name)
        part = judge_part("clip", called, None, path, None, store, limits, seen)
        report = SubmissionReport(
            id=called, shown="", place="", minor=False, word=part.word, decided="", reasons=(_NOBODY,),
            parts=(part,), without=_without((part,), ()), uses=(), question="", miss="", person=None,
        )  # fmt: skip
        reports.append(report)
    progress("clips", len(files), len(files))
    return tuple(reports)


def judge_submission(
    id_: str, submission: Submission, person: Person, folder: Path, store: Store, limits: IntakeLimits,
    today: datetime.date, seen: Seen,
) -> SubmissionReport:  # fmt: skip
    """Judges one submission; `seen` holds what came before it, and grows by it.

    Raises:
        OutputFailed: when the working folder cannot be written to.
    """
    reasons = list(consent_reasons(person, today))
    barred = any(reason.word is VerdictWord.NOT_USED for reason in reasons)
    parts: list[PartReport] = []
    if not barred:
        for name, part in submission.parts:
            parts.append(judge_part(name, f"{id_} {name}", part, folder / part.file, person, store, limits, seen))
    missing = _missing(submission)
    swings = [part for part in parts if part.part in {"down-the-line", "face-on"}]
    if not barred and not swings:
        reasons.append(Reason(id="no-swing-sent", word=VerdictWord.RESHOOT, what="no clip of the swing came with it"))
    # One good view is enough to be used; a bad second view limits.
    words = [reason.word for reason in reasons]
    if swings:
        best = min((part.word for part in swings), key=lambda word: word.rank)
        words.append(best)
        rest = [part.word for part in parts if part.word.rank > best.rank]
        if best is VerdictWord.USE and (rest or missing):
            words.append(VerdictWord.LIMITED)
    word, decided = worst(words), ""
    if submission.decision is not None:
        decision = submission.decision
        decided = f"{decision.by} decided: {decision.verdict.value}" + (f" — {decision.why}" if decision.why else "")
        if not barred or decision.verdict is VerdictWord.NOT_USED or _may_overrule(reasons):
            word = decision.verdict
        else:
            decided += "; consent does not allow it"
    return SubmissionReport(
        id=id_, shown=shown_name(person), place=shown_place(person), minor=person.adult is not True, word=word,
        decided=decided, reasons=ordered(reasons), parts=tuple(parts),
        without=_without(tuple(parts), (*reasons,), [MISSING[name] for name in missing] if not barred else []),
        uses=uses_allowed(person, today), question=submission.question or "", miss=submission.miss or "",
        person=submission.person,
    )  # fmt: skip


def _may_overrule(reasons: Sequence[Reason]) -> bool:
    """A professional may decide about told pain; nobody decides about a release."""
    return all(reason.id == "pain" for reason in reasons if reason.word is VerdictWord.NOT_USED)


def _missing(submission: Submission) -> list[str]:
    there = {name for name, _ in submission.parts}
    there |= {name for name, text in (("miss", submission.miss), ("question", submission.question)) if text}
    return [name for name in MISSING if name not in there]


def _without(
    parts: tuple[PartReport, ...], reasons: tuple[Reason, ...], missing: Sequence[str] = ()
) -> tuple[str, ...]:
    several = len(parts) > 1
    found = [reason.without for reason in reasons if reason.without]
    for part in parts:
        said = [reason.without for reason in part.reasons if reason.without]
        if part.word.rank >= VerdictWord.RESHOOT.rank and several:
            said = [MISSING.get(part.part, "nothing of it")]
        found += [f"{part.part}: {text}" if several else text for text in said]
    return tuple(dict.fromkeys([*found, *missing]))


def _same_person(report: SubmissionReport, by_person: dict[str, list[str]]) -> SubmissionReport:
    others = [id_ for id_ in by_person.get(report.person or "", []) if id_ != report.id]
    if not others:
        return report
    reason = Reason(
        id="same-person",
        word=VerdictWord.USE,
        what=f"the same person also sent {', '.join(others)}: compare, or choose",
    )
    return replace(report, reasons=(*report.reasons, reason))

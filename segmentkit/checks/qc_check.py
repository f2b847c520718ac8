"""What a check of a finished file is: one small function that answers with a value, marks, or why it cannot say."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum

from segmentkit.checks.qc_wanted import Wanted
from segmentkit.checks.say import seconds
from segmentkit.findings import Finding, Number, Severity
from segmentkit.geometry import Rect
from segmentkit.screened import Screened
from segmentkit.timebase import Rate, Span, clock_text, label_of_frame, seconds_of_frame


class Outcome(Enum):
    """How a check ended."""

    PASS = "pass"
    WARN = "warn"
    FAIL = "fail"
    NOT_CHECKED = "not checked"


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One spot that is not as it should be; judging turns it into a finding.

    Attributes:
        what: what is and what is allowed, with numbers and units.
        remedy: what to do, in the imperative.
        span: frames of the file; None where it is about the whole.
        area: fractions of the picture.
        severity: an error keeps the file from being handed over.
        numbers: the numbers of the text as data.
    """

    what: str
    remedy: str
    span: Span | None = None
    area: Rect | None = None
    severity: Severity = Severity.ERROR
    numbers: tuple[tuple[str, Number], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a check says.

    Attributes:
        value: what was measured, in a few words.
        marks: spots that are not right.
        because: why it could not be checked; empty when it was.
    """

    value: str = ""
    marks: tuple[Mark, ...] = ()
    because: str = ""


def not_checked(because: str) -> Answer:
    """An answer that says why there is none."""
    return Answer(because=because)


def marked(value: str, marks: Sequence[Mark]) -> Answer:
    """What was measured, with the spots that are not right."""
    return Answer(value=value, marks=tuple(marks))


Judge = Callable[[Screened, Wanted], Answer]


@dataclass(frozen=True, slots=True, kw_only=True)
class QcCheck:
    """One check of a finished file.

    Attributes:
        id: stable kebab-case name; part of the interface.
        title: what is checked, as a heading.
        limit: what is allowed, in words.
        source: where the limit comes from.
        why: why it matters; the docstring of its function.
        judge: the function.
    """

    id: str
    title: str
    limit: str
    source: str
    why: str
    judge: Judge


def qc_check(id: str, title: str, *, limit: str, source: str) -> Callable[[Judge], QcCheck]:
    """Makes a check of a function; its docstring is the reason shown to people."""

    def made(judge: Judge) -> QcCheck:
        return QcCheck(id=id, title=title, limit=limit, source=source, why=inspect.getdoc(judge) or "", judge=judge)

    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag:
    """A finding with its spot in the file.

    Attributes:
        finding: what to read.
        span: frames of the file; None where it is about the whole.
        time: when that is in the programme, as people write it; empty likewise.
        area: fractions of the picture.
    """

    finding: Finding
    span: Span | None
    time: str
    area: Rect | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """How one check ended: `value` and `because` as in `Answer`, `flags` the worst first."""

    check: QcCheck
    outcome: Outcome
    value: str
    because: str
    flags: tuple[Flag, ...]


def verdict(check: QcCheck, measured: Screened, wanted: Wanted) -> Verdict:
    """Asks one check."""
    answer = check.judge(measured, wanted)
    flags = tuple(
        sorted(
            (_flag(check, mark, measured) for mark in answer.marks),
            key=lambda flag: (flag.finding.severity.rank, flag.span or Span(0, 0)),
        )
    )
    worst = min((flag.finding.severity.rank for flag in flags), default=2)
    outcome = (Outcome.FAIL, Outcome.WARN, Outcome.PASS)[worst]
    if answer.because and outcome is Outcome.PASS:
        outcome = Outcome.NOT_CHECKED
    return Verdict(check=check, outcome=outcome, value=answer.value, because=answer.because, flags=flags)


def _flag(check: QcCheck, mark: Mark, measured: Screened) -> Flag:
    time = "" if mark.span is None else time_of(mark.span, measured)
    finding = Finding(
        id=check.id,
        severity=mark.severity,
        where=time or "the whole file",
        what=mark.what,
        remedy=mark.remedy,
        numbers=(
            *mark.numbers,
            *((("frame", mark.span.start), ("frames", mark.span.frames)) if mark.span is not None else ()),
        ),
    )
    return Flag(finding=finding, span=mark.span, time=time, area=mark.area)


def time_of(span: Span, measured: Screened) -> str:
    """When frames of the file are seen, counted from the programme's first frame: `00:00:12:05 to 00:00:12:09`."""
    rate, start = measured.coded.rate, measured.programme.start
    first, last = span.start - start, span.end - 1 - start
    if first == last or span.frames <= 1:
        return _moment(first, rate)
    return f"{_moment(first, rate)} to {_moment(last, rate)}"


def _moment(frame: int, rate: Rate) -> str:
    if frame < 0:
        return f"{seconds(seconds_of_frame(-frame, rate))} before the programme"
    return str(label_of_frame(frame, rate)) if rate.has_labels else clock_text(seconds_of_frame(frame, rate))

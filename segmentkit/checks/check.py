"""What a check is: one small function that yields remarks, with an id that never changes and a reason to exist."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from segmentkit.checks.context import CheckContext, ConsentContext
from segmentkit.checks.limits import Limits
from segmentkit.findings import Number, Severity

Step = str | int


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """What a check says about one spot; the run turns it into a finding.

    Attributes:
        where: what a person calls the spot.
        what: what is, and what is allowed, with numbers and units.
        remedy: what to do, in the imperative.
        path: keys and indices that lead to the spot in the storyboard.
        numbers: the numbers of the text as data.
        severity: when it differs from the check's own.
    """

    where: str
    what: str
    remedy: str
    path: tuple[Step, ...] = ()
    numbers: tuple[tuple[str, Number], ...] = ()
    severity: Severity | None = None


Judge = Callable[[CheckContext, Limits], Iterable[Remark]]
Gate = Callable[[ConsentContext, Limits], Iterable[Remark]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """One check.

    Attributes:
        id: stable kebab-case name.
        why: why it matters, in prose; the docstring of its function.
        severity: how much it weighs unless a remark or the house rules say otherwise.
        locked: whether house rules may neither lower it nor switch it off.
        judge: what it does with everything known.
        gate: what it does before any clip is opened; None for checks that need the plan.
    """

    id: str
    why: str
    severity: Severity
    locked: bool
    judge: Judge
    gate: Gate | None = None


def check(id: str, severity: Severity, *, locked: bool = False) -> Callable[[Judge], Check]:
    """Makes a check of a function that looks at the plan; its docstring is the reason shown to people."""

    def made(judge: Judge) -> Check:
        return Check(id=id, why=inspect.getdoc(judge) or "", severity=severity, locked=locked, judge=judge)

    return made


def consent_check(id: str, severity: Severity, *, locked: bool = True) -> Callable[[Gate], Check]:
    """Makes a check of a function that looks at the text alone and so runs before any clip is opened."""

    def made(gate: Gate) -> Check:
        def judge(context: CheckContext, limits: Limits) -> Iterator[Remark]:
            yield from gate(context.consent, limits)

        return Check(id=id, why=inspect.getdoc(gate) or "", severity=severity, locked=locked, judge=judge, gate=gate)

    return made

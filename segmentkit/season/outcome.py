"""What is asked of a run of a season, and what became of it."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from segmentkit.checks.rules import Rules
from segmentkit.findings import Finding
from segmentkit.season.entry import Entry, Why
from segmentkit.season.estimate import Estimate
from segmentkit.season.journal import Line
from segmentkit.storyboard.limits_file import IntakeLimits

Progress = Callable[[str, int, int], None]
"""Told the step, how much of it is done, and how much there is; raises to stop."""
Seen = Callable[["Outcome"], None]
"""Told of each item as soon as its fate is known."""


def nobody(step: str, done: int, of: int) -> None:
    """Tells nobody."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Options:
    """What is asked of a run.

    Attributes:
        only: ids of the items to make; all when empty.
        until: the last day of airing that is made; items without a day are left out then.
        today: the day on which releases must hold.
        retries: further tries of what may pass.
        dry: whether nothing is made or written.
        final: whether guide voices are refused.
        rules: of the house.
        limits: of the intake; the shipped ones when None.
        papers: whether the papers of each item are written as well.
        patience: seconds after which an item is held to hang; from its length when None.
    """

    only: tuple[str, ...] = ()
    until: datetime.date | None = None
    today: datetime.date
    retries: int = 2
    dry: bool = False
    final: bool = True
    rules: Rules | None = None
    limits: IntakeLimits | None = None
    papers: bool = False
    patience: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of an item in this run.

    Attributes:
        entry: the item.
        state: done, kept (finished before, nothing has changed), failed-qc (a file failed quality control, now or
            before, and nothing has changed since), explained, ready (in a dry run).
        line: as the journal notes it.
        why: why it was not made.
        before: whether it became so in an earlier run.
    """

    entry: Entry
    state: str
    line: Line | None = None
    why: Why | None = None
    before: bool = False

    @property
    def whole(self) -> bool:
        """Whether everything that was asked for is there."""
        return self.state in {"done", "kept"} and not (self.line and self.line.held)


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonReport:
    """A run.

    Attributes:
        title: of the season.
        out: where finished files lie.
        outcomes: by item, in the order of airing.
        clashes: what does not go well side by side.
        needed: what was estimated before.
        took: seconds.
    """

    title: str
    out: Path
    outcomes: tuple[Outcome, ...]
    clashes: tuple[Finding, ...]
    needed: Estimate
    took: float

    @property
    def exit_code(self) -> int:
        """0 when all is there, 1 when some is explained instead."""
        return 0 if all(one.whole or (one.state == "ready" and not one.entry.held) for one in self.outcomes) else 1

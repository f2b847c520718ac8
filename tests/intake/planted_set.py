"""Judges the planted set, and prints which verdict each kind of clip was given."""

from __future__ import annotations

import sys
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from segmentkit.intake.parts import Seen, judge_part
from segmentkit.intake.verdict import PartReport
from segmentkit.media.store import Store
from segmentkit.storyboard.limits_file import IntakeLimits, intake_limits
from segmentkit.storyboard.people import Hand, Person
from segmentkit.storyboard.submission import VerdictWord
from tests.intake.case import Case
from tests.intake.planted_cases import CASES, HELD_OUT

PLAYER = Person(shown="Vera", handed=Hand.RIGHT, adult=True)


@cache
def limits() -> IntakeLimits:
    """The shipped limits, with sizes a third of theirs: the planted clips are 640x360 to keep the tests short."""
    shipped = intake_limits()
    return shipped.model_copy(
        update={"short_side_least": shipped.short_side_least / 3, "short_side_good": shipped.short_side_good / 3}
    )


AFTER_CLEAN = {"again-small", "again-trimmed", "second-swing"}
"""Cases that are judged in one batch with the clean clip; the others each in a batch of their own."""


def judge(case: Case, folder: Path, store: Store, clean: Seen | None = None) -> PartReport:
    """Makes a planted clip and judges it."""
    path = folder / (case.name if "." in case.name else f"{case.name}.mp4")
    if not path.exists():
        case.make(path)
    seen = Seen()
    if case.name in AFTER_CLEAN and clean is not None:
        seen = Seen(contents=dict(clean.contents), prints=list(clean.prints))
    return judge_part(case.part, case.name, case.stated, path, PLAYER, store, limits(), seen)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """A case with the verdict it got."""

    case: Case
    report: PartReport

    @property
    def right(self) -> bool:
        """Whether verdict and reason are those planted, and nothing weighs as much without having been planted."""
        ids = {reason.id for reason in self.report.reasons if reason.word is self.report.word}
        return self.report.word is self.case.word and (not self.case.reason or self.case.reason in ids)

    @property
    def strays(self) -> tuple[str, ...]:
        """Reasons beside the planted one."""
        return tuple(reason.id for reason in self.report.reasons if reason.id != self.case.reason)


def run(folder: Path, store: Store, cases: tuple[Case, ...] = CASES) -> list[Outcome]:
    """Judges a set."""
    clean = Seen()
    outcomes = []
    for case in cases:
        report = judge(case, folder, store, clean)
        if case.name == "clean-60":
            path = folder / "clean-60.mp4"
            judge_part(case.part, case.name, None, path, PLAYER, store, limits(), clean)
        outcomes.append(Outcome(case=case, report=report))
    return outcomes


def table(outcomes: list[Outcome]) -> str:
    """The confusion table, and each case that went wrong or has reasons beside the planted one."""
    words = list(VerdictWord)
    lines = [f"{'planted / given':18}" + "".join(f"{word.value:>14}" for word in words)]
    for row in words:
        counts = [sum(o.case.word is row and o.report.word is column for o in outcomes) for column in words]
        lines.append(f"{row.value:18}" + "".join(f"{count:14}" for count in counts))
    right = sum(outcome.right for outcome in outcomes)
    lines.append(f"right verdict with the right reason: {right} of {len(outcomes)}")
    for o in outcomes:
        if not o.right or o.strays:
            mark = "     " if o.right else "WRONG"
            given = f"given {o.report.word.value}, beside it {', '.join(o.strays)}"
            lines.append(f"{mark} {o.case.name}: planted {o.case.word.value} {o.case.reason}; {given}")
    return "\n".join(lines)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        where = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(name)
        print(table(run(where, Store(where / "store"))))
        print("\nheld out while the limits were set:")
        print(table(run(where, Store(where / "store"), HELD_OUT)))

"""Builds reports, people and batches for tests that need no clip."""

from __future__ import annotations

import datetime
from typing import Any

from segmentkit.intake.batch import SubmissionReport
from segmentkit.intake.verdict import PartReport, Reason
from segmentkit.storyboard.people import Person, Release, Scope
from segmentkit.storyboard.submission import VerdictWord

TODAY = datetime.date(2027, 3, 4)
USE, LIMITED, RESHOOT, NOT_USED = VerdictWord


def release(**changes: Any) -> Release:
    """A release for web and broadcast."""
    return Release(**{"for": ["web", "broadcast"], **changes})


def person(**changes: Any) -> Person:
    """A grown-up with a release."""
    return Person(**{"shown": "Vera Lund", "place": "Lindholm Bay", "adult": "yes", "release": release(), **changes})


def minor(**changes: Any) -> Person:
    """Somebody under age whose guardian has signed."""
    signed = release(by="Ann Field", **{"for": ["web", "marketing"]})
    return Person(**{"shown": "Tom Field", "adult": "no", "guardian": "Ann Field", "release": signed, **changes})


def reason(id_: str, word: VerdictWord = RESHOOT, without: str = "") -> Reason:
    """A reason."""
    return Reason(id=id_, word=word, what=f"{id_} is 3 — at most 2", without=without, numbers=(("value", 3),))


def part(name: str = "down-the-line", *reasons: Reason, thumbs: dict[str, bytes] | None = None) -> PartReport:
    """A part with reasons."""
    word = max((r.word for r in reasons), key=lambda w: w.rank, default=USE)
    return PartReport(
        part=name, word=word, reasons=reasons, notes=(), measures=(), proposals=(), thumbs=thumbs or {},
        content="ab" * 32,
    )  # fmt: skip


def report(id_: str = "s-1", word: VerdictWord = RESHOOT, *parts: PartReport, **changes: Any) -> SubmissionReport:
    """A submission's report."""
    return SubmissionReport(**{
        "id": id_, "shown": "Vera Lund", "place": "", "minor": False, "word": word, "decided": "", "reasons": (),
        "parts": parts, "without": (), "uses": ("web",), "question": "", "miss": "", "person": "vera", **changes,
    })  # fmt: skip


__all__ = [
    "LIMITED",
    "NOT_USED",
    "RESHOOT",
    "TODAY",
    "USE",
    "Scope",
    "minor",
    "part",
    "person",
    "reason",
    "release",
    "report",
]

"""Findings: what a producer can put right, said so that they know where and how."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

Number = int | float | str | Fraction


class Severity(Enum):
    """How much a finding weighs: an error stops a render, a warning is shown, a note informs."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for errors, 1 for warnings, 2 for notes: the order in which a person should read them."""
        return (Severity.ERROR, Severity.WARNING, Severity.NOTE).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A spot in the storyboard's text; lines and columns count from 1."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One thing to put right.

    Attributes:
        id: stable kebab-case name of the check; part of the interface, chosen once.
        severity: error, warning or note.
        where: what a person calls the spot, such as "beat impact, stroke hip_gap".
        what: what is, with numbers and units, and what is allowed.
        remedy: what to do about it, in the imperative.
        place: the spot in the storyboard, if there is one.
        numbers: the same numbers as data, name and value, for machines.
    """

    id: str
    severity: Severity
    where: str
    what: str
    remedy: str
    place: Place | None = None
    numbers: tuple[tuple[str, Number], ...] = ()

    def as_data(self) -> dict[str, object]:
        """The finding as plain data for `--json`."""
        return {
            "id": self.id,
            "severity": self.severity.value,
            "where": self.where,
            "what": self.what,
            "remedy": self.remedy,
            "place": None if self.place is None else str(self.place),
            "numbers": {k: (str(v) if isinstance(v, Fraction) else v) for k, v in self.numbers},
        }


def worst_first(findings: list[Finding]) -> list[Finding]:
    """Orders findings for reading: errors, then warnings, then notes; within each, as the storyboard runs."""
    return sorted(findings, key=lambda f: (f.severity.rank, (f.place.line, f.place.column) if f.place else (0, 0)))

"""What a house has decided: how much each check weighs, its own limits and its own words.

Checks of consent, cautions, disclosure and minors are locked: they may be made to weigh more, never less.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType
from typing import Any

from segmentkit.checks.check import Check, Remark
from segmentkit.checks.limits import LIMITS, Limits
from segmentkit.checks.phrases import Phrase, words_pattern
from segmentkit.checks.registry import BY_ID
from segmentkit.checks.say import number
from segmentkit.findings import Severity
from segmentkit.storyboard.faults import Fault, suggestion, unreadable
from segmentkit.storyboard.rules_file import LoadedRules, Weight, load_rules


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """A house's decisions; without any, each check's own weight and the common limits hold.

    Attributes:
        severities: by check id; None switches a check off.
        limits: the numbers and wordings the checks judge by.
    """

    severities: Mapping[str, Severity | None] = field(default_factory=lambda: MappingProxyType({}))
    limits: Limits = field(default_factory=Limits)

    def is_off(self, check: Check) -> bool:
        """Whether a check is switched off; locked ones never are."""
        return not check.locked and check.id in self.severities and self.severities[check.id] is None

    def severity_of(self, check: Check, remark: Remark) -> Severity:
        """How much a remark weighs; a locked check's own weight can only be raised."""
        own = remark.severity or check.severity
        wanted = self.severities.get(check.id)
        if wanted is None:
            return own
        return min(own, wanted, key=lambda severity: severity.rank) if check.locked else wanted


def read_rules(path: Path) -> Rules:
    """Reads a house's rules.

    Raises:
        StoryboardUnreadable: with all faults at once, each at its place: unknown ids and limits, limits out of bounds,
            and attempts to lower a locked check.
    """
    return rules_from(load_rules(path))


def rules_from(loaded: LoadedRules) -> Rules:
    """Rules from a file that has been read.

    Raises:
        StoryboardUnreadable: as `read_rules`.
    """
    faults = [*_severity_faults(loaded), *_limit_faults(loaded)]
    if faults:
        raise unreadable(faults)
    severities = {
        id_: None if weight is Weight.OFF else Severity(weight.value) for id_, weight in loaded.rules.severity.items()
    }
    own = tuple(
        Phrase(
            pattern=words_pattern(_escaped(entry.words)),
            why=entry.why,
            rather=entry.rather,
            severity=Severity(entry.severity.value) if entry.severity is not None else None,
        )
        for entry in loaded.rules.forbidden
        if entry.severity is not Weight.OFF
    )
    changes: dict[str, Any] = {**loaded.rules.limits, "forbidden": own}
    return Rules(severities=MappingProxyType(severities), limits=replace(Limits(), **changes))


def _escaped(words: str) -> str:
    """The words as a pattern that means just them; spaces stay, so that they match across line ends."""
    return " ".join("".join(c if c.isalnum() else f"\\{c}" for c in word) for word in words.split())


def _severity_faults(loaded: LoadedRules) -> Iterator[Fault]:
    for id_, weight in loaded.rules.severity.items():
        check = BY_ID.get(id_)
        if check is None:
            yield loaded.fault(
                ("severity", id_), f"there is no check `{id_}` — {suggestion(id_, list(BY_ID))}", at_key=True
            )
        elif check.locked and (weight is Weight.OFF or Severity(weight.value).rank > check.severity.rank):
            doing = "switched off" if weight is Weight.OFF else f"lowered to {weight.value}"
            yield loaded.fault(
                ("severity", id_),
                f"`{id_}` cannot be {doing} — consent, minors, cautions and disclosure are not the house's alone to "
                f"decide; it stays {check.severity.value}, delete this line",
            )


def _limit_faults(loaded: LoadedRules) -> Iterator[Fault]:
    known = {limit.name: limit for limit in LIMITS}
    for name, value in loaded.rules.limits.items():
        limit = known.get(name)
        if limit is None:
            yield loaded.fault(
                ("limits", name), f"there is no limit `{name}` — {suggestion(name, list(known))}", at_key=True
            )
        elif not limit.lowest <= value <= limit.highest:
            yield loaded.fault(
                ("limits", name),
                f"{number(Fraction(value))} {limit.unit} is out of range — {number(limit.lowest)} to "
                f"{number(limit.highest)} are allowed",
            )

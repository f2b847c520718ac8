"""What does not go well side by side on air: the same fault or demonstrator twice in a row, one viewer twice."""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from itertools import pairwise

from segmentkit.findings import Finding, Severity
from segmentkit.season.entry import Entry
from segmentkit.storyboard.season import Item

_LAST = datetime.date.max


def by_air(items: Sequence[Item]) -> list[Item]:
    """Items in the order in which they are aired; those without a day come last, in the order of the file."""
    return sorted(items, key=lambda item: item.air or _LAST)


def clashes(entries: Sequence[Entry]) -> tuple[Finding, ...]:
    """Warnings about neighbours on air, and about viewers who come up twice without one following the other."""
    aired = [entry for entry in entries if entry.item.air is not None]
    aired.sort(key=lambda entry: entry.item.air or _LAST)
    return (*_neighbours(aired), *_twice(entries))


def _neighbours(aired: Sequence[Entry]) -> Iterator[Finding]:
    for first, second in pairwise(aired):
        for what, one, other in (
            ("fault", first.item.fault, second.item.fault),
            ("model", first.item.model, second.item.model),
        ):
            if one is not None and one == other:
                yield Finding(
                    id=f"same-{what}-next",
                    severity=Severity.WARNING,
                    where=f"items {first.id} and {second.id}",
                    what=f"both have {what} {one}, on {first.item.air} and {second.item.air} — neighbours differ",
                    remedy="change the day of one, or put another item between them",
                )


def _twice(entries: Sequence[Entry]) -> Iterator[Finding]:
    seen: dict[str, Entry] = {}
    for entry in entries:
        viewer = entry.viewer
        if viewer is None:
            continue
        earlier = seen.setdefault(viewer, entry)
        linked = entry.item.follows is not None or earlier.item.follows is not None
        if earlier is not entry and not linked:
            yield Finding(
                id="same-viewer-twice",
                severity=Severity.WARNING,
                where=f"items {earlier.id} and {entry.id}",
                what=f"both show {entry.shown or viewer} — a viewer comes up once, or one item follows the other",
                remedy=f"write follows: {earlier.id} in {entry.id} if it looks back, or choose one of the two",
            )

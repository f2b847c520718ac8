"""Which licences a season leans on and when they end: for what, in which items, and whether their files lie there.

A licence that ended takes no file of the archive away by itself: `batch` takes the finished ones out of the output
folder, as it does where a release has ended, and makes the item anew as soon as there is another licence.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from segmentkit.checks.licences import Licensed, licensed
from segmentkit.errors import StoryboardUnreadable
from segmentkit.season.journal import Journal
from segmentkit.storyboard.load import LoadedStoryboard, load
from segmentkit.storyboard.season import Item, LoadedSeason


@dataclass(frozen=True, slots=True, kw_only=True)
class LicenceEnd:
    """One licence's end.

    Attributes:
        name: of what it is for.
        by: who gave it, and `reference` its number; either may be empty.
        territory: where it holds, as written.
        until: the last day on which it holds; None where none is written.
        items: ids of the items that use it, and `out` those of which finished files lie there.
    """

    name: str
    by: str
    reference: str
    territory: str
    until: datetime.date | None
    items: tuple[str, ...]
    out: tuple[str, ...]

    def due(self, day: datetime.date) -> bool:
        """Whether finished files lie there although it has ended by a day."""
        return self.until is not None and self.until < day and bool(self.out)

    def __str__(self) -> str:
        of = " ".join(part for part in (self.by, f"({self.reference})" if self.reference else "") if part)
        where = f", {self.territory}" if self.territory else ""
        return f"{self.name}: the licence{f' from {of}' if of else ''}{where}, in {', '.join(self.items)}"


def licence_ends(season: LoadedSeason, out: Path) -> tuple[LicenceEnd, ...]:
    """The licences of a season, those that end soonest first; those without an end come last.

    Args:
        season: the season; items whose storyboard is not there yet, or cannot be read, are passed over.
        out: the folder of finished files.
    """
    lines = Journal(out).lines()
    found: dict[tuple[str, str, str, str, datetime.date | None], list[str]] = {}
    for item in season.season.items:
        board = storyboard_of(season, item)
        for key in dict.fromkeys(map(_key, licensed(board.board))) if board is not None else ():
            found.setdefault(key, []).append(item.id)
    made = {id_ for id_, line in lines.items() if any((out / id_ / one.file).is_file() for one in line.files)}
    ends = [
        LicenceEnd(
            name=name, by=by, reference=reference, territory=territory, until=until, items=tuple(items),
            out=tuple(id_ for id_ in items if id_ in made),
        )
        for (name, by, reference, territory, until), items in found.items()
    ]  # fmt: skip
    return tuple(sorted(ends, key=lambda one: (one.until or datetime.date.max, one.name)))


def _key(one: Licensed) -> tuple[str, str, str, str, datetime.date | None]:
    licence = one.licence
    return one.name, licence.by or "", licence.reference or "", licence.territory or "", licence.until


def storyboard_of(season: LoadedSeason, item: Item) -> LoadedStoryboard | None:
    """The storyboard of an item, where there is one yet that can be read."""
    path = season.folder / (item.storyboard or f"{item.id}/storyboard.yaml")
    path = path / "storyboard.yaml" if path.is_dir() else path
    try:
        return load(path) if path.is_file() else None
    except StoryboardUnreadable:
        return None

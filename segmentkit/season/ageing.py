"""What of a person must go by when: releases that end or were taken back, and what came and was never used.

A person is kept as long as any of their releases holds. What nobody used is kept for a while, in case it is wanted
after all, and then goes, since there is no reason left to keep it.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.errors import StoryboardUnreadable
from segmentkit.season.everyone import everyone
from segmentkit.season.sent import Records, Sent
from segmentkit.season.withdraw import Withdrawal, carry_out, look_for
from segmentkit.storyboard.season import LoadedSeason, load_season

UNUSED = 180
"""Days after which what nobody used goes (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """One person's end of being kept.

    Attributes:
        who: the person's name among `people`.
        on: the first day on which nothing may be kept any more; None where no end is written.
        why: what ends.
        sents: what came from the person.
    """

    who: str
    on: datetime.date | None
    why: str
    sents: tuple[Sent, ...]

    def due(self, day: datetime.date) -> bool:
        """Whether the person's things must be gone on a day."""
        return self.on is not None and self.on <= day


def endings(season: LoadedSeason, unused: int = UNUSED) -> tuple[Ending, ...]:
    """When each person's things must go, soonest first; those without an end come last.

    Args:
        season: the season.
        unused: days after which what nobody used goes.

    Raises:
        StoryboardUnreadable: when a record has faults.
    """
    used = set(_used(season))
    by_person: dict[tuple[str, str], list[Sent]] = {}
    for sent in everyone(season.folder):
        by_person.setdefault((sent.person_id, sent.person.shown.casefold()), []).append(sent)
    found = [_ending(who, sents, used, unused) for (who, _), sents in by_person.items()]
    return tuple(sorted(found, key=lambda one: (one.on or datetime.date.max, one.who)))


def _used(season: LoadedSeason) -> Iterator[str]:
    records = Records()
    for item in season.season.items:
        sent = records.sent(item, season.folder)
        if sent is not None:
            yield sent.person_id


def _ending(who: str, sents: Sequence[Sent], used: set[str], unused: int) -> Ending:
    people = [sent.person for sent in sents]
    withdrawn = [person.withdrawn for person in people if person.withdrawn is not None]
    if withdrawn:
        day = min(withdrawn)
        return Ending(who=who, on=day, why=f"the release was taken back on {day}", sents=tuple(sents))
    releases = [person.release for person in people]
    given = [release for release in releases if release is not None]
    if given and all(release.until is not None for release in given):
        last = max(release.until for release in given if release.until is not None)
        end: datetime.date | None = last + datetime.timedelta(days=1)
        why = f"the release ends on {last}"
    else:
        end, why = None, "no end is written" if given else "there is no release"
    came = [sent.submission.received for sent in sents if sent.submission.received is not None]
    if who not in used and came:
        idle = max(came) + datetime.timedelta(days=unused)
        if end is None or idle < end:
            end, why = idle, f"came on {max(came)} and was not used within {unused} days"
    return Ending(who=who, on=end, why=why, sents=tuple(sents))


def let_go(
    due: Sequence[Ending], file: Path, out: Path, today: datetime.date, stores: Sequence[Path] = ()
) -> Iterator[tuple[Ending, Withdrawal, int]]:
    """Removes what is due, person by person.

    Args:
        due: whose things must go.
        file: the season's file, read anew for each person, since rows go.
        out: the folder of finished files.
        today: the day.
        stores: working folders elsewhere.

    Yields:
        Whose it was, what there was, and how many things could not be removed or are left to a person.

    Raises:
        StoryboardUnreadable: when the season or a record has faults.
    """
    for ending in due:
        if not ending.due(today):
            raise StoryboardUnreadable(f"{file} — {ending.who} is kept until {ending.on} — nothing goes before its day")
        season = load_season(file)
        withdrawal = look_for(ending.who, season, out, today, stores)
        left = carry_out(withdrawal.found, season, out)
        yield ending, withdrawal, len(left)

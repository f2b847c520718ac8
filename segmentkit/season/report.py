"""A season in figures: what came and was used, what is on air when, how long it took, what ends when; nobody is named.

People are counted and never listed; places with few people are folded together, so that nobody is recognised by one.
Demonstrators are letters. Whose turn it is stands in a file of its own (`report_people`).
"""

from __future__ import annotations

import datetime
import json
import statistics
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

from segmentkit.errors import SegmentkitError
from segmentkit.intake.consent import consent_reasons, shown_place
from segmentkit.season.everyone import everyone
from segmentkit.season.follow_due import DAYS, Due, Stage, due_list
from segmentkit.season.journal import FAILED_QC, Journal
from segmentkit.season.licences import storyboard_of
from segmentkit.season.sent import Records, Sent
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.season import Item, LoadedSeason
from segmentkit.storyboard.submission import VerdictWord

FEWEST = 3
"""People from one place below which it is not named: with one or two, a neighbour would know who is meant."""
ELSEWHERE = "elsewhere"
NOT_WRITTEN, NOT_ASKED, NOT_JUDGED = "not written", "not asked", "not judged yet"
Times = Callable[[LoadedStoryboard], "Lengths"]
"""Plans a storyboard; raises a SegmentkitError when it cannot."""
Counts = tuple[tuple[str, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lengths:
    """How long things are seen and heard in one segment, in exact seconds.

    Attributes:
        sponsor: the disclosure cards.
        music: each piece, by title and credit.
    """

    sponsor: Fraction
    music: Mapping[tuple[str, str], Fraction]


@dataclass(frozen=True, slots=True, kw_only=True)
class Airing:
    """One item on air: its day, what it teaches, who demonstrates, whether it looks back."""

    day: datetime.date
    fault: str
    model: str
    follows: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Clash:
    """Two neighbours on air that are too alike, and in what."""

    first: datetime.date
    second: datetime.date
    what: str

    def __str__(self) -> str:
        return f"{self.first} and {self.second}: {self.what} twice in a row"


@dataclass(frozen=True, slots=True, kw_only=True)
class MusicUse:
    """A piece of music over the season; `seconds` None where no storyboard could be planned."""

    title: str
    credit: str
    items: int
    seconds: Fraction | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """A season in figures.

    Attributes:
        title, programme: as written.
        today: the day on which it was looked at.
        items, dated, aired: how many there are, have a day, have been on air.
        came: submissions in all; `used` those that an item shows.
        verdicts: submissions by what became of them.
        reasons: why submissions were not used, most frequent first.
        faults, models, hands, sexes, places: of the items that are made.
        airings: in the order of their days.
        clashes: neighbours that are too alike.
        turnaround: days from receipt to airing, sorted.
        asked, answered, due, barred: follow-ups whose day has come; those that came or were made; still open; not to be
            asked.
        releases: ends of releases: day and how many; `endless` how many have none, `missing` how many there are not.
        music: by title.
        sponsors: items with a sponsor; `sponsor_seconds` how long disclosures stand, None where nothing was planned.
        planned, unplanned: storyboards that were and were not planned.
        delivered: finished movies by profile, as the batch's journal says.
        failed: files by profile that failed quality control and are kept aside, as the journal says.
    """

    title: str
    programme: str
    today: datetime.date
    items: int
    dated: int
    aired: int
    came: int
    used: int
    verdicts: Counts
    reasons: Counts
    faults: Counts
    models: Counts
    hands: Counts
    sexes: Counts
    places: Counts
    airings: tuple[Airing, ...]
    clashes: tuple[Clash, ...]
    turnaround: tuple[int, ...]
    asked: int
    answered: int
    due: int
    barred: int
    releases: tuple[tuple[datetime.date, int], ...]
    endless: int
    missing: int
    music: tuple[MusicUse, ...]
    sponsors: int
    sponsor_seconds: Fraction | None
    planned: int
    unplanned: int
    delivered: Counts
    failed: Counts
    letters: Mapping[str, str] = field(repr=False)

    @property
    def median(self) -> float | None:
        """Median days from receipt to airing."""
        return statistics.median(self.turnaround) if self.turnaround else None

    @property
    def ninety(self) -> float | None:
        """Days within which nine of ten were on air: between values by straight line (type 7 of Hyndman and Fan, The
        American Statistician 50, 1996, 361).
        """  # noqa: D205
        if len(self.turnaround) < 2:
            return float(self.turnaround[0]) if self.turnaround else None
        return statistics.quantiles(self.turnaround, n=10, method="inclusive")[8]


@dataclass(slots=True)
class _Seen:
    """An item with what was read of it."""

    item: Item
    sent: Sent | None
    board: LoadedStoryboard | None
    lengths: Lengths | None = None


def figures(
    season: LoadedSeason, today: datetime.date, *, days: int = DAYS, times: Times | None = None, out: Path | None = None
) -> Figures:  # fmt: skip
    """Counts a season.

    Args:
        season: the season.
        today: the day on which it is looked at.
        days: from an airing to its follow-up.
        times: plans a storyboard, for how long music and disclosures are; nothing is planned when None.
        out: the folder of finished files; `out` beside the season when None.

    Raises:
        StoryboardUnreadable: when a record has faults.
    """
    records = Records()
    seen = [_Seen(item, records.sent(item, season.folder), storyboard_of(season, item)) for item in season.season.items]
    unplanned = 0
    for one in seen:
        if times is not None and one.board is not None:
            try:
                one.lengths = times(one.board)
            except SegmentkitError:
                unplanned += 1
    letters = _letters(one.item.model for one in seen)
    airings = tuple(sorted((_airing(one, letters) for one in seen if one.item.air is not None), key=lambda a: a.day))
    everybody = list(everyone(season.folder))
    used = {_key(one.sent) for one in seen if one.sent is not None}
    judged = [_judged(sent, today) for sent in everybody]
    people = _people(seen)
    asked = [due for due in due_list(season, today, days) if due.on <= today or due.stage is not Stage.WAITING]
    planned = [one.lengths for one in seen if one.lengths is not None]
    return Figures(
        title=season.season.season, programme=season.season.programme or "", today=today, items=len(seen),
        dated=len(airings), aired=sum(airing.day <= today for airing in airings), came=len(everybody), used=len(used),
        verdicts=_in_order([word for word, _ in judged], [*(word.value for word in VerdictWord), NOT_JUDGED]),
        reasons=_most(reason for _, reason in judged if reason),
        faults=_most(_fault(one) for one in seen),
        models=_most(letters.get(one.item.model or "", NOT_WRITTEN) for one in seen),
        hands=_most(sent.person.handed.value if sent.person.handed else NOT_ASKED for sent in people),
        sexes=_most(sent.person.sex or NOT_ASKED for sent in people), places=_places(people), airings=airings,
        clashes=tuple(_clashes(airings)), turnaround=tuple(sorted(_turnaround(seen))),
        asked=sum(due.stage in {Stage.DUE, Stage.CAME, Stage.FOLLOWED} for due in asked),
        answered=sum(due.stage in {Stage.CAME, Stage.FOLLOWED} for due in asked),
        due=sum(due.stage is Stage.DUE for due in asked), barred=sum(due.stage is Stage.BARRED for due in asked),
        releases=_releases(people), endless=sum(_endless(sent) for sent in people),
        missing=sum(sent.person.release is None for sent in people), music=_music(seen),
        sponsors=sum(one.board is not None and one.board.board.segment.sponsor is not None for one in seen),
        sponsor_seconds=sum((one.sponsor for one in planned), Fraction(0)) if planned else None,
        planned=len(planned), unplanned=unplanned,
        delivered=_delivered(out or season.folder / "out"), failed=_failed(out or season.folder / "out"),
        letters=letters,
    )  # fmt: skip


def _delivered(out: Path) -> Counts:
    lines = Journal(out).lines().values()
    return _most(
        said(Path(made.profile).stem)
        for line in lines if line.state in {"done", FAILED_QC} for made in line.files if made.profile and made.seconds
    )  # fmt: skip


def _failed(out: Path) -> Counts:
    lines = Journal(out).lines().values()
    return _most(
        said(Path(one.made.profile).stem) for line in lines if line.state == FAILED_QC for one in line.failed
    )  # fmt: skip


def _key(sent: Sent) -> tuple[Path, str]:
    return Path(sent.record.file).resolve(), sent.name


def _people(seen: Sequence[_Seen]) -> list[Sent]:
    """One submission for each person that the items show, the latest of theirs."""
    found = {sent.person_id: sent for one in seen if (sent := one.sent) is not None}
    return list(found.values())


def _most(values: Iterable[str]) -> Counts:
    return tuple(sorted(Counter(values).items(), key=lambda pair: (-pair[1], pair[0])))


def _in_order(values: Sequence[str], order: Sequence[str]) -> Counts:
    counts = Counter(values)
    return tuple((name, counts[name]) for name in order if counts[name])


def _letters(models: Iterable[str | None]) -> dict[str, str]:
    """A letter for each demonstrator, in the order in which they come: A to Z, AA, AB ..."""
    made: dict[str, str] = {}
    for model in models:
        if model is not None and model not in made:
            number, text = len(made), ""
            while number >= 0:
                text = chr(65 + number % 26) + text
                number = number // 26 - 1
            made[model] = f"demonstrator {text}"
    return made


def _fault(one: _Seen) -> str:
    if one.item.fault is not None:
        return said(one.item.fault)
    named = [beat.fault for beat in one.board.board.beats if beat.fault] if one.board is not None else []
    return said(named[0]) if named else NOT_WRITTEN


def said(name: str) -> str:
    """A name as words."""
    return name.replace("_", " ").replace("-", " ")


def _airing(one: _Seen, letters: Mapping[str, str]) -> Airing:
    assert one.item.air is not None
    return Airing(
        day=one.item.air, fault=_fault(one), model=letters.get(one.item.model or "", NOT_WRITTEN),
        follows=one.item.follows is not None,
    )  # fmt: skip


def _clashes(airings: Sequence[Airing]) -> Iterator[Clash]:
    for first, second in pairwise(airings):
        for one, other in ((first.fault, second.fault), (first.model, second.model)):
            if one == other and one != NOT_WRITTEN:
                yield Clash(first=first.day, second=second.day, what=one)


def _places(people: Sequence[Sent]) -> Counts:
    """People by place; those of places with few people are one group, of whatever size."""
    places = Counter(shown_place(sent.person) or NOT_WRITTEN for sent in people)
    few = sum(count for place, count in places.items() if count < FEWEST and place != NOT_WRITTEN)
    kept = [(place, count) for place, count in places.items() if count >= FEWEST or place == NOT_WRITTEN]
    kept.sort(key=lambda pair: (-pair[1], pair[0]))
    return (*kept, (ELSEWHERE, few)) if few else tuple(kept)


def _turnaround(seen: Sequence[_Seen]) -> Iterator[int]:
    for one in seen:
        received = one.item.received or (one.sent.submission.received if one.sent is not None else None)
        if received is not None and one.item.air is not None and one.item.air >= received:
            yield (one.item.air - received).days


def _judged(sent: Sent, today: datetime.date) -> tuple[str, str]:
    """What became of a submission, and the first reason against it as words; reasons name nobody."""
    barred = [reason for reason in consent_reasons(sent.person, today) if reason.word is VerdictWord.NOT_USED]
    if barred:
        return VerdictWord.NOT_USED.value, said(barred[0].id)
    entry = _reports(sent.folder).get(sent.name)
    decision = sent.submission.decision
    if entry is None:
        return (decision.verdict.value, "") if decision is not None else (NOT_JUDGED, "")
    word = VerdictWord(entry["verdict"])
    if word.rank < VerdictWord.RESHOOT.rank:
        return word.value, ""
    reasons = [*entry["reasons"], *(reason for part in entry["parts"] for reason in part["reasons"])]
    weighty = [reason["id"] for reason in reasons if reason["verdict"] == word.value]
    return word.value, said(weighty[0]) if weighty else "decided by a person"


def _reports(folder: Path) -> dict[str, dict[str, Any]]:
    try:
        data = json.loads((folder / "intake" / "intake.json").read_text("utf-8"))
        return {str(entry["submission"]): entry for entry in data["submissions"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _endless(sent: Sent) -> bool:
    return sent.person.release is not None and sent.person.release.until is None


def _releases(people: Sequence[Sent]) -> tuple[tuple[datetime.date, int], ...]:
    ends = Counter(sent.person.release.until for sent in people if sent.person.release is not None)
    return tuple(sorted((day, count) for day, count in ends.items() if day is not None))


def _music(seen: Sequence[_Seen]) -> tuple[MusicUse, ...]:
    items: Counter[tuple[str, str]] = Counter()
    seconds: dict[tuple[str, str], Fraction] = {}
    for one in seen:
        if one.board is None:
            continue
        items.update({music_key(music.title, music.file, music.credit) for music in one.board.board.music})
        for key, length in (one.lengths.music if one.lengths is not None else {}).items():
            seconds[key] = seconds.get(key, Fraction(0)) + length
    return tuple(
        MusicUse(title=key[0], credit=key[1], items=count, seconds=seconds.get(key))
        for key, count in sorted(items.items(), key=lambda pair: (-pair[1], pair[0]))
    )


def music_key(title: str | None, file: str, credit: str | None) -> tuple[str, str]:
    """How a piece of music is known over the season: its title, else its file's name, and its credit."""
    return title or Path(file).stem.replace("_", " "), credit or ""


def open_follow_ups(season: LoadedSeason, today: datetime.date, days: int = DAYS) -> tuple[Due, ...]:
    """The follow-ups that somebody has to see to, for the file that names people."""
    return tuple(due for due in due_list(season, today, days) if due.stage in {Stage.DUE, Stage.CAME, Stage.WAITING})

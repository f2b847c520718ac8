"""Who is due to be asked how it is going, and when; who has answered, and who must not be written to."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from segmentkit.intake.consent import consent_reasons, uses_allowed
from segmentkit.intake.letters import letter
from segmentkit.intake.record import write_text
from segmentkit.season.everyone import everyone
from segmentkit.season.sent import Records, Sent
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.season import Item, LoadedSeason
from segmentkit.storyboard.submission import VerdictWord

DAYS = 100
"""Days from the airing to the letter, when a change has had time to settle (common practice, no source)."""
LETTERS = "letters"


class Stage(Enum):
    """How far a viewer's follow-up is."""

    WAITING = "not yet"
    DUE = "due"
    CAME = "a new clip is there"
    FOLLOWED = "followed"
    BARRED = "not to be written to"


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """One viewer's follow-up.

    Attributes:
        item: id of the item that was aired.
        sent: its submission.
        aired: the day of airing.
        on: the day on which the viewer is written to.
        stage: how far it is.
        by: id of the item that follows, or of the submission that came.
        why: the reason where nobody may be written to.
    """

    item: str
    sent: Sent
    aired: datetime.date
    on: datetime.date
    stage: Stage
    by: str = ""
    why: str = ""


def due_list(season: LoadedSeason, today: datetime.date, days: int = DAYS) -> tuple[Due, ...]:
    """The follow-ups of a season in the order in which they are due.

    Items without a day of airing, without a submission, and those that are follow-ups themselves are not in it.

    Raises:
        StoryboardUnreadable: when a record cannot be read.
    """
    records, items = Records(), season.season.items
    sents = {item.id: records.sent(item, season.folder) for item in items}
    followed = {item.follows: item.id for item in items if item.follows is not None}
    used = {_key(sent) for sent in sents.values() if sent is not None}
    later = [sent for sent in everyone(season.folder) if _key(sent) not in used]
    found = []
    for item in items:
        sent = sents[item.id]
        if item.air is None or sent is None or item.follows is not None:
            continue
        stage, by, why = _stage(item, item.air, sent, followed, later, today, days)
        found.append(
            Due(
                item=item.id, sent=sent, aired=item.air, on=item.air + datetime.timedelta(days=days), stage=stage,
                by=by, why=why,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda due: (due.on, due.item)))


def _key(sent: Sent) -> tuple[Path, str]:
    return Path(sent.record.file).resolve(), sent.name


def _stage(
    item: Item, aired: datetime.date, sent: Sent, followed: Mapping[str, str], later: list[Sent],
    today: datetime.date, days: int,
) -> tuple[Stage, str, str]:  # fmt: skip
    barred = barred_by(sent.person, today)
    if barred:
        return Stage.BARRED, "", barred
    if item.id in followed:
        return Stage.FOLLOWED, followed[item.id], ""
    came = [
        one for one in later
        if one.person_id == sent.person_id and one.submission.received is not None and one.submission.received > aired
    ]  # fmt: skip
    if came:
        return Stage.CAME, came[-1].name, ""
    if today >= aired + datetime.timedelta(days=days):
        return Stage.DUE, "", ""
    return Stage.WAITING, "", ""


def barred_by(person: Person, today: datetime.date) -> str:
    """Why somebody may not be asked again; empty where nothing stands against it.

    An ended release does not bar: a new one is asked for with the new clip. A withdrawal and pain do.
    """
    reasons = [reason for reason in consent_reasons(person, today) if reason.word is VerdictWord.NOT_USED]
    return next((reason.what for reason in reasons if reason.id in {"withdrawn", "pain", "minor-unsigned"}), "")


def write_reminders(
    due: tuple[Due, ...], folder: Path, limits: IntakeLimits, own: Path | None, today: datetime.date
) -> dict[str, Path]:
    """Writes a letter to everybody who is due, once: a letter that is there is not written again.

    Args:
        due: from `due_list`.
        folder: where the letters go.
        limits: the limits whose numbers they name.
        own: folder of the house's own words.
        today: the day.

    Returns:
        The letters that were written, by item.

    Raises:
        StoryboardUnreadable: when the words have faults.
        OutputFailed: when the disk refuses.
    """
    written = {}
    for one in due:
        path = folder / f"{one.item}.follow-up.txt"
        if one.stage is Stage.DUE and not path.exists():
            written[one.item] = write_text(path, reminder(one, limits, own, today))
    return written


def reminder(one: Due, limits: IntakeLimits, own: Path | None, today: datetime.date) -> str:
    """The letter that asks a viewer to film the same again.

    Raises:
        StoryboardUnreadable: when the words have faults.
    """
    person = one.sent.person
    entry = {
        "submission": one.sent.name, "uses": uses_allowed(person, today), "question": "", "reasons": [], "parts": [],
    }  # fmt: skip
    given = {"day": said_day(one.aired), "again": how_again(one.sent)}
    return letter("follow-up", entry, person, limits, own, given)


def said_day(day: datetime.date) -> str:
    """A day as a letter says it: 3 May 2026."""
    return f"{day.day} {day:%B %Y}"


_SAID = {"down-the-line": "from behind, down the line", "face-on": "from the front, face-on"}


def how_again(sent: Sent) -> str:
    """How the first clips were filmed, so that the new ones can stand beside them."""
    views = [_SAID[name] for name, _ in sent.submission.parts if name in _SAID]
    club = sent.person.club if sent.person.adult is True else None
    with_club = f" with your {club}" if club else ""
    filmed = f"Last time you were filmed {' and '.join(views)}{with_club}. " if views else ""
    return (
        f"{filmed}Please let the camera stand where it stood, at the same height and distance, with the same lens and"
        " nothing zoomed: a camera half a metre aside can look like a change in the swing.\n\n"
        "Because it is a new clip, we need a new release, signed and dated; without one we cannot show it."
    )

"""The gate before any measuring: releases, withdrawals, minors, pain. What it refuses is not opened."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from segmentkit.intake.verdict import Reason
from segmentkit.storyboard.people import Person, Scope
from segmentkit.storyboard.submission import VerdictWord

NOT_USED, LIMITED = VerdictWord.NOT_USED, VerdictWord.LIMITED


def consent_reasons(person: Person, today: datetime.date) -> Iterator[Reason]:
    """Every reason that the record gives against using a person's clips today."""
    release = person.release
    if person.withdrawn is not None:
        yield Reason(
            id="withdrawn", word=NOT_USED,
            what=f"the release was taken back on {person.withdrawn} — nothing may be used, all is erased",
        )  # fmt: skip
        return
    if release is None:
        yield Reason(id="no-release", word=NOT_USED, what="there is no release — one is needed before a clip is opened")
        return
    if release.until is not None and today > release.until:
        yield Reason(id="release-ended", word=NOT_USED, what=f"the release ended on {release.until} — today is {today}")
    if release.from_ is not None and today < release.from_:
        yield Reason(
            id="release-not-yet", word=NOT_USED, what=f"the release holds from {release.from_} — today is {today}"
        )
    if person.adult is False:
        yield from _minor(person)
    if person.adult is None:
        yield Reason(
            id="age-unknown", word=NOT_USED,
            what="nobody has stated whether the person is of age — write adult: yes or adult: no",
        )  # fmt: skip
    if person.pain:
        yield Reason(
            id="pain", word=NOT_USED,
            what="the person told of pain — medical advice comes first; a professional may decide otherwise",
        )  # fmt: skip


def _minor(person: Person) -> Iterator[Reason]:
    release = person.release
    by = release.by if release is not None else None
    if person.guardian is None or by is None or by.casefold() != person.guardian.casefold():
        yield Reason(
            id="minor-unsigned", word=NOT_USED,
            what="a minor's release is signed by a guardian — guardian: and by: must name the same person",
        )  # fmt: skip
    scopes = release.for_ if release is not None else ()
    if Scope.MARKETING in scopes:
        yield Reason(
            id="minor-marketing", word=LIMITED, what="the person is a minor — never in marketing, whatever was ticked",
            without="no marketing",
        )  # fmt: skip


def uses_allowed(person: Person, today: datetime.date) -> tuple[str, ...]:
    """The uses that a person's release allows today; marketing never for a minor."""
    if any(reason.word is NOT_USED for reason in consent_reasons(person, today)) or person.release is None:
        return ()
    scopes = [scope for scope in person.release.for_ if not (scope is Scope.MARKETING and person.adult is not True)]
    return tuple(scope.value for scope in scopes)


def shown_name(person: Person) -> str:
    """The name that may be written anywhere: as shown; of a minor, or of somebody of unknown age, the first name."""
    if person.adult is True:
        return person.shown
    first = person.shown.split()[0]
    return first if first[:1].isupper() else person.shown


def shown_place(person: Person) -> str:
    """The place that may be written; empty for a minor and where there is none."""
    return person.place or "" if person.adult is True else ""

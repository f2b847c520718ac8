"""Children: a guardian signs, a first name at most is shown, and no marketing. Looked at before any clip is opened."""

from __future__ import annotations

import re
from collections.abc import Iterator

from segmentkit.checks.check import Remark, Step, consent_check
from segmentkit.checks.context import ConsentContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import HANDICAP, IDENTIFYING
from segmentkit.checks.say import listed, quoted
from segmentkit.checks.texts import Text, texts
from segmentkit.checks.uses import minors_in_use, people_in_use
from segmentkit.findings import Severity
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Person, Scope


@consent_check("age-not-stated", Severity.NOTE, locked=False)
def age_not_stated(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """Rules for children apply only to people known to be children, so somebody has to have asked."""
    del limits
    for id_, person, use in people_in_use(context):
        if person.adult is None:
            yield Remark(
                where=f"person {id_}",
                what=f"nobody has stated whether {person.shown} ({use}) is of age — yes or no is needed",
                remedy="ask, and write adult: yes or adult: no",
                path=("people", id_),
            )


@consent_check("minor-without-guardian", Severity.ERROR)
def minor_without_guardian(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A child's release is signed by a guardian.

    Common practice of broadcasters' codes; the age differs by country, so the storyboard states it and no age is
    worked out here.
    """
    del limits
    for id_, person, use in minors_in_use(context):
        by = person.release.by if person.release is not None else None
        if person.guardian is None:
            yield Remark(
                where=f"person {id_}",
                what=f"{person.shown} ({use}) is a minor without a guardian — one must sign the release",
                remedy="get a guardian's written consent and the child's agreement, and write guardian: …",
                path=("people", id_, "adult"),
                numbers=(("guardians", 0),),
            )
        elif person.release is not None and (by is None or by.casefold() != person.guardian.casefold()):
            yield Remark(
                where=f"person {id_}",
                what=f"the release of {person.shown}, a minor, is signed by {quoted(by) if by else 'nobody'} — the "
                f"guardian {quoted(person.guardian)} must have signed",
                remedy=f"let the guardian sign, and write by: {person.guardian}",
                path=("people", id_, "release", "by") if by else ("people", id_, "release"),
                numbers=(("signatures", 1 if by else 0),),
                severity=None if by else Severity.WARNING,
            )


@consent_check("minor-details-shown", Severity.ERROR)
def minor_details_shown(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A name with a place or a school tells a stranger where to find a child.

    Of a minor, the first name at most is shown or said: no surname, place, golf club, school or handicap, and no
    guardian.

    Surnames are guessed from capitals, and golf clubs and schools from words beside the name; someone still has to
    read it.
    """
    del limits
    for id_, person, _ in minors_in_use(context):
        first, *more = person.shown.split()
        surnames = [word for word in more if word[:1].isupper()]
        if surnames and first[:1].isupper():
            yield _detail(person, "the surname", person.shown, f"person {id_}", ("people", id_, "shown"))
        for key, value in (("place", person.place), ("handicap", person.handicap)):
            if value is not None:
                yield Remark(
                    where=f"person {id_}",
                    what=f"the record of {person.shown}, a minor, holds 1 {key}, {quoted(value)} — of a minor it is "
                    "not kept for showing",
                    remedy=f"delete {key}",
                    path=("people", id_, key),
                    numbers=(("details", 1),),
                    severity=Severity.WARNING,
                )
        for text in texts(context.board):
            if found := _tells(context.board, id_, person, text):
                yield _detail(person, *found, text.where, text.path)


def _detail(person: Person, kind: str, said: str, where: str, path: tuple[Step, ...]) -> Remark:
    return Remark(
        where=where,
        what=f"{quoted(said)} gives away {kind} of {_called(person)}, a minor — a first name at most is shown",
        remedy=f"take {kind} out",
        path=path,
        numbers=(("details", 1),),
    )


def _called(person: Person) -> str:
    """The first name; all of a description such as "our young player"."""
    first = person.shown.split()[0]
    return first if first[:1].isupper() else person.shown


def _tells(board: Storyboard, id_: str, person: Person, text: Text) -> tuple[str, str] | None:
    """What a text gives away of a minor, and the words that do; None when it is clean."""
    for kind, value in (("the place", person.place), ("the guardian", person.guardian)):
        if value and (found := re.search(rf"(?<!\w){re.escape(value)}(?!\w)", text.text, re.IGNORECASE)):
            return kind, found[0]
    called = re.escape(_called(person))
    own_card = text.kind == "lower_third" and _lower_third_person(board, text) == id_
    for kind, pattern in (
        ("the surname", rf"(?<!\w){called}\s+(?!I\b)[A-Z][\w'’-]+"),
        ("the place", rf"(?<!\w){called},?\s+(?:who (?:is|comes) )?from\s+[A-Z][\w'’-]+"),
        ("the place", rf"(?<!\w){called},\s+[A-Z][\w'’-]+" if own_card else r"(?!)"),
    ):
        if found := re.search(pattern, text.text):
            return kind, found[0]
    if own_card or re.search(rf"(?<!\w){called}(?!\w)", text.text):
        for kind, words in (("the handicap", HANDICAP), ("the club or school", IDENTIFYING)):
            if found := words.search(text.text):
                return kind, found[0]
    return None


def _lower_third_person(board: Storyboard, text: Text) -> str | None:
    match text.path:
        case ("beats", int(beat), "cards", int(card), _):
            third = board.beats[beat].cards[card].lower_third
            return third.person if third is not None else None
        case _:
            return None


@consent_check("minor-marketing", Severity.ERROR)
def minor_marketing(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """No child advertises the programme, whatever a release says: the rule of the house."""
    del limits
    profiles = [d.name for d in context.deliveries if d.scope == Scope.MARKETING.value]
    for id_, person, use in minors_in_use(context):
        if profiles:
            yield Remark(
                where=f"person {id_}",
                what=f"{person.shown} ({use}) is a minor, and {listed(profiles)} is marketing — no minor is used in "
                "marketing",
                remedy=f"take {listed(profiles)} out of deliver, or the person out of the segment",
                path=("people", id_, "adult"),
                numbers=(("profiles", len(profiles)),),
            )

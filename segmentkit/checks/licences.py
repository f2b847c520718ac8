"""Licences: what somebody else made sounds and is shown by permission. Looked at before any clip is opened.

That a licence has ended, has not begun or covers another use can be neither lowered nor switched off by house rules.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from segmentkit.checks.check import Remark, Step, consent_check
from segmentkit.checks.context import ConsentContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import counted, listed, number
from segmentkit.checks.uses import pictures_used
from segmentkit.findings import Severity
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Licence


@dataclass(frozen=True, slots=True, kw_only=True)
class Licensed:
    """Something that may be another's work, with its licence.

    Attributes:
        where: what a person calls it; `name` what it is.
        path: to its entry in the storyboard.
    """

    where: str
    name: str
    path: tuple[Step, ...]
    licence: Licence


def licensed(board: Storyboard) -> Iterator[Licensed]:
    """All that is heard or shown by a licence, in the order in which it is written."""
    clips, stills = pictures_used(board)
    for id_, clip in board.clips.items():
        if id_ in clips and clip.licence is not None:
            yield Licensed(where=f"clip {id_}", name=clip.file, path=("clips", id_), licence=clip.licence)
    for id_, still in board.stills.items():
        if id_ in stills and still.licence is not None:
            yield Licensed(where=f"still {id_}", name=still.file, path=("stills", id_), licence=still.licence)
    for k, music in enumerate(board.music):
        if music.licence is not None:
            name = music.title or music.file
            yield Licensed(where=f"music {k + 1}", name=name, path=("music", k), licence=music.licence)


def _given(one: Licensed) -> str:
    """What a licence is called: by whom, and its number."""
    by = f" from {one.licence.by}" if one.licence.by else ""
    return f"the licence{by}{f' ({one.licence.reference})' if one.licence.reference else ''} for {one.name}"


@consent_check("licence-missing", Severity.WARNING, locked=False)
def licence_missing(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """Music belongs to somebody, and a broadcaster has to say by what permission it was on air. Elsewhere it is a note.

    Music of the house's own has a licence as well: who made it gives it.
    """
    del limits
    aired = [to.name for to in context.deliveries if to.scope == "broadcast"]
    for k, music in enumerate(context.board.music):
        if music.licence is None:
            yield Remark(
                where=f"music {k + 1}",
                what=f"{music.title or music.file} sounds in {listed([to.name for to in context.deliveries])}, and no "
                "licence is written — one is needed"
                f"{' before it goes on air' if aired else ', online as well'}",
                remedy="write down by what permission it sounds: licence: {for: [broadcast, web], by: …, reference: …, "
                "until: 2028-06-30}",
                path=("music", k),
                numbers=(("licences", 0),),
                severity=None if aired else Severity.NOTE,
            )


@consent_check("licence-scope", Severity.ERROR)
def licence_scope(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A licence for the web is none for television. Each delivered profile needs a use that the licence covers."""
    del limits
    for one in licensed(context.board):
        covered = [scope.value for scope in one.licence.for_]
        missing = [scope for scope in dict.fromkeys(to.scope for to in context.deliveries) if scope not in covered]
        if missing:
            profiles = [to.name for to in context.deliveries if to.scope in missing]
            yield Remark(
                where=one.where,
                what=f"{listed(profiles)} {'needs' if len(profiles) == 1 else 'need'} a licence for {listed(missing)}, "
                f"and {_given(one)} covers {listed(covered)} — "
                f"{counted(len(missing), 'use is', 'uses are')} missing",
                remedy=f"ask for {listed(missing)}, take another piece, or take {listed(profiles)} out of deliver",
                path=(*one.path, "licence", "for"),
                numbers=(("missing", len(missing)), ("scopes", " ".join(missing))),
            )


@consent_check("licence-expired", Severity.ERROR)
def licence_expired(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A licence ends. What is delivered after its last day is delivered without permission, in repeats too."""
    del limits
    for one in licensed(context.board):
        until = one.licence.until
        if until is not None and context.today > until:
            days = (context.today - until).days
            yield Remark(
                where=one.where,
                what=f"{_given(one)} ended on {until}, {counted(days, 'day')} before {context.today} — it must hold on "
                "that day",
                remedy="ask for a longer licence, or take another piece",
                path=(*one.path, "licence", "until"),
                numbers=(("days", days),),
            )


@consent_check("licence-not-yet", Severity.ERROR)
def licence_not_yet(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A licence may begin later, with a release date or a season, and nothing is delivered before."""
    del limits
    for one in licensed(context.board):
        from_ = one.licence.from_
        if from_ is not None and context.today < from_:
            days = (from_ - context.today).days
            yield Remark(
                where=one.where,
                what=f"{_given(one)} holds from {from_}, {counted(days, 'day')} after {context.today} — it must hold "
                "on that day",
                remedy=f"wait until {from_}, or ask for an earlier date",
                path=(*one.path, "licence", "from"),
                numbers=(("days", days),),
            )


@consent_check("licence-ends-soon", Severity.NOTE, locked=False)
def licence_ends_soon(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A licence that ends within weeks may have ended by the day of transmission, and surely by that of a repeat."""
    for one in licensed(context.board):
        until = one.licence.until
        if until is None:
            continue
        days = (until - context.today).days
        if 0 <= days < limits.release_ends:
            yield Remark(
                where=one.where,
                what=f"{_given(one)} ends on {until}, in {counted(days, 'day')} — {number(limits.release_ends)} or "
                "more leave room",
                remedy="check the day of transmission and its repeats, or ask for a longer licence",
                path=(*one.path, "licence", "until"),
                numbers=(("days", days), ("wanted", limits.release_ends)),
            )

"""Consent: who may be shown, heard and named, for what, and until when. Looked at before any clip is opened.

None of these can be lowered or switched off by house rules, except the note about a release that ends soon.
"""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, consent_check
from segmentkit.checks.context import ConsentContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import CAUTION_DOCTOR
from segmentkit.checks.say import counted, listed, number
from segmentkit.checks.texts import spoken
from segmentkit.checks.uses import people_in_use
from segmentkit.findings import Severity
from segmentkit.storyboard.misplaced import clip_moments
from segmentkit.storyboard.people import Person


def _release_problem(person: Person, context: ConsentContext) -> str | None:
    """Why a person's release does not hold today for what is delivered; None when it does."""
    release = person.release
    if person.withdrawn is not None:
        return f"the release was withdrawn on {person.withdrawn}"
    if release is None:
        return "there is no release"
    if release.from_ is not None and context.today < release.from_:
        return f"the release holds from {release.from_}, today is {context.today}"
    if release.until is not None and context.today > release.until:
        return f"the release ended on {release.until}, today is {context.today}"
    if missing := _scopes_missing(person, context):
        return f"the release does not allow {listed(missing)}"
    return None


def _scopes_missing(person: Person, context: ConsentContext) -> list[str]:
    allowed = {scope.value for scope in person.release.for_} if person.release is not None else set()
    return [scope for scope in dict.fromkeys(d.scope for d in context.deliveries) if scope not in allowed]


@consent_check("release-missing", Severity.ERROR)
def release_missing(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """Without a written release nothing of a person is rendered, not even for a look."""
    del limits
    for id_, person, use in people_in_use(context):
        if person.release is None and person.withdrawn is None and not use.only_heard:
            yield Remark(
                where=f"person {id_}",
                what=f"{person.shown} is {use}, and there is no release — one is needed",
                remedy="get the release signed and write it down: release: {for: [broadcast, web], until: "
                "2028-06-30, by: …}",
                path=("people", id_),
                numbers=(("releases", 0),),
            )


@consent_check("release-scope", Severity.ERROR)
def release_scope(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A release for the web is none for television. Each delivered profile needs a use that the release names."""
    del limits
    for id_, person, use in people_in_use(context):
        if person.release is None or use.only_heard:
            continue
        if missing := _scopes_missing(person, context):
            profiles = [d.name for d in context.deliveries if d.scope in missing]
            yield Remark(
                where=f"person {id_}",
                what=f"{listed(profiles)} {'needs' if len(profiles) == 1 else 'need'} a release for "
                f"{listed(missing)}, and {person.shown} ({use}) allowed "
                f"{listed([scope.value for scope in person.release.for_])} — "
                f"{counted(len(missing), 'use is', 'uses are')} missing",
                remedy=f"ask {person.shown} for {listed(missing)}, or take {listed(profiles)} out of deliver",
                path=("people", id_, "release", "for"),
                numbers=(("missing", len(missing)), ("scopes", " ".join(missing))),
            )


@consent_check("release-expired", Severity.ERROR)
def release_expired(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A release ends. After that day the pictures are somebody else's again, in repeats and re-renders too."""
    del limits
    for id_, person, use in people_in_use(context):
        release = person.release
        if release is None or release.until is None or use.only_heard or context.today <= release.until:
            continue
        days = (context.today - release.until).days
        yield Remark(
            where=f"person {id_}",
            what=f"the release of {person.shown} ({use}) ended on {release.until}, {counted(days, 'day')} before "
            f"{context.today} — it must hold today",
            remedy="ask for a new release, or take the person out",
            path=("people", id_, "release", "until"),
            numbers=(("days", days),),
        )


@consent_check("release-not-yet", Severity.ERROR)
def release_not_yet(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A release may begin later, after a competition or a court date, and nothing is rendered before."""
    del limits
    for id_, person, use in people_in_use(context):
        release = person.release
        if release is None or release.from_ is None or use.only_heard or context.today >= release.from_:
            continue
        days = (release.from_ - context.today).days
        yield Remark(
            where=f"person {id_}",
            what=f"the release of {person.shown} ({use}) holds from {release.from_}, {counted(days, 'day')} after "
            f"{context.today} — it must hold today",
            remedy=f"wait until {release.from_}, or ask for an earlier date",
            path=("people", id_, "release", "from"),
            numbers=(("days", days),),
        )


@consent_check("release-withdrawn", Severity.ERROR)
def release_withdrawn(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """Whoever takes a release back is taken out, whatever has been finished already.

    A later date counts too: nobody starts to render what must be withdrawn next week.
    """
    del limits
    for id_, person, use in people_in_use(context):
        if person.withdrawn is not None and not use.only_heard:
            yield Remark(
                where=f"person {id_}",
                what=f"{person.shown} ({use}) took the release back on {person.withdrawn} — nothing of them may be "
                "rendered",
                remedy=f"take {id_} out of this segment, and delete what was rendered from "
                f"{listed(use.seen) if use.seen else 'it'}",
                path=("people", id_, "withdrawn"),
                numbers=(("days", (context.today - person.withdrawn).days),),
            )


@consent_check("release-speaker", Severity.ERROR)
def release_speaker(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A voice is as much a person as a face.

    Someone who is only heard needs a release that holds today, for this use.
    """
    del limits
    for _, person, use in people_in_use(context):
        if use.only_heard and (problem := _release_problem(person, context)):
            yield Remark(
                where=f"speaker {listed(use.heard)}",
                what=f"{person.shown} is {use}, but {problem} — a voice needs a release that holds",
                remedy="get the release, let someone else say the words, or take them out",
                path=("speakers", use.heard[0], "person"),
                numbers=(("releases", 0),),
            )


@consent_check("release-ends-soon", Severity.NOTE, locked=False)
def release_ends_soon(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """Consent is checked again on the day of transmission. A release that ends within weeks may have ended by then."""
    for id_, person, _ in people_in_use(context):
        release = person.release
        if release is None or release.until is None or person.withdrawn is not None:
            continue
        days = (release.until - context.today).days
        if 0 <= days < limits.release_ends:
            yield Remark(
                where=f"person {id_}",
                what=f"the release of {person.shown} ends on {release.until}, in {counted(days, 'day')} — "
                f"{number(limits.release_ends)} or more leave room",
                remedy="check the day of transmission and its repeats, or ask for a longer release",
                path=("people", id_, "release", "until"),
                numbers=(("days", days), ("wanted", limits.release_ends)),
            )


@consent_check("person-not-named", Severity.WARNING)
def person_not_named(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """A clip with the positions of a swing shows somebody. If it does not say whom, no release is asked for."""
    del limits
    used = {clip for _, clip, _ in clip_moments(context.board)}
    for id_, clip in context.board.clips.items():
        if id_ in used and clip.person is None and clip.positions:
            yield Remark(
                where=f"clip {id_}",
                what=f"it has {counted(len(clip.positions), 'position')} of a swing and no person — whoever is seen "
                "needs a release",
                remedy="write person: … in the clip, and enter the person under people",
                path=("clips", id_),
                numbers=(("positions", len(clip.positions)), ("people", 0)),
            )


@consent_check("pain-declared", Severity.WARNING)
def pain_declared(context: ConsentContext, limits: Limits) -> Iterator[Remark]:
    """Who told of pain gets no advice that loads the painful part, and is told to see a doctor first.

    Usually such a clip is not used at all; without a word about a doctor in the segment it is an error.
    """
    del limits
    told = any(CAUTION_DOCTOR.search(text.text) for text in spoken(context.board))
    for id_, person, use in people_in_use(context):
        if person.pain and use.seen:
            yield Remark(
                where=f"person {id_}",
                what=f"{person.shown} ({use}) told of pain, and a doctor or physiotherapist is "
                f"{'' if told else 'not '}advised in the words — medical advice comes before swing advice",
                remedy="let a professional decide whether this clip is used"
                + ("" if told else ', and say "see a doctor or physiotherapist before you change anything"'),
                path=("people", id_, "pain"),
                numbers=(("advised", 1 if told else 0),),
                severity=None if told else Severity.ERROR,
            )

"""A viewer's earlier and later clip put side by side: consent first, then the records, then the pictures."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from segmentkit.errors import NotFit, StoryboardUnreadable
from segmentkit.intake.consent import consent_reasons
from segmentkit.media.store import Store
from segmentkit.season.follow_camera import CameraDifference, Standing, camera_difference
from segmentkit.season.follow_compare import (
    Answer,
    Comparability,
    Ground,
    Sighting,
    camera_grounds,
    stated_grounds,
)
from segmentkit.season.follow_find import sightings, standing_of
from segmentkit.storyboard.people import Person, View
from segmentkit.storyboard.submission import VerdictWord

Progress = Callable[[str, int, int], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two clips of one viewer, compared.

    Attributes:
        then: the earlier clip.
        now: the later one.
        compared: what was compared, and the answer.
        camera: how differently they were filmed; None where no clip was opened.
    """

    then: Sighting
    now: Sighting
    compared: Comparability
    camera: CameraDifference | None


def pair_up(
    then: str, now: str, view: View | None = None,
    days: tuple[datetime.date | None, datetime.date | None] = (None, None),
) -> tuple[Sighting, Sighting]:  # fmt: skip
    """The two clips that are to be compared: those of one view.

    Args:
        then: the earlier clip's place, such as `march#s03` or `hips/storyboard.yaml#marta_dtl`.
        now: the later one's.
        view: the view to compare, where both clips exist in several.
        days: the days of both clips, where the records do not say them.

    Raises:
        StoryboardUnreadable: when a place is not there, or no view is in both.
    """
    first, second = ({one.view: one for one in sightings(text)} for text in (then, now))
    shared = [one for one in first if one in second and view in {None, one}]
    if not shared:
        if len(first) == len(second) == 1 and view is None:  # the comparison itself says why not
            shared_then, shared_now = next(iter(first.values())), next(iter(second.values()))
            return _dated(shared_then, days[0]), _dated(shared_now, days[1])
        raise StoryboardUnreadable(
            f"{then} and {now} — have no view in common: {_listed(first)} then, {_listed(second)} now — both must be"
            " filmed from one side — ask for the clip that is missing"
        )
    return _dated(first[shared[0]], days[0]), _dated(second[shared[0]], days[1])


def _dated(one: Sighting, day: datetime.date | None) -> Sighting:
    return one if day is None else replace(one, day=day)


def _listed(views: dict[View, Sighting]) -> str:
    return ", ".join(view.value for view in views) or "none"


def compare(
    then: Sighting, now: Sighting, today: datetime.date, *, distance: float = 4.5, height: float = 0.9,
    progress: Progress = lambda *_: None,
) -> Pair:  # fmt: skip
    """Compares two clips. No clip is opened unless both releases hold and the records allow a comparison.

    Args:
        then: the earlier clip.
        now: the later one.
        today: the day on which releases must hold.
        distance: metres from camera to player that the shooting sheet asks for.
        height: metres of the camera above the ground that it asks for.
        progress: told which clip is being measured.

    Raises:
        MediaUnusable: when a clip cannot be used.
        OutputFailed: when the working folder cannot be written to.
    """
    told = [*consent_grounds(then, now, today), *stated_grounds(then, now)]
    if any(ground.answer is Answer.NO for ground in told):
        return Pair(then=then, now=now, compared=Comparability(grounds=tuple(told)), camera=None)
    then, first = _looked_at(then, distance, progress, 0)
    now, second = _looked_at(now, distance, progress, 1)
    progress("clips", 2, 2)
    told = [*consent_grounds(then, now, today), *stated_grounds(then, now)]  # now with rates that were measured
    camera = camera_difference(first, second, distance, height)
    told += camera_grounds(camera)
    return Pair(then=then, now=now, compared=Comparability(grounds=tuple(told)), camera=camera)


def _looked_at(one: Sighting, distance: float, progress: Progress, done: int) -> tuple[Sighting, Standing]:
    from segmentkit.intake.survey import survey  # noqa: PLC0415  decoders load only when there is work for them
    from segmentkit.media.guarded import guarded_clip  # noqa: PLC0415

    progress("clips", done, 2)
    clip = guarded_clip(one.file, Store.of(one.home))
    seen = survey(clip, distance=distance)
    player = seen.framing.area if seen.framing is not None else None
    proposed = {found.position: f"f{found.frame}" for found in seen.proposals}
    if seen.swing is not None:  # where the motion ends, the finish is held
        end = seen.swing.end
        proposed["finish"] = f"f{sum(float(time) <= end for time in clip.facts.times) - 1}"
    measured = replace(
        one, rate=min(one.rate, seen.true_rate) if one.rate != float("inf") else seen.true_rate,
        positions={**proposed, **one.positions},
    )  # fmt: skip
    return measured, standing_of(one, clip.facts, player)


def refuse_barred(one: Sighting, today: datetime.date) -> None:
    """Makes sure that a clip may be opened: its person's release holds.

    Raises:
        NotFit: when it does not.
    """
    barred = [reason for reason in consent_reasons(one.person, today) if reason.word is VerdictWord.NOT_USED]
    if barred:
        raise NotFit(f"{one.name} — {barred[0].what} — nothing of it is opened — choose another clip")


def consent_grounds(then: Sighting, now: Sighting, today: datetime.date) -> Iterator[Ground]:
    """Both releases must hold today, and the later one must have been given anew for the later clip."""
    for one in (then, now):
        for reason in consent_reasons(one.person, today):
            if reason.word is VerdictWord.NOT_USED:
                yield Ground(id=reason.id, answer=Answer.NO, what=f"{one.name}: {reason.what}")
            elif reason.without:
                yield Ground(
                    id=reason.id, answer=Answer.WITH_CARE, what=f"{one.name}: {reason.what}", so=reason.without
                )  # fmt: skip
    if then.person.release is None or now.person.release is None:
        return
    yield _renewed(then, now)
    narrower = _scopes(then.person) ^ _scopes(now.person)
    if narrower:
        yield Ground(
            id="release-scopes", answer=Answer.WITH_CARE, so=f"not for {', '.join(sorted(narrower))}",
            what=f"{', '.join(sorted(narrower))} stands in one of the two releases only — both must allow a use",
        )  # fmt: skip


def _scopes(person: Person) -> set[str]:
    return {scope.value for scope in person.release.for_} if person.release is not None else set()


def _renewed(then: Sighting, now: Sighting) -> Ground:
    release = now.person.release
    assert release is not None
    if release.from_ is None:
        what = f"{now.name}: the release has no first day, so nobody can see whether it was given anew for this clip"
        return Ground(id="release-renewed", answer=Answer.NO, what=f"{what} — write from: with the day of the new one")
    if then.day is not None and release.from_ <= then.day:
        return Ground(
            id="release-renewed", answer=Answer.NO,
            what=f"{now.name}: the release of {release.from_} was given before the later clip — consent is asked for"
            " anew with every clip; enter the new release",
        )  # fmt: skip
    return Ground(id="release-renewed", what=f"a new release since {release.from_}")

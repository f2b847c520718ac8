"""Which demonstrator's clip to put beside a viewer's, best first, each with its reasons.

Unlike is never first: another view, another kind of club, or a release that does not hold keeps a clip out of the list,
and the reason is told. Among the rest a mirrored picture, a camera that stood elsewhere, another build and a face that
was on air last week all cost something, in this order. What is not written is not guessed.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.geometry import Point
from segmentkit.intake.consent import consent_reasons
from segmentkit.season.follow_compare import MOST_ANGLE, Sighting, club_family
from segmentkit.season.follow_find import sighting_of
from segmentkit.storyboard.library import LoadedLibrary
from segmentkit.storyboard.season import LoadedSeason
from segmentkit.storyboard.submission import VerdictWord

MOST = 5
ALIKE_BUILD = 0.04
"""How far the ratio of trunk to leg may differ and still be called alike; named spots are no more exact."""
_SPINE = ("shoulder", "spine_high")


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A demonstrator's clip.

    Attributes:
        id: of the clip in the library; `who` shows it.
        file: the clip.
        reasons: what speaks for it and against it.
        mirror: whether its picture must be mirrored, and said to be.
        cost: what the order follows, smallest first.
    """

    id: str
    who: str
    file: Path
    reasons: tuple[str, ...]
    mirror: bool
    cost: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ranking:
    """All clips of a library, for one clip of a viewer: those that may stand beside it, and why others may not."""

    best: tuple[Candidate, ...]
    refused: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Recently:
    """How a season uses demonstrators: how often each, and who is on air next to a day."""

    times: Mapping[str, int]
    neighbours: Mapping[str, datetime.date]


def recently(season: LoadedSeason, air: datetime.date | None) -> Recently:
    """Counts the demonstrators of a season, and finds those of the items before and after a day."""
    times: dict[str, int] = {}
    for item in season.season.items:
        if item.model is not None:
            times[item.model] = times.get(item.model, 0) + 1
    if air is None:
        return Recently(times=times, neighbours={})
    aired = sorted((item.air, item.model) for item in season.season.items if item.air is not None and item.model)
    before = [pair for pair in aired if pair[0] < air][-1:]
    after = [pair for pair in aired if pair[0] > air][:1]
    return Recently(times=times, neighbours={model: day for day, model in (*before, *after)})


def rank(
    viewer: Sighting, library: LoadedLibrary, today: datetime.date, used: Recently | None = None, most: int = MOST
) -> Ranking:  # fmt: skip
    """Ranks the clips of a library for a viewer's clip.

    Args:
        viewer: the viewer's clip.
        library: the demonstrators.
        today: the day on which releases must hold.
        used: how a season uses them.
        most: how many are listed.
    """
    best, refused = [], []
    for id_, clip in library.library.clips.items():
        assert clip.person is not None  # a library whose clips show nobody is not read
        person = library.library.people[clip.person]
        one = sighting_of(id_, clip, clip.person, person, library.folder)
        against = _refusal(viewer, one, today)
        if against:
            refused.append((id_, against))
        else:
            best.append(_candidate(viewer, one, used or Recently(times={}, neighbours={})))
    return Ranking(best=tuple(sorted(best, key=lambda c: (c.cost, c.id))[:most]), refused=tuple(refused))


def _refusal(viewer: Sighting, one: Sighting, today: datetime.date) -> str:
    if one.view is not viewer.view:
        return f"filmed {one.view.value}, the viewer {viewer.view.value}"
    clubs = (viewer.person.club, one.person.club)
    if clubs[0] and clubs[1] and club_family(clubs[0]) != club_family(clubs[1]):
        return f"{clubs[1]}, the viewer {clubs[0]} — posture and plane differ with the club"
    barred = [reason for reason in consent_reasons(one.person, today) if reason.word is VerdictWord.NOT_USED]
    return barred[0].what if barred else ""


def _candidate(viewer: Sighting, one: Sighting, used: Recently) -> Candidate:
    mirror = None not in (viewer.person.handed, one.person.handed) and viewer.person.handed is not one.person.handed
    club = _same_club(viewer, one)
    angle = _angle(viewer, one)
    build = _build_apart(viewer, one)
    next_to = used.neighbours.get(one.who)
    times = used.times.get(one.who, 0)
    cost = (
        float(mirror), 0.0 if club == "same" else 1.0,
        0.0 if angle is not None and angle <= MOST_ANGLE else 1.0 if angle is None else 2.0,
        float(next_to is not None), 2 * ALIKE_BUILD if build is None else round(build, 3), float(times),
        angle if angle is not None else MOST_ANGLE,
    )  # fmt: skip
    reasons = tuple(_reasons(viewer, one, mirror, club, angle, build, next_to, times))
    return Candidate(id=one.name, who=one.who, file=one.file, reasons=reasons, mirror=mirror, cost=cost)


def _reasons(
    viewer: Sighting, one: Sighting, mirror: bool, club: str, angle: float | None, build: float | None,
    next_to: datetime.date | None, times: int,
) -> Iterator[str]:  # fmt: skip
    yield f"same view, {one.view.value}"
    yield _said_hand(viewer, one, mirror)
    yield {
        "same": f"same club, {one.person.club}",
        "kind": f"{one.person.club} beside {viewer.person.club}: the same kind, and said so",
    }.get(club, "club: not written for both")
    yield _said_angle(angle)
    if build is None:
        yield "build: heel, belt and shoulder are not named at address in both"
    else:
        yield f"trunk to leg {build:.2f} apart{', alike' if build <= ALIKE_BUILD else ''}"
    if next_to is not None:
        yield f"on air next to this one, on {next_to}"
    if times:
        yield f"in {times} item{'s' if times > 1 else ''} of the season"


def _said_hand(viewer: Sighting, one: Sighting, mirror: bool) -> str:
    if one.person.handed is None or viewer.person.handed is None:
        return "handed: not written for both"
    if mirror:
        return f"plays {one.person.handed.value}-handed: mirrored, and said so"
    return f"same hand, {one.person.handed.value}"


def _said_angle(angle: float | None) -> str:
    if angle is None:
        return "camera: not found out for both"
    if angle <= MOST_ANGLE:
        return f"camera {angle:.0f}° apart, as people have found it out"
    return f"camera {angle:.0f}° apart — up to {MOST_ANGLE:g}°: no line of plane, aim or path"


def _same_club(viewer: Sighting, one: Sighting) -> str:
    clubs = (viewer.person.club, one.person.club)
    if not clubs[0] or not clubs[1]:
        return "unknown"
    return "same" if clubs[0].casefold() == clubs[1].casefold() else "kind"


def _angle(viewer: Sighting, one: Sighting) -> float | None:
    if viewer.yaw is None or one.yaw is None:
        return None
    return abs(viewer.yaw[0] - one.yaw[0])


def _build_apart(viewer: Sighting, one: Sighting) -> float | None:
    ratios = [_build(points) for points in (viewer.points.get("address", {}), one.points.get("address", {}))]
    return None if ratios[0] is None or ratios[1] is None else abs(ratios[0] - ratios[1])


def _build(points: Mapping[str, Point]) -> float | None:
    """Height of the trunk against that of the legs, from named spots; posture is in it as well."""
    heel, belt = points.get("heel"), points.get("belt")
    shoulder: Sequence[Point] = [points[name] for name in _SPINE if name in points]
    if heel is None or belt is None or not shoulder or heel.y <= belt.y:
        return None
    return (belt.y - shoulder[0].y) / (heel.y - belt.y)

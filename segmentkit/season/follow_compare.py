"""Whether two clips of one viewer may stand beside one another, and what may be claimed from them.

Three answers: comparable; comparable, with what must be said or left out; not comparable. A number is printed with its
tolerance or not at all, and beside the numbers stands what no picture can tell.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from enum import Enum
from pathlib import Path

from segmentkit.geometry import Point
from segmentkit.season.follow_camera import CameraDifference
from segmentkit.storyboard.people import Hand, Person, View

MOST_ANGLE = 5.0
"""Degrees by which two cameras may stand apart; beyond, the same pose looks like another one (common practice, no
source)."""
MOST_HIGHER = 0.15
"""Metres by which one may stand higher than the other (common practice, no source)."""
MOST_NEARER = 1.25
MOST_SIZE = 1.6
"""How many times the smaller player may be enlarged, as for any picture that is enlarged."""
MOST_ROLL = 3.0
"""Degrees by which a picture may be turned to be level."""
LEAST_RATE = 59.0
CANNOT = (
    "whether the camera stood elsewhere or the player did: the tolerance holds for 20 cm",
    "the lens: a phone's main lens is assumed, with and without cropping",
    "weight, pressure, speed, the club's face and its path",
    "a trend: these are two swings on two days",
)
"""What the comparison does not know, in words for the person who reads it."""
_FAMILIES = (
    ("driver", r"driver|1[- ]?wood"), ("wood", r"wood"), ("hybrid", r"hybrid|rescue"), ("putter", r"putter"),
    ("wedge", r"wedge|pw|gw|sw|lw"), ("short iron", r"[89][- ]?iron"), ("middle iron", r"[567][- ]?iron"),
    ("long iron", r"[1234][- ]?iron"),
)  # fmt: skip


class Answer(Enum):
    """What becomes of a comparison."""

    YES = "comparable"
    WITH_CARE = "comparable, with care"
    NO = "not comparable"

    @property
    def rank(self) -> int:
        """0 for comparable, 2 for not."""
        return list(Answer).index(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sighting:
    """One clip of a viewer on one day.

    Attributes:
        name: what messages call it, such as `july#s19`.
        who: the person's name among `people`.
        person: the person as entered with this clip.
        view: where the camera stood.
        file: the clip; `home` the folder of the record or storyboard that it stands in.
        day: the day on which it came or was filmed; None where nobody has written it.
        rate: frames a second, as far as is known.
        captured: real capture rate as text, where the file was slowed down afterwards.
        mirrored: whether the file is mirrored and must be turned back.
        positions: moments of the swing as text, by name; `chosen` those that a person has chosen.
        points: spots by position and name, in fractions of the upright picture.
        yaw: degrees by which the camera stood beside its view's line and by how much that may be off, where known.
    """

    name: str
    who: str
    person: Person
    view: View
    file: Path
    home: Path
    day: datetime.date | None
    rate: float
    captured: str = ""
    mirrored: bool = False
    positions: Mapping[str, str] = field(default_factory=dict)
    chosen: frozenset[str] = frozenset()
    points: Mapping[str, Mapping[str, Point]] = field(default_factory=dict)
    yaw: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """One thing that was compared.

    Attributes:
        id: stable name.
        what: what is, with number, unit and tolerance.
        answer: what it means by itself.
        so: what must be said or left out; empty where nothing.
    """

    id: str
    what: str
    answer: Answer = Answer.YES
    so: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparability:
    """All that was compared of two clips; `answer` is the worst of it."""

    grounds: tuple[Ground, ...]

    @property
    def answer(self) -> Answer:
        """The worst answer of all grounds."""
        return max((ground.answer for ground in self.grounds), key=lambda answer: answer.rank)

    @property
    def without(self) -> tuple[str, ...]:
        """What must be said or left out, each once."""
        return tuple(dict.fromkeys(ground.so for ground in self.grounds if ground.so))


def stated_grounds(then: Sighting, now: Sighting) -> Iterator[Ground]:
    """What the records say, before any clip is opened: person, order, view, hand, club, rate."""
    if then.who != now.who:
        yield Ground(
            id="person", answer=Answer.NO,
            what=f"two people: {then.who} in {then.name}, {now.who} in {now.name} — a follow-up shows one viewer; where"
            " both are the same person, let them have one name under people",
        )  # fmt: skip
    if then.day is not None and now.day is not None:
        days = (now.day - then.day).days
        yield Ground(
            id="days", answer=Answer.NO if days <= 0 else Answer.YES,
            what=f"{then.day} and {now.day}, {days} days apart"
            + (" — the later clip comes second" if days <= 0 else ""),
        )  # fmt: skip
    else:
        missing = [one.name for one in (then, now) if one.day is None]
        yield Ground(
            id="days", answer=Answer.NO,
            what=f"{' and '.join(missing)} has no date — dates stand beneath the pictures; write received: in the"
            " record",
        )  # fmt: skip
    yield _same("view", then.view.value, now.view.value, "another view shows another swing")
    yield _hands(then, now)
    yield _clubs(then, now)
    slow = [f"{one.name} {one.rate:.0f}" for one in (then, now) if one.rate < LEAST_RATE]
    if slow:
        yield Ground(
            id="rate", answer=Answer.WITH_CARE, so="nothing of impact and nothing of timing",
            what=f"frames a second: {', '.join(slow)} — {LEAST_RATE + 1:.0f} show the strike",
        )  # fmt: skip


def _same(id_: str, first: str, second: str, why: str) -> Ground:
    if first == second:
        return Ground(id=id_, what=f"{first} both times")
    return Ground(id=id_, answer=Answer.NO, what=f"{first} then, {second} now — {why}")


def _hands(then: Sighting, now: Sighting) -> Ground:
    first, second = _seen_hand(then), _seen_hand(now)
    if first is None or second is None:
        return Ground(
            id="hand", answer=Answer.WITH_CARE, what="handed: is not written — take care that both face alike"
        )
    return _same("hand", f"{first.value}-handed", f"{second.value}-handed", "both must play from one side")


def _seen_hand(one: Sighting) -> Hand | None:
    return one.person.handed


def club_family(club: str) -> str:
    """The kind of a club, such as `middle iron` for "7-iron"; the club itself where its kind is not known."""
    text = re.sub(r"\b(one|two|three|four|five|six|seven|eight|nine)\b", _digit, club.casefold())
    return next((name for name, like in _FAMILIES if re.search(rf"\b(?:{like})\b", text)), text.strip())


def _digit(found: re.Match[str]) -> str:
    names = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
    return str(names.index(found[0]) + 1)


def _clubs(then: Sighting, now: Sighting) -> Ground:
    first, second = then.person.club, now.person.club
    if not first or not second:
        return Ground(
            id="club", answer=Answer.WITH_CARE, so="nothing of posture and plane",
            what="club: is not written for both — posture and plane differ with the club",
        )  # fmt: skip
    if first.casefold() == second.casefold():
        return Ground(id="club", what=f"{first} both times")
    if club_family(first) == club_family(second):
        return Ground(
            id="club", answer=Answer.WITH_CARE, what=f"{first} then, {second} now",
            so=f"say that the clubs differ: {first} and {second}",
        )  # fmt: skip
    return Ground(
        id="club", answer=Answer.NO, what=f"{first} then, {second} now — posture and plane differ with the club"
    )


def camera_grounds(camera: CameraDifference) -> Iterator[Ground]:
    """What the pictures tell of the two cameras."""
    if camera.angle is None:
        yield Ground(
            id="angle", answer=Answer.WITH_CARE, so="no line of plane, aim or path; say that the places differ",
            what="camera angle: not known — the backgrounds do not meet, so it is another place, or looks like one",
        )  # fmt: skip
    else:
        yield _angle(camera)
    if camera.roll is not None and abs(camera.roll) > 0.5:
        far = abs(camera.roll) > MOST_ROLL
        yield Ground(
            id="roll", answer=Answer.NO if far else Answer.YES,
            what=f"the picture is turned by {camera.roll:+.1f}° — up to {MOST_ROLL:g}° is put level",
        )  # fmt: skip
    if camera.higher is not None:
        low = max(0.0, abs(camera.higher.value) - camera.higher.off)
        high = abs(camera.higher.value) > MOST_HIGHER
        yield Ground(
            id="height", answer=Answer.WITH_CARE if high else Answer.YES,
            so="no line of plane or hand height" if high and low > 0 else "",
            what=f"camera height {100 * camera.higher.value:+.0f} ± {100 * camera.higher.off:.0f} cm"
            f" — up to {100 * MOST_HIGHER:.0f} cm",
        )  # fmt: skip
    if camera.nearer is not None:
        factor = camera.nearer.value
        apart = max(factor, 1 / factor) > MOST_NEARER
        yield Ground(
            id="distance", answer=Answer.WITH_CARE if apart else Answer.YES,
            so="say that the camera stood nearer once" if apart else "",
            what=f"camera {max(factor, 1 / factor):.2f} ± {camera.nearer.off:.2f} times"
            f" {'nearer' if factor >= 1 else 'farther off'} — up to {MOST_NEARER:g} times",
        )  # fmt: skip
    larger = max(camera.size.value, 1 / camera.size.value)
    yield Ground(
        id="size", answer=Answer.NO if larger > MOST_SIZE else Answer.YES,
        what=f"player {camera.size.value:.2f} ± {camera.size.off:.2f} times as large; one scale is made of both"
        f" — up to {MOST_SIZE:g} times",
    )  # fmt: skip
    yield Ground(
        id="ground",
        what=f"ground line {100 * camera.ground.value:+.1f} ± {100 * camera.ground.off:.1f} % of the height; both are"
        " brought to one",
    )


def _angle(camera: CameraDifference) -> Ground:
    angle = camera.angle
    assert angle is not None
    known = (
        "as people have found it out"
        if camera.stated
        else f"by {camera.spots} spots far behind, if the player stands on the same spot"
    )
    what = f"camera angle {angle} ° ({known}) — up to {MOST_ANGLE:g}°"
    if abs(angle.value) <= MOST_ANGLE:
        return Ground(id="angle", what=what)
    if abs(angle.value) - angle.off <= MOST_ANGLE:
        return Ground(id="angle", what=what, answer=Answer.WITH_CARE, so="no line of plane, aim or path")
    return Ground(
        id="angle", answer=Answer.NO,
        what=f"{what}; a camera that moves as far can look like an improvement — film again from the same spot",
    )  # fmt: skip

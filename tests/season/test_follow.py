"""Then and now: consent first, unlike clips refused, a wandering camera said or refused, no number of improvement."""

from __future__ import annotations

import dataclasses
import datetime
import json
from fractions import Fraction
from pathlib import Path

import pytest

from segmentkit.checks.phrases import FORBIDDEN, UNMEASURABLE, matches
from segmentkit.errors import NotFit, StoryboardUnreadable
from segmentkit.geometry import Point
from segmentkit.season.follow import Pair, compare, consent_grounds, pair_up
from segmentkit.season.follow_camera import CameraDifference, Within
from segmentkit.season.follow_compare import (
    Answer,
    Comparability,
    Sighting,
    camera_grounds,
    club_family,
    stated_grounds,
)
from segmentkit.season.follow_find import sightings
from segmentkit.season.follow_start import start
from segmentkit.storyboard.load import load
from segmentkit.storyboard.people import Hand, Person, Release, Scope, View
from segmentkit.storyboard.template import values_of
from tests.season.withdraw_case import put

TODAY = datetime.date(2026, 7, 10)
MARCH, JULY = datetime.date(2026, 3, 2), datetime.date(2026, 7, 3)


def viewer(**changes):
    release = changes.pop("release", Release(for_=(Scope.WEB,), from_=datetime.date(2026, 7, 1), by="Rowan Field"))
    told = {"shown": "Rowan", "handed": Hand.RIGHT, "club": "7-iron", "adult": True, "release": release}
    return Person(**{**told, **changes})


def clip(name, day, **changes):
    told = {
        "name": name, "who": "rowan", "person": viewer(), "view": View.FACE_ON, "file": Path("x.mp4"),
        "home": Path(), "day": day, "rate": 60.0,
    }  # fmt: skip
    return Sighting(**{**told, **changes})


THEN, NOW = clip("march#s03", MARCH), clip("july#s19", JULY)


def camera(**changes):
    plain = {
        "spots": 200, "zoom": 1.0, "roll": 0.0, "size": Within(value=1.0, off=0.02),
        "ground": Within(value=0.0, off=0.006), "nearer": Within(value=1.0, off=0.02),
        "angle": Within(value=0.5, off=2.6), "higher": Within(value=0.0, off=0.03),
    }  # fmt: skip
    return CameraDifference(**{**plain, **changes})


def answer(grounds):
    return Comparability(grounds=tuple(grounds))


def stated(then=THEN, now=NOW):
    return {ground.id: ground.answer for ground in stated_grounds(then, now)}


class TestRecords:
    def test_like_clips_are_comparable(self):
        assert answer(stated_grounds(THEN, NOW)).answer is Answer.YES
        assert "123 days apart" in " ".join(ground.what for ground in stated_grounds(THEN, NOW))  # 29+30+31+30+3

    @pytest.mark.parametrize(
        ("id_", "now"),
        [
            ("person", clip("x", JULY, who="marta")),
            ("view", clip("x", JULY, view=View.DOWN_THE_LINE)),
            ("hand", clip("x", JULY, person=viewer(handed=Hand.LEFT))),
            ("club", clip("x", JULY, person=viewer(club="driver"))),
            ("days", clip("x", MARCH)),
            ("days", clip("x", None)),
        ],
    )
    def test_unlike_clips_are_refused(self, id_, now):
        assert stated(now=now)[id_] is Answer.NO

    @pytest.mark.parametrize(
        ("id_", "now"),
        [
            ("club", clip("x", JULY, person=viewer(club="6-iron"))),
            ("club", clip("x", JULY, person=viewer(club=None))),
            ("hand", clip("x", JULY, person=viewer(handed=None))),
            ("rate", clip("x", JULY, rate=30.0)),
        ],
    )
    def test_what_is_nearly_alike_or_not_known_is_said(self, id_, now):
        assert stated(now=now)[id_] is Answer.WITH_CARE

    def test_kinds_of_clubs(self):
        kinds = {"Driver": "driver", "seven iron": "middle iron", "7-iron": "middle iron", "9 iron": "short iron",
                 "3-wood": "wood", "sand wedge": "wedge", "4 hybrid": "hybrid", "spoon": "spoon"}  # fmt: skip
        assert {club: club_family(club) for club in kinds} == kinds


class TestConsent:
    def test_a_release_given_before_the_later_clip_is_not_enough(self):
        old = viewer(release=Release(for_=(Scope.WEB,), from_=datetime.date(2026, 3, 1)))
        grounds = {g.id: g for g in consent_grounds(THEN, clip("x", JULY, person=old), TODAY)}
        assert grounds["release-renewed"].answer is Answer.NO
        undated = viewer(release=Release(for_=(Scope.WEB,)))
        grounds = {g.id: g for g in consent_grounds(THEN, clip("x", JULY, person=undated), TODAY)}
        assert grounds["release-renewed"].answer is Answer.NO
        assert "write from:" in grounds["release-renewed"].what

    @pytest.mark.parametrize(
        ("person", "id_"),
        [
            (viewer(release=None), "no-release"),
            (viewer(withdrawn=datetime.date(2026, 7, 5)), "withdrawn"),
            (viewer(adult=False), "minor-unsigned"),
            (viewer(pain=True), "pain"),
        ],
    )
    @pytest.mark.parametrize("earlier", [True, False])
    def test_both_must_hold_today(self, person, id_, earlier):
        bad = clip("x", MARCH if earlier else JULY, person=person)
        grounds = list(consent_grounds(bad, NOW, TODAY) if earlier else consent_grounds(THEN, bad, TODAY))
        assert answer(grounds).answer is Answer.NO
        assert id_ in {ground.id for ground in grounds}

    def test_no_clip_is_opened_where_consent_or_records_refuse(self, tmp_path):
        nowhere = clip("x", JULY, file=tmp_path / "not-there.mp4", person=viewer(release=None))
        pair = compare(dataclasses.replace(THEN, file=tmp_path / "nor-this.mp4"), nowhere, TODAY)
        assert (pair.compared.answer, pair.camera) == (Answer.NO, None)

    def test_a_use_that_only_one_release_allows_is_left_out(self):
        wider = viewer(release=Release(for_=(Scope.WEB, Scope.BROADCAST), from_=datetime.date(2026, 7, 1)))
        assert "not for broadcast" in answer(consent_grounds(THEN, clip("x", JULY, person=wider), TODAY)).without


class TestCamera:
    @pytest.mark.parametrize(
        ("degrees", "wanted"),
        [
            (0, Answer.YES),
            (2, Answer.YES),
            (-5, Answer.YES),
            (6, Answer.WITH_CARE),
            (-7, Answer.WITH_CARE),
            (9, Answer.NO),
        ],
    )
    def test_the_angle_decides_with_its_tolerance(self, degrees, wanted):
        told = {ground.id: ground for ground in camera_grounds(camera(angle=Within(value=degrees, off=2.7)))}
        assert told["angle"].answer is wanted
        assert "± 2.7" in told["angle"].what
        if wanted is Answer.WITH_CARE:
            assert told["angle"].so == "no line of plane, aim or path"

    def test_an_angle_that_is_not_known_is_said_not_to_be(self):
        told = camera_grounds(camera(spots=0, zoom=None, roll=None, nearer=None, angle=None, higher=None))
        first = next(iter(told))
        assert (first.id, first.answer) == ("angle", Answer.WITH_CARE)
        assert "not known" in first.what

    @pytest.mark.parametrize(
        ("id_", "changes", "wanted"),
        [
            ("roll", {"roll": 4.0}, Answer.NO),
            ("roll", {"roll": -2.0}, Answer.YES),
            ("height", {"higher": Within(value=0.2, off=0.03)}, Answer.WITH_CARE),
            ("distance", {"nearer": Within(value=0.7, off=0.02)}, Answer.WITH_CARE),
            ("size", {"size": Within(value=0.5, off=0.02)}, Answer.NO),
        ],
    )
    def test_roll_height_distance_and_size(self, id_, changes, wanted):
        assert {ground.id: ground.answer for ground in camera_grounds(camera(**changes))}[id_] is wanted


RECORD = """\
intake: 1
people:
  rowan: {shown: Rowan, handed: right, club: 7-iron, adult: yes, release: {for: [web], from: 2026-07-01}}
submissions:
  s03: {person: rowan, received: 2026-03-02, face-on: {file: a.mp4, positions: {top: f40}}, grip: {file: g.jpg}}
  s19: {person: rowan, received: 2026-07-03, down-the-line: {file: b.mp4}, face-on: {file: c.mp4, captured: 240 fps}}
"""


class TestPlaces:
    @pytest.fixture
    def record(self, tmp_path):
        put(tmp_path / "in" / "submissions.yaml", RECORD)
        proposals = [{"position": "top", "frame": 44}, {"position": "impact", "frame": 60}]
        parts = [{"part": "face-on", "measures": {"rate": "60.0 frames a second"}, "proposals": proposals}]
        judged = {"submissions": [{"submission": "s03", "parts": parts}]}
        put(tmp_path / "in" / "intake" / "intake.json", json.dumps(judged))
        return tmp_path / "in"

    def test_a_submission_gives_a_sighting_for_each_view(self, record):
        assert [one.view for one in sightings(f"{record}#s19")] == [View.DOWN_THE_LINE, View.FACE_ON]
        [one] = sightings(f"{record}#s03")
        assert one.positions == {"top": "f40", "impact": "f60"}  # a person's choice comes before a proposal
        assert one.chosen == {"top"}
        assert one.rate == 60.0

    def test_the_view_that_both_have_is_compared(self, record):
        then, now = pair_up(f"{record}#s03", f"{record}#s19")
        assert (then.view, now.view) == (View.FACE_ON, View.FACE_ON)
        assert (now.captured, now.rate) == ("240 fps", 240.0)
        with pytest.raises(StoryboardUnreadable, match="no view in common"):
            pair_up(f"{record}#s03", f"{record}#s19", View.DOWN_THE_LINE)

    @pytest.mark.parametrize("place", ["nowhere", "{0}", "{0}#s99"])
    def test_places_that_are_none_are_told(self, record, place):
        with pytest.raises(StoryboardUnreadable):
            sightings(place.format(record))

    def test_days_given_by_hand_come_first(self, record):
        then, _ = pair_up(f"{record}#s03", f"{record}#s19", days=(datetime.date(2026, 2, 1), None))
        assert then.day == datetime.date(2026, 2, 1)


WORDS = {
    "topic": "The lead arm", "changed": "The arm stays long a little longer.",
    "not_yet": "The turn still stops early.", "next": "Hold the finish until you can count to three.",
}  # fmt: skip


class TestStart:
    @pytest.fixture
    def pair(self, tmp_path):
        spots = {"address": {"heel": Point(0.45, 0.86), "belt": Point(0.45, 0.55)}}
        moments = {"address": "f10", "top": "f40", "impact": "f60", "finish": "f90"}
        then, now = (
            dataclasses.replace(
                one, file=put(tmp_path / f"{one.name[:4]}.MP4", one.name), positions=moments, points=spots
            )
            for one in (THEN, NOW)
        )
        return Pair(then=then, now=now, compared=answer(stated_grounds(then, now)), camera=camera())

    @pytest.fixture
    def model(self, pair, tmp_path):
        person = Person(shown="Our demonstrator", handed=Hand.RIGHT, adult=True, release=Release(for_=(Scope.WEB,)))
        file = put(tmp_path / "model.mp4", "model")
        return dataclasses.replace(pair.then, who="ines", person=person, file=file, name="library#ines")

    def test_a_storyboard_is_there_when_nothing_is_wanted(self, pair, model, tmp_path):
        made = start(pair, model, tmp_path / "new", values_of(WORDS))
        assert made.wanted == ()
        board = load(made.storyboard).board
        shots = [shot.three_up for beat in board.beats for shot in beat.show if shot.three_up is not None]
        assert [side.clip for _, side in shots[0].sides] == ["then", "now", "model_swing"]
        assert {side.at for _, side in shots[0].sides} == {"impact"}  # the same moment
        assert [side.label for _, side in shots[0].sides][:2] == ["2 March 2026", "3 July 2026"]
        assert (tmp_path / "new" / "clips" / "then.mp4").read_text() == "march#s03"
        text = made.storyboard.read_text()
        assert not list(matches((*FORBIDDEN, *UNMEASURABLE), text))

    def test_what_is_wanted_is_listed_and_the_values_can_be_gone_on_with(self, pair, model, tmp_path):
        made = start(pair, model, tmp_path / "new", values_of({}))
        assert made.storyboard is None
        assert "`topic`" in made.wanted[0]
        text = made.values.read_text()
        for name in ("topic", "changed", "not_yet", "next"):
            assert f"\n{name}:\n" in text
        assert "# comparable: 2026-03-02 and 2026-07-03, 123 days apart" in text

    def test_with_care_it_is_said_in_the_words(self, pair, model, tmp_path):
        grounds = tuple(camera_grounds(camera(angle=Within(value=6, off=2.7))))
        careful = dataclasses.replace(pair, compared=Comparability(grounds=grounds))
        made = start(careful, model, tmp_path / "new", values_of(WORDS))
        text = made.storyboard.read_text()
        assert "compare with care" in text
        assert "# Say or leave out: no line of plane, aim or path." in text

    def test_of_two_releases_only_what_both_allow_goes_on(self, pair, model, tmp_path):
        both = Release(for_=(Scope.WEB, Scope.BROADCAST), from_=datetime.date(2026, 7, 1))
        first = Release(for_=(Scope.WEB,), until=datetime.date(2027, 1, 1))
        then = dataclasses.replace(pair.then, person=viewer(release=first))
        now = dataclasses.replace(pair.now, person=viewer(release=both))
        made = start(dataclasses.replace(pair, then=then, now=now), model, tmp_path / "new", values_of(WORDS))
        release = load(made.storyboard).board.people["rowan"].release
        assert (release.for_, release.until) == ((Scope.WEB,), datetime.date(2027, 1, 1))

    def test_clips_that_are_not_comparable_start_nothing(self, pair, model, tmp_path):
        bad = dataclasses.replace(pair, compared=answer(camera_grounds(camera(angle=Within(value=12, off=3)))))
        with pytest.raises(NotFit, match="can look like an improvement"):
            start(bad, model, tmp_path / "new", values_of({}))
        assert not (tmp_path / "new").exists()

    def test_an_edited_storyboard_is_not_overwritten(self, pair, model, tmp_path):
        put(tmp_path / "new" / "storyboard.yaml", "mine")
        with pytest.raises(StoryboardUnreadable, match="there already"):
            start(pair, model, tmp_path / "new", values_of(WORDS))


@pytest.mark.parametrize(
    "words",
    [
        "She is 72 % better.", "That is seventy-two per cent better.", "An improvement of 72 per cent.",
        "The swing has improved by 30 %.", "Now it is twice as good.", "Her score went up by 12 percent.",
        "That is a 40% improvement.", "The trend is clear.", "It's getting better every month.",
    ],
)  # fmt: skip
def test_no_number_of_improvement_and_no_trend_is_said(words):
    assert list(matches(UNMEASURABLE, words))


@pytest.mark.parametrize(
    "words",
    [
        "The arm stays long a little longer.", "Two clips aren't a trend, so let's be patient.",
        "Half the room, twice the patience.", "That is better: the hips stay on the line.", "It is no trend.",
    ],
)  # fmt: skip
def test_honest_words_pass(words):
    assert not list(matches(UNMEASURABLE, words))


@pytest.mark.slow
def test_the_same_swing_coded_again_is_comparable_and_its_camera_is_the_same(tmp_path):
    from tests.intake.planted import every, swing, write

    for folder, name, received in (("march", "a", "2026-03-02"), ("july", "b", "2026-07-03")):
        frames = every(2)(swing("viewer-dtl"))
        put(tmp_path / folder / "x", "")
        write(tmp_path / folder / f"{name}.mp4", frames, of="viewer-dtl")
        text = (
            "intake: 1\npeople:\n  vera: {shown: Vera, handed: right, club: 7-iron, adult: yes, release: {for: [web],"
            f" from: 2026-07-01}}}}\nsubmissions:\n  s1: {{person: vera, received: {received}, down-the-line: {{file:"
            f" {name}.mp4, captured: 120 fps}}}}\n"
        ).replace("captured: 120 fps", "captured: 60 fps")
        put(tmp_path / folder / "submissions.yaml", text)
    then, now = pair_up(str(tmp_path / "march"), str(tmp_path / "july"))
    pair = compare(then, now, TODAY)
    assert pair.compared.answer is Answer.YES, pair.compared.grounds
    assert pair.camera.angle.value == pytest.approx(0, abs=0.3)
    assert {"address", "top", "impact", "finish"} <= pair.now.positions.keys()
    assert pair.now.rate == pytest.approx(float(Fraction(60)), rel=0.02)

"""The demonstrator beside a viewer: like before unlike, reasons told, nobody twice in a row if it can be helped."""

from __future__ import annotations

import datetime

import pytest

from segmentkit.season.follow_find import sightings
from segmentkit.season.models_rank import rank, recently
from segmentkit.storyboard.library import load_library
from segmentkit.storyboard.season import load_season
from tests.season.withdraw_case import put

TODAY = datetime.date(2026, 4, 1)
LIBRARY = """\
library: 1
people:
  ines: {shown: Our demonstrator, handed: right, club: 7-iron, adult: yes, release: {for: [web]}}
  lars: {shown: Our demonstrator, handed: left, club: 7-iron, adult: yes, release: {for: [web]}}
  nora: {shown: Our demonstrator, handed: right, club: 6-iron, adult: yes, release: {for: [web]}}
  otto: {shown: Our demonstrator, handed: right, club: driver, adult: yes, release: {for: [web]}}
  pia: {shown: Our demonstrator, handed: right, club: 7-iron, adult: yes, release: {for: [web], until: 2026-03-01}}
  rolf: {shown: Our demonstrator, handed: right, club: 7-iron, adult: yes, release: {for: [web]}}
clips:
  ines_far: {file: a.mp4, person: ines, view: down-the-line, camera: {yaw: 9 deg}}
  ines_dtl:
    {file: b.mp4, person: ines, view: down-the-line, camera: {yaw: 1 deg},
     points: {address: {heel: [0.4, 0.9], belt: [0.4, 0.55], shoulder: [0.4, 0.3]}}}
  rolf_dtl:
    {file: c.mp4, person: rolf, view: down-the-line, camera: {yaw: 0 deg},
     points: {address: {heel: [0.4, 0.9], belt: [0.4, 0.6], shoulder: [0.4, 0.3]}}}
  ines_face: {file: d.mp4, person: ines, view: face-on}
  lars_dtl: {file: e.mp4, person: lars, view: down-the-line, camera: {yaw: 0 deg}}
  nora_dtl: {file: f.mp4, person: nora, view: down-the-line, camera: {yaw: 0 deg}}
  otto_dtl: {file: g.mp4, person: otto, view: down-the-line, camera: {yaw: 0 deg}}
  pia_dtl: {file: h.mp4, person: pia, view: down-the-line, camera: {yaw: 0 deg}}
"""
BOARD = """\
segmentkit: 1
segment: {title: Hips, slot: 10s}
people:
  vera: {shown: Vera, handed: right, club: 7-iron, adult: yes, release: {for: [web]}}
clips:
  swing:
    {file: v.mp4, person: vera, view: down-the-line, camera: {yaw: 2 deg}, positions: {top: f3},
     points: {address: {heel: [0.5, 0.8], belt: [0.5, 0.45], shoulder: [0.5, 0.2]}}}
beats:
  - beat: a
    show: [{run: {clip: swing, speed: 1}}]
"""
SEASON = """\
season: Spring
template: review
items:
  - {id: a, air: 2026-04-05, model: ines}
  - {id: b, air: 2026-04-12}
  - {id: c, air: 2026-04-19, model: lars}
  - {id: d, air: 2026-04-26, model: ines}
"""


@pytest.fixture
def library(tmp_path):
    return load_library(put(tmp_path / "library.yaml", LIBRARY))


@pytest.fixture
def viewer(tmp_path):
    [one] = sightings(f"{put(tmp_path / 'board.yaml', BOARD)}#swing")
    return one


def test_like_comes_before_unlike_and_reasons_are_told(library, viewer):
    found = rank(viewer, library, TODAY)
    assert [one.id for one in found.best] == ["ines_dtl", "rolf_dtl", "ines_far", "nora_dtl", "lars_dtl"]
    best = found.best[0]
    assert best.reasons == (
        "same view, down-the-line", "same hand, right", "same club, 7-iron",
        "camera 1° apart, as people have found it out", "trunk to leg 0.00 apart, alike",
    )  # fmt: skip
    assert not best.mirror
    assert found.best[-1].mirror
    assert "plays left-handed: mirrored, and said so" in found.best[-1].reasons
    assert "camera 7° apart — up to 5°: no line of plane, aim or path" in found.best[2].reasons


def test_unlike_views_and_clubs_and_ended_releases_are_never_listed(library, viewer):
    found = rank(viewer, library, TODAY, most=50)
    assert {id_ for id_, _ in found.refused} == {"ines_face", "otto_dtl", "pia_dtl"}
    assert not {one.id for one in found.best} & {"ines_face", "otto_dtl", "pia_dtl"}
    why = dict(found.refused)
    assert "driver, the viewer 7-iron" in why["otto_dtl"]
    assert "ended on 2026-03-01" in why["pia_dtl"]


def test_who_is_on_air_next_to_it_comes_later(library, viewer, tmp_path):
    season = load_season(put(tmp_path / "season.yaml", SEASON))
    used = recently(season, datetime.date(2026, 4, 12))
    assert (used.times, set(used.neighbours)) == ({"ines": 2, "lars": 1}, {"ines", "lars"})
    found = rank(viewer, library, TODAY, used)
    assert [one.id for one in found.best][:2] == ["rolf_dtl", "ines_dtl"]
    assert "on air next to this one, on 2026-04-05" in found.best[1].reasons
    assert "in 2 items of the season" in found.best[1].reasons


def test_the_ratio_of_trunk_to_leg_is_that_of_the_named_heights(library, viewer):
    # (0.6 - 0.3) / (0.9 - 0.6) = 1.00 against (0.45 - 0.2) / (0.8 - 0.45) = 0.714, by hand.
    told = next(one for one in rank(viewer, library, TODAY).best if one.id == "rolf_dtl")
    assert "trunk to leg 0.29 apart" in told.reasons


def test_the_library_tells_all_its_faults(tmp_path):
    from segmentkit.errors import StoryboardUnreadable

    bad = LIBRARY.replace("person: otto", "person: ottoo").replace("yaw: 9 deg", "yaw: 900 deg")
    with pytest.raises(StoryboardUnreadable) as told:
        load_library(put(tmp_path / "bad.yaml", bad))
    assert "900" in str(told.value)
    with pytest.raises(StoryboardUnreadable, match=r"`ottoo` is not among people — did you mean `?otto"):
        load_library(put(tmp_path / "bad.yaml", LIBRARY.replace("person: otto", "person: ottoo")))

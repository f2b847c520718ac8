"""A master with its leader, read back from the finished file."""

from __future__ import annotations

import datetime
from dataclasses import replace
from fractions import Fraction

import av
import numpy as np
import pytest

from segmentkit.media.store import Store
from segmentkit.media.verify import read_back, stereo
from segmentkit.plan.leader import leader_plan
from segmentkit.plan.slate import Around, around
from segmentkit.render.movie import make_movie
from segmentkit.storyboard.leaders import Leader
from segmentkit.storyboard.profiles import delivery
from segmentkit.storyboard.reading import read_as
from tests.render.movies import checked, movie

HOUSE = (
    "what: x\nprogramme_at: '10:00:00:00'\ntone: -18 dBFS\nparts:\n  - {bars: 2s}\n  - {slate: 1s}\n"
    "  - {countdown: 4s}\ntail: 3s\n"
)
DAY = datetime.date(2026, 11, 25)
ROWS = (("Programme", "Pieces"), ("Length", "00:00:12:00"))


@pytest.fixture(scope="module")
def master(tmp_path_factory):
    folder = tmp_path_factory.mktemp("led")
    segment = checked(folder / "project")
    leader = leader_plan(read_as(Leader, HOUSE, "house.yaml"), segment.plan.frames, segment.plan.rate)
    told: list[tuple[str, int, int]] = []
    facts = make_movie(
        segment.plan, segment.facts, segment.look, delivery("broadcast"), folder / "master.mp4",
        store=Store(folder / "store"), progress=lambda *said: told.append(said),
        around=Around(leader=leader, rows=ROWS),
    )  # fmt: skip
    return folder, segment, leader, facts, told


def luma(path):
    with av.open(str(path)) as container:
        return [float(f.to_ndarray()[: f.height].mean()) for f in container.decode(video=0)]


@pytest.mark.slow
def test_the_programme_follows_its_leader_and_the_running_time_is_its_own(master):
    folder, segment, leader, facts, _ = master
    found = read_back(folder / "master.mp4")
    assert found.frames == leader.frames == 7 * 25 + 300 + 3 * 25
    assert (facts.programme.start, facts.running) == (175, segment.plan.frames)
    assert str(leader.label(facts.programme.start)) == "10:00:00:00"


@pytest.mark.slow
def test_what_lies_between_leader_and_tail_is_the_programme_itself(master, tmp_path):
    folder, segment, leader, _, _ = master
    to = replace(segment, plan=segment.plan)
    make_movie(
        to.plan, to.facts, to.look, delivery("broadcast"), tmp_path / "bare.mp4", store=Store(tmp_path / "store"),
        progress=lambda *_: None,
    )  # fmt: skip
    whole = luma(folder / "master.mp4")
    assert whole[175:475] == luma(tmp_path / "bare.mp4")
    # From the frame after the pop to the programme, and after it, black: Y of 16, 8-bit limited range.
    assert set(whole[leader.pop + 1 : 175]) == {16.0}
    assert set(whole[475:]) == {16.0}
    assert whole[leader.pop] > 17


@pytest.mark.slow
def test_tone_and_pop_do_not_count_as_loudness(master, tmp_path):
    folder, _, leader, facts, _ = master
    # The programme alone is brought to the profile's target; EBU R 128 allows 0.5 LU.
    assert facts.loudness.integrated == pytest.approx(-23.0, abs=0.5)
    with av.open(str(folder / "master.mp4")) as container:
        heard = np.concatenate([stereo(frame) for frame in container.decode(audio=0)])
    pop = np.nonzero(np.abs(heard[3 * 48_000 + 4800 : 7 * 48_000, 0]) > 0.05)[0] + 3 * 48_000 + 4800
    begin = leader.pop * Fraction(48_000, 25)
    # Within what AAC smears, the pop fills its frame.
    assert abs(pop.min() - begin) < 200
    assert abs(pop.max() - (begin + 1920)) < 200


@pytest.mark.slow
def test_a_second_master_makes_nothing_and_another_slate_only_the_slate(master):
    folder, segment, leader, _, told = master
    assert max(of for step, _, of in told if step == "picture") >= 552 - 75

    def again(rows):
        steps: list[tuple[str, int, int]] = []
        make_movie(
            segment.plan, segment.facts, segment.look, delivery("broadcast"), folder / "again.mp4",
            store=Store(folder / "store"), progress=lambda *said: steps.append(said),
            around=Around(leader=leader, rows=rows),
        )  # fmt: skip
        return max((of for step, _, of in steps if step == "picture"), default=0)

    assert again(ROWS) == 0
    assert again((*ROWS, ("Version", "2"))) == 25


@pytest.mark.slow
def test_web_files_have_none(tmp_path):
    segment = checked(tmp_path / "project")
    movie(segment, tmp_path / "web.mp4", tmp_path / "store")
    assert read_back(tmp_path / "web.mp4").frames == segment.plan.frames


@pytest.mark.slow
def test_a_slate_says_what_whoever_plays_it_out_must_know(master):
    _, segment, _, _, _ = master
    to = replace(delivery("broadcast"), leader="ten-hours")
    made = around(segment.loaded.board, segment.plan, to, version=3, today=DAY)
    rows = dict(made.rows)
    assert made.rows[0] == ("Programme", "Pieces")
    assert rows["Length"] == "00:00:12:00"
    assert rows["Programme starts"] == "10:00:00:00"
    assert rows["Sound"] == "stereo, −23 LUFS, tone −18 dBFS"
    assert (rows["Version"], rows["Date"], rows["Scan"]) == ("3", "2026-11-25", "progressive")
    assert "Contact" not in rows  # nobody stated one
    assert around(segment.loaded.board, segment.plan, delivery("web"), version=None, today=DAY) is None

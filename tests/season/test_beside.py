"""Clips beside one another: one size, one ground, the right moment, turned over where it is said."""

from __future__ import annotations

import datetime
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from segmentkit.errors import NotFit
from segmentkit.facts import ClipFacts
from segmentkit.geometry import Point, Size
from segmentkit.season.beside import _GROUND, _RISE, HIGH, WIDE, Column, beside_page, fitted, frame_of, pictures
from segmentkit.season.follow import refuse_barred
from tests.clips import make_clip, read_number, steady
from tests.season.test_follow import THEN, clip, viewer


def marked(high, wide, heel, belt):
    """A dark picture with a white spot at the heel and a red one at the belt."""
    picture = np.full((high, wide, 3), 30, np.uint8)
    for point, colour in ((heel, (255, 255, 255)), (belt, (255, 0, 0))):
        y, x = round(point.y * high), round(point.x * wide)
        picture[y - 7 : y + 8, x - 7 : x + 8] = colour
    return picture


def middle(mask):
    rows, columns = np.nonzero(mask)
    return float(columns.mean()), float(rows.mean())


def spots(picture):
    white = picture.min(axis=2) > 140  # brighter than what lies outside the picture
    red = (picture[..., 0] > 120) & (picture[..., 1] < 90)
    return middle(white), middle(red)


@pytest.mark.parametrize(("high", "wide", "heel", "belt"), [
    (540, 960, Point(0.5, 0.85), Point(0.45, 0.5)), (1080, 1920, Point(0.4, 0.9), Point(0.42, 0.7)),
    (960, 540, Point(0.5, 0.8), Point(0.6, 0.6)),
])  # fmt: skip
@pytest.mark.parametrize("mirror", [False, True])
def test_heels_lie_on_one_line_and_belts_equally_high(high, wide, heel, belt, mirror):
    one = clip("x", None, points={"address": {"heel": heel, "belt": belt}})
    white, red = spots(fitted(marked(high, wide, heel, belt), one, mirror))
    assert white == pytest.approx((WIDE / 2, _GROUND * HIGH), abs=1.5)
    assert white[1] - red[1] == pytest.approx(_RISE * HIGH, abs=1.5)
    right = belt.x > heel.x
    if belt.x != heel.x:
        assert (red[0] > white[0]) == (right != mirror)


def test_without_named_points_the_whole_height_is_shown():
    picture = np.zeros((200, 300, 3), np.uint8)
    picture[:8], picture[-8:] = 255, 255
    shown = fitted(picture, clip("x", None), mirror=False)
    assert shown[2].mean() > 200
    assert shown[-3].mean() > 200


def facts():
    return ClipFacts(
        path=Path("x"), content="", size=Size(320, 180), times=tuple(Fraction(k, 60) for k in range(120)),
        duration=Fraction(2), has_sound=False,
    )  # fmt: skip


def test_moments_are_frames_or_seconds_and_nothing_else():
    told = {moment: frame_of(moment, facts()) for moment in ("f83", "1.5s", "0s", "f120", "9s", "", "00:00:01:00")}
    assert told == {"f83": 83, "1.5s": 90, "0s": 0, "f120": None, "9s": 119, "": None, "00:00:01:00": None}


@pytest.mark.slow
def test_the_page_shows_the_frames_that_were_asked_for(tmp_path):
    file = make_clip(tmp_path / "a.mp4", steady(30, 2))
    one = clip("x", datetime.date(2026, 3, 2), file=file, home=tmp_path, positions={"top": "f20", "impact": "1s"})
    from segmentkit.media.frames import ClipReader
    from segmentkit.media.guarded import guarded_clip
    from segmentkit.media.store import Store

    made = pictures(Column(one=one, name="Then"), ("address", "top", "impact"))
    assert set(made) == {"top", "impact"}
    with ClipReader(guarded_clip(file, Store.of(tmp_path)).facts) as reader:
        assert read_number(reader.planes(30)) == 30  # 1s at 30 a second
    column = Column(one=one, name="Then", below="2026-03-02")
    page = beside_page("Then <and> now", [column], ("address", "top"), ("a & b",))
    assert page.count("data:image/jpeg") == 1
    assert "no such moment" in page
    assert "2026-03-02 · size not matched" in page
    assert "Then &lt;and&gt; now" in page
    assert "http" not in page.split("</style>")[1]


def test_nothing_is_opened_of_somebody_without_a_release():
    with pytest.raises(NotFit, match="there is no release"):
        refuse_barred(clip("x", None, person=viewer(release=None)), datetime.date(2026, 7, 10))
    refuse_barred(THEN, datetime.date(2026, 7, 10))

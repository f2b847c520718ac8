"""Reading frames of a working copy by their number."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.errors import MediaUnusable
from segmentkit.media.frames import ClipReader
from segmentkit.media.normalise import normalise
from segmentkit.media.store import Store
from tests.clips import make_clip, read_number, steady, varying

FRAMES = 50


@pytest.fixture(scope="module")
def facts(tmp_path_factory):
    folder = tmp_path_factory.mktemp("frames")
    times = varying([(20, 30), (10, 240), (20, 10)])
    return normalise(make_clip(folder / "a.mp4", times), Store(folder / "work"))


@pytest.fixture(scope="module")
def reader(facts):
    with ClipReader(facts) as opened:
        yield opened


@settings(max_examples=60, deadline=None)
@given(frame=st.integers(0, FRAMES - 1))
def test_any_frame_after_any_other_is_the_right_one(reader, frame):
    assert read_number(reader.planes(frame)) == frame


def test_in_order_each_frame_is_decoded_once(facts, monkeypatch):
    seeks = []
    monkeypatch.setattr(ClipReader, "_seek", lambda _, frame: seeks.append(frame))
    with ClipReader(facts) as reader:
        assert [read_number(reader.planes(k)) for k in range(FRAMES)] == list(range(FRAMES))
        assert [read_number(reader.planes(k)) for k in range(FRAMES - 1, FRAMES - 8, -1)] == list(range(49, 42, -1))
    assert seeks == []


def test_a_picture_is_the_same_whichever_way_it_was_reached(facts):
    with ClipReader(facts) as reader:
        straight = [reader.planes(k).copy() for k in range(FRAMES)]
        for k in (49, 3, 24, 23, 12, 0, 36):
            again = reader.planes(k)
            assert all(
                np.array_equal(a, b)
                for a, b in zip((again.y, again.u, again.v), (straight[k].y, straight[k].u, straight[k].v), strict=True)
            )


def test_only_what_is_asked_for_is_decoded(facts, monkeypatch):
    decoded = []
    read = ClipReader._decoded
    monkeypatch.setattr(ClipReader, "_decoded", lambda self, frame: decoded.append(frame) or read(self, frame))
    with ClipReader(facts) as reader:
        for k in (0, 2, 4, 9, 40, 41, 12, 40):
            assert read_number(reader.planes(k)) == k
    assert decoded == [0, 2, 4, 9, 40, 41, 12]


@pytest.mark.parametrize("frame", [-1, FRAMES, 9999])
def test_a_frame_that_does_not_exist_is_named(reader, frame):
    with pytest.raises(IndexError, match=rf"has frames f0 to f49, not f{frame}"):
        reader.planes(frame)


def test_a_clip_that_was_not_normalised_cannot_be_read(facts):
    with pytest.raises(ValueError, match="was not normalised"):
        ClipReader(replace(facts, normalised=None))


def test_a_copy_that_went_missing_or_was_cut_is_told(facts, tmp_path):
    gone = replace(facts, normalised=tmp_path / "gone.mp4")
    with pytest.raises(MediaUnusable, match="delete the working folder"), ClipReader(gone):
        pytest.fail("there is nothing to open")
    short = make_clip(tmp_path / "short.mp4", steady(30, Fraction(1, 3)))
    with ClipReader(replace(facts, normalised=short)) as reader, pytest.raises(MediaUnusable, match="f40"):
        reader.planes(40)


def test_closing_and_reading_on_opens_again(facts):
    reader = ClipReader(facts)
    assert read_number(reader.planes(7)) == 7
    reader.close()
    assert read_number(reader.planes(8)) == 8
    reader.close()

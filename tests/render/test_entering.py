from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.geometry import Size
from segmentkit.media.planes import Planes, blank
from segmentkit.plan.model import Entry
from segmentkit.render.entering import between_pictures, part_in

SIZE = Size(160, 90)
KINDS = ("dissolve", "wipe", "push")


def noise(seed: int) -> Planes:
    rng = np.random.default_rng(seed)
    planes = blank(SIZE)
    for plane in (planes.y, planes.u, planes.v):
        plane[:] = rng.integers(16, 236, plane.shape, np.uint8)
    return planes


@given(by=st.sampled_from(KINDS), frames=st.integers(1, 60))
def test_a_transition_shows_something_of_both_on_every_frame_and_never_goes_back(by: str, frames: int):
    entry = Entry(by=by, frames=frames)
    parts = [part_in(entry, offset) for offset in range(frames)]
    assert all(0 < part < 1 for part in parts)
    assert parts == sorted(parts)
    assert part_in(entry, frames) == 1


@pytest.mark.parametrize("by", KINDS)
def test_nothing_flashes(by: str):
    dark, light = blank(SIZE, 60, 110, 150), blank(SIZE, 180, 140, 120)
    entry = Entry(by=by, frames=12)
    means = [between_pictures(dark, light, entry, offset).y.mean() for offset in range(12)]
    assert [60, *means, 180] == sorted([60, *means, 180])
    # No step is more than a quarter of the whole way: a cut in disguise would be one.
    assert max(b - a for a, b in zip([60, *means], [*means, 180], strict=True)) < 30


def test_a_dissolve_mixes_each_sample_by_the_part_that_has_come():
    going, coming, entry = noise(1), noise(2), Entry(by="dissolve", frames=3)
    made = between_pictures(going, coming, entry, 0)
    for out, old, new in ((made.y, going.y, coming.y), (made.u, going.u, coming.u)):
        wanted = old * 0.75 + new * 0.25
        assert np.abs(out - wanted).max() <= 0.5


@pytest.mark.parametrize("offset", [0, 3, 7])
def test_a_wipe_and_a_push_move_whole_samples(offset: int):
    going, coming = noise(1), noise(2)
    edge = 2 * round(part_in(Entry(by="wipe", frames=8), offset) * 160 / 2)
    wiped = between_pictures(going, coming, Entry(by="wipe", frames=8), offset)
    assert np.array_equal(wiped.y, np.hstack([coming.y[:, :edge], going.y[:, edge:]]))
    assert np.array_equal(wiped.u, np.hstack([coming.u[:, : edge // 2], going.u[:, edge // 2 :]]))
    pushed = between_pictures(going, coming, Entry(by="push", frames=8), offset)
    assert np.array_equal(pushed.y, np.hstack([going.y[:, edge:], coming.y[:, :edge]]))


def test_both_pictures_stay_as_they_were():
    going, coming = noise(1), noise(2)
    before = going.copy(), coming.copy()
    for by in KINDS:
        between_pictures(going, coming, Entry(by=by, frames=4), 1)
    assert np.array_equal(going.y, before[0].y)
    assert np.array_equal(coming.y, before[1].y)


def test_half_of_the_time_is_half_of_the_way():
    for by in KINDS:
        assert part_in(Entry(by=by, frames=9), 4) == pytest.approx(float(Fraction(1, 2)))

"""How differently two clips were filmed is found to a fraction of a degree where the scene is known."""

from __future__ import annotations

import dataclasses
import math

import cv2
import numpy as np
import pytest

from segmentkit.season.follow_camera import LENS, camera_difference
from tests.season import traced
from tests.season.scenes import scene

LENS_HERE = 0.8
"""Focal length of the test scenes in long sides; the program assumes the middle of LENS."""


@pytest.mark.slow
@pytest.mark.parametrize("degrees", [0, 2, 6, 9, -4])
def test_a_camera_carried_aside_is_seen_by_the_player_against_the_background(degrees):
    aside = 4.5 * math.tan(math.radians(degrees))
    found = camera_difference(scene(), scene(aside=aside))
    # The player moves by focal x aside / distance; read with another lens this is another angle (similar triangles).
    expected = math.degrees(math.atan(math.tan(math.radians(degrees)) * LENS_HERE / (sum(LENS) / 2)))
    assert found.angle.value == pytest.approx(expected, abs=0.25)
    assert abs(found.angle.value - degrees) <= found.angle.off
    assert found.spots > 50


@pytest.mark.slow
@pytest.mark.parametrize(("turned", "rolled", "zoom"), [(2, 0, 1), (-3, 1, 1), (0, -2, 1), (0, 0, 1.2)])
def test_a_camera_that_looks_elsewhere_from_the_same_spot_is_no_other_camera(turned, rolled, zoom):
    found = camera_difference(scene(), scene(turned=turned, rolled=rolled, zoom=zoom))
    # A camera that looks aside makes trapezes of squares, which one size and one turn follow only roughly.
    assert found.angle.value == pytest.approx(0, abs=0.2 + 0.1 * abs(turned))
    assert found.roll == pytest.approx(rolled, abs=0.1 + 0.2 * abs(turned))
    assert found.zoom == pytest.approx(zoom, rel=0.01)
    assert found.nearer.value == pytest.approx(1, rel=0.02)


@pytest.mark.slow
@pytest.mark.parametrize(("up", "back"), [(0.2, 0), (-0.3, 0), (0, 0.5), (0.15, -0.4)])
def test_height_and_distance_are_told_apart(up, back):
    found = camera_difference(scene(), scene(up=up, back=back))
    assert found.higher.value == pytest.approx(up, abs=0.03)
    assert abs(found.higher.value - up) <= found.higher.off
    assert found.nearer.value == pytest.approx(4.5 / (4.5 + back), rel=0.02)


@pytest.mark.slow
def test_a_player_who_stands_elsewhere_looks_like_another_camera_within_the_tolerance():
    found = camera_difference(scene(), scene(stands=0.15))
    assert abs(found.angle.value) > 1
    assert found.angle.off > abs(found.angle.value)


@pytest.mark.slow
def test_at_another_place_nothing_is_said_of_the_angle():
    found = camera_difference(scene(), scene(seed=2))
    assert (found.spots, found.angle, found.higher, found.nearer, found.zoom) == (0, None, None, None, None)
    assert found.size.value == pytest.approx(1)


def test_a_plain_wall_says_nothing_either():
    plain = dataclasses.replace(scene(), picture=np.full((540, 960), 128, np.uint8))
    assert camera_difference(plain, plain).angle is None


@pytest.mark.slow
def test_what_people_have_found_out_comes_before_what_was_measured():
    then, now = scene(), scene(aside=0.3)
    then, now = dataclasses.replace(then, yaw=(1.0, 2.0)), dataclasses.replace(now, yaw=(4.0, 1.5))
    found = camera_difference(then, now)
    assert found.stated
    assert (found.angle.value, found.angle.off) == (3.0, 3.5)


@pytest.mark.slow
def test_sizes_of_the_two_pictures_do_not_matter():
    now = scene(aside=0.3)
    larger = dataclasses.replace(now, picture=cv2.resize(now.picture, None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC))
    small, large = camera_difference(scene(), now), camera_difference(scene(), larger)
    assert large.angle.value == pytest.approx(small.angle.value, abs=0.2)
    assert large.nearer.value == pytest.approx(small.nearer.value, rel=0.02)


@pytest.mark.slow
def test_without_named_points_the_tolerance_is_wider():
    loose = dataclasses.replace(scene(), named=False)
    assert camera_difference(loose, loose).angle.off > camera_difference(scene(), scene()).angle.off + 0.3


@pytest.mark.parametrize("degrees", traced.DEGREES)
def test_the_demonstrations_own_scene_agrees(degrees):
    found = camera_difference(traced.shot(0), traced.shot(degrees))
    assert found.angle.value == pytest.approx(degrees, abs=0.6)
    assert abs(found.angle.value - degrees) <= found.angle.off

"""Angles in the picture and their tolerance."""

import math

import pytest

from segmentkit.geometry import Point, Size
from segmentkit.plan.angles import MOST, angle_text, seen_degrees, tolerance_degrees
from segmentkit.storyboard.people import Camera

SQUARE = Size(1000, 1000)


def arms(degrees, length=0.4):
    """A level arm to the right, and one that rises by some degrees."""
    rise = math.radians(degrees)
    return (
        Point(0.3 + length, 0.7),
        Point(0.3, 0.7),
        Point(0.3 + length * math.cos(rise), 0.7 - length * math.sin(rise)),
    )


@pytest.mark.parametrize("degrees", [1, 30, 45, 90, 135, 179])
def test_an_angle_is_what_it_is(degrees):
    assert seen_degrees(arms(degrees), SQUARE) == pytest.approx(degrees)


def test_the_shape_of_the_picture_counts():
    points = (Point(0.5, 0.5), Point(0.25, 0.5), Point(0.5, 0.25))
    assert seen_degrees(points, Size(1920, 1080)) == pytest.approx(math.degrees(math.atan2(270, 480)))


# tan(seen) = tan(true) / cos(yaw), worked out by hand from plane geometry: 45 is seen as 45.439, 45.993, 46.781
# and 49.107 at a yaw of 10, 15, 20 and 30; 30 at 20 as 31.567; 60 at 20 as 61.519; a right angle stays one.
@pytest.mark.parametrize(
    ("true", "yaw", "seen"),
    [(45, 10, 45.439), (45, 15, 45.993), (45, 20, 46.781), (45, 30, 49.107), (30, 20, 31.567), (60, 20, 61.519),
     (90, 20, 90.0)],
)  # fmt: skip
def test_a_camera_that_stands_aside_is_reckoned_with(true, yaw, seen):
    assert seen_degrees(arms(seen), SQUARE, yaw) == pytest.approx(true, abs=1e-3)


def test_the_tolerance_grows_with_the_camera_and_with_short_arms():
    near, far = Camera(yaw=2.0, within=2.0), Camera(yaw=15.0, within=5.0)
    assert tolerance_degrees(arms(45), SQUARE, near) < tolerance_degrees(arms(45), SQUARE, far)
    assert tolerance_degrees(arms(45, 0.4), SQUARE, near) < tolerance_degrees(arms(45, 0.05), SQUARE, near)


def test_the_tolerance_covers_the_camera_at_its_worst():
    camera = Camera(yaw=-15.0, within=5.0)
    off = tolerance_degrees(arms(46.781), SQUARE, camera)
    assert abs(seen_degrees(arms(46.781), SQUARE, 20) - 46.781) == pytest.approx(1.781, abs=1e-3)
    assert off >= 2


def test_a_number_comes_with_its_tolerance_or_not_at_all():
    camera = Camera(yaw=4.0, within=3.0)
    off = tolerance_degrees(arms(40), SQUARE, camera)
    assert (
        angle_text(arms(40), SQUARE, camera) == f"about 40°\N{NO-BREAK SPACE}±\N{NO-BREAK SPACE}{off}°, in the picture"
    )
    assert angle_text(arms(40), SQUARE, None) is None
    assert tolerance_degrees(arms(40, 0.03), SQUARE, camera) > MOST
    assert angle_text(arms(40, 0.03), SQUARE, camera) is None

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.geometry import Placement, Point, Projection, Rect, Size, cover

fractions = st.floats(0, 1)
sizes = st.builds(Size, st.integers(16, 4000), st.integers(16, 4000))
windows = st.builds(Rect, st.floats(0, 500), st.floats(0, 500), st.floats(50, 2000), st.floats(50, 2000))


def test_points_and_sizes():
    assert Point(1, 2) + Point(3, 4) - Point(1, 1) == Point(3, 5)
    assert Point(1, 2).scaled(3) == Point(3, 6)
    assert Point(1, 2).scaled(3, 2) == Point(3, 4)
    assert Point(0, 0).distance(Point(3, 4)) == 5
    assert str(Size(1920, 1080)) == "1920x1080"


def test_rectangles_are_half_open():
    rect = Rect(10, 20, 30, 40)
    assert (rect.right, rect.bottom, rect.centre) == (40, 60, Point(25, 40))
    assert rect.contains(Point(10, 20))
    assert not rect.contains(Point(40, 20))
    assert not rect.overlaps(Rect(40, 20, 5, 5))
    assert rect.overlaps(Rect(39, 59, 5, 5))
    assert rect.inset(5) == Rect(15, 25, 20, 30)
    assert rect.inset(5, 0) == Rect(15, 20, 20, 40)


@pytest.mark.parametrize(
    ("source", "window", "scale", "left_top"),
    # A portrait picture in a landscape frame is scaled to its width, 1920/1080, and cut above and below; a landscape
    # one in half a frame is scaled to its height and cut left and right. Worked by hand.
    [(Size(1920, 1080), Rect(0, 0, 1920, 1080), 1, (0, 0)),
     (Size(1080, 1920), Rect(0, 0, 1920, 1080), 1920 / 1080, (0, -(1920 * 1920 / 1080 - 1080) / 2)),
     (Size(1920, 1080), Rect(960, 0, 960, 1080), 1, (480, 0)),
     (Size(640, 360), Rect(0, 0, 1920, 1080), 3, (0, 0))],
)  # fmt: skip
def test_a_source_covers_its_window(source: Size, window: Rect, scale: float, left_top: tuple[float, float]):
    placement = cover(source, window)
    assert placement.scale == pytest.approx(scale)
    assert (placement.dx, placement.dy) == pytest.approx(left_top)


def test_the_focus_comes_to_the_middle_if_the_picture_reaches():
    window = Rect(0, 0, 960, 1080)
    near_middle = cover(Size(1920, 1080), window, Point(0.55, 0.5))
    assert near_middle.to_canvas(Point(0.55, 0.5)).x == pytest.approx(480)
    at_edge = cover(Size(1920, 1080), window, Point(1, 0.5))
    assert at_edge.to_canvas(Point(1, 0.5)).x == pytest.approx(960)


def test_mirroring_swaps_the_sides():
    placement = cover(Size(1920, 1080), Rect(0, 0, 1920, 1080), mirrored=True)
    assert placement.to_canvas(Point(0.25, 0.5)) == Point(1440, 540)
    focused = cover(Size(1920, 1080), Rect(0, 0, 960, 1080), Point(0.3, 0.5), mirrored=True)
    assert focused.to_canvas(Point(0.3, 0.5)).x == pytest.approx(480)


@given(sizes, windows, fractions, fractions, st.booleans(), st.floats(1, 6))
def test_no_window_is_left_uncovered(source: Size, window: Rect, x: float, y: float, mirrored: bool, zoom: float):
    placement = cover(source, window, Point(x, y), mirrored=mirrored, zoom=zoom)
    corners = [placement.to_canvas(Point(corner, corner)) for corner in (0, 1)]
    left, right = sorted(corner.x for corner in corners)
    near = 1e-6 * max(window.right, window.bottom)
    assert left <= window.x + near
    assert right >= window.right - near
    assert corners[0].y <= window.y + near
    assert corners[1].y >= window.bottom - near


@given(sizes, windows, fractions, fractions, st.booleans(), st.floats(1, 6))
def test_to_the_canvas_and_back(source: Size, window: Rect, x: float, y: float, mirrored: bool, zoom: float):
    placement = cover(source, window, mirrored=mirrored, zoom=zoom)
    back = placement.to_source(placement.to_canvas(Point(x, y)))
    assert math.isclose(back.x, x, abs_tol=1e-9)
    assert math.isclose(back.y, y, abs_tol=1e-9)


def test_a_placement_is_the_same_in_both_axes():
    placement = Placement(2, 10, 20, Size(100, 50), Rect(0, 0, 200, 100))
    assert placement.to_canvas(Point(0.5, 0.5)) == Point(10 + 100, 20 + 50)


@given(
    width=st.integers(100, 2000), height=st.integers(100, 2000), rotate=st.floats(-5, 5), zoom=st.floats(1, 3),
    x=st.floats(0, 1), y=st.floats(0, 1), mirrored=st.booleans(),
)  # fmt: skip
def test_a_turned_picture_covers_its_window_and_there_and_back_is_the_same_spot(
    width: int, height: int, rotate: float, zoom: float, x: float, y: float, mirrored: bool
):
    window = Rect(40, 20, 400, 300)
    placement = cover(Size(width, height), window, Point(x, y), mirrored=mirrored, zoom=zoom, rotate=rotate)
    for corner in window.corners:
        at = placement.to_source(corner)
        assert -1e-9 <= at.x <= 1 + 1e-9
        assert -1e-9 <= at.y <= 1 + 1e-9
    back = placement.to_source(placement.to_canvas(Point(x, y)))
    assert (back.x, back.y) == pytest.approx((x, y))
    for axis in (Point(1.0, 0.0), Point(0.0, 1.0)):
        low, high = placement.room(axis)
        assert low <= 1e-6
        assert high >= -1e-6
        for shift in (low, high):
            moved = placement.shifted(shift * axis.x, shift * axis.y)
            spots = [moved.to_source(corner) for corner in window.corners]
            assert all(-1e-6 <= s.x <= 1 + 1e-6 and -1e-6 <= s.y <= 1 + 1e-6 for s in spots)


def test_a_projection_worked_out_by_hand():
    # (0,0),(1,0),(1,1),(0,1) -> (0,0),(4,0),(3,2),(1,2): H = [[4,2,0],[0,4,0],[0,1,1]]; its centre goes to the crossing
    # of the diagonals, (2, 4/3).
    made = Projection((4.0, 2.0, 0.0, 0.0, 4.0, 0.0, 0.0, 1.0, 1.0))
    assert made.of(Point(0.5, 0.5)).distance(Point(2, 4 / 3)) < 1e-12
    assert made.of(Point(1, 1)).distance(Point(3, 2)) < 1e-12
    back = made.inverse.of(Point(3, 2))
    assert back.distance(Point(1, 1)) < 1e-12
    assert made.after(made.inverse).of(Point(0.3, 0.8)).distance(Point(0.3, 0.8)) < 1e-12

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.geometry import Point
from segmentkit.render import paths


def bezier(*control: tuple[float, float], samples: int = 20_001) -> np.ndarray:
    """A Bézier curve by de Casteljau's scheme."""
    t = np.linspace(0, 1, samples)[:, None]
    rows = [np.array(point, float)[None] for point in control]
    while len(rows) > 1:
        rows = [(1 - t) * a + t * b for a, b in itertools.pairwise(rows)]
    return np.broadcast_to(rows[0], (samples, 2))


# Closed forms: a straight cubic; parabolas by asinh; the quarter circle's cubic by numerical integration (tol 1e-6).
@pytest.mark.parametrize(
    ("control", "expected"),
    [
        (((0, 0), (100, 400 / 3), (200, 800 / 3), (300, 400)), 500.0),
        (((0, 0), (1, 2), (2, 0)), math.sqrt(5) + math.asinh(2) / 2),
        (((0, 0), (0, 1), (1, 1)), 1 + math.log(1 + math.sqrt(2)) / math.sqrt(2)),
        (((1, 0), (1, 0.55228475), (0.55228475, 1), (0, 1)), 1.571016698),
    ],
)
def test_arc_length_agrees_with_published_values(control, expected):
    assert paths.length(bezier(*control)) == pytest.approx(expected, abs=1e-6)


def test_the_circle_has_the_length_of_a_circle():
    ring = paths.circle(Point(500, 400), 120)
    assert paths.length(ring) == pytest.approx(2 * math.pi * 120, rel=1e-4)
    assert ring[0] == pytest.approx((500, 280))
    assert ring[1][0] > 500, "clockwise from the top"


# Uniform Catmull-Rom at t = 1/2 is (-p0 + 9 p1 + 9 p2 - p3) / 16, computed by hand.
@pytest.mark.parametrize(
    ("four", "expected"),
    [
        ([(0, 0), (1, 0), (1, 1), (0, 1)], (1.125, 0.5)),
        ([(0,), (1,), (4,), (9,)], (2.25,)),
        ([(0,), (1,), (2,), (3,)], (1.5,)),
    ],
)
def test_uniform_catmull_rom_meets_known_values(four, expected):
    got = paths.catmull_rom_segment(np.array(four, float), np.array([0.5]), centripetal=False)
    assert got[0] == pytest.approx(expected, abs=1e-12)


point = st.tuples(st.integers(0, 1919), st.integers(0, 1079))


@given(st.lists(point, min_size=3, max_size=8, unique=True), st.booleans())
def test_curves_pass_through_their_points(points, centripetal):
    rows = np.array(points, float)
    curve = paths.catmull_rom(rows, centripetal)
    for row in rows:
        assert np.hypot(*(curve - row).T).min() < 1e-6


@given(st.lists(point, min_size=2, max_size=8, unique=True), st.floats(0, 1), st.floats(0, 1))
def test_a_part_of_a_path_has_the_length_asked_for(points, a, b):
    path = np.array(points, float)
    total = paths.length(path)
    start, end = sorted((a * total, b * total))
    assert paths.length(paths.part(path, start, end)) == pytest.approx(end - start, abs=1e-6)


def test_a_part_starts_and_ends_where_it_should():
    path = np.array([[0.0, 0], [100, 0], [100, 100]])
    assert paths.part(path, 50, 150).tolist() == [[50, 0], [100, 0], [100, 50]]
    assert len(paths.part(path, 20, 10)) == 0
    assert paths.point_at(path, 1e9) == Point(100, 100)


@given(st.floats(20, 3000), st.floats(0, 40), st.floats(5, 40), st.booleans())
def test_dashes_end_with_a_whole_dash_or_close_evenly(total, on, gap, closed):
    laid = paths.dashes(total, on, gap, closed)
    assert laid.starts[0] == 0
    if len(laid.starts) > 1:
        period = laid.starts[1]
        assert np.diff(laid.starts) == pytest.approx(period)
        assert laid.starts[-1] + (period if closed else laid.on) == pytest.approx(total)


def test_a_box_is_drawn_clockwise_from_its_top_left_whatever_corners_are_given():
    box = paths.box(Point(300, 200), Point(100, 80))
    assert box.tolist() == [[100, 80], [300, 80], [300, 200], [100, 200], [100, 80]]
    rounded = paths.box(Point(100, 80), Point(300, 200), corner=12)
    assert paths.length(rounded) == pytest.approx(2 * (200 + 120) - 8 * 12 + 2 * math.pi * 12, rel=1e-3)


def test_repeated_points_do_no_harm():
    path = paths.path_of([Point(5, 5), Point(5, 5), Point(9, 5)])
    assert path.tolist() == [[5, 5], [9, 5]]

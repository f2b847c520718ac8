"""Matched placements: laws for any points, and the demo's two players against their projected joints."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.facts import SceneFacts
from segmentkit.geometry import Point, Rect, Size
from segmentkit.plan.layout import wanted_shift, windows
from segmentkit.plan.match import Half, comparison_placements, lights, matched
from segmentkit.storyboard.shots import Match
from tests.plan.footage import footage

CANVAS = Rect(0, 0, 1920, 1080)
CLIPS = Path(__file__).parents[2] / "demo_project" / "clips"
BOTH = (Match.GROUND, Match.BELT)


def half(
    points: dict[str, tuple[float, float]], *, mirrored: bool = False, seen: Rect | None = None, **spec: object
) -> Half:
    at = {name: list(spot) for name, spot in points.items()}
    return Half(footage=footage({"points": {"address": at}, **spec}), mirrored=mirrored, seen=seen)


fractions = st.floats(0.25, 0.75)


@settings(max_examples=80, deadline=None)
@given(
    heels=st.tuples(*[st.tuples(fractions, st.floats(0.7, 0.95))] * 2), belts=st.tuples(*[st.floats(0.35, 0.6)] * 2),
    mirrored=st.booleans(), zoom=st.floats(1.0, 1.6),
)  # fmt: skip
def test_any_two_players_get_one_ground_one_scale_and_full_windows(
    heels: tuple[tuple[float, float], ...], belts: tuple[float, ...], mirrored: bool, zoom: float
):
    halves = [
        half({"heel": heel, "belt": (heel[0], belt)}, mirrored=mirrored and index == 1)
        for index, (heel, belt) in enumerate(zip(heels, belts, strict=True))
    ]
    placed = comparison_placements(halves, windows(CANVAS, 2), BOTH, zoom)
    left = matched(halves, placed, BOTH, (), CANVAS)
    assert left.belt == pytest.approx(0, abs=1e-6)
    assert left.heel == pytest.approx(0, abs=1e-6)
    for place in placed:
        for axis in (Point(1.0, 0.0), Point(0.0, 1.0)):
            low, high = place.room(axis)
            assert low <= 1e-6
            assert high >= -1e-6


def test_heels_that_no_window_can_bring_together_are_left_and_told():
    high, low = half({"heel": (0.5, 0.2), "belt": (0.5, 0.1)}), half({"heel": (0.5, 0.98), "belt": (0.5, 0.88)})
    placed = comparison_placements([high, low], windows(CANVAS, 2), (Match.GROUND,))
    assert all(place.room(Point(0.0, 1.0))[0] <= 1e-6 for place in placed)
    assert (matched([high, low], placed, (Match.GROUND,), (), CANVAS).heel or 0) > 3


@pytest.mark.parametrize("fall", [-2.9, -1.0, 0.4, 2.5])
@pytest.mark.parametrize("mirrored", [False, True])
def test_a_crooked_picture_is_turned_until_its_level_line_is_level(fall: float, mirrored: bool):
    drop = 0.6 * 1920 / 1080 * math.tan(math.radians(fall))
    crooked = half({"level_a": (0.2, 0.5), "level_b": (0.8, 0.5 + drop), "heel": (0.45, 0.85)}, mirrored=mirrored)
    straight = half({"level_a": (0.2, 0.5), "level_b": (0.8, 0.5), "heel": (0.45, 0.85)})
    placed = comparison_placements([straight, crooked], windows(CANVAS, 2), (Match.LEVEL, Match.GROUND))
    ends = [placed[1].to_canvas(Point(0.2, 0.5)), placed[1].to_canvas(Point(0.8, 0.5 + drop))]
    assert ends[0].y == pytest.approx(ends[1].y, abs=1e-6)
    assert abs(placed[1].rotate) == pytest.approx(abs(fall), abs=1e-9)
    for corner in placed[1].window.corners:
        at = placed[1].to_source(corner)
        assert -1e-6 <= at.x <= 1 + 1e-6
        assert -1e-6 <= at.y <= 1 + 1e-6


def test_a_camera_too_crooked_is_not_turned():
    drop = 0.6 * 1920 / 1080 * math.tan(math.radians(3.2))
    crooked = half({"level_a": (0.2, 0.5), "level_b": (0.8, 0.5 + drop)})
    assert crooked.tilt == pytest.approx(3.2)
    assert crooked.turn == 0.0


def test_heels_are_level_from_the_front_only():
    heels = {"lead_heel": (0.6, 0.9), "trail_heel": (0.4, 0.88)}
    assert half(heels, view="face-on").tilt == pytest.approx(math.degrees(math.atan2(0.02 * 1080, 0.2 * 1920)))
    assert half(heels, view="down-the-line").tilt is None


def test_a_window_moves_to_show_the_club():
    points = {"heel": (0.45, 0.85), "belt": (0.45, 0.5)}
    club = Rect(0.12, 0.2, 0.4, 0.65)
    still, moved = (half(points, seen=seen) for seen in (None, club))
    for seen, wanted in ((still, False), (moved, True)):
        placed = comparison_placements([seen, still], windows(CANVAS, 2), BOTH)
        left_edge = placed[0].to_canvas(Point(club.x, club.y)).x
        assert (left_edge >= placed[0].window.x - 0.01) is wanted


def test_what_is_too_wide_is_brought_to_the_middle():
    wide = half({"heel": (0.45, 0.85)}, seen=Rect(0.1, 0.2, 0.8, 0.6))
    placed = comparison_placements([wide], [Rect(0, 0, 956, 1080)], ())
    assert wanted_shift(placed[0], wide.seen, Point(1.0, 0.0)) == pytest.approx(0, abs=1.1)


# --- against the demo's own truth


def _truth(name: str) -> dict[str, dict[str, tuple[float, float]]]:
    """Projected joints by position, in fractions, from the file that the filming program wrote beside the clip."""
    data = json.loads((CLIPS / f"{name}.truth.json").read_text())
    size = Size(data["width"], data["height"])
    found = {}
    for position, frame in data["events"].items():
        flat = data["frames"][frame]
        found[position] = {
            joint: (flat[2 * k] / size.width, flat[2 * k + 1] / size.height) for k, joint in enumerate(data["joints"])
        }
    return found


def _middle(spots: dict[str, tuple[float, float]]) -> tuple[float, float]:
    lead, trail = spots["lead_heel"], spots["trail_heel"]
    return (lead[0] + trail[0]) / 2, (lead[1] + trail[1]) / 2


@pytest.mark.parametrize("places", [windows(CANVAS, 2), (CANVAS, CANVAS), windows(CANVAS, 2)[::-1]])
def test_the_demo_players_match_within_the_limits_by_joints_that_nobody_named(places: tuple[Rect, Rect]):
    # Points are named as a person clicks them, rounded to half a per cent of the picture; the residual is then taken
    # from the true joints, at address and at impact.
    truths = [_truth("viewer-dtl"), _truth("model-dtl")]
    halves = []
    for truth in truths:
        heel, belt = _middle(truth["address"]), truth["address"]["belt"]
        halves.append(half({n: (round(x, 3), round(y, 3)) for n, (x, y) in (("heel", heel), ("belt", belt))}))
    placed = comparison_placements(halves, places, BOTH)
    for position in ("address", "impact"):
        heels = [p.to_canvas(Point(*_middle(t[position]))).y - p.window.y for p, t in zip(placed, truths, strict=True)]
        assert abs(heels[0] - heels[1]) < (3 if position == "address" else 8)  # a trail heel lifts, each its own way
    rises = [
        p.to_canvas(Point(*_middle(t["address"]))).y - p.to_canvas(Point(*t["address"]["belt"])).y
        for p, t in zip(placed, truths, strict=True)
    ]
    assert abs(rises[0] / rises[1] - 1) < 0.02


# --- light


def scene(low: float, middle: float, high: float, blue: float = 128.0, red: float = 128.0) -> SceneFacts:
    return SceneFacts(frames=(0,), boxes=(None,), luma=(low, middle, high), blue=blue, red=red)


def test_light_is_matched_to_the_first_picture_which_stays_as_it_is():
    first, second = lights([scene(60, 120, 200, 130, 126), scene(50, 100, 170, 127, 129)])
    assert first is None
    assert second is not None
    assert second.gain == pytest.approx(140 / 120, abs=1e-4)
    assert 16 + second.gain * (100 - 16) + second.lift == pytest.approx(120, abs=0.01)
    assert (second.blue, second.red) == (3, -3)


def test_light_is_changed_gently_only():
    _, second = lights([scene(20, 200, 230, 150, 100), scene(50, 60, 70)])
    assert second is not None
    assert (second.gain, second.lift, second.blue, second.red) == (1.25, 12, 6, -6)

"""Who comes first when room is short: bodies before shadows, players before panels and insets."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.facts import Facts, SceneFacts, StillFacts
from segmentkit.geometry import Placement, Point, Rect, Size, box_of
from segmentkit.plan.build import build_plan
from segmentkit.plan.insets import hidden_part
from segmentkit.plan.layout import inset_window, title_safe, wanted_shift, windows
from segmentkit.plan.match import Half, comparison_placements
from segmentkit.plan.model import Move, Pane, Plan, Shot
from segmentkit.plan.seen import body_box, figure_box, seen_box
from segmentkit.plan.sheets import HEAD
from segmentkit.plan.text import plan_text
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.shots import Corner, Match
from tests.plan.footage import clip_facts, footage, spoken

TALL = Rect(0, 0, 1080, 1920)
SHAPES = {"9:16": "1080x1920", "1:1": "1080x1080", "4:5": "1080x1350"}
POINTS = {"heel": [0.45, 0.86], "belt": [0.445, 0.55], "ball": [0.6, 0.86]}
ACROSS = Point(1.0, 0.0)

BOARD = """
segmentkit: 1
segment: {{title: Room, slot: 0:20, rate: 25, size: {size}}}
people: {{maren: {{shown: Maren, adult: yes, release: {{for: [web]}}}}}}
clips:
  viewer:
    file: v.mp4
    person: maren
    positions: {{address: f48, impact: f210}}
    points: {{address: {{heel: [0.45, 0.86], belt: [0.445, 0.55], ball: [0.6, 0.86]}}}}
stills: {{grip: {{file: grip.png}}}}
beats:
  - beat: only
    show:
      - freeze: {{clip: viewer, at: address, hold: 10s{more}}}
      - freeze: {{clip: viewer, at: impact, hold: 10s}}
    strokes: {{line: {{line: [heel, belt], at: 1s}}}}
    cards: [{card}]
"""
DRILL = "{{drill: {{name: Wall drill, count: 10 slow turns, safety: No club near the wall, at: {at}{hold}}}}}"


def planned(size: str, card: str, more: str = "") -> Plan:
    loaded = loads(BOARD.format(size=size, card=card, more=more))
    facts = Facts(
        clips={"viewer": clip_facts()},
        stills={"grip": StillFacts(path=clip_facts().path, content="0" * 64, size=Size(1600, 1200))},
        readings=spoken(loaded),
    )
    plan, problems = build_plan(loaded, facts)
    assert problems == ()
    return plan


def on_canvas(placed: Placement, box: Rect) -> Rect:
    return box_of(map(placed.to_canvas, box.corners))


# --- shadows


def test_named_points_and_the_body_stay_when_a_shadow_is_too_wide():
    """What moves reaches far to one side, as in a low sun; an upright window shows a quarter of the width."""
    clip = footage({"points": {"address": POINTS}, "positions": {"address": "f0", "impact": "f210"}})
    shadow = Rect(0.1, 0.3, 0.5, 0.58)
    scene = SceneFacts(frames=(0,), boxes=(shadow,), luma=(60, 120, 180), blue=128, red=128)
    seen, body = seen_box(clip, scene, (0,)), body_box(clip, (0,))
    assert seen is not None
    assert body is not None
    assert seen.width >= 0.5
    half = Half(footage=clip, mirrored=False, seen=seen, body=body)
    (placed,) = comparison_placements([half], [TALL], ())
    for name, spot in POINTS.items():
        assert placed.window.contains(placed.to_canvas(Point(*spot))), name
    (lost,) = comparison_placements([Half(footage=clip, mirrored=False, seen=seen)], [TALL], ())
    assert not lost.window.contains(lost.to_canvas(Point(*POINTS["ball"]))), "without the body the shadow had its way"


@settings(max_examples=60, deadline=None)
@given(
    seen=st.tuples(st.floats(0, 0.4), st.floats(0.1, 0.6)), body=st.tuples(st.floats(0, 1), st.floats(0.02, 0.2)),
    dx=st.floats(-800, 0),
)  # fmt: skip
def test_a_body_that_fits_its_window_is_shown_whole_wherever_the_picture_may_go(
    seen: tuple[float, float], body: tuple[float, float], dx: float
):
    around = Rect(seen[0], 0.2, seen[1], 0.6)
    wide = min(body[1], around.width)
    within = Rect(around.x + body[0] * (around.width - wide), 0.3, wide, 0.4)
    placed = Placement(1.8, dx, 0, Size(1920, 1080), TALL)
    moved = placed.shifted(dx=wanted_shift(placed, around, ACROSS, within))
    if within.width * 1920 * 1.8 <= TALL.width * 0.96:
        box = on_canvas(moved, within)
        assert box.x >= -1e-6
        assert box.right <= TALL.width + 1e-6


def test_pictures_in_one_place_meet_at_the_heel_where_both_players_are_seen():
    first = footage({"points": {"address": POINTS}})
    other = footage({"points": {"address": {**POINTS, "heel": [0.52, 0.88], "belt": [0.515, 0.56]}}})
    boxes = (Rect(0.38, 0.3, 0.23, 0.6), Rect(0.45, 0.3, 0.23, 0.6))
    halves = [Half(footage=f, mirrored=False, seen=b, body=b) for f, b in zip((first, other), boxes, strict=True)]
    placed = comparison_placements(halves, [TALL, TALL], (Match.GROUND, Match.BELT))
    heels = [p.to_canvas(h.point("heel") or Point(0, 0)) for p, h in zip(placed, halves, strict=True)]
    assert heels[0].x == pytest.approx(heels[1].x, abs=1e-6)
    for place, box in zip(placed, boxes, strict=True):
        at = on_canvas(place, box)
        assert at.x >= -1
        assert at.right <= 1081


def test_a_clips_own_zoom_gives_way_in_a_comparison_where_it_would_cut_the_swing():
    spot = footage({"points": {"address": POINTS}, "zoom": 1.5})
    swing = Rect(0.35, 0.05, 0.3, 0.85)
    rows = windows(Rect(0, 0, 1080, 1350), 3)
    (placed,) = comparison_placements([Half(footage=spot, mirrored=False, seen=swing)], rows[:1], ())
    (free,) = comparison_placements([Half(footage=spot, mirrored=False)], rows[:1], ())
    assert placed.scale < free.scale
    assert placed.scale == pytest.approx(1080 / 1920)
    (told,) = comparison_placements([Half(footage=spot, mirrored=False, seen=swing)], rows[:1], (), 1.5)
    assert told.scale == free.scale


# --- panels


@pytest.mark.parametrize("size", SHAPES.values(), ids=SHAPES)
def test_above_a_sheet_player_and_ball_are_whole(size: str):
    plan = planned(size, DRILL.format(at="0s", hold=""))
    (card,) = plan.cards
    assert card.sheet is not None
    edge = card.sheet * plan.size.height
    figure = figure_box(footage({"points": {"address": POINTS}}))
    assert figure is not None
    for shot in plan.shots:
        placed = shot.placement(0, shot.span.start + 60)
        body = on_canvas(placed, figure)
        ball = placed.to_canvas(Point(*POINTS["ball"]))
        assert body.y >= 0
        assert body.bottom <= edge
        assert ball.y < edge
        assert body.x >= 0
        assert ball.x <= plan.size.width
        # The window reaches a little under the sheet's edge and stays full.
        assert placed.window.bottom > edge
        for axis in (ACROSS, Point(0.0, 1.0)):
            low, high = placed.room(axis)
            assert low <= 1e-6
            assert high >= -1e-6
    # The text of the sheet has its place within the title-safe area.
    assert edge + HEAD < title_safe(Rect(0, 0, plan.size.width, plan.size.height)).bottom


def test_a_picture_goes_up_with_its_sheet_and_comes_back():
    plan = planned("1080x1920", DRILL.format(at="3s", hold=", hold: 5s"))
    first, second = plan.shots
    (card,) = plan.cards
    whole, up = first.placement(0, 0), first.placement(0, card.span.start + 30)
    assert whole.window == TALL
    assert up.window.height < 0.7 * TALL.height
    assert first.placement(0, card.span.start - 1) == whole
    assert first.placement(0, first.span.end - 1) == whole
    assert second.placement(0, second.span.start).window == TALL
    assert f"up for a sheet from {card.span.start} in 15, back from" in plan_text(plan)
    # The line stays on the body all the way.
    stroke = plan.strokes[0]
    for frame in range(card.span.start, card.span.start + 16):
        at = first.placement(0, frame)
        assert at.to_source(at.to_canvas(stroke.points[0])).x == pytest.approx(stroke.points[0].x)


def test_in_a_wide_picture_the_clip_moves_aside_as_far_as_its_frame_stays_full():
    plan = planned("1920x1080", DRILL.format(at="0s", hold=""), more=", zoom: 1.4")
    (card,) = plan.cards
    assert card.sheet is None
    placed = plan.shots[0].placement(0, 100)
    assert placed.window == plan.canvas
    assert placed.to_canvas(Point(*POINTS["ball"])).x < 0.6 * 1920
    low, high = placed.room(ACROSS)
    assert low <= 0 <= high
    # Without room to move, the frame stays where it is.
    assert plan.shots[1].placement(0, plan.shots[1].span.start + 50).dx == 0


@given(start=st.integers(0, 50), frames=st.integers(1, 30), rest=st.integers(0, 60), at=st.integers(0, 200))
def test_a_move_there_and_back_rests_at_both_ends(start: int, frames: int, rest: int, at: int):
    place = Placement(1.0, 0, 0, Size(1920, 1080), TALL)
    move = Move(to=place, start=start, frames=frames, back=start + frames + rest)
    part = move.part(at)
    assert 0 <= part <= 1
    if at <= start or at >= start + 2 * frames + rest:
        assert part == 0
    if start + frames <= at <= start + frames + rest:
        assert part == 1


# --- insets


def _wide(plan: Plan) -> tuple[Shot, Pane, Pane]:
    shot = plan.shots[0]
    return shot, shot.panes[0], shot.panes[1]


@pytest.mark.parametrize("size", ["1920x1080", *SHAPES.values()])
def test_an_inset_keeps_off_the_player_in_every_shape(size: str):
    plan = planned(size, "", more=", zoom: 1.18, inset: {still: grip}")
    _, wide, inset = _wide(plan)
    figure = figure_box(footage({"points": {"address": POINTS}}))
    assert figure is not None
    assert hidden_part(wide.placement, inset.placement.window, figure) <= 0.04
    assert plan.canvas.contains(Point(inset.placement.window.x, inset.placement.window.y))


def test_a_corner_and_a_size_that_are_written_stay():
    plan = planned("1080x1080", "", more=", inset: {still: grip, corner: upper_left, size: 0.6}")
    _, _, inset = _wide(plan)
    assert inset.placement.window == inset_window(plan.canvas, Corner.UPPER_LEFT, 0.6)

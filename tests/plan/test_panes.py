"""Comparisons, insets, pushes and transitions, from a storyboard to panes on the canvas."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from segmentkit.facts import Facts, StillFacts, TrackFacts
from segmentkit.geometry import Point, Projection, Rect, Size
from segmentkit.plan.build import build_plan
from segmentkit.plan.model import ClipPicture, Plan
from segmentkit.plan.text import plan_text
from segmentkit.storyboard.load import loads
from tests.plan.footage import clip_facts, spoken

BOARD = """
segmentkit: 1
segment: {{title: Beside, slot: 0:30, rate: 25}}
people: {{maren: {{shown: Maren, adult: yes, release: {{for: [web]}}}}}}
clips:
  viewer:
    file: v.mp4
    person: maren
    positions: {{address: f48, top: f180, impact: f210, finish: f330}}
    points: {{address: {{heel: [0.4, 0.9], belt: [0.45, 0.5]}}}}
  model:
    file: m.mp4
    positions: {{address: f60, top: f172, impact: f196, finish: f300}}
    points: {{address: {{heel: [0.42, 0.88], belt: [0.45, 0.52]}}}}
stills: {{grip: {{file: grip.png}}}}
beats:
  - beat: first
    show: [{{freeze: {{clip: viewer, at: address, hold: 4s}}}}]
    strokes:
      line: {{line: [heel, belt], at: 1s, follow: background}}
  - beat: second
    keep: [line]
    show:
      - {shot}
        enter: {{by: dissolve, over: 0.4s}}
  - beat: rest
    show: [{{still: {{still: grip, hold: 1s..60s}}}}]
"""


def planned(shot: str, tracks: dict[str, TrackFacts] | None = None, size: str = "1920x1080") -> Plan:
    loaded = loads(BOARD.format(shot=shot).replace("rate: 25", f"rate: 25, size: {size}"))
    clips = {id_: clip_facts() for id_ in loaded.board.clips}
    stills = {"grip": StillFacts(path=clips["viewer"].path, content="0" * 64, size=Size(1600, 1200))}
    facts = Facts(clips=clips, stills=stills, readings=spoken(loaded), tracks=tracks or {})
    plan, problems = build_plan(loaded, facts)
    assert problems == ()
    return plan


GOLDEN = """\
# Beside: 750 frames at 25 = 0:30.0, slot 750 frames
00:00:00:00      0   100  beat   first (rigid)
00:00:00:00      0   100  shot   freeze viewer f48 address
00:00:01:00     25    75  stroke line reference line drawn in 20
00:00:04:00    100    85  beat   second (rigid)
00:00:04:00    100    85  shot   split at 1/2 viewer f48..f210 | model f60..f196 speeds matched, dissolve in 10
00:00:04:00    100    85  match  ground, belt, events; scale 1.000 : 1.111; heel line 0.0 px; belt 0.0 %; {met}
00:00:04:00    100    85  stroke line kept in second/0
00:00:07:10    185   565  beat   rest (25..25..1500)
00:00:07:10    185   565  shot   still still grip
""".replace("{met}", "meeting at address, top, impact")


def test_the_plan_as_text():
    plan = planned(
        "split: {left: {clip: viewer, from: address, to: impact, speed: 1/2}, "
        "right: {clip: model, from: address, to: impact}, match: [ground, belt, events], hold: 3.4s}"
    )
    assert plan_text(plan) == GOLDEN


def test_running_sides_are_at_each_shared_position_together_and_show_their_own_frames():
    plan = planned(
        "split: {left: {clip: viewer, from: address, to: finish, speed: 1/4}, "
        "right: {clip: model, from: address, to: finish}, match: [events]}"
    )
    left, right = (pane.picture for pane in plan.shots[1].panes)
    assert isinstance(left, ClipPicture)
    assert isinstance(right, ClipPicture)
    assert (left.frames[0], right.frames[0], left.frames[-1], right.frames[-1]) == (48, 60, 330, 300)
    for own, other in ((180, 172), (210, 196)):
        first = next(k for k, frame in enumerate(left.frames) if frame >= own)
        second = next(k for k, frame in enumerate(right.frames) if frame >= other)
        # At a quarter of real time 1.2 source frames pass in one of the output: both are met within one.
        assert abs(first - second) <= 1
    assert all(later >= earlier for earlier, later in pairwise(right.frames))
    # By hand: 282 source frames at 120 a second and a quarter of real time are 9.4 s, 235 frames, and the last one.
    assert len(left.frames) == len(right.frames) == 236
    assert [pane.note for pane in plan.shots[1].panes] == [None, "speeds matched"]


def test_three_columns_share_ground_and_scale_and_leave_room_for_their_names():
    plan = planned(
        "three_up: {then: {clip: viewer, at: impact}, now: {clip: viewer, at: top}, model: {clip: model, at: impact}, "
        "match: [ground, belt], hold: 3s}"
    )
    panes = plan.shots[1].panes
    assert [pane.name for pane in panes] == ["then", "now", "model"]
    heels = [
        p.placement.to_canvas(Point(x, y)).y for p, (x, y) in zip(panes, [(0.4, 0.9)] * 2 + [(0.42, 0.88)], strict=True)
    ]
    assert max(heels) - min(heels) < 0.01
    windows = [pane.placement.window for pane in panes]
    assert all(a.right < b.x for a, b in pairwise(windows))
    assert all(edge % 2 == 0 for window in windows for edge in window.edges)
    assert all(pane.label_room is not None and pane.label_room.bottom <= pane.placement.window.y for pane in panes)
    assert plan.shots[1].matched is not None
    assert plan.shots[1].matched.heel == pytest.approx(0, abs=0.01)


def test_pictures_in_one_place_meet_at_the_heel_both_ways():
    plan = planned(
        "overlay: {under: {clip: viewer, at: impact}, over: {clip: model, at: impact}, opacity: 0.4, "
        "match: [ground, belt], zoom: 1.2, hold: 3s}"
    )
    under, over = plan.shots[1].panes
    assert (under.opacity, over.opacity) == (1.0, 0.4)
    first, second = under.placement.to_canvas(Point(0.4, 0.9)), over.placement.to_canvas(Point(0.42, 0.88))
    assert first.distance(second) < 0.01


def test_an_edge_uncovers_the_second_picture_and_never_both_or_none():
    shot = planned("wipe: {first: {clip: viewer, at: impact}, second: {clip: model, at: impact}, hold: 5s}").shots[1]
    for offset in range(0, 125, 5):
        first, second = (pane.placement_at(offset).window for pane in shot.panes)
        assert first.width + second.width == 1920
        assert second.right == first.x
        assert first.x % 2 == 0
    assert shot.panes[0].placement_at(24).window.width == 1920
    assert shot.panes[1].placement_at(75).window.width == 1920


def test_a_push_starts_and_arrives_at_rest_and_keeps_its_window_full():
    shot = planned("freeze: {clip: viewer, at: address, hold: 4s, push: {to: heel, zoom: 2, at: 1s, over: 2s}}").shots[
        1
    ]
    pane = shot.panes[0]
    assert pane.placement_at(25) is pane.placement
    assert pane.move is not None
    assert pane.placement_at(75) is pane.move.to
    scales = [pane.placement_at(k).scale for k in range(100)]
    assert scales == sorted(scales)
    steps = [b - a for a, b in pairwise(scales)]
    assert max(steps) < 2.2 / 50 * 1.5
    assert steps[25] < max(steps) / 10
    for k in range(100):
        low, high = pane.placement_at(k).room(Point(1.0, 0.0))
        assert low <= 1e-6
        assert high >= -1e-6
    # The heel lies at 0.9 of the height: it comes as near to the middle as the picture's lower edge allows.
    assert pane.move.to.to_canvas(Point(0.4, 0.9)).x == pytest.approx(960, abs=2)
    assert pane.move.to.to_canvas(Point(0.0, 1.0)).y == pytest.approx(1080, abs=2)


def test_an_inset_has_its_own_window_name_and_strokes():
    plan = planned("freeze: {clip: viewer, at: impact, hold: 4s, inset: {still: grip, corner: lower_left, size: 0.5}}")
    wide, inset = plan.shots[1].panes
    assert (wide.name, inset.name, inset.inset) == ("wide", "inset", True)
    assert inset.placement.window == Rect(64, 1080 - 64 - 540, 720, 540)
    assert inset.placement.scale == pytest.approx(0.45)


@pytest.mark.parametrize("size", ["1080x1920", "1080x1080", "1080x1350", "1920x1080"])
def test_every_layout_has_room_for_every_comparison(size: str):
    for kind, first, second in (("split", "left", "right"), ("overlay", "under", "over")):
        plan = planned(
            f"{kind}: {{{first}: {{clip: viewer, at: impact}}, {second}: {{clip: model, at: impact}}, "
            "match: [ground, belt], hold: 3s}",
            size=size,
        )
        for pane in plan.shots[1].panes:
            window = pane.placement.window
            assert window.width > 300
            assert window.height > 300
            assert pane.placement.room(Point(0.0, 1.0))[0] <= 1e-6
            assert pane.placement.room(Point(1.0, 0.0))[1] >= -1e-6


def test_a_transition_takes_the_first_frames_of_its_own_shot_and_leaves_the_last_one_alone():
    shot = planned("freeze: {clip: viewer, at: impact, hold: 3s}").shots[1]
    assert shot.enter is not None
    assert (shot.enter.by, shot.enter.frames) == ("dissolve", 10)
    brief = planned("run: {clip: viewer, from: f210, to: f220, speed: 1}").shots[1]
    assert brief.enter is not None
    assert brief.enter.frames == brief.span.frames - 1


def test_a_clip_without_a_focus_is_framed_so_that_the_whole_swing_is_seen():
    from segmentkit.plan.layout import full_frame
    from tests.plan.footage import footage

    canvas, swing = Rect(0, 0, 1920, 1080), Rect(0.15, 0.05, 0.4, 0.7)
    free = full_frame(footage({"zoom": 1.3}), canvas, mirrored=False, zoom=None, focus=None, seen=swing)
    set_ = footage({"zoom": 1.3, "focus": [0.5, 0.5]})
    told = full_frame(set_, canvas, mirrored=False, zoom=None, focus=None, seen=swing)
    # A fiftieth of the window stays free above the swing.
    assert free.to_canvas(Point(swing.x, swing.y)).y == pytest.approx(0.02 * canvas.height, abs=2)
    assert told.to_canvas(Point(swing.x, swing.y)).y < -50
    assert free.scale == told.scale == pytest.approx(1.3)


def track(shift: float) -> TrackFacts:
    """The background goes to the right by `shift` of the width with each frame."""
    frames = tuple(range(360))
    maps = tuple(Projection((1.0, 0.0, shift * (f - 48), 0.0, 1.0, 0.0, 0.0, 0.0, 1.0)) for f in frames)
    return TrackFacts(anchor=48, frames=frames, maps=maps, residuals=(0.3,) * 360)


def test_a_kept_stroke_follows_the_background_from_frame_to_frame():
    plan = planned("run: {clip: viewer, from: address, to: impact, speed: 1/2}", tracks={"viewer": track(0.0001)})
    first, kept = (stroke for stroke in plan.strokes if stroke.id == "line")
    assert first.followed == ()  # frozen on the very frame it was drawn on
    picture = plan.shots[1].panes[0].picture
    assert isinstance(picture, ClipPicture)
    for frame in range(kept.span.start, kept.span.end, 7):
        here = kept.at(frame)
        moved = 0.0001 * (picture.frames[frame - kept.span.start] - 48)
        assert here.points[0].x == pytest.approx(first.points[0].x + moved, abs=1e-9)
        assert here.points[0].y == pytest.approx(first.points[0].y, abs=1e-9)


def test_a_ring_grows_with_a_camera_that_comes_closer():
    from segmentkit.plan.follow import following

    plan = planned("run: {clip: viewer, from: address, to: impact, speed: 1/2}")
    kept = next(stroke for stroke in plan.strokes if stroke.kept)
    ring = replace(kept, kind="ring", points=(Point(0.4, 0.6),), radius=0.1)
    closer = Projection((1.2, 0.0, -0.1, 0.0, 1.2, -0.1, 0.0, 0.0, 1.0))  # 1.2 times around the middle
    still = Projection((1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0))
    frames = tuple(range(360))
    maps = tuple(still if f < 100 else closer for f in frames)
    facts = TrackFacts(anchor=48, frames=frames, maps=maps, residuals=(0.0,) * 360)
    last = following(ring, plan.shots[1], {"viewer": facts}).at(kept.span.end - 1)
    assert last.radius == pytest.approx(0.12)
    assert (last.points[0].x, last.points[0].y) == pytest.approx((0.38, 0.62))

"""Comparisons, insets, transitions and lines that follow, from a storyboard to composed pictures."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from segmentkit.geometry import Point, Size
from segmentkit.media.planes import Planes
from segmentkit.media.stills import planes_to_rgb
from segmentkit.pipeline import Checked, check
from segmentkit.render.picture import Composer
from tests.clips import make_clip, read_number, steady
from tests.scenes import SIZE, hand_held, textured, true_spot

HEAD = """
segmentkit: 1
segment: {title: Pictures, slot: 8s, rate: 25, size: 320x180}
clips:
  coded: {file: coded.mp4, positions: {here: f40, there: f20}}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("pictures")
    make_clip(place / "coded.mp4", steady(60, 1))
    return place


def checked(folder: Path, beats: str, head: str = HEAD) -> Checked:
    path = folder / f"board-{abs(hash(beats))}.yaml"
    path.write_text(
        head + "beats:\n" + beats + "  - beat: rest\n    show: [{freeze: {clip: coded, at: f5, hold: 0.2s..60s}}]\n"
    )
    return check(path)


def stills(made: Checked, frames: list[int]) -> Iterator[Planes]:
    with Composer(made.plan, made.facts, made.look) as composer:
        for frame in frames:
            yield composer.still(frame)


ENTERING = """
  - beat: first
    show:
      - freeze: {{clip: coded, at: here, hold: 1s}}
      - run: {{clip: coded, from: f0, to: f30, speed: 1/2}}
        enter: {{by: {by}, over: 0.2s}}
      - freeze: {{clip: coded, at: there, hold: 2s}}
        enter: {{by: {by}, over: 0.2s}}
"""


@pytest.mark.parametrize("by", ["dissolve", "wipe", "push"])
def test_a_transition_is_over_to_the_frame_and_holds_one_picture_after(folder: Path, by: str):
    made = checked(folder, ENTERING.format(by=by))
    run, freeze = made.plan.shots[1:3]
    with Composer(made.plan, made.facts, made.look) as composer:
        pictures = [(p.frame, p.repeat, p.planes.copy()) for p in composer.pictures()]
    alone = {frame: planes for frame, _, planes in pictures}
    # Five frames are mixed; the sixth is the run's own sixth source frame (real time 5/25 s at a half: frame 6).
    first = run.panes[0].picture.frames[5]  # type: ignore[union-attr]
    assert read_number(alone[run.span.start + 5]) == first == 6
    assert [frame for frame, _, _ in pictures if frame in freeze.span] == [freeze.span.start + k for k in range(6)]
    held = next(repeat for frame, repeat, _ in pictures if frame == freeze.span.start + 5)
    assert held == freeze.span.frames - 5
    assert read_number(alone[freeze.span.start + 5]) == 20
    assert sum(repeat for _, repeat, _ in pictures) == made.plan.frames


def test_any_frame_asked_for_alone_is_the_one_of_the_whole(folder: Path):
    made = checked(folder, ENTERING.format(by="dissolve"))
    with Composer(made.plan, made.facts, made.look) as composer:
        whole = {p.frame: p.planes.copy() for p in composer.pictures()}
    frames = sorted(whole)[::5]
    for frame, picture in zip(frames, stills(made, frames), strict=True):
        assert np.array_equal(picture.y, whole[frame].y)


PUSHED = """
  - beat: first
    show:
      - freeze: {clip: coded, at: here, hold: 4s, push: {to: [0.5, 0.5], zoom: 2, at: 1s, over: 1s}}
    strokes:
      ring: {ring: {centre: [0.5, 0.5], radius: 0.1}, at: 0.2s, draw: 0.2s}
"""


def test_a_push_is_one_picture_at_rest_and_strokes_stay_on_the_body(folder: Path):
    made = checked(folder, PUSHED)
    with Composer(made.plan, made.facts, made.look) as composer:
        pictures = [(p.frame, p.repeat) for p in composer.pictures() if p.frame < 100]
    moving = [frame for frame, _ in pictures if 25 < frame < 50]
    assert moving == list(range(26, 50))
    assert (50, 50) in pictures
    bare = replace(made, plan=replace(made.plan, strokes=()))
    reaches = []
    for frame in (24, 50):
        drawn = next(stills(made, [frame])).y.astype(int)
        rows, columns = np.nonzero(np.abs(drawn - next(stills(bare, [frame])).y) > 12)
        assert (rows.min() + rows.max() + 1) / 2 == pytest.approx(90, abs=1.5)
        assert (columns.min() + columns.max() + 1) / 2 == pytest.approx(160, abs=1.5)
        reaches.append(rows.max() - rows.min())
    # The ring doubles with the body, its line does not get thicker.
    assert reaches[1] == pytest.approx(reaches[0] + 0.2 * 180, abs=3)


INSET = """
  - beat: first
    show:
      - freeze: {{clip: coded, at: here, hold: 3s, inset: {{clip: coded, at: there, corner: upper_right, size: 0.5}}}}
    strokes:
      across: {{line: [[0.1, 0.3], [0.9, 0.3]], on: {on}, at: 0.2s, draw: 0.2s}}
"""


def test_an_inset_hides_what_is_drawn_below_it_and_has_strokes_of_its_own(folder: Path):
    for on in ("wide", "inset"):
        made = checked(folder, INSET.format(on=on))
        bare = replace(made, plan=replace(made.plan, strokes=()))
        changed = np.abs(next(stills(made, [50])).y.astype(int) - next(stills(bare, [50])).y) > 12
        window = made.plan.shots[0].panes[1].placement.window
        left, top, right, bottom = (round(edge) for edge in window.edges)
        inside = changed[top:bottom, left:right].any()
        changed[top - 4 : bottom + 4, left - 4 : right + 4] = False
        assert inside == (on == "inset")
        assert changed.any() == (on == "wide")


def test_running_sides_show_the_frames_of_the_plan(folder: Path):
    head = HEAD.replace("{file: coded.mp4, positions: {here: f40, there: f20}}",
                        "{file: coded.mp4, positions: {a: f4, b: f20, c: f50}}\n"
                        "  slow: {file: coded.mp4, positions: {a: f0, b: f30, c: f44}}")  # fmt: skip
    made = checked(
        folder,
        "  - beat: first\n    show:\n      - overlay: {under: {clip: coded, from: a, to: c, speed: 1}, "
        "over: {clip: slow, from: a, to: c}, opacity: 0.9, match: [events]}\n",
        head,
    )
    shot = made.plan.shots[0]
    under, over = (pane.picture.frames for pane in shot.panes)  # type: ignore[union-attr]
    assert under[0] == 4
    assert (over[0], over[-1]) == (0, 44)
    # With nothing of the lower picture left, what is seen is the following side's own frame.
    seen = replace(shot, panes=tuple(replace(pane, opacity=1.0) for pane in shot.panes))
    made = replace(made, plan=replace(made.plan, shots=(seen, *made.plan.shots[1:])))
    frames = list(range(0, shot.span.frames, 3))
    numbers = [read_number(picture) for picture in stills(made, frames)]
    assert numbers == [over[k] for k in frames]
    assert min(k for k, frame in enumerate(under) if frame >= 20) == pytest.approx(
        min(k for k, frame in enumerate(over) if frame >= 30), abs=1
    )


HAND = """
segmentkit: 1
segment: {{title: A steady line, slot: 4s, rate: 30, size: 640x360}}
clips:
  coded:
    file: hand.mp4
    positions: {{address: f0, impact: f40}}
    points: {{address: {{spot: [0.2, 0.35], low: [0.3, 0.85]}}}}
"""
LINES = """
  - beat: address
    show: [{{freeze: {{clip: coded, at: address, hold: 2s}}}}]
    strokes:
      mark: {{dot: [0.2, 0.35], at: 0.1s, draw: 0.2s{follow}}}
  - beat: impact
    keep: [mark]
    show: [{{run: {{clip: coded, from: address, to: impact, speed: 1}}}}]
"""


@pytest.fixture(scope="module")
def hand(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("hand")
    world = textured(Size(860, 560))
    make_clip(place / "hand.mp4", steady(30, Fraction(45, 30)), size=SIZE, picture=lambda k: hand_held(world, k))
    return place


@pytest.mark.slow
def test_a_kept_mark_stays_on_its_spot_of_the_background_in_a_hand_held_clip(hand: Path):
    made = checked(hand, LINES.format(follow=", follow: background"), HAND.format())
    assert not {"camera-moves", "follow-off"} & {finding.id for finding in made.findings}
    shot = made.plan.shots[1]
    bare = replace(made, plan=replace(made.plan, strokes=()))
    worst = 0.0
    for offset in range(0, shot.span.frames, 5):
        frame = shot.span.start + offset
        source = shot.panes[0].picture.frames[offset]  # type: ignore[union-attr]
        drawn, plain = (planes_to_rgb(next(stills(one, [frame]))).astype(int) for one in (made, bare))
        weight = np.abs(drawn - plain).sum(axis=2)
        weight[weight < 40] = 0
        rows, columns = np.nonzero(weight)
        at = Point((columns.min() + columns.max() + 1) / 2, (rows.min() + rows.max() + 1) / 2)
        want = true_spot(Point(0.2, 0.35), source)
        worst = max(worst, math.hypot(at.x - want.x * 640, at.y - want.y * 360) * 1080 / 360)
    assert worst < 3.0  # in pixels at 1080: two of following, and half a pixel of this small picture to find it again


@pytest.mark.slow
def test_a_mark_that_stays_in_a_hand_held_clip_is_an_error(hand: Path):
    made = checked(hand, LINES.format(follow=""), HAND.format())
    (found,) = [finding for finding in made.findings if finding.id == "camera-moves"]
    assert found.severity.value == "error"
    assert dict(found.numbers)["moved_px"] > 20  # type: ignore[operator]

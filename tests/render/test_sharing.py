"""Segments of different viewers in one working folder make what they have in common once."""

from __future__ import annotations

from pathlib import Path

import pytest

from segmentkit.pipeline import Checked, check
from segmentkit.plan.model import ClipPicture
from tests.clips import coded, make_clip, steady
from tests.render.movies import frames_drawn, movie

BOARD = """
segmentkit: 1
segment: {title: One fault, slot: 20s, rate: 25, size: 320x180}
people: {ines: {shown: Ines, adult: yes, release: {for: [web], by: herself}}}
clips:
  viewer: {file: viewer.mp4, positions: {here: f30}}
  model: {file: model.mp4, positions: {here: f25}}
beats:
  - beat: title
    show: [{title: {main: Swing Clinic, hold: 3s}}]
  - beat: look
    show: [{freeze: {clip: viewer, at: here, hold: 3s}}]
    strokes: {ring: {ring: {centre: [0.5, 0.5], radius: 0.2}, at: 0.4s, draw: 0.4s, role: fault}}
  - beat: compare
    show: [{split: {left: {clip: viewer, at: here}, right: {clip: model, at: here}, hold: 3s}}]
  - beat: drill
    show:
      - run: {clip: model, from: f5, to: f45, speed: 1/2}
      - freeze: {clip: model, at: here, hold: 1s..8s}
    strokes: {line: {line: [[0.2, 0.2], [0.7, 0.8]], at: 3.5s, draw: 0.4s}}
  - beat: call
    show: [{end_board: {main: Send us your swing, lines: [practice.example], hold: 4s}}]
"""


def of_viewer(folder: Path, first: int) -> Checked:
    """The segment of a viewer whose clip starts with another picture than everybody else's."""
    folder.mkdir()
    make_clip(folder / "viewer.mp4", steady(30, 2), picture=lambda k: coded(first + k))
    make_clip(folder / "model.mp4", steady(25, 2), picture=lambda k: coded(500 + k))
    (folder / "board.yaml").write_text(BOARD)
    made = check(folder / "board.yaml")
    assert made.fits, [str(finding) for finding in made.findings]
    return made


def shows(made: Checked, clip: str) -> int:
    """Frames of shots in which a clip is seen."""
    return sum(
        shot.span.frames
        for shot in made.plan.shots
        if any(isinstance(pane.picture, ClipPicture) and pane.picture.clip == clip for pane in shot.panes)
    )


def copies_in(store: Path) -> dict[Path, int]:
    """Working copies with their time of change."""
    return {path: path.stat().st_mtime_ns for path in (store / "clip").rglob("*.mp4")}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A working folder `season` with the first viewer's pieces in it, and their project `one`."""
    folder = tmp_path_factory.mktemp("sharing")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SEGMENTKIT_STORE", str(folder / "season"))
        one = of_viewer(folder / "one", 0)
        assert len(copies_in(folder / "season")) == 2
        assert frames_drawn(movie(one, folder / "one.mp4", folder / "season")) == one.plan.frames
        yield folder


def test_a_second_viewer_costs_only_what_shows_them(folder, tmp_path):
    store = folder / "season"
    copies = copies_in(store)
    two = of_viewer(tmp_path / "two", 100)
    after = copies_in(store)
    assert len(after) == 3
    assert copies.items() <= after.items()
    own = frames_drawn(movie(two, tmp_path / "two.mp4", store))
    assert own == shows(two, "viewer")
    assert 0 < own < two.plan.frames / 2


@pytest.mark.parametrize(
    ("was", "becomes", "beat"),
    [
        ("radius: 0.2", "radius: 0.25", "look"),
        ("Swing Clinic", "Clinic", "title"),
        ("[0.7, 0.8]", "[0.7, 0.7]", "drill"),
    ],
)
def test_a_change_is_made_anew_where_it_is_seen(folder, tmp_path, was, becomes, beat):
    board = folder / "one" / "board.yaml"
    board.write_text(BOARD.replace(was, becomes))
    again = check(board)
    drawn = frames_drawn(movie(again, tmp_path / "again.mp4", folder / "season"))
    assert 0 < drawn <= again.plan.beat(beat).span.frames

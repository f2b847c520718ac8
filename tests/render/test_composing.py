"""A picture is the same whether it was composed after the one before, or alone."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from segmentkit.pipeline import Checked
from segmentkit.plan.model import Plan
from segmentkit.render import picture as composing
from segmentkit.render.picture import Composer
from tests.render.movies import BOARD, checked

STROKES = """
    strokes:
      ring: {ring: {centre: [0.5, 0.5], radius: 0.2}, at: 1.5s, draw: 0.4s, role: fault}
      first: {line: [[0.1, 0.2], [0.9, 0.3]], at: 1.6s, draw: 1s, role: reference}
      second: {arrow: [[0.3, 0.8], [0.6, 0.4]], at: 1.9s, draw: 0.3s}
      third: {line: [[0.2, 0.9], [0.8, 0.1]], at: 2.4s, draw: 0.6s, role: good}
"""
OLD = """
    strokes:
      ring: {ring: {centre: [0.5, 0.5], radius: 0.2}, at: 1.5s, draw: 0.4s, role: fault}
"""


@pytest.fixture(scope="module")
def segment(tmp_path_factory: pytest.TempPathFactory) -> Checked:
    assert OLD in BOARD
    return checked(tmp_path_factory.mktemp("segment"), BOARD.replace(OLD, STROKES))


def in_a_corner(plan: Plan) -> Plan:
    """The plan with a second pane in a corner, over the strokes of the first one."""
    shots = []
    for shot in plan.shots:
        if shot.beat == "first" and shot.kind == "freeze":
            pane = shot.panes[0]
            window = replace(pane.placement.window, x=120, y=60, width=120, height=80)
            inset = replace(pane, inset=True, name="corner", placement=replace(pane.placement, window=window))
            shot = replace(shot, panes=(pane, inset))  # noqa: PLW2901
        shots.append(shot)
    return replace(plan, shots=tuple(shots))


@pytest.mark.slow
@pytest.mark.parametrize("corner", [False, True], ids=["whole", "with an inset"])
def test_in_a_row_or_alone(segment, corner):
    plan = in_a_corner(segment.plan) if corner else segment.plan
    held = plan.beat("first").span
    seen = 0
    with Composer(plan, segment.facts, segment.look) as running:
        for picture in running.pictures():
            if picture.frame in held and picture.frame % 3 == 0:
                with Composer(plan, segment.facts, segment.look) as fresh:
                    alone = fresh.still(picture.frame)
                assert np.array_equal(picture.planes.y, alone.y), picture.frame
                assert np.array_equal(picture.planes.u, alone.u), picture.frame
                assert np.array_equal(picture.planes.v, alone.v), picture.frame
                seen += 1
    assert seen > 15


@pytest.mark.slow
def test_strokes_that_are_finished_are_not_laid_anew_for_each_picture(segment, monkeypatch):
    wanted, laid = [], []
    marked, blend = Composer._marked, composing.blend

    def counted(self, base, patches):
        wanted.append(len(patches))
        monkeypatch.setattr(composing, "blend", lambda canvas, patch: (laid.append(patch), blend(canvas, patch))[-1])
        canvas = marked(self, base, patches)
        monkeypatch.setattr(composing, "blend", blend)
        return canvas

    monkeypatch.setattr(Composer, "_marked", counted)
    freeze = next(shot for shot in segment.plan.shots if shot.beat == "first" and shot.kind == "freeze")
    with Composer(segment.plan, segment.facts, segment.look) as composer:
        pictures = list(composer.pictures(freeze.span))
    assert len(pictures) == len(wanted) > 30
    assert len(laid) < 0.7 * sum(wanted)

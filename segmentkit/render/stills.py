"""Pictures of single frames, as they are or without what lies over them: for papers and for reviews."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from segmentkit.facts import Facts
from segmentkit.media.stills import Rgb, planes_to_rgb
from segmentkit.plan.model import Plan
from segmentkit.render.picture import Composer
from segmentkit.storyboard.look import Look


def stills(plan: Plan, facts: Facts, look: Look, frames: Iterable[int]) -> dict[int, Rgb]:
    """The pictures of some frames, uint8, shape (height, width, 3), full range; each clip is opened once.

    Raises:
        MediaUnusable: when a clip or a still cannot be read.
    """
    with Composer(plan, facts, look) as composer:
        return {frame: planes_to_rgb(composer.still(frame)) for frame in sorted(set(frames))}


def bare(plan: Plan) -> Plan:
    """The plan with pictures and strokes only: no card, and no name under a picture."""
    shots = tuple(
        replace(shot, panes=tuple(replace(pane, label=None, note=None) for pane in shot.panes)) for shot in plan.shots
    )
    return replace(plan, cards=(), shots=shots)

"""A plan without text and strokes, frame by frame as long as the whole."""

from __future__ import annotations

from dataclasses import replace

from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import Plan


def emptied(plan: Plan) -> Plan:
    """The plan with its pictures and sound only: no card, no stroke, no name in a picture.

    Made from the plan of the whole, so every shot keeps its frames; what was softened to lie behind a text stays so.
    The sign that a guide voice speaks stays as well: it belongs to rehearsals, and nobody may take one for the real
    thing.
    """
    shots = tuple(
        replace(shot, panes=tuple(replace(pane, label=None, note=None) for pane in shot.panes)) for shot in plan.shots
    )
    marks = tuple(card for card in plan.cards if card.kind == GUIDE_MARK)
    return replace(plan, shots=shots, strokes=(), cards=marks)

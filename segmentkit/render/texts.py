"""All drawn texts of a plan as measurements, for the checks; nothing is painted."""

from __future__ import annotations

from segmentkit.facts import TextFacts
from segmentkit.plan.model import Plan
from segmentkit.render.cards import CardArtist, pane_label_report
from segmentkit.render.faces import body_areas, face_areas
from segmentkit.render.strokes import StrokeArtist
from segmentkit.storyboard.look import Look


def text_facts(plan: Plan, look: Look) -> tuple[TextFacts, ...]:
    """Measures every text that a plan would draw: cards, names of panes, labels of strokes.

    The index of a name or label, which is no card of its beat, is one past the beat's last card.
    """
    cards, strokes = CardArtist(look, plan.size, plan), StrokeArtist(look, plan.size)
    found: list[TextFacts] = []
    for card in plan.cards:
        found.extend(cards.text_report(card))
    for shot in plan.shots:
        past = 1 + max((card.index for card in plan.cards if card.beat == shot.beat), default=-1)
        names: list[TextFacts] = []
        for pane in shot.panes:
            if pane.label:
                window = pane.label_window
                names.extend(
                    pane_label_report(shot.beat, past, pane.label, pane.note, window, look, plan.size, pane.label_at)
                )
        found.extend(names)
        drawn = [(one, shot.resting(one.pane)) for one in plan.strokes if one.shot == shot.id]
        over = [cards.area(card) for card in plan.cards if card.span.overlap(shot.span)]
        strokes.settle(drawn, [*over, *(name.area for name in names), *face_areas(shot)], body_areas(shot))
        for stroke, placement in drawn:
            if not stroke.kept:
                found.extend(strokes.text_report(stroke, placement, past))
    return tuple(found)

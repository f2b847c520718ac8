"""What was measured of every text a plan shows, for the checks: they judge it without drawing anything themselves."""

from __future__ import annotations

from segmentkit.facts import TextFacts
from segmentkit.plan.model import Plan
from segmentkit.render.cards import CardArtist, pane_label_report
from segmentkit.storyboard.look import Look


def text_facts(plan: Plan, look: Look) -> tuple[TextFacts, ...]:
    """Size, contrast, fit and missing glyphs of all cards and pane labels, in the order of the plan."""
    artist = CardArtist(look, plan.size)
    facts = [fact for card in plan.cards for fact in artist.text_report(card)]
    for shot in plan.shots:
        for index, pane in enumerate(shot.panes):
            if pane.label:
                facts += pane_label_report(
                    shot.beat, index, pane.label, pane.note, pane.placement.window, look, plan.size
                )
    return tuple(facts)

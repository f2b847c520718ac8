from dataclasses import replace

import pytest

from segmentkit.render.cards import CardArtist
from segmentkit.render.texts import text_facts
from tests.plan_makers import context
from tests.render.drawn import LOOK, alpha_of


def test_every_text_of_a_plan_is_measured():
    plan = context().plan
    plan = replace(plan, strokes=tuple(replace(s, label=f"Label of {s.id}") for s in plan.strokes))
    facts = text_facts(plan, LOOK)
    texts = {(fact.beat, fact.text) for fact in facts}
    for card in plan.cards:
        for _, text in card.fields:
            assert (card.beat, text) in texts
    for shot in plan.shots:
        for pane in shot.panes:
            if pane.label:
                assert (shot.beat, pane.label) in texts
    assert {fact.text for fact in facts if fact.kind == "stroke_label"} == {s.label for s in plan.strokes if not s.kept}


def test_labels_and_names_have_an_index_past_the_cards_of_their_beat():
    plan = context().plan
    for fact in text_facts(plan, LOOK):
        if fact.kind in {"pane_label", "stroke_label"}:
            assert all(card.index < fact.index for card in plan.cards if card.beat == fact.beat)


@pytest.mark.slow
def test_measuring_agrees_with_what_is_painted():
    """What counts as covered holds all texts, and nearly all that is opaque; a sun may look over its edge."""
    plan = context().plan
    artist = CardArtist(LOOK, plan.size)
    for card in plan.cards:
        area = artist.area(card)
        for text in artist.text_report(card):
            assert text.covers == area
            assert text.area.inset(1).joined(area) == area
        alpha = alpha_of(artist.patches(card, card.span.start + card.span.frames // 2), plan.size)
        left, top = max(0, int(area.x) - 4), max(0, int(area.y) - 4)
        inside = alpha[top : int(area.bottom) + 5, left : int(area.right) + 5].sum()
        assert inside >= 0.93 * alpha.sum(), card.kind

"""Cards that are seen together make room for one another."""

from itertools import combinations
from types import SimpleNamespace

import pytest

from segmentkit.geometry import Rect, Size, cover
from segmentkit.render.cards import CardArtist, pane_label_report
from segmentkit.timebase import Span
from tests.render.drawn import HD, make_card
from tests.render.test_cards import CARDS, LOOKS, SIZES


def arranged(look, shape, kinds, side="right", spans=None):
    """Areas of cards that are seen together."""
    cards = [
        make_card(kind, *CARDS[kind], index=k, side=side, **({} if spans is None else {"span": spans[k]}))
        for k, kind in enumerate(kinds)
    ]
    artist = CardArtist(LOOKS[look], SIZES[shape], SimpleNamespace(cards=tuple(cards), shots=()))
    return [artist.area(card) for card in cards], artist, cards


TOGETHER = [
    ("lower_third", "caution"),
    ("lower_third", "caution", "disclosure", "label"),
    ("key_words", "caution", "lower_third"),
    ("information", "caution", "label"),
    ("key_points", "caution", "guide_mark"),
    ("drill", "caution"),
]


@pytest.mark.parametrize("look", list(LOOKS))
@pytest.mark.parametrize("shape", list(SIZES))
@pytest.mark.parametrize("kinds", TOGETHER, ids="+".join)
def test_nothing_lies_over_anything_else(look, shape, kinds):
    areas, artist, cards = arranged(look, shape, kinds)
    for (one, first), (other, second) in combinations(zip(kinds, areas, strict=True), 2):
        assert not first.overlaps(second), f"{one} and {other}"
    for card in cards:
        for text in artist.text_report(card):
            assert not text.overflow
            assert text.cap_height >= (37.5 if text.secondary else 45)


def test_a_caution_keeps_its_place_and_the_others_give_way():
    alone, _, _ = arranged("dune", "16:9", ["caution"])
    both, _, _ = arranged("dune", "16:9", ["lower_third", "caution"])
    assert both[1] == alone[0]
    assert both[0].bottom < both[1].y


@pytest.mark.parametrize("side", ["left", "right"])
def test_low_cards_stand_beside_a_panel(side):
    (panel, caution), _, _ = arranged("contour", "16:9", ["information", "caution"], side)
    assert caution.x > panel.right if side == "left" else caution.right < panel.x


def test_cards_that_never_meet_do_not_move():
    spans = [Span(0, 50), Span(50, 100)]
    apart, _, _ = arranged("dune", "16:9", ["lower_third", "caution"], spans=spans)
    alone, _, _ = arranged("dune", "16:9", ["lower_third"])
    assert apart[0] == alone[0]


def test_names_of_panes_are_left_free():
    card = make_card("lower_third", *CARDS["lower_third"])
    low = SimpleNamespace(label="Maren", note=None, label_at=(0.0, 1.0), label_window=Rect(0, 0, 1920, 1080))
    shot = SimpleNamespace(span=Span(90, 100), panes=(low,))
    artist = CardArtist(LOOKS["dune"], HD, SimpleNamespace(cards=(card,), shots=(shot,)))
    name = pane_label_report("impact", 0, "Maren", None, low.label_window, LOOKS["dune"], HD, low.label_at)[0]
    alone = CardArtist(LOOKS["dune"], HD).area(card)
    assert alone.overlaps(name.covers)
    assert artist.area(card).bottom < name.covers.y


@pytest.mark.parametrize("look", list(LOOKS))
@pytest.mark.parametrize("shape", ["9:16", "1:1", "4:5"])
def test_key_words_stand_beside_the_player_in_pictures_that_are_not_wide(look, shape):
    size = SIZES[shape]
    canvas = Rect(0, 0, size.width, size.height)
    figure = Rect(0.30, 0.36, 0.22, 0.54)
    pane = SimpleNamespace(label=None, figure=figure)
    placed = cover(Size(1080, 1920) if shape == "9:16" else size, canvas)
    shot = SimpleNamespace(span=Span(0, 200), panes=(pane,), resting=lambda _: placed)
    card = make_card("key_words", *CARDS["key_words"], index=0)
    artist = CardArtist(LOOKS[look], size, SimpleNamespace(cards=(card,), shots=(shot,)))
    area = artist.area(card)
    body = Rect(figure.x * size.width, figure.y * size.height, figure.width * size.width, figure.height * size.height)
    assert not area.overlaps(body)
    assert not any(text.overflow for text in artist.text_report(card))

"""Every drill that travels with segmentkit finds room on its card, with what it needs and both of its cautions."""

from __future__ import annotations

from pathlib import Path

import pytest

from segmentkit.geometry import Rect, Size
from segmentkit.plan.sheets import with_sheets
from segmentkit.render.cards import CardArtist
from segmentkit.storyboard.load_look import load_look, shipped_looks
from segmentkit.storyboard.presets import load_preset, shipped_presets
from tests.render.drawn import make_card

SHAPES = (Size(1920, 1080), Size(1080, 1920), Size(1080, 1080), Size(1080, 1350))


@pytest.mark.parametrize("look", shipped_looks())
@pytest.mark.parametrize("size", SHAPES, ids=str)
def test_no_drill_overflows_its_card(look: str, size: Size) -> None:
    artist = CardArtist(load_look(look, Path()), size)
    over = []
    for name in shipped_presets():
        drill = load_preset(name, Path()).drill
        texts = {key: text for key, text in drill.model_dump().items() if text}
        (card,) = with_sheets([make_card("drill", *texts.items())], Rect(0, 0, size.width, size.height))
        report = artist.text_report(card)
        assert {fact.text for fact in report} == set(texts.values()), name
        within = Rect(0, 0, size.width, size.height)
        assert all(fact.area.joined(within) == within for fact in report), name
        over += [name] if any(fact.overflow for fact in report) else []
    assert not over

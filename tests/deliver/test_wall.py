"""The wall of all cards."""

from fractions import Fraction

import numpy as np
import pytest
from PIL import Image

from segmentkit.checks.cards import reading_time
from segmentkit.deliver.wall import draw_wall, wall_entries, write_wall
from segmentkit.findings import Finding, Severity
from segmentkit.plan.cards import GUIDE_MARK
from tests.plan_makers import context, with_cards

PLAN = context().plan


def pictures(entries):
    return {entry.frame: np.full((54, 96, 3), (200, 0, 200), np.uint8) for entry in entries}


def test_every_card_and_every_name_is_on_the_wall():
    entries = wall_entries(PLAN, ())
    cards = [card for card in PLAN.cards if card.kind != GUIDE_MARK]
    named = [shot for shot in PLAN.shots if any(pane.label for pane in shot.panes)]
    assert len(entries) == len(cards) + len(named)
    said = " ".join(entry.says for entry in entries)
    for card in cards:
        for _, text in card.fields:
            assert text in said
    assert [entry.frame for entry in entries] == sorted(entry.frame for entry in entries)


def test_the_hold_is_told_beside_the_published_floor():
    """0.2 s a word and 2 s more (3 s from ten words on): the British guidance for advertisements, BCAP note 1."""
    entries = {entry.name: entry for entry in wall_entries(PLAN, ())}
    card = next(card for card in PLAN.cards if card.kind == "key_points")
    entry = entries[f"key points, {card.beat}"]
    assert entry.needs == reading_time(card.words) == Fraction(card.words, 5) + 2
    whole = card.span.frames - card.enter_frames - card.leave_frames
    assert entry.stands == whole / PLAN.rate.fps
    assert not entry.short
    assert card.span.start + card.enter_frames <= entry.frame < card.span.end - card.leave_frames


@pytest.mark.slow
def test_a_card_that_is_too_short_or_has_a_finding_is_marked():
    card = next(card for card in PLAN.cards if card.kind == "key_points")
    short = with_cards(PLAN, "key_points", enter_frames=0, leave_frames=card.span.frames - 5)
    found = Finding(
        id="text-overflow", severity=Severity.ERROR, where=f"beat {card.beat}, key points", what="1", remedy="2"
    )
    plain, marked = wall_entries(PLAN, ()), wall_entries(PLAN, [found])
    assert sum(entry.short for entry in wall_entries(short, ())) == 1
    assert [entry.findings for entry in marked if entry.findings] == [(found,)]
    clean, red = (np.asarray(draw_wall(PLAN, one, pictures(one)).pages[0]).astype(int) for one in (plain, marked))
    warned = (red[..., 0] > 150) & (red[..., 1] < 80) & (red[..., 2] < 80)
    assert warned.sum() > 500
    assert not ((clean[..., 0] > 150) & (clean[..., 1] < 80) & (clean[..., 2] < 80)).any()


def test_the_sheet_is_a_png_with_every_picture_in_its_shape(tmp_path):
    entries = wall_entries(PLAN, ())
    write_wall(tmp_path / "wall.png", PLAN, entries, pictures(entries))
    sheet = np.asarray(Image.open(tmp_path / "wall.png").convert("RGB")).astype(int)
    pink = (sheet[..., 0] > 190) & (sheet[..., 1] < 10)
    # The first picture: from its corner to the first column and row that are not of it.
    top, left = (int(np.argmax(pink.any(axis=axis))) for axis in (1, 0))
    width, height = int(np.argmin(pink[top + 2, left:])), int(np.argmin(pink[top:, left + 2]))
    assert width > 300
    assert width / height == pytest.approx(1920 / 1080, rel=0.01)

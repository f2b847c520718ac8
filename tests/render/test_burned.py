"""What is burned in: captions and review stamps; and what must stay visible."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from segmentkit.facts import SceneFacts
from segmentkit.geometry import Rect, Size
from segmentkit.media.planes import blank
from segmentkit.plan.caption_cards import burned
from segmentkit.plan.captions import caption_sets
from segmentkit.render.areas import taken_areas
from segmentkit.render.blend import blend
from segmentkit.render.cards import CardArtist
from segmentkit.render.stamp import Stamp
from segmentkit.render.stills import bare
from segmentkit.storyboard.load_look import load_look, shipped_looks
from segmentkit.timebase import Rate, Span
from tests.plan_makers import clean, context, web
from tests.render.drawn import HD, LOOK, make_card

PAL = Rate(Fraction(25))


def caption_card(place: str, *lines: str):
    return make_card("caption", ("place", place), *(("line", line) for line in lines), enter_frames=0, leave_frames=0)


def test_a_caption_stands_on_its_edge_and_its_type_meets_the_safe_area():
    artist = CardArtist(LOOK, HD)
    area = artist.area(caption_card("foot 95 50 8", "Her hips are still", "on the line."))
    assert area.bottom == pytest.approx(0.95 * 1080, abs=1)
    assert area.height == pytest.approx(2 * 0.08 * 1080, abs=1)
    assert area.centre.x == pytest.approx(960, abs=2)
    above = artist.area(caption_card("top 5 31 8", "Her hips are still"))
    assert above.y == pytest.approx(54, abs=1)
    assert above.centre.x == pytest.approx(0.31 * 1920, abs=2)


@pytest.mark.parametrize(("size", "line_height"), [(HD, 7), (HD, 8), (Size(1080, 1920), 4.5), (Size(1080, 1080), 7)])
def test_captions_can_be_read(size: Size, line_height: float):
    # WCAG 2.2, 1.4.3, asks for 4.5. 20 lines of 576, the least for subtitles by tiresias.org, are 37.5 px at 1080.
    (fact,) = CardArtist(LOOK, size).text_report(caption_card(f"foot 80 50 {line_height}", "Her hips are still"))
    assert fact.contrast >= 7
    assert fact.cap_height >= 37.5
    assert not fact.overflow


@pytest.mark.parametrize("look", shipped_looks())
def test_captions_are_light_on_dark_in_every_look(look: str):
    # 7 is the enhanced contrast of WCAG 2.2, 1.4.6; looks that print on paper have dark ink everywhere else.
    card = caption_card("foot 80 50 7", "Her hips are still")
    artist = CardArtist(load_look(look, Path()), HD)
    (fact,) = artist.text_report(card)
    assert fact.contrast >= 7
    frame = blank(HD, y=60)
    for patch in artist.patches(card, 50):
        blend(frame, patch)
    left, top, right, bottom = (int(edge) for edge in fact.area.edges)
    inside = frame.y[top:bottom, left:right]
    assert inside.max() > 200
    assert inside.min() < 70


def test_a_line_that_is_too_wide_is_set_smaller_and_said():
    (fact,) = CardArtist(LOOK, HD).text_report(caption_card("foot 95 50 8", "W" * 60))
    assert fact.overflow
    assert fact.area.width <= 0.9 * 1920


def test_captions_lie_within_the_safe_area_even_at_the_side():
    area = CardArtist(LOOK, HD).area(caption_card("foot 95 2 8", "At the far side of it"))
    assert area.x >= 0.05 * 1920 - 1


def test_what_is_burned_in_is_where_the_caption_rules_put_it():
    made = context(clean())
    (captions,) = caption_sets(made.plan, (web(),), "en", taken_areas(made.plan, LOOK))
    plan = burned(made.plan, captions)
    artist = CardArtist(LOOK, plan.size, plan)
    taken = [one for one in taken_areas(made.plan, LOOK) if not one.soft]
    for card, caption in zip((c for c in plan.cards if c.kind == "caption"), captions.captions, strict=True):
        drawn = artist.area(card)
        assert not caption.hits
        covered = [one for one in taken if one.span.overlap(card.span) and drawn.overlaps(one.area)]
        assert covered == []


def test_the_stamp_runs_and_stays_in_the_margin():
    for size in (HD, Size(1080, 1920)):
        stamp = Stamp("REVIEW, version 3", LOOK, size, PAL)
        assert stamp.area.bottom <= 0.05 * size.height
        assert stamp.area.right <= size.width
        first, second = stamp.patches(0), stamp.patches(1)
        assert first[0] is second[0]
        assert sum(a is not b for a, b in zip(first, second, strict=True)) == 1, "one digit changes"
        assert stamp.patches(0) == first, "digits are drawn once"


def test_the_stamp_is_seen():
    stamp = Stamp("REVIEW, version 3", LOOK, HD, PAL)
    canvas = blank(HD)
    for patch in stamp.patches(1630):
        blend(canvas, patch)
    x, y, right, bottom = (round(v) for v in (stamp.area.x, stamp.area.y, stamp.area.right, stamp.area.bottom))
    assert int(canvas.y[y:bottom, x:right].max()) > 180
    assert int(canvas.y[bottom + 4 :].max()) == 16


def test_strokes_cards_and_names_must_stay_visible():
    made = context(clean())
    found = taken_areas(made.plan, LOOK)
    names = {one.what for one in found}
    assert {"stroke hip_line", "stroke gap", "stroke room", "drill", "lower third", "key points"} <= names
    line = next(one for one in found if one.what == "stroke hip_line" and one.beat == "address")
    stroke = next(s for s in made.plan.strokes if s.id == "hip_line" and s.beat == "address")
    shot = next(s for s in made.plan.shots if s.id == stroke.shot)
    ends = [shot.resting(0).to_canvas(point) for point in stroke.points]
    assert line.span == stroke.span
    assert line.area.y <= min(p.y for p in ends)
    assert line.area.bottom >= max(p.y for p in ends)
    assert line.area.width < 40


def test_heads_are_kept_clear_where_the_player_is_known():
    made = context(clean())
    scene = SceneFacts(frames=(0, 359), boxes=(Rect(0.4, 0.2, 0.2, 0.7),) * 2, luma=(40, 120, 200), blue=128, red=128)
    facts = replace(made.facts, scenes={"viewer": scene})
    heads = [one for one in taken_areas(made.plan, LOOK, facts) if one.soft]
    assert heads
    assert all(one.what == "the player's head" for one in heads)
    shown = {shot.id for shot in made.plan.shots if any(getattr(p.picture, "clip", "") == "viewer" for p in shot.panes)}
    for shot in made.plan.shots:
        frames = sum(one.span.overlap(shot.span) for one in heads)
        assert frames == (shot.span.frames if shot.id in shown else 0)


def test_a_bare_plan_has_pictures_and_strokes_only():
    made = context(clean())
    plain = bare(made.plan)
    assert plain.cards == ()
    assert plain.strokes == made.plan.strokes
    assert all(pane.label is None for shot in plain.shots for pane in shot.panes)


def test_the_plan_without_captions_is_untouched():
    made = context(clean())
    (captions,) = caption_sets(made.plan, (web(),), "en")
    plan = burned(made.plan, captions)
    assert plan.cards[: len(made.plan.cards)] == made.plan.cards
    assert Span(0, plan.frames).frames == made.plan.frames
    assert np.all([card.enter_frames == 0 for card in plan.cards if card.kind == "caption"])

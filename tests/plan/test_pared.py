"""Versions without the words in braces, and versions without text and strokes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from segmentkit.geometry import Rect
from segmentkit.plan.build import build_plan
from segmentkit.plan.clean import emptied
from segmentkit.plan.layout import band, title_safe
from segmentkit.plan.pared import pared
from segmentkit.plan.spare import spare_words, without
from tests.plan.footage import A_WORD
from tests.plan.lesson import lesson, lesson_facts


def recorded():
    """The lesson with takes, each of which starts a second into its file."""
    loaded = lesson()
    facts = lesson_facts(loaded)
    taken = tuple(replace(one, path=Path(f"{one.beat}_{one.line}.wav"), start=Fraction(1)) for one in facts.readings)
    return loaded, replace(facts, readings=taken)


def test_each_stretch_that_is_left_is_cut_out_of_its_take():
    loaded, facts = recorded()
    words = spare_words(loaded.board, facts)
    shorter, cut = pared(loaded, facts)
    for stretch in words:
        parts = [(r.start, r.start + r.length) for r in cut.readings if r.path == stretch.path]
        assert parts
        assert all(end <= stretch.take_from or start >= stretch.take_to for start, end in parts)
    said = {beat.beat: [word for line in beat.say for word in line.words] for beat in shorter.board.beats}
    heard = {beat: [w.text for r in cut.readings if r.beat == beat for w in r.words] for beat in said}
    assert said == heard


def test_it_is_as_long_as_if_the_words_had_not_been_written():
    loaded, facts = recorded()
    shorter, cut = pared(loaded, facts)
    joined, joined_facts = without(loaded, facts, spare_words(loaded.board, facts))
    assert sum(one.length for one in cut.readings) == sum(one.length for one in joined_facts.readings)
    assert [b.beat for b in shorter.board.beats] == [b.beat for b in joined.board.beats]
    assert [sorted(b.strokes) for b in shorter.board.beats] == [sorted(b.strokes) for b in joined.board.beats]
    (plan, _), (whole, _) = build_plan(shorter, cut), build_plan(joined, joined_facts)
    assert [beat.span for beat in plan.beats] == [beat.span for beat in whole.beats]


def test_a_line_is_heard_in_its_stretches_one_right_after_the_other():
    loaded, facts = recorded()
    _, cut = pared(loaded, facts)
    praise = [one for one in cut.readings if one.beat == "praise" and one.line > 0]
    # 6 words come before 13 in braces, at 0.4 s a word, a second into the file.
    assert (praise[0].start, praise[0].length) == (1, 6 * A_WORD)
    assert all(one.start == 1 + 19 * A_WORD for one in praise[1:])


def test_a_storyboard_without_braces_stays_as_it_is():
    loaded, facts = recorded()
    once = pared(loaded, facts)
    again, same = pared(*once)
    assert again.board == once[0].board
    assert same == once[1]


def test_the_clean_plan_keeps_every_frame_and_sound():
    loaded, facts = recorded()
    plan, _ = build_plan(loaded, facts)
    clean = emptied(plan)
    assert clean.strokes == ()
    assert [card.kind for card in clean.cards if card.kind != "guide_mark"] == []
    assert (clean.frames, clean.slot, clean.beats, clean.speech, clean.music) == (
        plan.frames, plan.slot, plan.beats, plan.speech, plan.music,
    )  # fmt: skip
    for before, after in zip(plan.shots, clean.shots, strict=True):
        assert (before.id, before.span) == (after.id, after.span)
        assert [pane.picture for pane in before.panes] == [pane.picture for pane in after.panes]
        assert [pane.placement for pane in before.panes] == [pane.placement for pane in after.panes]
        assert [(pane.label, pane.note) for pane in after.panes] == [(None, None)] * len(after.panes)


def test_a_guide_voice_keeps_its_sign_in_a_clean_version():
    loaded = lesson()
    facts = lesson_facts(loaded)
    guided = replace(facts, readings=tuple(replace(r, is_guide=True, path=Path("g.wav")) for r in facts.readings))
    plan, _ = build_plan(loaded, guided)
    assert {card.kind for card in emptied(plan).cards} == {"guide_mark"}


def test_a_band_leaves_the_foot_of_an_upright_picture_to_captions():
    canvas = Rect(0, 0, 1080, 1920)
    low = band(canvas, 0.6)
    # Two lines of 4.5 % of the height each end where players lay their controls: 20 % (see templates/captions/tall).
    assert low.bottom <= title_safe(canvas).bottom - 2 * 0.045 * 1920
    assert (low.width, low.height, low.y % 2) == (1080, 1152, 0)
    assert band(canvas, 0.7).y == 0
    middle = band(canvas, 0.3)
    assert abs((middle.y + middle.bottom) / 2 - 960) <= 1

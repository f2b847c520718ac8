from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.plan.build import build_plan
from segmentkit.plan.spare import SpareWords, spare_words, without
from segmentkit.storyboard.load import LoadedStoryboard, loads
from tests.plan.footage import A_WORD
from tests.plan.lesson import LESSON, lesson, lesson_facts


def spared(loaded: LoadedStoryboard) -> tuple[SpareWords, ...]:
    return spare_words(loaded.board, lesson_facts(loaded))


def test_words_in_braces_are_found_with_what_hangs_on_them():
    found = spared(lesson())
    assert [(w.beat, w.line, w.words, w.strokes) for w in found] == [
        ("praise", 0, 5, ()), ("praise", 1, 13, ()), ("impact", 0, 7, ("ball",)),
    ]  # fmt: skip
    assert found[1].text == "And don't mind the lines: they always look harsher than they really are."
    # 6 words come before these 13 in their line, at 0.4 s a word.
    assert (found[1].take_from, found[1].take_to) == (6 * A_WORD, 19 * A_WORD)


def test_a_take_is_named_and_a_guide_is_not():
    loaded = lesson()
    facts = lesson_facts(loaded)
    taken = tuple(replace(r, path=Path("praise.wav"), start=Fraction(1)) for r in facts.readings)
    found = spare_words(loaded.board, replace(facts, readings=taken))
    assert (found[0].path, found[0].take_from) == (Path("praise.wav"), 1 + 4 * A_WORD)
    guided = tuple(replace(r, is_guide=True) for r in taken)
    assert spare_words(loaded.board, replace(facts, readings=guided))[0].path is None


@settings(max_examples=40, deadline=None)
@given(st.sets(st.integers(0, 2)))
def test_leaving_words_out_is_the_same_as_not_writing_them(picked: set[int]):
    loaded = lesson()
    words = spared(loaded)
    shorter, facts = without(loaded, lesson_facts(loaded), [words[k] for k in picked])
    text = LESSON.format(slot="0:50", rate="25")
    for k in picked:
        start = text.index(("{It has", "{And don't", "{And [ball]")[k])
        text = text[:start].rstrip() + text[text.index("}", start) + 1 :]
    if 2 in picked:
        text = text.replace("      ball: {dot: [0.6, 0.9]}\n", "")
    written = loads(text)
    assert [b.say for b in shorter.board.beats] == [b.say for b in written.board.beats]
    assert build_plan(shorter, facts)[0] == build_plan(written, lesson_facts(written))[0]


def test_a_line_of_which_nothing_is_left_goes_with_the_pause_before_what_follows():
    text = LESSON.format(slot="0:50", rate="25").replace(
        "Let's see your swing. {It has plenty to like.}", "'{Let us see.}'"
    )
    loaded = loads(text)
    facts = lesson_facts(loaded)
    shorter, left = without(loaded, facts, spare_words(loaded.board, facts)[:1])
    assert [(line.speaker, line.after) for line in shorter.board.beats[1].say] == [("coach", None)]
    plan, _ = build_plan(shorter, left)
    first = next(line for line in plan.speech if line.beat == "praise")
    assert first.span.start == plan.beat("praise").span.start + 10  # the lead of 0.4 s at 25

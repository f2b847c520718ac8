import re
from itertools import pairwise

import pytest

from segmentkit.deliver.prompter import prompt_lines, prompter_page, prompter_text, said
from segmentkit.storyboard.load import loads
from tests.plan.lesson import LESSON, lesson, planned_lesson


def test_pauses_are_those_of_the_plan():
    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    lines = prompt_lines(plan, loaded.board)
    assert [(line.beat, line.opens, line.speaker) for line in lines] == [
        ("praise", True, "host"), ("praise", False, "coach"), ("impact", True, "coach"), ("drill", True, "coach"),
    ]  # fmt: skip
    assert lines[1].pause == pytest.approx(0.6)
    for line, (before, after) in zip(lines[1:], pairwise(plan.speech), strict=True):
        frames = after.span.start - before.span.end
        assert line.pause == pytest.approx(frames / 25 if frames >= 15 else 0)


def test_marks_and_braces_are_not_read_out():
    loaded = lesson()
    text = prompter_text(prompt_lines(planned_lesson(loaded)[0], loaded.board), "Title")
    assert not set("[]{}") & set(text)
    for beat in loaded.board.beats:
        for line in beat.say:
            assert line.text in " ".join(text.split())


@pytest.mark.parametrize(
    ("words", "notes"),
    [
        ("Maren, from Lindholm Bay!", {0: "MAH-ren", 3: "LIND-holm BAY"}),
        ("And Maren's swing", {1: "MAH-ren"}),
        ("maren MAREN", {0: "MAH-ren", 1: "MAH-ren"}),
        ("Lindholm alone", {0: "LIND-holm"}),
        ("Marenka", {}),
    ],
)
def test_words_are_found_with_how_they_are_said(words: str, notes: dict[int, str]):
    how = {"Maren": "MAH-ren", "Lindholm": "LIND-holm", "Lindholm Bay": "LIND-holm BAY"}
    assert {k: note for k, (_, note) in enumerate(said(words.split(), how)) if note} == notes


def test_pronunciations_come_from_the_storyboard():
    text = LESSON.format(slot="0:50", rate="25").replace("tail: 0.4s}", "tail: 0.4s, pronounce: {turn: TERN & <go>}}")
    loaded = loads(text)
    lines = prompt_lines(planned_lesson(loaded)[0], loaded.board)
    assert "turn. [TERN & <go>]" in " ".join(prompter_text(lines, "T").split())
    assert "<ruby>turn.<rt>TERN &amp; &lt;go&gt;</rt></ruby>" in prompter_page(lines, "T")


def test_one_speakers_page_has_the_others_last_words_as_cues():
    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    lines = prompt_lines(plan, loaded.board, "coach")
    assert [line.own for line in lines] == [False, True, True, True]
    page = prompter_page(lines, plan.title)
    assert "Jonna: … swing. It has plenty to like." in page
    assert "Let's see your" not in page
    assert "Ten slow turns, once a day." in page


def test_the_page_knows_when_each_line_is_due_and_needs_no_network():
    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    page = prompter_page(prompt_lines(plan, loaded.board), plan.title)
    due = [float(text) for text in re.findall(r'data-start="([\d.]+)"', page)]
    assert due == [pytest.approx(line.span.start / 25) for line in plan.speech]
    assert not re.search(r"https?://", page)

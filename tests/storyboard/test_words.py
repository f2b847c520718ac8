from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.storyboard.words import Mark, read_line, read_say


def test_marks_name_the_word_after_them():
    (line,) = read_say("Stop it, and there's [hip_gap] daylight and\n [chest][arm] her chest.")
    assert line.text == "Stop it, and there's daylight and her chest."
    assert line.words[line.marks[0].word] == "daylight"
    assert line.marks == (Mark("hip_gap", 4), Mark("chest", 6), Mark("arm", 6))
    assert (line.speaker, line.item, line.after) == (None, None, None)


def test_a_lone_dash_is_no_word_to_start_on():
    line = read_line(None, "Stop [a] – now ...", None, None)
    assert line.words == ("Stop", "–", "now", "...")
    assert line.words[line.marks[0].word] == "now"


def test_a_conversation():
    say = [{"host": "One."}, {"pause": "0.5s"}, {"coach": "Two."}, {"overlap": "300ms"}, {"host": "[x] Three."}]
    first, second, third = read_say(say)
    assert [line.after for line in (first, second, third)] == [None, Fraction(1, 2), Fraction(-3, 10)]
    assert [line.item for line in (first, second, third)] == [0, 2, 4]
    assert third.marks == (Mark("x", 0),)


def test_a_pause_may_come_first():
    assert read_say([{"pause": "1s"}, {"host": "One."}])[0].after == 1


def test_no_words_are_no_lines():
    assert read_say(None) == read_say("  \n") == ()
    lines = read_say("One.")
    assert read_say(lines) is lines


@pytest.mark.parametrize("words", ["[a]", "...", "one [a]", "[a] one [a] two", "one ] two", "[A b] one", "[] one"])
def test_words_that_cannot_be_read(words: str):
    with pytest.raises(ValueError, match=" — "):
        read_say(words)


@pytest.mark.slow
@given(st.lists(st.tuples(st.from_regex("[a-z]{1,6}[,.]?", fullmatch=True), st.booleans()), min_size=1, max_size=20))
def test_marks_are_never_spoken_and_keep_their_words(words: list[tuple[str, bool]]):
    raw = " ".join(f"[m{index}] {word}" if marked else word for index, (word, marked) in enumerate(words))
    (line,) = read_say(raw)
    assert line.words == tuple(word for word, _ in words)
    assert line.marks == tuple(Mark(f"m{index}", index) for index, (_, marked) in enumerate(words) if marked)

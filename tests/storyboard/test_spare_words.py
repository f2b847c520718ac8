import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.words import Mark, Spare, read_line, read_say
from tests.plan.lesson import LESSON


@pytest.mark.parametrize(
    ("raw", "words", "spare"),
    [
        ("One {two three.} Four", "One two three. Four", [(1, 3)]),
        ("{One} two {three}.", "One two three.", [(0, 1), (2, 3)]),
        ("A {b}, c", "A b, c", [(1, 2)]),
        ("{All of it.}", "All of it.", [(0, 3)]),
        ("no braces", "no braces", []),
    ],
)
def test_braces_are_not_spoken_and_bound_words(raw: str, words: str, spare: list[tuple[int, int]]):
    line = read_line(None, raw, None, None)
    assert line.text == words
    assert line.words == tuple(words.split())
    assert line.spare == tuple(Spare(*pair) for pair in spare)


def test_a_mark_may_stand_in_or_before_braces():
    assert read_line(None, "a {b [x] c} [y] d", None, None).marks == (Mark("x", 2), Mark("y", 3))
    before = read_line(None, "a [x] {b} c", None, None)
    assert before.marks[0].word in before.spare[0]


@pytest.mark.parametrize(
    ("raw", "why"),
    [
        ("a {b", "never closed"), ("a b}", "without its {"), ("{a {b} c}", "stands inside braces"),
        ("a {} b", "hold no words"), ("a { [x] } b", "hold no words"),
    ],
)  # fmt: skip
def test_braces_that_do_not_pair_are_said(raw: str, why: str):
    with pytest.raises(ValueError, match=why):
        read_line(None, raw, None, None)


@given(st.text(alphabet="ab {}[].,x", max_size=30))
def test_any_words_are_read_or_refused_and_spare_words_lie_within_them(raw: str):
    try:
        lines = read_say(raw)
    except ValueError:
        return
    for line in lines:
        assert line.text == " ".join(line.words)
        assert not set("{}[]") & set(line.text)
        ends = [0, *(end for s in line.spare for end in (s.first, s.last)), len(line.words)]
        assert ends == sorted(ends)
        assert all(mark.word < len(line.words) for mark in line.marks)


def test_a_rigid_beat_has_no_words_to_spare():
    text = LESSON.format(slot="0:50", rate="25").replace("Ten slow turns, once a day.", "Ten slow turns, {once a day}.")
    with pytest.raises(StoryboardUnreadable, match="the beat is rigid — delete the braces, or delete rigid") as caught:
        loads(text)
    assert "beat drill, say" in str(caught.value)

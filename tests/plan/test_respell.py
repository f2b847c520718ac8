"""How words are respelled for the guide voice."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.plan.respell import respelled
from segmentkit.plan.speech import speech_requests
from tests.plan_makers import clean, loaded

NOTES = {"Maren": "MAH-ren", "Lindholm Bay": "LIND-holm bay", "Ines": "ee NESS", "Oslo Fjord": "OOSH-loo"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Maren, from Lindholm Bay,", "mah-ren, from lind-holm bay,"),
        ("That is Maren's swing.", "That is mah-ren's swing."),
        ("“Ines!” she said", "“ee-ness!” she said"),
        ("over the Oslo Fjord", "over the Oslo Fjord"),  # two words, one part: nothing to share out
        ("Marengo stays", "Marengo stays"),
    ],
)
def test_noted_words_are_respelled_and_keep_their_marks(text: str, said: str):
    assert " ".join(respelled(text.split(), NOTES)) == said


@given(st.lists(st.text(min_size=1, max_size=8).filter(lambda w: not any(c.isspace() for c in w)), max_size=8))
def test_there_are_as_many_words_after_as_before(words: list[str]):
    assert len(respelled(words, NOTES)) == len(words)
    assert respelled(words, {}) == tuple(words)


def test_requests_carry_them_only_where_a_note_says_so():
    board = clean()
    assert {request.respelled for request in speech_requests(loaded(board).board)} == {None}
    board["voice"]["pronounce"] = {"Maren": "MAH-ren"}
    found = {request.beat: request.respelled for request in speech_requests(loaded(board).board)}
    assert found["intro"] is not None
    assert found["intro"][0] == "mah-ren"
    assert found["close"] is None

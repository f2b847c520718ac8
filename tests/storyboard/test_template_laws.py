"""Laws of templates: whatever is filled in gives a storyboard or located faults, and data stays data."""

from __future__ import annotations

import string
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar, compose, plain
from segmentkit.storyboard.faults import Source
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.template import fill, loads_template, values_of_text
from segmentkit.storyboard.writing import write_yaml
from tests.storyboard.templates import SMALL, VALUES

TEMPLATE = loads_template(SMALL)
NASTY = st.text(alphabet=":#-?[]{}<>&*!|'\"%@`,~=.\\ \n\tab1é\u2028\x07", max_size=12)
TEXTS = (
    st.text(max_size=20) | NASTY | st.sampled_from(["yes", "no", "slice", "hook", "top", "f9", "0.4 0.5", "2027-03-06"])
)
NAMES = st.sampled_from(
    [*TEMPLATE.blanks, "viewer.shown", "viewer.id", "swing.file", "swing.points.top.belt", "swing.", ".", "x"]
)
TREES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=True) | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(NAMES | TEXTS, inner, max_size=3),
    max_leaves=6,
)


def outcome(make: Callable[[], str]) -> tuple[str | None, StoryboardUnreadable | None]:
    """What was made, or the faults that kept it from being made; any other exception fails the test."""
    try:
        return make(), None
    except StoryboardUnreadable as error:
        return None, error


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(NAMES, TREES, max_size=6), st.booleans())
def test_any_values_give_a_storyboard_or_located_faults(values: dict[str, Any], good: bool):
    text, error = outcome(lambda: fill(TEMPLATE, {**(VALUES if good else {}), **values}, Path()))
    if text is not None:
        assert loads(text).board.beats[0].beat == "hello"
    else:
        assert error is not None
        assert error.faults


@settings(max_examples=150, deadline=None)
@given(st.text(alphabet=string.printable + "é\x07\u2028", max_size=80))
def test_any_file_of_values_gives_a_storyboard_or_located_faults(text: str):
    made, error = outcome(lambda: fill(TEMPLATE, values_of_text(text, "fill.yaml"), Path()))
    assert made is None  # twelve needed keys do not come about by chance
    assert error is not None
    assert error.faults


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_any_text_gives_a_template_or_located_faults(data: st.DataObject):
    lines = SMALL.splitlines()
    number = data.draw(st.integers(0, len(lines) - 1))
    line = lines[number]
    at = data.draw(st.integers(0, len(line)))
    lines[number] = line[:at] + data.draw(NASTY) + line[at + data.draw(st.integers(0, 4)) :]
    made, error = outcome(lambda: fill(loads_template("\n".join(lines)), VALUES, Path()))
    if made is not None:
        loads(made)
    else:
        assert error is not None
        assert error.faults


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(st.text(alphabet=st.characters(blacklist_categories=["Cs", "Cc", "Co", "Cn"]), min_size=1, max_size=60) | NASTY)
def test_a_text_comes_back_as_it_went_in(value: str):
    wanted = " ".join(value.split())
    text, error = outcome(lambda: fill(TEMPLATE, {**VALUES, "viewer.place": value}, Path()))
    if text is not None:
        people = loads(text).board.people
        assert (list(people), people["maren"].place) == (["maren"], wanted or None)
    else:
        assert "cannot be shown or typed" in str(error)


def trees(leaves: st.SearchStrategy[str]) -> st.SearchStrategy[Node]:
    scalars = leaves.map(lambda text: Scalar(0, 0, text))
    keys = st.text(alphabet=string.ascii_lowercase + ": #'", min_size=1, max_size=8)

    def grown(inner: st.SearchStrategy[Node]) -> st.SearchStrategy[Node]:
        return st.builds(
            lambda flow, items: Listing(0, 0, flow, items), st.booleans(), st.lists(inner, min_size=1, max_size=3)
        ) | st.builds(
            lambda flow, found: Mapping(0, 0, flow, {k: Entry(Scalar(0, 0, k), v) for k, v in found.items()}),
            st.booleans(),
            st.dictionaries(keys.map(str.strip).filter(lambda k: k and k != "<<"), inner, min_size=1, max_size=3),
        )

    return st.recursive(scalars, grown, max_leaves=12)


@pytest.mark.slow
@settings(max_examples=250, deadline=None)
@given(trees(st.text(alphabet=":#-?[]{}<>&*!|'\"%@`,~=.\\ abé漢1", max_size=150).map(lambda t: " ".join(t.split()))))
def test_what_is_written_is_read_as_the_same_tree(tree: Node):
    root = Mapping(0, 0, False, {"root": Entry(Scalar(0, 0, "root"), tree)})
    again = compose(Source(write_yaml(root), "x.yaml"))
    assert again.faults == ()
    assert again.root is not None
    assert spaced(plain(again.root)) == spaced(plain(root))


def spaced(data: Any) -> Any:
    match data:
        case str():
            return " ".join(data.split())
        case dict():
            return {key: spaced(value) for key, value in data.items()}
        case list():
            return [spaced(value) for value in data]
        case _:
            return data

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.insert import insert_scalar


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("a: {b: 1}  # kept\n", "a: {b: 1, hold: 4s}  # kept\n"),
        ("a: { b: [1, 2] }\n", "a: { b: [1, 2], hold: 4s }\n"),
        ("a:\n    b: 1  # one\n\nc: 2\n", "a:\n    b: 1  # one\n    hold: 4s\n\nc: 2\n"),
        ("a:\r\n  b: 1\r\nc: 2\r\n", "a:\r\n  b: 1\r\n  hold: 4s\r\nc: 2\r\n"),
        ("a:\n  b: >\n    words\n    and more\nc: 2\n", "a:\n  b: >\n    words\n    and more\n  hold: 4s\nc: 2\n"),
        ("a:\n  b: {c: 1}", "a:\n  b: {c: 1}\n  hold: 4s"),
        ("a: {\n  b: 1,\n}\n", "a: {\n  b: 1, hold: 4s,\n}\n"),
    ],
)
def test_a_key_is_added_as_its_mapping_is_written(text: str, wanted: str):
    assert insert_scalar(text, ("a", "hold"), "4s") == wanted


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("a: {hold: 1s}", "has hold already"),
        ("a: [1]", "is no mapping with keys"),
        ("a: {}", "is no mapping with keys"),
        ("b: &x {c: 1}\na: *x", "shared with other places by an anchor"),
        ("a: {b: 1", "is not closed"),
    ],
)
def test_what_cannot_be_added_to_is_said(text: str, why: str):
    with pytest.raises(StoryboardUnreadable, match=why):
        insert_scalar(text, ("a", "hold"), "4s")

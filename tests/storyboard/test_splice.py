import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.compose import Mapping, compose, plain
from segmentkit.storyboard.faults import Source
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.splice import replace_scalars
from tests.makers import LESSON

TEXT = """\
# A text with every way to write a value.
plain:   one two   # kept
single: 'one'      # kept
double:  "one"
folded: >   # kept
  one two

  three

literal: |-
    one
    two
empty:
none: ~
flow: {a: one, b: [two, three], c: }   # kept
list:
- one
-   two  # kept
last: end"""


def tree(text: str) -> dict[str, object]:
    root = compose(Source(text, "f")).root
    assert root is not None
    return plain(root)


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (("plain",), "three", "one two   #", "three   #"),
        (("plain",), "a: b", "one two   #", '"a: b"   #'),
        (("plain",), "a #b", "one two   #", '"a #b"   #'),
        (("plain",), "", "one two   #", '""   #'),
        (("plain",), "null", "one two   #", '"null"   #'),
        (("plain",), "@home", "one two   #", '"@home"   #'),
        (("plain",), "two\nlines", "one two   #", '"two\\nlines"   #'),
        (("single",), "it's", "'one'", "'it''s'"),
        (("single",), "a\tb", "'one'", '"a\\tb"'),
        (("double",), 'say "so"', '"one"', '"say \\"so\\""'),
        (("empty",), "now", "empty:\n", "empty: now\n"),
        (("none",), "now", "none: ~", "none: now"),
        (("flow", "a"), "x, y", "{a: one,", '{a: "x, y",'),
        (("flow", "b", 1), "3", "[two, three]", "[two, 3]"),
        (("flow", "c"), "3", "c: }", "c: 3}"),
        (("list", 1), "2", "-   two  #", "-   2  #"),
        (("last",), "end.", "last: end", "last: end."),
        (("folded",), "four", ">   # kept\n  one two\n\n  three\n", ">   # kept\n  four\n"),
        (("folded",), "four\nfive", ">   # kept\n  one two\n\n  three\n", ">   # kept\n  four\n\n  five\n"),
        (("folded",), " four", ">   # kept\n  one two\n\n  three\n", '" four"\n'),
        (("literal",), "four\n  five", "|-\n    one\n    two\n", "|-\n    four\n      five\n"),
    ],
)
def test_only_the_value_changes(path: tuple[str | int, ...], value: str, old: str, new: str):
    assert TEXT.count(old) == 1
    assert replace_scalars(TEXT, {path: value}) == TEXT.replace(old, new)


def test_a_long_text_in_a_folded_block_is_wrapped():
    value = " ".join(["word"] * 40)
    changed = replace_scalars(TEXT, {("folded",): value})
    assert tree(changed)["folded"] == value + "\n"
    assert max(len(line) for line in changed.splitlines()) < 60


def test_several_values_at_once_and_crlf():
    text = TEXT.replace("\n", "\r\n")
    changed = replace_scalars(text, {("folded",): "a\nb", ("literal",): "c\nd", ("last",): "e"})
    assert changed.count("\n") == changed.count("\r\n")
    assert (tree(changed)["folded"], tree(changed)["literal"], tree(changed)["last"]) == ("a\nb\n", "c\nd", "e")


def test_a_stroke_is_moved_in_a_storyboard():
    path = ("beats", 1, "strokes", "hip_gap", "double_arrow", 0)
    changed = replace_scalars(LESSON, {(*path, 0): "0.471", (*path, 1): "0.525"})
    old, new = LESSON.splitlines(), changed.splitlines()
    assert [(a, b) for a, b in zip(old, new, strict=True) if a != b] == [
        ("      hip_gap: {double_arrow: [[0.47, 0.52], [0.52, 0.52]], role: fault, draw: 0.8s}",
         "      hip_gap: {double_arrow: [[0.471, 0.525], [0.52, 0.52]], role: fault, draw: 0.8s}"),
    ]  # fmt: skip
    assert loads(changed).board != loads(LESSON).board


@pytest.mark.parametrize(
    ("text", "path", "message"),
    [
        ("a: 1", ("b",), "f:1:1 — b is not written — only a single value that is there can be replaced"),
        ("a: [1]", ("a",), "f:1:1 — a is a mapping or a list"),
        ("a: &x 1\nb: *x", ("b",), "f:1:7 — b is shared with other places by an anchor — change it by hand"),
        ("a: &x {c: 1}\nb: *x", ("b", "c"), "f:1:11 — b.c is shared"),
        ("a: [1", ("a", 0), "f:1:4: the [ opened here is not closed"),
        ("a: 1", ("a",), "f:1:4 — the new value has characters that cannot be written here"),
    ],
)
def test_what_cannot_be_replaced(text: str, path: tuple[str | int, ...], message: str):
    with pytest.raises(StoryboardUnreadable) as caught:
        replace_scalars(text, {path: "2\x07" if "characters" in message else "2"}, "f")
    assert str(caught.value).startswith(message)


PATHS = [("plain",), ("single",), ("double",), ("folded",), ("literal",), ("empty",), ("none",), ("flow", "a"),
         ("flow", "b", 0), ("flow", "c"), ("list", 0), ("last",)]  # fmt: skip
printable = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn"]), max_size=20)
values = st.one_of(
    printable, st.lists(st.sampled_from(["a", " ", "\n", ": ", "#", "'", '"', "-", ">", "\\", "é"])).map("".join)
)


@pytest.mark.slow
@settings(max_examples=300, deadline=None)
@given(st.sampled_from(PATHS), values, st.sampled_from(["\n", "\r\n"]))
def test_any_value_comes_back_and_the_rest_stays_byte_for_byte(path: tuple[str | int, ...], value: str, end: str):
    text = TEXT.replace("\n", end)
    changed = replace_scalars(text, {path: value})
    root = compose(Source(text, "f")).root
    assert isinstance(root, Mapping)
    node = root
    found = tree(changed)
    for step in path:
        node = node.items[step] if isinstance(step, int) else node.entries[step].value
        found = found[step]
    assert found in {value, value + "\n"} if path[0] in {"folded", "literal"} else found == value
    assert changed.startswith(text[: node.start])
    assert changed.endswith(text[node.end :])
    other = {key: content for key, content in tree(changed).items() if key != path[0]}
    assert other == {key: content for key, content in tree(text).items() if key != path[0]}

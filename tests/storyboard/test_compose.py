import time
from itertools import pairwise

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard import compose as composing
from segmentkit.storyboard.compose import DEEPEST, MOST_BYTES, MOST_NODES, Listing, Mapping, Scalar, compose, plain
from segmentkit.storyboard.faults import Source
from segmentkit.storyboard.load import loads
from tests.makers import LESSON, long_lesson


def data(text: str) -> object:
    composed = compose(Source(text, "f"))
    assert composed.faults == ()
    assert composed.root is not None
    return plain(composed.root)


def headlines(text: str) -> list[str]:
    return [fault.headline for fault in compose(Source(text, "f")).faults]


@pytest.mark.parametrize(
    "written",
    # Each of these is something other than its text in YAML 1.1, by the type repository of yaml.org (bool, int, float,
    # timestamp): no -> false, 012 -> 10, 1:30 -> 90, 1_000 -> 1000, 0x1F -> 31, .inf -> infinity, a date -> a date.
    ["no", "yes", "on", "off", "NO", "true", "012", "1:30", "1:30.5", "1_000", "0x1F", "0o17", ".inf", ".nan", "1e3",
     "2028-06-30", "3.10", "=", "1"],
)  # fmt: skip
def test_every_value_is_plain_text(written: str):
    assert data(f"key: {written}\n{written}: value") == {"key": written, written: "value"}


def test_only_nothing_is_nothing():
    assert data("a:\nb: ~\nc: null\nd: Null\ne: ''\nf: \"null\"\ng: nul") == {
        "a": None, "b": None, "c": None, "d": None, "e": "", "f": "null", "g": "nul",
    }  # fmt: skip


def test_a_key_called_null_is_a_name():
    assert data("null: a\n~: b") == {"null": "a", "~": "b"}


@pytest.mark.parametrize(
    "text",
    [
        "a: [1, 'b c', {d: e}]",
        "a: >\n  one\n  two\n\nb: |\n  one\n  two\n",
        "a:\n- b\n-\n  - c: d\n    e: f\n",
        "{a: b, c}",
    ],
)
def test_the_tree_holds_what_pyyaml_reads_as_text(text: str):
    # PyYAML's own BaseLoader keeps every scalar as text; it differs in reading nothing as an empty text.
    def emptied(value: object) -> object:
        match value:
            case None:
                return ""
            case list():
                return [emptied(item) for item in value]
            case dict():
                return {key: emptied(item) for key, item in value.items()}
            case _:
                return value

    assert emptied(data(text)) == yaml.load(text, Loader=yaml.BaseLoader)


def test_spans_hold_exactly_what_was_written():
    text = "a: &x é🎥 b   # said\r\nb: 'it''s'\r\nc: >\r\n  foo\r\n  bar\r\n\r\nd: [1, \"q\\n\"]\r\n"
    root = compose(Source(text, "f")).root
    assert isinstance(root, Mapping)
    written = {name: text[entry.value.start : entry.value.end] for name, entry in root.entries.items()}
    assert written == {"a": "é🎥 b", "b": "'it''s'", "c": ">\r\n  foo\r\n  bar\r\n\r\n", "d": '[1, "q\\n"]'}
    assert [text[entry.key.start : entry.key.end] for entry in root.entries.values()] == ["a", "b", "c", "d"]


def test_small_anchors_may_be_used():
    assert data("a: &point [0.1, 0.2]\nb: *point\nc: [*point, *point]") == {
        "a": ["0.1", "0.2"], "b": ["0.1", "0.2"], "c": [["0.1", "0.2"]] * 2,
    }  # fmt: skip


def test_an_alias_bomb_is_refused_before_it_goes_off():
    # The "billion laughs": nine levels of ten references each would be 10^9 values.
    names = "abcdefghi"
    bomb = f"a: &a [{','.join('x' * 10)}]\n" + "".join(
        f"{name}: &{name} [{','.join(['*' + before] * 10)}]\n" for before, name in pairwise(names)
    )
    start = time.perf_counter()
    assert headlines(bomb) == ["f:4:8: aliases multiply to more than 2,000 values — write the values out"]
    assert time.perf_counter() - start < 0.5


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "[{a: "])
def test_thousands_of_open_brackets_are_one_fault(opening: str):
    (headline,) = headlines(opening * 5000)
    assert "nested" in headline
    with pytest.raises(StoryboardUnreadable, match="nested"):
        loads(opening * 5000)


def test_the_deepest_nesting_that_is_read():
    assert data("[" * DEEPEST + "]" * DEEPEST) is not None
    assert "levels deep" in headlines("[" * (DEEPEST + 1) + "]" * (DEEPEST + 1))[0]


def test_nesting_through_aliases_cannot_run_away():
    text = "a0: &a0 [x]\n" + "".join(f"a{n}: &a{n} [*a{n - 1}]\n" for n in range(1, 2000))
    assert "aliases multiply" in headlines(text)[0]


@pytest.mark.slow
def test_too_many_values():
    assert headlines("[" + "x,\n" * MOST_NODES + "]") == [
        f"f:{MOST_NODES}:1: the text has more than 100,000 values — a storyboard needs far fewer"
    ]


def test_too_long_a_text():
    (headline,) = headlines("a: " + "x" * MOST_BYTES)
    assert headline == "f:1:1: the text has 2,000,003 characters — at most 2,000,000 are read"


@pytest.mark.parametrize("character", ["\x00", "\x07", "\x1b", "\x7f", "\ud800", "\ufffe", "\ufeff"])
def test_characters_that_nobody_typed(character: str):
    (headline,) = headlines(f"a: 1\nb: x{character}y")
    assert headline == f"f:2:5: the character U+{ord(character):04X} cannot be shown or typed — delete it"


def test_a_byte_order_mark_is_no_part_of_the_first_key():
    text = "\ufeffa: 1\nb: 2"
    root = compose(Source(text, "f")).root
    assert isinstance(root, Mapping)
    assert list(root.entries) == ["a", "b"]
    assert text[root.entries["b"].value.start] == "2"


def test_an_empty_text():
    for text in ("", " \n\n", "\ufeff", "# nothing\n", "---\n", "~"):
        assert headlines(text)[0].endswith("the file is empty — start it with `segmentkit: 1`"), repr(text)


def test_every_duplicate_is_told_with_the_line_of_the_first():
    assert headlines("a: 1\nb: {c: 1, d: 2, c: 3}\na: 2\n'a': 3") == [
        "f:2:17: `c` is written twice — the first one is in line 2; keep one",
        "f:3:1: `a` is written twice — the first one is in line 1; keep one",
        "f:4:1: `a` is written twice — the first one is in line 1; keep one",
    ]


# Texts that look like YAML: pieces of it in any order.
yamlish = st.lists(
    st.sampled_from(
        ["a", "b: ", "é🎥", "\n", "\n  ", "- ", "[", "]", "{", "}", ",", ": ", "'", '"', "&x ", "*x", "!t ", "|\n",
         ">\n", "# c", "\t", "\r\n", "---\n", "...\n", "?", "~", "<<: ", "%", "\\", "\u2028", "\x85", "0.5", "\ufeff"]
    ),
    max_size=40,
).map("".join)  # fmt: skip
any_text = st.one_of(yamlish, st.text(max_size=60))


@pytest.mark.slow
@settings(max_examples=400, deadline=1000)
@given(any_text)
def test_any_text_gives_a_tree_or_located_faults(text: str):
    composed = compose(Source(text, "f"))
    assert composed.root is not None or composed.faults
    assert composed.complete or composed.faults
    for fault in composed.faults:
        assert 1 <= fault.place.line <= text.count("\n") + text.count("\r") + 1
        assert fault.place.column >= 1
        assert fault.message


@pytest.mark.slow
@settings(max_examples=300, deadline=1000)
@given(any_text)
def test_the_c_parser_and_the_python_parser_give_the_same_tree(text: str):
    def read(with_c: bool) -> composing.Composed:
        before, yaml.__with_libyaml__ = yaml.__with_libyaml__, with_c
        try:
            return compose(Source(text, "f"))
        finally:
            yaml.__with_libyaml__ = before

    fast, slow = read(with_c=True), read(with_c=False)
    # The two disagree on some texts that are wrong or nearly so; where both read one, they must read the same.
    if fast.complete and slow.complete and not fast.faults:
        assert fast.root is not None
        assert slow.root is not None
        assert plain(fast.root) == plain(slow.root)
        assert list(scalar_spans(fast.root)) == list(scalar_spans(slow.root))


def scalar_spans(node: composing.Node) -> list[tuple[int, int]]:
    match node:
        case Scalar(start=start, end=end):
            return [(start, end)]
        case Listing(items=items):
            return [span for item in items for span in scalar_spans(item)]
        case Mapping(entries=entries):
            return [span for entry in entries.values() for span in scalar_spans(entry.value)]


@settings(max_examples=300, deadline=1000)
@given(st.integers(0, len(LESSON) - 1), any_text, st.integers(0, 30))
def test_a_broken_storyboard_gives_a_model_or_located_faults(at: int, piece: str, length: int):
    faults: tuple[object, ...] = ()
    beats: object = ()
    try:
        beats = loads(LESSON[:at] + piece + LESSON[at + length :], "f").board.beats
    except StoryboardUnreadable as error:
        faults = error.faults
    assert faults or beats
    assert all(str(fault).startswith("f:") for fault in faults)


@settings(max_examples=300, deadline=1000)
@given(any_text)
def test_any_text_at_all_gives_located_faults(text: str):
    with pytest.raises(StoryboardUnreadable) as caught:
        loads(text)
    assert caught.value.faults


def test_a_storyboard_of_three_minutes_is_read_in_no_time():
    text = long_lesson(beats=13, strokes=40)
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        loaded = loads(text)
        best = min(best, time.perf_counter() - start)
    assert len(loaded.board.beats) == 13
    assert sum(len(beat.strokes) for beat in loaded.board.beats) == 40
    assert best < 0.2

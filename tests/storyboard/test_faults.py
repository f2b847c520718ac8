import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.compose import compose
from segmentkit.storyboard.faults import MOST_SHOWN, Source, listed, nearest, suggestion, unreadable
from segmentkit.storyboard.load import loads
from tests.makers import FILE, lesson
from tests.storyboard.tables import as_rows, table, unescaped


def faults_of(text: str) -> list[str]:
    with pytest.raises(StoryboardUnreadable) as caught:
        loads(text, FILE)
    return as_rows(caught.value.faults, FILE)


@pytest.mark.parametrize(("text", "expected"), table("syntax_faults.txt"))
def test_a_text_that_is_no_yaml_is_told_so_in_plain_words(text: str, expected: list[str]):
    assert as_rows(compose(Source(unescaped(text.removeprefix("> ")), FILE)).faults, FILE) == expected


@pytest.mark.parametrize(("change", "expected"), table("model_faults.txt"))
def test_a_value_that_cannot_be_read_is_shown_with_its_spot(change: str, expected: list[str]):
    old, new = (change + " ").replace(" => ", "\0").split("\0")
    assert faults_of(lesson((unescaped(old), unescaped(new.strip())))) == expected


@pytest.mark.parametrize(("change", "expected"), table("reference_faults.txt"))
def test_a_name_that_leads_nowhere_is_shown_with_its_spot(change: str, expected: list[str]):
    old, new = change.split(" => ")
    assert faults_of(lesson((unescaped(old), unescaped(new)))) == expected


def test_no_message_speaks_the_validator_s_language():
    messages = [
        fault for name in ("model_faults.txt", "reference_faults.txt") for _, rows in table(name) for fault in rows
    ]
    foreign = ("Input should", "Value error", "Extra inputs", "Field required", "pydantic", "http", "type=", "Error")
    found = [message for message in messages for word in foreign if word in message.split(" | ")[0]]
    assert len(messages) > 100
    assert found == []


def test_all_faults_come_at_once_in_the_order_of_the_text():
    text = lesson(("slot: 3:00", "slot: 180"), ("role: fault", "rolle: fault"), ("speed: 1/8", "speed: slow"))
    found = faults_of(text)
    assert [row.split(":")[0] for row in found] == ["4", "45", "49"]


def test_duplicates_and_model_faults_come_together():
    text = lesson(("  rate: 25\n", "  rate: 25\n  rate: 50\n"), ("draw: 0.8s", "draw: soon"))
    first, second = faults_of(text)
    assert first == "6:3: `rate` is written twice — the first one is in line 5; keep one | rate"
    assert second.startswith("50:80: beat impact, stroke hip_gap, draw — 'soon' is not a length")


def test_a_fault_is_printed_with_its_line_and_carets():
    with pytest.raises(StoryboardUnreadable) as caught:
        loads(lesson(("radius: 0.1", "radiuss: 0.1")), FILE)
    assert str(caught.value) == (
        "lesson.yaml:58:41: beat compare, stroke room, ring — `radiuss` is not a key here — did you mean `radius`?\n"
        "  room: {ring: {centre: [0.5, 0.5], radiuss: 0.1}, on: right}\n"
        "                                    ^^^^^^^"
    )
    assert caught.value.exit_code == 3


def test_several_faults_are_counted():
    with pytest.raises(StoryboardUnreadable, match=r"\n2 faults$"):
        loads(lesson(("slot: 3:00", "slot: 180"), ("rate: 25", "rate: 29.97")))


def test_carets_stand_under_wide_and_combined_characters():
    text = "a: 日本語 e\u0301 x\n"
    at = text.index("x")
    shown, carets = str(Source(text, "f").fault(at, at + 1, "here")).splitlines()[1:]
    assert shown == "  a: 日本語 e\u0301 x"
    # Each of the three takes two columns of a terminal, the accent none: 3 + 6 + 1 + 1 + 1.
    assert carets == "  " + " " * 12 + "^"


def test_a_long_line_is_cut_around_the_spot():
    text = "a" * 300 + "XYZ" + "b" * 300
    shown, carets = str(Source(text, "f").fault(300, 303, "here")).splitlines()[1:]
    assert len(shown) < 125
    assert shown[carets.index("^") : carets.rindex("^") + 1] == "XYZ"
    assert (shown[2], shown[-1]) == ("…", "…")


def test_tabs_do_not_move_the_carets():
    shown, carets = str(Source("a:\t\tb", "f").fault(4, 5, "here")).splitlines()[1:]
    assert shown[carets.index("^")] == "b"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_lines_are_counted_as_an_editor_does(end: str):
    text = end.join(["one", "", "three\u2028still three", "four"])
    source = Source(text, "f")
    places = [source.place(text.index(word)) for word in ("one", "three", "still", "four")]
    assert [(place.line, place.column) for place in places] == [(1, 1), (3, 1), (3, 7), (4, 1)]
    assert source.line_text(text.index("still")) == "three\u2028still three"


def test_a_flood_of_faults_is_cut():
    source = Source("x\n" * (MOST_SHOWN + 7), "f")
    error = unreadable(source.fault(2 * line, 2 * line + 1, "no") for line in range(MOST_SHOWN + 7))
    assert len(error.faults) == MOST_SHOWN + 7
    assert str(error).count(": no\n") == MOST_SHOWN
    assert str(error).endswith("and 7 more faults")


def test_the_same_fault_is_told_once():
    source = Source("x", "f")
    assert len(unreadable([source.fault(0, 1, "no"), source.fault(0, 1, "no")]).faults) == 1


def test_a_fault_as_data():
    fault = Source("key: valu", "f").fault(5, 9, "no", "beat one")
    assert fault.as_data() == {
        "file": "f", "line": 1, "column": 6, "length": 4, "where": "beat one", "message": "no", "source": "key: valu",
    }  # fmt: skip


def test_suggestions():
    assert nearest("Imapct", ["impact", "top"]) == "impact"
    assert nearest("finish", ["impact", "top"]) is None
    assert suggestion("finish", ["impact", "top"]) == "there are `impact` and `top`"
    assert suggestion("finish", [], "position") == "there is no position yet"
    assert suggestion("z", [f"name_{n:02}" for n in range(40)]).endswith("and `…`")
    assert listed(["a"]) == "`a`"
    assert listed(["a", "b", "c"]) == "`a`, `b` or `c`"

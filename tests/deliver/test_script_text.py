import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.deliver.script_read import read_words
from segmentkit.deliver.script_text import words_text
from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.load import loads
from tests.plan.lesson import LESSON, lesson


def read(text: str):
    return read_words(lesson(), text, "words.txt")


def test_the_words_as_text():
    assert (
        words_text(lesson())
        == """\
# Keep your room: the words.
# Change words, and where [marks] and {braces} stand; keep the beats, the speakers and each mark.
# Lines that start with # are not read back.

== open
# no words

== praise
host: Let's see your swing. {It has plenty to like.}
# pause of 0.6 s
coach: Good balance and a full turn. {And don't mind the lines: they always look harsher
    than they really are.}

== impact
coach: Stop it at impact now. There's [gap] daylight between your hips and that line. {And
    [ball] the ball is further off, too.}

== drill
coach: Ten slow turns, once a day.

== end
# no words
"""
    )


def test_unchanged_words_leave_the_storyboard_as_it_is():
    loaded = lesson()
    edited = read_words(loaded, words_text(loaded), "words.txt")
    assert (edited.text, edited.changes) == (loaded.text, ())


@pytest.mark.parametrize("ends", ["\n", "\r\n"])
def test_only_words_change(ends: str):
    loaded = lesson()
    text = words_text(loaded).replace("daylight between your hips", "a gap, plain to see, between the hips of yours")
    text = text.replace("Ten slow turns,", "Ten slow: turns,").replace("\n", ends)
    edited = read_words(loaded, text, "words.txt")
    assert [(change.beat, change.speaker) for change in edited.changes] == [("impact", "coach"), ("drill", "coach")]
    assert edited.changes[0].was.startswith("Stop it at impact now. There's [gap] daylight between")
    again = loads(edited.text)
    assert again.board.beats[2].say[0].text.startswith("Stop it at impact now. There's a gap, plain to see, between")
    assert again.board.beats[3].say[0].text == "Ten slow: turns, once a day."
    untouched = [line for line in loaded.text.splitlines() if "daylight" not in line and "Ten slow" not in line]
    kept = edited.text.splitlines()
    assert [line for line in untouched if line not in kept] == ["      {And [ball] the ball is further off, too.}"]
    # The folded words keep their indentation and are folded anew.
    start = kept.index("    say: >")
    assert all(line.startswith("      ") for line in kept[start + 1 : kept.index("    show:", start)])


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.text(st.characters(exclude_categories=("C", "Z"), exclude_characters="[]{}"), min_size=1, max_size=9),
        min_size=1,
        max_size=25,
    )
)
def test_any_words_come_back_as_they_were_written(words: list[str]):
    said = " ".join(words)
    text = words_text(lesson()).replace("Ten slow turns, once a day.", said)
    if not any(character.isalnum() for character in said):
        with pytest.raises(StoryboardUnreadable, match="the line has no words"):
            read(text)
        return
    edited = read(text)
    assert loads(edited.text).board.beats[3].say[0].words == tuple(said.split())
    assert read_words(loads(edited.text), text, "words.txt").changes == ()


def test_lines_that_an_editor_wrapped_at_the_left_edge_still_belong_to_their_words():
    text = words_text(lesson()).replace("\n    ", "\n")
    assert read(text).changes == ()


@pytest.mark.parametrize(
    ("old", "new", "place", "why"),
    [
        ("== drill\n", "== dril\n", "words.txt:18:1", "the storyboard has no beat `dril` — did you mean `drill`?"),
        ("\n== end\n# no words\n", "", "words.txt:19:35", "beat end is missing — put `== end` and its words back"),
        ("== end", "== open", "words.txt:21:1", "beat open stands twice — keep one"),
        ("[gap] daylight", "daylight", "words.txt:15:1", "beat impact — [gap] is missing — put it before the word"),
        (
            "daylight",
            "[light] daylight",
            "words.txt:15:45",
            "[light] is new to this beat — its marks are [gap], [ball]",
        ),
        ("host: Let's", "anna: Let's", "words.txt:9:1", "`anna` does not speak here — the speakers are host, coach"),
        ("host: Let's", "coach: Let's", "words.txt:9:1", "coach speaks here, in the storyboard host speaks"),
        ("coach: Ten slow turns, once a day.", "", "words.txt:18:1", "line 1, of coach, is missing — put it back"),
        ("coach: Ten slow turns, once a day.", "coach:", "words.txt:19:1", "the line has no words"),
        ("# no words\n\n== praise", "coach: Hello\n\n== praise", "words.txt:6:1", "has no words in the storyboard"),
        ("== open", "Hello\n== open", "words.txt:5:1", "words stand before the first beat"),
        ("# no words\n\n== praise", "Hello\n\n== praise", "words.txt:6:1", "it is not said who speaks"),
        ("{It has", "It has", "words.txt:9:", "a } stands in the words without its {"),
    ],
)
def test_what_does_not_fit_is_shown_with_its_line(old: str, new: str, place: str, why: str):
    text = words_text(lesson())
    assert old in text
    with pytest.raises(StoryboardUnreadable) as caught:
        read(text.replace(old, new, 1))
    assert why in str(caught.value)
    assert place in str(caught.value)


def test_beats_in_another_order_are_refused():
    head, open_, praise, *rest = words_text(lesson()).split("\n\n")
    with pytest.raises(StoryboardUnreadable, match="beat praise stands in another place"):
        read("\n\n".join([head, praise, open_, *rest]))


def test_braces_in_a_rigid_beat_are_refused_with_the_storyboards_own_fault():
    with pytest.raises(StoryboardUnreadable, match="the beat is rigid — delete the braces"):
        read(words_text(lesson()).replace("once a day.", "{once a day.}"))


def test_words_shared_by_an_anchor_are_not_touched():
    text = LESSON.format(slot="0:50", rate="25").replace("say: Ten slow", "say: &ten Ten slow")
    loaded = loads(text)
    with pytest.raises(StoryboardUnreadable, match="shared with other places by an anchor"):
        read_words(loaded, words_text(loaded).replace("Ten slow", "Nine slow"), "words.txt")

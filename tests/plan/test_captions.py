from __future__ import annotations

import itertools
import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from segmentkit.facts import TakenArea, WordSource
from segmentkit.geometry import Rect, Size
from segmentkit.plan.caption_cards import burned, burned_place
from segmentkit.plan.caption_model import Caption
from segmentkit.plan.caption_text import Hints, Unit, break_cost, cells, joined, lay, lines_of, units_of, words_to_read
from segmentkit.plan.captions import caption_sets, captions_of, least_frames
from segmentkit.plan.model import Plan, Speech, Word
from segmentkit.storyboard.caption_rules import break_hints, caption_rule_names, caption_rules, rules_for
from segmentkit.timebase import Rate, Span, frames_covering
from tests.plan_makers import context, web

PAL = Rate(Fraction(25))
ENGLISH = Hints(*break_hints("en"))
BROADCAST = caption_rules("broadcast")
BASE = context().plan


def spoken(text: str, start: int = 0, *, word: int = 10, speaker: str = "presenter", line: int = 0) -> Speech:
    """A line read evenly, `word` frames a word."""
    words = tuple(Word(text=one, frame=start + k * word) for k, one in enumerate(text.split()))
    span = Span(start, start + len(words) * word)
    return Speech(
        beat="close", line=line, speaker=speaker, shown=speaker.capitalize(), text=text, span=span, path=Path("a.wav"),
        source_start=Fraction(0), length=span.frames / PAL.fps, gain_db=0, telephone=False, words=words,
        word_source=WordSource.ALIGNED, expected_error=Fraction(0), is_guide=False,
    )  # fmt: skip


def units_in(text: str) -> tuple[Unit, ...]:
    return units_of([(word, 0) for word in text.split()], 99)


def plan_of(*lines: Speech, frames: int = 3000, rate: Rate = PAL, size: Size = BASE.size) -> Plan:
    beat = replace(BASE.beats[0], id="close", span=Span(0, frames))
    return replace(BASE, beats=(beat,), speech=lines, rate=rate, size=size)


def texts(captions: tuple[Caption, ...]) -> list[str]:
    return [" / ".join(one.lines) for one in captions]


WORD = st.sampled_from(
    ["the", "hip", "line,", "stays", "still.", "a", "Marvellous", "to", "its", "(so)", "swing", "and", "half-way"]
)


@st.composite
def plans(draw: st.DrawFn) -> Plan:
    rate = Rate(Fraction(draw(st.sampled_from(["25", "30000/1001", "50"]))))
    lines, at = [], 0
    for number in range(draw(st.integers(1, 3))):
        start = max(0, at + draw(st.integers(-20, 90)))
        words = draw(st.lists(WORD, min_size=1, max_size=18))
        speaker = draw(st.sampled_from(["maren", "ines"]))
        made = spoken(" ".join(words), start, word=draw(st.integers(4, 20)), speaker=speaker, line=number)
        lines.append(made)
        at = made.span.end
    return plan_of(*lines, frames=at + draw(st.integers(1, 60)), rate=rate)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(plans(), st.sampled_from(caption_rule_names()))
def test_captions_keep_the_rules_whatever_is_said(plan: Plan, name: str):
    rules = caption_rules(name)
    made = captions_of(plan, rules, "en")
    gap = frames_covering(rules.seconds("gap"), plan.rate)
    starts = {word.frame for line in plan.speech for word in line.words}
    for before, after in itertools.pairwise(made):
        assert before.span.end <= after.span.start, "none overlap"
        between = after.span.start - before.span.end
        assert between == 0 or between >= gap
    for caption in made:
        assert 0 <= caption.span.start < caption.span.end <= plan.frames
        assert len(caption.lines) <= rules.lines
        assert all(cells(line) <= rules.characters for line in caption.lines)
    exact = [one for one in made if one.span.start in starts]
    assert len(exact) >= len(made) - sum(1 for line in plan.speech[1:])  # only people who speak at once are put apart


@settings(max_examples=60, deadline=None)
@given(st.lists(WORD, min_size=1, max_size=40))
def test_every_word_is_there_once_and_in_order(words: list[str]):
    made = captions_of(plan_of(spoken(" ".join(words))), BROADCAST, "en")
    assert " ".join(line for caption in made for line in caption.lines).split() == words
    assert made[0].span.start == 0


def test_lines_end_at_clauses_and_never_after_an_article():
    line = "At impact there's daylight between your hips and that line, and your chest has lifted a little."
    for one in texts(captions_of(plan_of(spoken(line)), BROADCAST, "en")):
        for part in one.split(" / "):
            assert part.split()[-1].lower() not in {"a", "the", "your", "that", "and", "between", "to"}


def test_two_lines_are_even_and_the_upper_is_the_shorter():
    units = units_in("he turns back slowly until hips reach walls")
    laid = lay(units, 37, 2, Hints())
    assert laid is not None
    upper, lower = lines_of(units, laid)
    assert abs(len(upper) - len(lower)) <= 6
    assert len(upper) <= len(lower) + 1


def test_breaking_after_a_sentence_costs_nothing_and_within_a_phrase_most():
    units = units_in("Stop here. Now, the hips go on your line")
    costs = [break_cost(a, b, ENGLISH) for a, b in itertools.pairwise(units)]
    assert costs[1] == 0
    assert costs[2] < costs[5] < costs[3]


def test_reading_speed_and_least_times_are_the_published_ones():
    # BBC Subtitle Guidelines, section 4: 160 to 180 words a minute, 0.33 to 0.375 s a word; two words in one second are
    # 120 words a minute.
    two = Caption(
        span=Span(0, 25),
        lines=("Two words",),
        speaker="",
        place=captions_of(plan_of(spoken("a")), BROADCAST, "en")[0].place,
    )
    assert two.words_per_minute(PAL) == 120
    assert BROADCAST.words_per_minute == 180
    assert least_frames(Fraction(30), BROADCAST, PAL) == 250  # 30 words at 180 a minute take 10 s
    # DCMP Captioning Key: no caption under two seconds, 130 words a minute for the lower level, 32 characters a line.
    learner = caption_rules("learner")
    assert least_frames(Fraction(1), learner, PAL) == 50
    assert (learner.words_per_minute, learner.characters) == (130, 32)
    # BBC: 37 characters for broadcast; CEA-708: 42 columns for 16:9 (47 CFR 15.122).
    assert (BROADCAST.characters, caption_rules("web").characters) == (37, 42)


def test_a_short_line_stays_long_enough_to_be_read_and_no_longer_than_it_may_hang():
    (one,) = captions_of(plan_of(spoken("Good.")), BROADCAST, "en")
    assert one.span == Span(0, 25)
    (two,) = captions_of(plan_of(spoken("Now it is time to go.", word=3)), BROADCAST, "en")
    assert two.span.frames == 50  # six words at 180 a minute


def test_a_gap_is_closed_or_clear():
    near = captions_of(plan_of(spoken("One two three four."), spoken("Five six.", 60, line=1)), BROADCAST, "en")
    assert [one.span for one in near] == [Span(0, 60), Span(60, 85)]
    far = captions_of(plan_of(spoken("One two three four."), spoken("Five six.", 90, line=1)), BROADCAST, "en")
    assert far[0].span == Span(0, 40)


def test_people_are_named_when_another_speaks():
    lines = (spoken("Why is it thin?", speaker="maren"), spoken("Good question.", 60, line=1, speaker="aksel"),
             spoken("Look here.", 120, line=2, speaker="aksel"))  # fmt: skip
    assert texts(captions_of(plan_of(*lines), BROADCAST, "en")) == [
        "Maren: Why is it thin?",
        "Aksel: Good question.",
        "Look here.",
    ]
    assert texts(captions_of(plan_of(lines[1]), BROADCAST, "en")) == ["Good question."]


def test_people_who_speak_at_once_share_a_caption():
    lines = spoken("Yes.", 0, speaker="maren"), spoken("No, wait.", 5, line=1, speaker="aksel")
    (one,) = captions_of(plan_of(*lines), BROADCAST, "en")
    assert one.lines == ("Maren: Yes.", "Aksel: No, wait.")
    assert one.speaker == "Maren, Aksel"


def test_chinese_breaks_between_characters_but_not_before_punctuation():
    line = "站在墙前，慢慢转身，直到后髋碰到墙。然后转过去，直到前髋也碰到墙。每天一次，每次十下。"
    made = captions_of(plan_of(spoken(line, word=400)), BROADCAST, "zh")
    assert "".join(part for one in made for part in one.lines) == line
    assert len(made) > 1
    for one in made:
        assert all(cells(part) <= 37 and part[0] not in "，。" for part in one.lines)
    assert made[1].span.start > 0, "characters share the time of what is written without spaces"


def test_hebrew_stays_in_logical_order():
    line = "הירך נשארת על הקו, וזה בדיוק מה שרצינו לראות כאן היום."
    made = captions_of(plan_of(spoken(line)), BROADCAST, "he")
    assert " ".join(part for one in made for part in one.lines) == line


def test_german_hints_come_from_the_file_and_unknown_languages_have_none():
    joined_, opens = break_hints("de-AT")
    assert {"der", "zum"} <= joined_
    assert "dass" in opens
    assert break_hints("fi") == (frozenset(), frozenset())
    made = captions_of(
        plan_of(spoken("Pallo osuu mailaan ohuesti, koska lantio liikkuu kohti palloa.")), BROADCAST, "fi"
    )
    assert made[0].lines[0].endswith(",")


@pytest.mark.parametrize(("text", "width"), [("abc", 3), ("墙前", 4), ("e\u0301", 1), ("ｱ", 1), ("a\u200db", 2)])
def test_width_in_cells(text: str, width: int):
    # Unicode Standard Annex 11: W and F are wide, halfwidth forms are not.
    assert cells(text) == width


def test_words_to_read():
    assert words_to_read("Stop – it's here.") == 3
    assert words_to_read("墙前") == 1
    assert joined(units_of([("a", 0), ("b", 1)], 2)) == "a b"


def test_rules_by_use_and_picture():
    assert rules_for("broadcast", Size(1920, 1080)) == "broadcast"
    assert rules_for("web", Size(1920, 1080)) == "web"
    assert rules_for("broadcast", Size(1080, 1920)) == "tall"
    shapes = {"1:1": Size(1080, 1080), "4:5": Size(1080, 1350), "5:4": Size(1350, 1080), "4:3": Size(1440, 1080)}
    assert {shape: rules_for("web", size) for shape, size in shapes.items()} == {
        "1:1": "square", "4:5": "square", "5:4": "square", "4:3": "web",
    }  # fmt: skip
    sets = caption_sets(BASE, (web(), web(name="other"), web("broadcast", "tv")), "en")
    assert [made.name for made in sets] == ["web", "broadcast"]


def test_a_hurried_caption_stays_until_it_is_read_if_the_next_one_can_spare_it():
    # Fourteen words, six frames each; then eight words, 25 frames each.
    line = spoken("Put a line down the back of your hips and along your spine too. And it stays there while you move.")
    words = tuple(replace(w, frame=6 * k if k < 14 else 84 + 25 * (k - 14)) for k, w in enumerate(line.words))
    line = replace(line, words=words, span=Span(0, words[-1].frame + 25))
    hurried, spared = captions_of(plan_of(line), caption_rules("square"), "en")
    assert hurried.text == "Put a line down the back of your hips"
    # Nine words at 180 a minute take 3 s, 75 frames; the tenth is spoken after 54, so its caption waits for 21.
    assert (hurried.span, spared.span.start) == (Span(0, 75), 75)
    assert spared.words_per_minute(PAL) <= 180


# --- where they stand

LINE = spoken("Her hips are still on the line.")


def _placed(*areas: Rect, soft: bool = False, size: Size = BASE.size, name: str = "broadcast") -> tuple[Caption, ...]:
    taken = [TakenArea(span=Span(0, 3000), area=one, what="stroke gap", beat="close", soft=soft) for one in areas]
    return captions_of(plan_of(LINE, size=size), caption_rules(name), "en", taken)


def test_captions_stand_at_the_foot_when_nothing_is_there():
    assert _placed()[0].place.usual


def test_a_stroke_at_the_foot_sends_them_to_the_top():
    (one,) = _placed(Rect(900, 400, 10, 560))
    assert (one.place.top, one.place.edge, one.hits) == (True, 5, ())


def test_a_caution_below_and_a_name_above_leave_the_middle():
    (one,) = _placed(Rect(300, 850, 1300, 180), Rect(0, 40, 1920, 160))
    assert not one.hits
    assert one.area(BASE.size, Fraction(8), Fraction(68, 37)).bottom <= 850


def test_a_panel_at_the_side_leaves_the_other_side_in_shorter_lines():
    long = spoken("Straightening up at speed can put extra load on the lower back of anybody who swings.")
    panel = TakenArea(span=Span(0, 3000), area=Rect(1150, 0, 770, 1080), what="information", beat="close")
    made = captions_of(plan_of(long), BROADCAST, "en", [panel])
    for one in made:
        assert not one.hits
        assert one.area(BASE.size, Fraction(8), Fraction(68, 37)).right <= 1150


def test_a_name_above_and_a_stroke_at_the_foot_leave_the_room_between():
    stroke, name = Rect(0, 400, 1920, 640), Rect(0, 40, 1920, 160)
    (one,) = _placed(stroke, name)
    area = one.area(BASE.size, Fraction(8), Fraction(68, 37))
    assert not one.hits
    assert name.bottom <= area.y
    assert area.bottom <= stroke.y


def test_nowhere_free_is_said():
    (one,) = _placed(Rect(0, 0, 1920, 1080))
    assert one.hits == ("stroke gap",)


def test_a_stroke_at_another_time_does_not_matter():
    taken = TakenArea(span=Span(500, 600), area=Rect(0, 0, 1920, 1080), what="stroke gap", beat="close")
    (one,) = captions_of(plan_of(LINE), BROADCAST, "en", [taken])
    assert one.place.usual


def test_a_head_is_kept_clear_if_it_can_be_and_no_finding_made_of_it():
    head = Rect(800, 0, 300, 300)
    (one,) = _placed(head, soft=True)
    assert one.place.usual
    (two,) = _placed(Rect(0, 0, 1920, 1080), soft=True)
    assert two.place.usual
    assert two.hits == ()


def test_upright_pictures_keep_clear_of_a_players_controls():
    (one,) = _placed(size=Size(1080, 1920), name="tall")[:1]
    assert one.place.edge == 80


def test_burned_captions_are_cards_that_know_their_place():
    (made,) = caption_sets(BASE, (web(),), "en")
    plan = burned(BASE, made)
    cards = [card for card in plan.cards if card.kind == "caption"]
    assert [card.span for card in cards] == [one.span for one in made.captions]
    assert [tuple(text for name, text in card.fields if name == "line") for card in cards] == [
        one.lines for one in made.captions
    ]
    top, edge, centre, height = burned_place(cards[0].fields[0][1])
    assert (top, edge, centre, height) == (False, 0.95, 0.5, 0.07)
    assert re.fullmatch(r"foot 95 50 7", cards[0].fields[0][1])

"""What may be said and shown: wordings, cautions, names, cards, children."""

from __future__ import annotations

from fractions import Fraction

import pytest

from segmentkit.checks.cards import reading_time
from segmentkit.checks.phrases import FORBIDDEN, HEALTH, PRIZE, SIDES, UNMEASURABLE, matches
from segmentkit.checks.room import is_caution
from segmentkit.checks.run import consent_checks, run_checks
from segmentkit.checks.uses import pictures_used
from segmentkit.findings import Finding, Severity
from tests.checks.cases import drawn_text
from tests.plan_makers import TODAY, Board, beat_of, clean, context, loaded, web


def _found(id_: str, board: Board | None = None, **how: object) -> list[Finding]:
    return [f for f in run_checks(context(board, **how)) if f.id == id_]


@pytest.mark.parametrize(
    "said",
    [
        "This cures a slice",
        "we guarantee it",
        "it never hurts",
        "it won't hurt",
        "that prevents injury",
        "prevents back pain",
        "safe for everyone",
        "no pain, no gain",
        "you'll hit it 20 yards further",
        "gain ten yards",
        "add another fifteen metres",
        "my diagnosis is",
        "a perfect swing",
        "it will hurt your back",
        "your glutes are weak",
        "a bit overweight",
        "the chicken wing",
    ],
)
def test_wordings_that_are_not_used(said: str):
    assert list(matches(FORBIDDEN, said))


@pytest.mark.parametrize(
    "said",
    [
        "her heels stay down",
        "secure your grip",
        "from 150 yards out",
        "get it within ten yards of the flag",
        "it can put extra load on the lower back",
        "it is safe to stand well clear",
        "the back of her hips",
        "a solid strike",
    ],
)
def test_wordings_that_are_fine(said: str):
    assert list(matches(FORBIDDEN, said)) == []


@pytest.mark.parametrize(
    "said",
    [
        "turned 45 degrees",
        "forty-five degrees",
        "45°",
        "60 % of her weight",
        "seventy per cent of the weight on the lead foot",
        "the club face is open",
        "the face angle",
        "his club path",
        "the path is in to out",
        "at 95 mph",
        "club head speed of 90",
        "72% better",
        "the x-factor",
        "a launch angle",
    ],
)
def test_claims_that_one_camera_cannot_make(said: str):
    assert list(matches(UNMEASURABLE, said))


@pytest.mark.parametrize(
    "said",
    [
        "if the face arrives late, the ball goes right",
        "the club comes down above both lines, so the path is likely across",
        "the club face is likely open",
        "most of her weight looks to be on the lead foot",
        "half a head to the side",
        "ten slow ones",
        "a little steeper than the line",
    ],
)
def test_inferences_that_say_so_are_fine(said: str):
    assert list(matches(UNMEASURABLE, said)) == []


def test_sides_become_lead_and_trail_for_the_hand_that_is_stated():
    board = clean()
    for person in board["people"].values():
        person["handed"] = "left"
    beat_of(board, "close")["say"] = "Let the left hip turn, and the ball goes right."
    (finding,) = _found("wording-side", board)
    assert finding.remedy == 'write "trail hip"'
    assert SIDES.search("she is right-handed and aims left of the flag") is None


@pytest.mark.parametrize(
    "said",
    [
        "General advice only. Warm up first. Stop if anything hurts.",
        "Warm up first, and stop if it hurts.",
        "If you have back pain or an old injury, see a doctor or physiotherapist before trying this.",
        "Check nobody is in front, beside or behind you.",
        "If yours is sore, please talk to a doctor or a physiotherapist.",
    ],
)
def test_cautions_are_known_as_such(said: str):
    assert is_caution(said)


def test_health_words_do_not_include_the_going_back_of_a_swing():
    assert HEALTH.search("going back, her trail hip stays on the line at the back of her hips") is None
    assert HEALTH.search("kinder to the lower back") is not None


def test_a_word_about_winning_a_hole_is_no_prize():
    assert PRIZE.search("to win the hole you need a sound strike") is None
    assert PRIZE.search("you could win a lesson") is not None


@pytest.mark.parametrize(
    ("words", "seconds"), [(1, "2.2"), (5, "3.0"), (9, "3.8"), (10, "5.0"), (15, "6.0"), (17, "6.4"), (20, "7.0")]
)
def test_the_published_floor_of_reading_time(words: int, seconds: str):
    """Worked values of the British guidance for text in television advertising (BCAP guidance note 1)."""
    assert reading_time(words) == Fraction(seconds)


def test_seventeen_words_in_five_seconds_are_too_few_seconds():
    board = clean()
    lines = ["Room for the arms in the downswing", "A cleaner contact with the ball", "Kinder to the hips"]
    beat_of(board, "close")["cards"] = [{"information": {"lines": lines, "hold": "5s"}}]
    (finding,) = _found("card-too-short", board)
    numbers = dict(finding.numbers)
    assert numbers["words"] == 17
    assert numbers["needed_frames"] == 160
    # 5 s less 0.4 s of coming in and 0.3 s of going, on whole frames.
    assert numbers["frames"] == 125 - 10 - 8


def test_a_caution_on_the_end_board_counts():
    board = clean()
    beat_of(board, "drill").pop("cards")
    beat_of(board, "end")["show"][0]["end_board"]["lines"] = ["Warm up first. Stop if anything hurts."]
    assert _found("health-without-caution", board) == []
    assert _found("drill-without-caution", board) == []


def test_a_safety_line_that_says_nothing_is_none():
    board = clean()
    beat_of(board, "drill")["cards"][0]["drill"].update(safety="n/a")
    beat_of(board, "drill")["cards"][0]["drill"].pop("line")
    found = _found("drill-without-caution", board)
    assert [f.where for f in found] == ["beat drill, words", "beat drill, drill"]


def test_a_name_that_is_almost_right_is_asked_about():
    board = clean()
    beat_of(board, "close")["say"] = "So, Marin: keep your room, and your strike will not be thin, nor fly to one side."
    (finding,) = _found("name-differs", board)
    assert finding.severity is Severity.WARNING
    assert 'write "Maren"' in finding.remedy


def test_text_far_too_small_is_an_error():
    from tests.checks.cases import drawn_text

    assert [f.severity for f in _found("text-too-small", texts=drawn_text(cap_height=29.0))] == [Severity.ERROR]
    assert [f.severity for f in _found("text-too-small", texts=drawn_text(cap_height=30.0))] == [Severity.WARNING]


def _minor() -> Board:
    board = clean()
    maren = board["people"]["maren"]
    maren.pop("place")
    maren.pop("handicap")
    maren.update(adult="no", guardian="Torben Lund", release={"for": ["web"], "by": "Torben Lund"})
    return board


@pytest.mark.parametrize(
    ("beat", "words", "kind"),
    [
        ("intro", "Maren Holt asks why her strike is thin. Plenty to like.", "the surname"),
        ("intro", "Maren, who plays at Fen Edge, asks why her strike is thin. Plenty to like.", "the club or school"),
        ("intro", "Maren from Lindholm asks why her strike is thin. Plenty to like.", "the place"),
        ("intro", "Maren, handicap twelve, asks why her strike is thin. Plenty to like.", "the handicap"),
        (
            "close",
            "Thank you, Torben Lund, for filming. Her strike will not be thin, nor fly to one side.",
            "the guardian",
        ),
    ],
)
def test_what_tells_where_a_child_is_found(beat: str, words: str, kind: str):
    board = _minor()
    assert _found("minor-details-shown", board) == []
    beat_of(board, beat)["say"] = words
    (finding,) = _found("minor-details-shown", board)
    assert finding.severity is Severity.ERROR
    assert kind in finding.what


def test_a_record_that_holds_a_childs_place_is_a_warning_and_showing_it_an_error():
    board = _minor()
    board["people"]["maren"]["place"] = "Lindholm Bay"
    assert [f.severity for f in _found("minor-details-shown", board)] == [Severity.WARNING]
    beat_of(board, "intro")["cards"][0]["lower_third"]["line"] = "Lindholm Bay"
    assert [f.severity for f in _found("minor-details-shown", board)] == [Severity.ERROR, Severity.WARNING]


def test_a_surname_in_a_childs_record_is_an_error():
    board = _minor()
    board["people"]["maren"]["shown"] = "Maren Holt"
    assert Severity.ERROR in [f.severity for f in _found("minor-details-shown", board)]


def test_people_who_do_not_come_up_need_no_release():
    board = clean()
    board["people"]["spare"] = {"shown": "Spare"}
    board["clips"]["spare"] = {"file": "s.mp4", "person": "spare"}
    assert consent_checks(loaded(board), (web(),), TODAY) == []
    assert pictures_used(loaded(board).board) == ({"viewer", "model"}, frozenset())


def test_a_still_behind_a_title_shows_its_person():
    board = clean()
    board["people"]["tove"] = {"shown": "Tove", "adult": "yes"}
    board["stills"] = {"portrait": {"file": "p.png", "person": "tove"}}
    beat_of(board, "title")["show"][0]["title"]["over"] = {"still": "portrait"}
    (finding,) = consent_checks(loaded(board), (web(),), TODAY)
    assert finding.id == "release-missing"
    assert "still portrait" in finding.what


def test_the_question_is_answered_in_its_own_words():
    board = clean()
    board["segment"]["question"] = "Why does my practice swing feel great and my real swing does not?"
    (finding,) = _found("question-unanswered", board)
    assert "practice" in finding.what
    beat_of(board, "close")["say"] += " Your practice swing feels great because no ball is there."
    assert _found("question-unanswered", board) == []


def test_what_lacks_ideographs_is_told_which_font_to_add():
    lacking = context(texts=drawn_text(text="腰を後ろへ戻す。今日", missing="腰を後ろへ戻す。今日"))
    (finding,) = (one for one in run_checks(lacking) if one.id == "glyph-missing")
    assert "Noto Sans CJK" in finding.remedy
    assert "腰 (U+8170)" in finding.what
    assert "and 4 more" in finding.what
    (latin,) = (one for one in run_checks(context(texts=drawn_text(missing="ł"))) if one.id == "glyph-missing")
    assert "CJK" not in latin.remedy

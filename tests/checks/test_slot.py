"""Slot, beats and words: by how much, and what each way out is worth."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.checks.registry import BY_ID
from segmentkit.checks.run import run_checks
from segmentkit.findings import Finding, Severity
from tests.plan_makers import Board, beat_of, clean, context


def _found(id_: str, board: Board | None = None, **how: object) -> list[Finding]:
    return [f for f in run_checks(context(board, **how)) if f.id == id_]


def test_over_the_slot_names_seconds_frames_and_who_could_give():
    board = clean()
    board["segment"]["slot"] = "0:58"
    board["beats"][3]["show"][1]["freeze"]["hold"] = "9s..13s"
    (finding,) = _found("slot-over", board)
    numbers = dict(finding.numbers)
    assert numbers["over_frames"] == numbers["frames"] - 1450
    assert numbers["over_seconds"] == Fraction(numbers["over_frames"], 25)
    # Beat impact: 51 frames of motion and 225 of hold; its words end at 10 + 170 frames, its tail is 13.
    assert numbers["room_impact"] == 51 + 225 - (10 + 170 + 13)
    assert "beat impact holds" in finding.remedy
    assert "drill" not in finding.remedy, "a drill is never asked for time"
    assert finding.place is not None
    assert finding.place.line == 5


def test_over_and_under_are_written_as_running_orders_write_them():
    board = clean()
    board["segment"]["slot"] = "2:00"
    (finding,) = _found("slot-under", board)
    under = dict(finding.numbers)["under_frames"]
    assert f"-0:{under // 25:02}:{under % 25:02}" in finding.what
    assert "never slow the voice" in finding.remedy


def test_a_sentence_offered_for_cutting_gives_what_it_says():
    board = clean()
    board["segment"]["slot"] = "0:55"
    (finding,) = _found("slot-over", board)
    before = dict(finding.numbers)["frames"]
    said, gives = "The ball flies straight, not to one side.", 38
    assert f'could lose "{said}", which gives {gives / 25:g} s ({gives} frames)' in finding.remedy
    beat_of(board, "close")["say"] = beat_of(board, "close")["say"].replace(said, "").strip()
    (after,) = _found("slot-over", board)
    assert dict(after.numbers)["frames"] == before - gives


def test_words_in_braces_that_are_enough_are_named_and_prove_true():
    board = clean()
    board["segment"]["slot"] = "0:50"
    (whole,) = _found("slot-over", board)
    board["segment"]["slot"] = f"{(dict(whole.numbers)['frames'] - 25) / 25:g}s"
    said, close = "The ball flies straight, not to one side.", beat_of(board, "close")
    close["say"] = close["say"].replace(said, "{" + said + "}")
    (finding,) = _found("slot-over", board)
    assert f'leave out the spare words "{said}" in beat close' in finding.remedy
    assert "could lose" not in finding.remedy, "no other sentence is asked for where the marked ones are enough"
    close["say"] = close["say"].replace("{" + said + "}", "").strip()
    assert _found("slot-over", board) == []


def test_a_take_one_and_four_tenths_of_a_second_too_long():
    # 19 words; the beat can be at most 12 s and the lead is 0.4 s, so 13 s of words are 1.4 s too long.
    (finding,) = _found("take-longer-than-beat", by_beat={"close": Fraction(13, 19)})
    assert dict(finding.numbers)["over_seconds"] == Fraction(7, 5)
    assert "over by +0:01:10, 1.4 s (35 frames)" in finding.what
    ways = finding.remedy.split("; or ")
    assert len(ways) == 3
    assert ways[0] == "let shot 1 (freeze) hold up to 13.4 s, 1.4 s (35 frames) more"
    assert ways[1].startswith('cut "The ball flies straight, not to one side.", ')
    # 19 words in 13.0 s are 87.7 a minute; in 11.6 s they are 98.3.
    assert ways[2] == "read it again at 98 words a minute instead of 88"


def test_reading_faster_is_not_offered_beyond_what_can_be_followed():
    board = clean()
    beat_of(board, "close")["show"][0]["freeze"]["hold"] = "4s"
    (finding,) = _found("take-longer-than-beat", board)
    assert "reading again faster does not do it" in finding.remedy


def test_words_that_a_stroke_hangs_on_and_cautions_are_not_offered_for_cutting():
    board = clean()
    beat_of(board, "close")["say"] = "Keep [room] your room. If it hurts, stop and see a doctor. And then play on."
    beat_of(board, "close")["strokes"] = {"room": {"dot": [0.5, 0.5]}}
    beat_of(board, "close")["show"][0]["freeze"]["hold"] = "3s"
    (finding,) = _found("take-longer-than-beat", board)
    assert "And then play on." in finding.remedy
    assert "doctor" not in finding.remedy
    assert "your room" not in finding.remedy


def test_a_length_that_the_words_overrun_is_a_contradiction():
    board = clean()
    beat_of(board, "close")["length"] = "7.2s"
    (finding,) = _found("beat-length-contradiction", board)
    assert "its words and strokes make it 8.52 s (213 frames)" in finding.what


@pytest.mark.parametrize(
    ("word", "severity"),
    # A broadcast journalism textbook (taylorfrancis 10.4324/9780080569192-23) sums: 60 words at 180 a minute are 20 s;
    # and 100 words in 30 s are 200 a minute.
    [
        (Fraction(30, 100), Severity.WARNING),
        (Fraction(29, 100), Severity.ERROR),
        (Fraction(20, 60), None),
        (Fraction(60, 110), None),
        (Fraction(60, 109), Severity.NOTE),
    ],
)
def test_words_a_minute(word: Fraction, severity: Severity | None):
    found = _found("words-per-minute", by_beat={"close": word})
    assert [f.severity for f in found] == ([] if severity is None else [severity])


def test_the_pace_of_what_is_not_recorded_is_one_note():
    found = _found("words-per-minute", word=Fraction(1, 4), recorded=False)
    assert [f.severity for f in found] == [Severity.NOTE]
    assert "6 lines" in found[0].what


def test_the_guide_voice_in_a_final_is_one_finding():
    (finding,) = _found("guide-voice-in-final", final=True, guide=True)
    assert dict(finding.numbers) == {"lines": 6, "beats": 6}
    (silent,) = _found("guide-voice-in-final", final=True, recorded=False)
    assert "spoken by nobody" in silent.what
    assert _found("guide-voice-in-final", final=False, guide=True) == []


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(
    slot=st.integers(20, 200),
    word=st.fractions(Fraction(1, 5), Fraction(4, 5), max_denominator=50),
    hold=st.integers(1, 20),
    rate=st.sampled_from(["25", "24000/1001", "30000/1001", "50", "60000/1001"]),
)
def test_any_plan_can_be_judged_and_misses_its_slot_exactly_when_that_is_said(
    slot: int, word: Fraction, hold: int, rate: str
):
    board = clean()
    board["segment"].update(slot=f"{slot}s", rate=rate)
    beat_of(board, "impact")["show"][1]["freeze"]["hold"] = f"{hold}s"
    judged = context(board, word=word)
    findings = run_checks(judged)
    ids = [f.id for f in findings]
    assert set(ids) <= set(BY_ID)
    off = judged.plan.frames - judged.plan.slot
    assert ("slot-over" in ids) == (off > 0)
    assert ("slot-under" in ids) == (off < 0)
    named = {f.where for f in findings if f.id in {"stroke-short-hold", "stroke-outlives-shot", "stroke-before-freeze"}}
    for stroke in (s for s in judged.plan.strokes if not s.kept):
        looked_at = stroke.span.end - stroke.draw_start - stroke.draw_frames
        if looked_at < 0 or (looked_at * 1.0 / judged.plan.rate.fps < 1.4 and stroke.id != "hip_line"):
            assert f"beat {stroke.beat}, stroke {stroke.id}" in named
    for finding in findings:
        assert finding.place is not None
        assert finding.what
        assert finding.remedy


def test_words_in_braces_are_offered_before_any_others():
    board = clean()
    board["segment"]["slot"] = "0:57"
    beat_of(board, "close")["say"] += " {And do not mind the lines at all.}"
    beat_of(board, "close")["show"][0]["freeze"]["hold"] = "4s..12s"
    (finding,) = _found("slot-over", board)
    assert (
        'beat close could lose the spare words "And do not mind the lines at all.", which gives 3.2 s (80 frames)'
        in finding.remedy
    )

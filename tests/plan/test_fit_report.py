import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.checks.spare import why_they_stay
from segmentkit.plan.advice import advise
from segmentkit.plan.fit_report import fit_report, verdict
from segmentkit.plan.fit_table import fit_data, fit_text
from segmentkit.timebase import Rate
from tests.plan.lesson import lesson, planned_lesson

RATES = ["24000/1001", "24", "25", "30000/1001", "30", "50", "60000/1001"]


@pytest.mark.slow
@settings(max_examples=120, deadline=None)
@given(slot=st.integers(1, 120), rate=st.sampled_from(RATES), word=st.integers(1, 9))
def test_any_storyboard_fits_to_the_frame_or_is_refused_for_a_reason_that_adds_up(slot: int, rate: str, word: int):
    loaded = lesson(f"{slot}s", rate)
    plan, facts = planned_lesson(loaded, a_word=Fraction(word, 10))
    report = fit_report(plan, loaded.board)
    assert sum(beat.given for beat in report.beats) == report.frames == plan.shots[-1].span.end
    assert all(beat.least <= beat.given <= beat.most for beat in report.beats)
    assert sum(beat.before + beat.change for beat in report.beats) == report.frames
    numbers = [int(n) for n in re.findall(r"(\d+) frames", verdict(report))]
    if report.over == 0:
        assert numbers == [plan.slot]
        return
    over, sums, wanted = numbers
    assert (abs(report.over), report.frames, plan.slot) == (over, sums, wanted)
    assert sums - wanted == (over if report.over > 0 else -over)
    limit = [beat.least if report.over > 0 else beat.most for beat in report.beats]
    assert [beat.given for beat in report.beats] == limit
    assert report.givers == () if report.over > 0 else report.takers == ()
    assert advise(loaded, facts, plan, why_they_stay).over == max(0, report.over)


def test_who_could_give_or_take_is_in_the_order_of_asking():
    loaded = lesson()
    report = fit_report(planned_lesson(loaded)[0], loaded.board)
    assert report.givers[0].id == "open"
    assert [beat.gives for beat in report.givers] == sorted(beat.gives for beat in report.givers)
    rooms = [beat.can_take for beat in report.takers]
    assert rooms == sorted(rooms, reverse=True)
    assert "drill" not in {beat.id for beat in (*report.givers, *report.takers)}


def test_what_if_ten_seconds_less_takes_from_elastic_beats_only():
    loaded = lesson()
    before, facts = planned_lesson(loaded)
    plan, _ = planned_lesson(loaded, slot=1000)
    report = fit_report(plan, loaded.board, before)
    assert report.over == 0
    assert sum(beat.change for beat in report.beats) == -250
    assert all(beat.change <= 0 for beat in report.beats)
    assert next(beat for beat in report.beats if beat.id == "drill").change == 0
    text = fit_text(report, advise(loaded, facts, plan, why_they_stay))
    assert "fits 00:00:40:00 (1000 frames at 25) to the frame" in text
    assert "compared with the slot 00:00:50:00 (1250 frames), a change of -0:00:10:00" in text
    assert re.search(r"all +.* -10\.00 +-250", text)


def test_the_text_offers_words_when_it_is_over():
    loaded = lesson()
    shortest = planned_lesson(loaded, slot=1)[0].frames
    plan, facts = planned_lesson(loaded, slot=shortest - 60)
    advice = advise(loaded, facts, plan, why_they_stay)
    text = fit_text(fit_report(plan, loaded.board), advice)
    assert "over by +0:00:02:10, 2.4s (60 frames): with every beat at its least" in text
    assert "1. drop this, gain" in text
    assert "(stroke ball would go with it)" in text
    data = fit_data(fit_report(plan, loaded.board), advice)
    assert (data["over"], data["frames"], data["slot"]) == (60, shortest, shortest - 60)


def test_cautions_health_and_drills_are_never_offered():
    loaded = lesson()
    beats = {beat.beat: beat for beat in loaded.board.beats}
    assert why_they_stay(beats["drill"], "any words") == "the beat is rigid"
    assert why_they_stay(beats["praise"], "Stop if anything hurts.") == "they are a caution"
    assert why_they_stay(beats["praise"], "It is kind to the lower back.") == '"lower back" speaks of health'
    assert why_they_stay(beats["praise"], "Ten slow ones, once a day.") == '"slow ones" speaks of the drill'
    assert why_they_stay(beats["praise"], "And don't mind the lines.") is None
    elastic = beats["drill"].model_copy(update={"rigid": False})
    assert why_they_stay(elastic, "any words") == "the beat shows a drill card"


def test_a_table_names_the_rate():
    loaded = lesson(rate="30000/1001")
    report = fit_report(planned_lesson(loaded)[0], loaded.board)
    assert report.rate == Rate(Fraction(30000, 1001))
    assert "at 30000/1001" in verdict(report)

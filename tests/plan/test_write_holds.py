import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.errors import NotFit, StoryboardUnreadable
from segmentkit.plan.build import build_plan
from segmentkit.plan.write_holds import solved_text
from segmentkit.storyboard.load import loads
from tests.plan.lesson import LESSON, lesson, planned_lesson
from tests.plan.test_fit_report import RATES


@pytest.mark.slow
@settings(max_examples=60, deadline=None)
@given(slot=st.integers(32, 90), rate=st.sampled_from(RATES))
def test_a_written_fit_is_what_the_beats_would_like_to_be(slot: int, rate: str):
    loaded = lesson(f"{slot}s", rate)
    plan, facts = planned_lesson(loaded)
    if plan.frames != plan.slot:
        with pytest.raises(NotFit, match="make it fit first"):
            solved_text(loaded, facts, plan)
        return
    solved = solved_text(loaded, facts, plan)
    again, _ = build_plan(loads(solved.text), facts)
    assert [beat.span for beat in again.beats] == [beat.span for beat in plan.beats]
    assert [shot.span for shot in again.shots] == [shot.span for shot in plan.shots]
    assert [beat.nominal for beat in again.beats] == [beat.span.frames for beat in plan.beats]
    # Writing it once more changes nothing.
    assert solved_text(loads(solved.text), facts, again).text == solved.text


def test_only_holds_change_and_everything_else_stays_byte_for_byte():
    loaded = lesson()
    plan, facts = planned_lesson(loaded)
    solved = solved_text(loaded, facts, plan)
    without_holds = re.compile(r"(hold: )[^,}\s]+")
    inserted = solved.text.replace("\n          hold: 3.8s..5.72s..8s", "")
    assert without_holds.sub(r"\1", inserted) == without_holds.sub(r"\1", loaded.text)
    # They add up: 4.48 + (69 frames of motion + 14.72) + 16.32 + 6 + 5.72 = 50 s.
    assert [(c.beat, c.was, c.now) for c in solved.changes] == [
        ("open", "2s..4s..6s", "2s..4.48s..6s"),
        ("praise", "1s..30s", "1s..14.72s..30s"),
        ("impact", "4s..8s..40s", "4s..16.32s..40s"),
        ("end", None, "3.8s..5.72s..8s"),
    ]


def test_another_slot_is_written_with_its_holds():
    loaded = lesson()
    plan, facts = planned_lesson(loaded, slot=1000)
    text = solved_text(loaded, facts, plan, "0:40").text
    assert "slot: 0:40, rate: 25}}   # to the frame".replace("}}", "}") in text
    assert build_plan(loads(text), facts)[0].frames == 1000


def test_a_hold_that_two_beats_share_is_not_written_for_one_of_them():
    text = LESSON.format(slot="0:50", rate="25").replace(
        "- freeze: {clip: viewer, at: impact, hold: 4s", "- freeze: &one {clip: viewer, at: impact, hold: 4s"
    )
    loaded = loads(text)
    plan, facts = planned_lesson(loaded)
    with pytest.raises(StoryboardUnreadable, match="shared with other places by an anchor"):
        solved_text(loaded, facts, plan)


TWO_FREEZES = """\
segmentkit: 1
segment: {title: T, slot: 4s}
clips: {viewer: {file: v.mp4}}
beats:
  - beat: only
    show:
      - freeze: {clip: viewer, at: f1, hold: 1s..4s..8s}
      - freeze: {clip: viewer, at: f2, hold: 1s..4s..8s}
    strokes: {mark: {dot: [0.5, 0.5], at: 3s, hold: 0.5s}}
"""


def test_lengths_that_would_not_give_the_same_plan_again_are_refused():
    # With the first freeze at 2 s instead of 4 s the mark at 3 s would be on the second one.
    loaded = loads(TWO_FREEZES)
    plan, facts = planned_lesson(loaded)
    assert plan.strokes[0].shot == "only/0"
    with pytest.raises(NotFit, match="a stroke would move to another shot — nothing was written"):
        solved_text(loaded, facts, plan)

"""Strokes, motion and comparison, with numbers that can be worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from segmentkit.checks.run import run_checks
from segmentkit.findings import Finding, Severity
from segmentkit.plan.model import Plan
from tests.checks.cases import moved
from tests.plan_makers import Board, beat_of, clean, clip_facts, context


def _found(id_: str, board: Board | None = None, **how: object) -> list[Finding]:
    return [f for f in run_checks(context(board, **how)) if f.id == id_]


def test_a_stroke_whose_word_comes_before_its_picture_says_how_early():
    board = clean()
    beat_of(board, "impact")["say"] = (
        "And [gap] now the downswing, stopped at impact, with daylight between her and the line."
    )
    (finding,) = _found("stroke-before-freeze", board)
    # The beat starts with 51 frames of motion; the word comes after 10 frames of lead and one word of 10.
    assert dict(finding.numbers)["early_frames"] == 51 - 20
    assert '"now"' in finding.what
    assert 'a later word, such as "impact"' in finding.remedy


def test_a_time_that_falls_before_the_picture_counts_like_a_word():
    board = clean()
    beat_of(board, "impact")["say"] = "Now the downswing, and stop it at impact."
    beat_of(board, "impact")["strokes"]["gap"]["at"] = "1s"
    (finding,) = _found("stroke-before-freeze", board)
    assert dict(finding.numbers)["early_frames"] == 51 - 25


def test_a_stroke_over_motion_must_be_meant():
    board = clean()
    beat_of(board, "impact")["show"] = [{"run": {"clip": "viewer", "from": "top", "to": "finish", "speed": "1/8"}}]
    (finding,) = _found("stroke-before-freeze", board)
    assert "over a clip in motion" in finding.what
    beat_of(board, "impact")["strokes"]["gap"]["moving"] = "yes"
    assert _found("stroke-before-freeze", board) == []


def test_looking_time_goes_on_in_beats_that_keep_the_stroke():
    def cut_short(plan: Plan) -> Plan:
        return replace(
            plan,
            strokes=tuple(
                replace(s, draw_start=s.span.end - 30 if s.id == "gap" else s.draw_start) for s in plan.strokes
            ),
        )

    assert [f.where for f in _found("stroke-short-hold", change=cut_short)] == ["beat impact, stroke gap"]
    board = clean()
    beat_of(board, "compare")["keep"] = ["hip_line", "gap"]
    kept = context(board)
    late = [s for s in kept.plan.strokes if s.id == "gap"]
    assert [s.kept for s in late] == [True, False] or [s.kept for s in late] == [False, True]
    shifted = replace(
        kept.plan,
        strokes=tuple(
            replace(s, draw_start=late[0].draw_start + 120) if s.id == "gap" else s for s in kept.plan.strokes
        ),
    )
    assert [f.id for f in run_checks(replace(kept, plan=shifted)) if f.id == "stroke-short-hold"] == []


def test_five_strokes_are_one_finding_a_shot():
    board = clean()
    beat_of(board, "close")["strokes"] = {
        f"line_{n}": {"line": [[n / 10, 0.2], [n / 10, 0.8]], "at": f"{n}s"} for n in range(1, 8)
    }
    (finding,) = _found("strokes-too-many", board)
    assert dict(finding.numbers)["strokes"] == 5


def _both_sides(**extra: object) -> Board:
    """Two references on each side of the comparison and two faults on one, all seen together."""
    board = clean()
    beat = beat_of(board, "compare")
    beat["keep"] = []
    line = {"role": "reference", "at": "1s"}
    beat["strokes"] = {
        f"{name}_{side}": {"line": [[x, 0.3], [x, 0.8]], "on": side, **line}
        for side in ("left", "right")
        for name, x in (("hips", 0.4), ("spine", 0.5))
    } | {f"fault_{x}": {"dot": [x / 10, 0.5], "on": "left", "role": "fault", "at": "2s"} for x in (4, 5)}
    beat["strokes"] |= extra
    return board


def test_without_words_one_side_is_drawn_after_the_other():
    board = _both_sides()
    beat = beat_of(board, "compare")
    for stroke in beat["strokes"].values():
        stroke.pop("at")
    drawn = {one.id: one for one in context(board).plan.strokes if one.beat == "compare"}
    start = min(one.draw_start for one in drawn.values())
    for id_, one in drawn.items():
        # Half a second after the picture; the right side when the left one's 0.8 s of drawing are over.
        assert one.draw_start == start + (20 if id_.endswith("_right") else 0)
    assert start == next(s.span.start for s in context(board).plan.shots if s.beat == "compare") + 13
    # A picture that goes too soon for that shows all at once.
    beat["show"][0]["split"]["hold"] = "2.4s"
    beat["say"] = "Look here."
    drawn_at = {one.draw_start for one in context(board).plan.strokes if one.beat == "compare"}
    assert len(drawn_at) == 1


def test_what_is_compared_with_counts_once_for_all_sides():
    assert _found("strokes-too-many", _both_sides()) == []
    more = {"third": {"dot": [0.6, 0.5], "on": "right", "role": "good", "at": "2s"}}
    (finding,) = _found("strokes-too-many", _both_sides(**more))
    assert dict(finding.numbers)["strokes"] == 5
    assert "counts once" in finding.what
    # Three references on one side are three things to look for, whatever the other side has.
    third = {"third": {"line": [[0.6, 0.3], [0.6, 0.8]], "on": "right", "role": "reference", "at": "1s"}}
    assert dict(_found("strokes-too-many", _both_sides(**third))[0].numbers)["strokes"] == 5


def test_a_ring_that_reaches_over_the_edge_is_a_warning():
    board = clean()
    beat_of(board, "close")["strokes"] = {"ring": {"ring": {"centre": [0.5, 0.95], "radius": 0.1}, "at": "1s"}}
    (finding,) = _found("stroke-off-picture", board)
    assert finding.severity is Severity.WARNING
    # A tenth of 1080 is 108 px; the centre lies 54 px above the edge.
    assert dict(finding.numbers)["past_px"] == 54.0


def test_a_point_outside_the_picture_is_an_error():
    board = clean()
    beat_of(board, "close")["strokes"] = {"dot": {"dot": [1.1, 0.5], "at": "1s"}}
    (finding,) = _found("stroke-off-picture", board)
    assert finding.severity is Severity.ERROR
    assert "[1.1, 0.5] lies outside" in finding.what


def test_a_kept_line_that_moved_is_an_error_by_how_much():
    def refit(plan: Plan) -> Plan:
        return replace(
            plan,
            strokes=tuple(
                replace(s, points=moved(s.points, 0.02)) if s.kept and s.beat == "compare" else s for s in plan.strokes
            ),
        )

    (finding,) = _found("reference-line-refitted", change=refit)
    assert finding.severity is Severity.ERROR
    assert dict(finding.numbers)["moved"] == pytest.approx(0.02)


def test_a_line_that_is_kept_and_drawn_again_is_an_error():
    board = clean()
    beat_of(board, "impact")["strokes"]["hip_line"] = {"line": [[0.5, 0.2], [0.5, 0.8]], "at": "5s"}
    assert [f.severity for f in _found("reference-line-refitted", board)] == [Severity.ERROR]


def test_top_to_impact_at_an_eighth_is_two_seconds():
    # 30 frames at 120 a second are 0.25 s; at 1/8 that is 2 s and the frame that closes it.
    board = clean()
    beat_of(board, "impact")["show"][0]["run"]["length"] = "1s"
    (finding,) = _found("run-length-contradiction", board)
    numbers = dict(finding.numbers)
    assert numbers["real_seconds"] == Fraction(1, 4)
    assert numbers["derived_frames"] == 51
    assert "use speed: 1/4" in finding.remedy


def test_the_capture_rate_that_slow_motion_would_need():
    # At 30 frames a second 1/8 shows each frame for 25 * 8 / 30 = 6.7 output frames.
    (finding,) = _found("run-needs-frames", clips={"viewer": clip_facts(331, Fraction(30))})
    numbers = dict(finding.numbers)
    assert numbers["held_frames"] == pytest.approx(25 * 8 / 30, abs=0.1)
    assert numbers["needed_rate"] == 50
    assert "200 for every frame to be new" in finding.remedy


def test_both_hands_facing_one_another():
    board = clean()
    board["people"]["ines"]["handed"] = "left"
    (finding,) = _found("split-unlike", board)
    assert "mirror: yes" in finding.remedy
    split = beat_of(board, "compare")["show"][0]["split"]
    split["right"]["mirror"] = "yes"
    assert _found("split-unlike", board) == []
    board["people"]["ines"]["handed"] = "right"
    (finding,) = _found("split-unlike", board)
    assert "both play right-handed, but 1 side is mirrored" in finding.what


def test_another_club_is_a_warning_and_an_unstated_view_is_not_compared():
    board = clean()
    board["people"]["ines"]["club"] = "driver"
    board["clips"]["model"].pop("view")
    assert [f.severity for f in _found("split-unlike", board)] == [Severity.WARNING]

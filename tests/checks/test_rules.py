"""House rules: what they tune, what they cannot, and how their faults are told."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from segmentkit.checks.limits import Limits
from segmentkit.checks.reference import house_rules
from segmentkit.checks.registry import ALL
from segmentkit.checks.rules import Rules, read_rules, rules_from
from segmentkit.checks.run import run_checks
from segmentkit.errors import StoryboardUnreadable
from segmentkit.findings import Severity
from segmentkit.resources import templates_folder
from segmentkit.storyboard.rules_file import rules_from_text
from tests.checks.cases import CASES
from tests.plan_makers import beat_of, clean, context

SHIPPED = templates_folder() / "rules" / "house.yaml"


def _rules(text: str) -> Rules:
    return rules_from(rules_from_text(text))


def test_the_shipped_rules_change_nothing_and_are_current():
    assert read_rules(SHIPPED) == Rules()
    assert SHIPPED.read_text("utf-8") == house_rules(), "run `segmentkit schema --write`"


def test_the_shipped_rules_can_be_switched_on_line_by_line():
    lines = SHIPPED.read_text("utf-8").splitlines()
    first = lines.index("# severity:")
    last = next(n for n in range(first, len(lines)) if not lines[n].startswith("#"))
    text = "\n".join(line.removeprefix("# ") for line in lines[first:last])
    assert set(_rules(text).severities) == {check.id for check in ALL}


def test_severities_limits_and_words_are_tuned(tmp_path: Path):
    file = tmp_path / "ours.yaml"
    file.write_text(
        "severity: {strokes-too-many: error, cue-missing: off}\n"
        "limits: {strokes_at_once: 2, stroke_look: 2.5}\n"
        'forbidden:\n  - {words: banana ball, why: no fruit here, rather: write "slice", severity: note}\n'
    )
    rules = read_rules(file)
    assert rules.limits.stroke_look == Fraction(5, 2)
    case = CASES["cue-missing"].fails()
    assert "cue-missing" not in {f.id for f in run_checks(case, rules)}
    found = [f for f in run_checks(CASES["strokes-too-many"].passes(), rules) if f.id == "strokes-too-many"]
    assert found
    assert {f.severity for f in found} == {Severity.ERROR}
    board = clean()
    board["segment"]["language"] = "sv"
    beat_of(board, "close")["say"] = "Ingen Banana ball idag."
    (finding,) = [f for f in run_checks(context(board), rules) if f.id == "wording-forbidden"]
    assert finding.severity is Severity.NOTE
    assert finding.remedy == 'write "slice"'


@pytest.mark.parametrize("id_", [check.id for check in ALL if check.locked])
@pytest.mark.parametrize("weight", ["off", "note"])
def test_what_guards_people_cannot_be_lowered(id_: str, weight: str):
    with pytest.raises(StoryboardUnreadable, match=f"{id_}.* cannot be .* delete this line") as caught:
        _rules(f"severity:\n  cue-missing: off\n  {id_}: {weight}\n")
    assert "house.yaml:3:" in str(caught.value)


def test_what_guards_people_can_be_raised_and_is_never_lowered_in_passing():
    raised = _rules("severity: {person-not-named: error}")
    case = CASES["person-not-named"].fails()
    assert {f.severity for f in run_checks(case, raised) if f.id == "person-not-named"} == {Severity.ERROR}
    made_by_hand = Rules(severities={"release-missing": None})
    assert "release-missing" in {f.id for f in run_checks(CASES["release-missing"].fails(), made_by_hand)}
    lowered = Rules(severities={"release-missing": Severity.NOTE})
    found = [f for f in run_checks(CASES["release-missing"].fails(), lowered) if f.id == "release-missing"]
    assert {f.severity for f in found} == {Severity.ERROR}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("severity: {slot-ovr: off}", "did you mean `slot-over`"),
        ("severity: {slot-over: loud}", "'loud' is not known here"),
        ("limits: {stroke_lok: 2}", "did you mean `stroke_look`"),
        ("limits: {stroke_look: 11}", "11 s is out of range — 0 to 10 are allowed"),
        ("limits: {stroke_look: soon}", "'soon' is not a number"),
        ("rules: {}", "`rules` is not a key here"),
        ("forbidden: [{words: x}]", "`why` is missing"),
        ("", "the file is empty"),
    ],
)
def test_faults_say_where_and_what_is_meant(text: str, told: str):
    with pytest.raises(StoryboardUnreadable) as caught:
        _rules(text)
    assert told in str(caught.value)
    assert "house.yaml:1:" in str(caught.value)


def test_all_faults_are_told_at_once():
    with pytest.raises(StoryboardUnreadable) as caught:
        _rules("severity: {slot-ovr: off, release-scope: note}\nlimits: {stroke_look: 99}\n")
    assert str(caught.value).count("house.yaml:") == 3


def test_limits_stand_as_documented():
    limits = Limits()
    assert (limits.strokes_at_once, limits.stroke_look, limits.wpm_most) == (4, Fraction(3, 2), 180)

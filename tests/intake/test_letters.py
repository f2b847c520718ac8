"""Letters say what failed, in three actions at most, kindly, and give nothing away."""

from __future__ import annotations

import json

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.intake.letters import KINDS, kind_for, letter
from segmentkit.intake.mail import post, write_addresses
from segmentkit.intake.record import as_data
from segmentkit.intake.words import filled, limit_fields
from segmentkit.resources import templates_folder
from segmentkit.storyboard.limits_file import intake_limits
from segmentkit.storyboard.submission import load_batch, load_contacts
from segmentkit.storyboard.wording_file import actions
from tests.intake.makers import LIMITED, NOT_USED, RESHOOT, TODAY, USE, minor, part, person, reason, report

LIMITS = intake_limits()
GIVEN = {"day": "3 May", "last_day": "1 May", "link": "practice-tee.example"}


def entry(*args, **changes):
    return as_data((report(*args, **changes),))["submissions"][0]


def bullets(text):
    return [line for line in text.splitlines() if line.startswith("  - ")]


def test_a_reshoot_letter_lists_only_what_failed_and_three_actions_at_most():
    failed = [reason(id_) for id_ in ("too-dark", "cut-off", "camera-moves", "too-far", "out-of-focus")]
    told = entry("s-1", RESHOOT, part("down-the-line", *failed, reason("rate-low", LIMITED)))
    text = letter("reshoot", told, person(), LIMITS)
    assert len(bullets(text)) == 3
    assert "Step back" in bullets(text)[0]  # the order of the file of actions
    assert "pictures a second" not in text  # rate-low limits, it does not fail
    one = letter("reshoot", entry("s-1", RESHOOT, part("down-the-line", reason("too-dark"))), person(), LIMITS)
    assert len(bullets(one)) == 1
    assert "daylight" in one


def test_two_reasons_with_one_action_are_said_once():
    told = entry(
        "s-1", NOT_USED, part("a", reason("same-file", NOT_USED)), part("b", reason("same-pictures", NOT_USED))
    )
    text = letter("not-this-time", told, person(), LIMITS)
    assert text.count("reached us before") == 1


@pytest.mark.parametrize("kind", KINDS)
def test_every_letter_fills_and_is_plain(kind):
    text = letter(kind, entry("s-7", USE, part()), person(), LIMITS, given=GIVEN)
    assert "{" not in text
    assert "s-7" in text
    assert "Dear Vera Lund," in text
    assert max(map(len, text.splitlines())) <= 78
    for hard in ("fault", "wrong", "bad", "fail", "unfortunately", "error"):
        assert hard not in text.lower()


@pytest.mark.parametrize("kind", KINDS)
def test_a_minors_letter_goes_to_the_guardian_without_surname_or_place(kind):
    text = letter(kind, entry("s-7", USE, part()), minor(place="Lindholm Bay", club="7-iron"), LIMITS, given=GIVEN)
    assert "Dear parent or guardian of Tom," in text
    for secret in ("Field", "Lindholm", "7-iron"):
        assert secret not in text


def test_numbers_come_from_the_limits_file():
    nearer = LIMITS.model_copy(update={"distance": 6.0})
    told = entry("s-1", RESHOOT, part("down-the-line", reason("too-far")))
    assert "6 m away" in letter("reshoot", told, person(), nearer)
    assert limit_fields(LIMITS)["fps_impact"] == "60"


def test_a_field_without_a_value_is_named_with_those_there_are():
    with pytest.raises(StoryboardUnreadable, match=r"\{day\}.*--set"):
        letter("aired", entry("s-1", USE, part()), person(), LIMITS)
    assert filled("{a} {b} { c }", {"a": "1", "b": "{a}"}, "x") == "1 {a} { c }"


def test_the_kind_follows_the_verdict():
    assert kind_for(entry("s", USE)) == kind_for(entry("s", LIMITED)) == "received"
    assert kind_for(entry("s", RESHOOT)) == "reshoot"
    assert kind_for(entry("s", NOT_USED, reasons=(reason("pain", NOT_USED),))) == "not-this-time"
    assert kind_for(entry("s", NOT_USED, reasons=(reason("no-release", NOT_USED),))) == "received"
    assert kind_for(entry("s", NOT_USED, reasons=(reason("withdrawn", NOT_USED),))) is None


def test_every_action_belongs_to_a_reason_of_the_code():
    code = "".join(path.read_text() for path in (templates_folder().parent / "segmentkit" / "intake").glob("*.py"))
    assert [id_ for id_ in actions() if f'"{id_}"' not in code] == []


BATCH = """\
intake: 1
people:
  vera: {shown: Vera Lund, adult: yes, release: {for: [web], until: 2027-06-01}}
  ida: {shown: Ida, adult: yes, release: {for: [web]}, withdrawn: 2027-01-01}
submissions:
  s-1: {person: vera, down-the-line: {file: a.mp4}}
  s-2: {person: ida, down-the-line: {file: b.mp4}}
  s-3: {person: vera}
"""


@pytest.fixture
def batch(tmp_path):
    (tmp_path / "submissions.yaml").write_text(BATCH)
    (tmp_path / "contacts.yaml").write_text(
        "contacts: {vera: {name: Vera K. Lund, email: v@mail.example, post: Hill 9}}\n"
    )
    told = [report("s-1", RESHOOT, part("down-the-line", reason("too-dark"))), report("s-2", USE)]
    (tmp_path / "intake.json").write_text(json.dumps(as_data(tuple(told))))
    return tmp_path


def posted(batch, **changes):
    said = {"own": None, "given": {}, "kind": None, "only": (), "today": TODAY} | changes
    loaded = load_batch(batch)
    return loaded, *post(loaded, batch / "intake.json", batch / "letters", LIMITS, **said)


def test_a_batch_of_letters_leaves_out_who_took_the_release_back(batch):
    _, written, skipped = posted(batch)
    assert [path.name for path in written.values()] == ["s-1.reshoot.txt"]
    assert skipped == {"s-2": "the release was taken back", "s-3": "it is not in the report; run the intake again"}


def test_a_letter_of_selection_needs_a_release_that_holds_today(batch):
    later = TODAY.replace(year=2028)
    _, written, skipped = posted(batch, kind="selected", given=GIVEN, today=later)
    assert written == {}
    assert "ended on 2027-06-01" in skipped["s-1"]


def test_an_unknown_kind_and_a_missing_report_are_told(batch):
    with pytest.raises(StoryboardUnreadable, match="did you mean `reshoot`"):
        posted(batch, kind="reshot")
    (batch / "intake.json").unlink()
    with pytest.raises(StoryboardUnreadable, match="run `segmentkit intake` first"):
        posted(batch)


def test_contacts_stand_in_the_list_of_addresses_and_nowhere_else(batch):
    loaded, written, _ = posted(batch)
    listed = write_addresses(batch / "letters" / "send.csv", loaded, written, load_contacts(batch / "contacts.yaml"))
    assert "v@mail.example" in listed.read_text()
    assert listed.stat().st_mode & 0o077 == 0
    for path in batch.rglob("*"):
        if path.is_file() and path not in {listed, batch / "contacts.yaml"}:
            text = path.read_text()
            assert not any(secret in text for secret in ("v@mail.example", "Hill 9", "Vera K."))


def test_words_of_the_house_replace_ours(batch, tmp_path):
    own = tmp_path / "own"
    (own / "letters").mkdir(parents=True)
    (own / "letters" / "reshoot.txt").write_text("Once more, {name}: {actions}\n")
    _, written, _ = posted(batch, own=own)
    assert written["s-1"].read_text().startswith("Once more, Vera Lund:")
    with pytest.raises(StoryboardUnreadable, match="there is no such folder"):
        posted(batch, own=tmp_path / "none")

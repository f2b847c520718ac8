"""Templates are filled once: what a person edits stays, what a row changes comes through, what is named is brought."""

from __future__ import annotations

import json

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.season.filling import EDITED, FILLED, filled
from segmentkit.season.sent import Records
from segmentkit.storyboard.season import load_season

TEMPLATE = """\
template: 1
about: "One picture."
blanks:
  viewer: {kind: person, help: "Who."}
  viewer_face_on: {kind: clip, person: viewer, help: "The swing."}
  line: {kind: text, default: Look here, help: "What is said."}

storyboard:
  segmentkit: 1
  segment: {title: One, slot: 3s}
  people:
    <viewer.id>: <viewer>
    ola: {shown: Ola, adult: yes, release: {for: [web], by: Ola}}
  clips:
    viewer: <viewer_face_on>
    model: {file: models/ola.mp4, person: ola}
  beats:
    - beat: only
      show:
        - run: {clip: viewer, speed: 1}
        - run: {clip: model, speed: 1}
      cards:
        - label: {text: <line>}
"""
RECORD = """\
intake: 1
people: {anna: {shown: Anna, adult: yes, release: {for: [web], by: Anna}}}
submissions:
  x1: {person: anna, face-on: {file: sent/a.mp4}}
"""


@pytest.fixture
def place(tmp_path):
    (tmp_path / "in" / "sent").mkdir(parents=True)
    (tmp_path / "models").mkdir()
    (tmp_path / "models" / "ola.mp4").write_bytes(b"model")
    (tmp_path / "in" / "sent" / "a.mp4").write_bytes(b"swing")
    (tmp_path / "in" / "submissions.yaml").write_text(RECORD)
    (tmp_path / "one.yaml").write_text(TEMPLATE)
    return tmp_path


def fill(place, row="", *, write=True):
    (place / "season.yaml").write_text(
        f"season: A\ntemplate: one.yaml\nitems:\n  - {{id: s1, submission: in{', ' + row if row else ''}}}\n"
    )
    season = load_season(place / "season.yaml")
    item = season.season.items[0]
    return filled(season, item, Records().sent(item, place), write=write)


def test_filled_from_record_and_row_with_all_that_is_named(place):
    path, loaded, notes = fill(place, "fill: {line: Good turn}")
    assert path == place / "s1" / "storyboard.yaml"
    assert loaded.board.people["anna"].shown == "Anna"
    assert "Good turn" in path.read_text()
    assert notes == ()
    assert (place / "s1" / "sent" / "a.mp4").read_bytes() == b"swing"
    assert (place / "s1" / "models" / "ola.mp4").read_bytes() == b"model"
    before = path.stat().st_mtime_ns
    fill(place, "fill: {line: Good turn}")
    assert path.stat().st_mtime_ns == before


def test_what_row_or_template_change_comes_through_until_a_person_edits(place):
    path, _, _ = fill(place)
    fill(place, "fill: {line: Second}")
    assert "Second" in path.read_text()
    (place / "one.yaml").write_text(TEMPLATE.replace("slot: 3s", "slot: 4s"))
    fill(place, "fill: {line: Second}")
    text = path.read_text()
    assert "4s" in text
    path.write_text(text + "\n# looked at, fine\n")
    _, _, notes = fill(place, "fill: {line: Third}")
    assert notes == (EDITED,)
    assert path.read_text() == text + "\n# looked at, fine\n"
    path.unlink()  # given back to the template
    fill(place, "fill: {line: Third}")
    assert "Third" in path.read_text()


def test_a_clip_that_is_sent_again_takes_the_place_of_the_first_but_not_of_a_persons_own(place):
    fill(place)
    (place / "in" / "sent" / "b.mp4").write_bytes(b"sent again")
    (place / "in" / "sent" / "b.mp4").replace(place / "in" / "sent" / "a.mp4")
    fill(place)
    assert (place / "s1" / "sent" / "a.mp4").read_bytes() == b"sent again"
    (place / "s1" / "sent" / "a.mp4").unlink()
    (place / "s1" / "sent" / "a.mp4").write_bytes(b"cleaned by a person")
    fill(place)
    assert (place / "s1" / "sent" / "a.mp4").read_bytes() == b"cleaned by a person"


def test_what_a_wrong_row_has_brought_goes_when_it_is_put_right(place):
    fill(place)
    (place / "in" / "submissions.yaml").write_text(RECORD.replace("a.mp4", "right.mp4"))
    (place / "in" / "sent" / "right.mp4").write_bytes(b"the right one")
    fill(place)
    assert [path.name for path in (place / "s1" / "sent").iterdir()] == ["right.mp4"]


def test_killed_between_note_and_text_it_still_knows_its_own(place, monkeypatch):
    path, _, _ = fill(place)
    from segmentkit.season import filling

    real = filling._write

    def killed(target, text):
        if target.name == "storyboard.yaml":
            raise KeyboardInterrupt
        real(target, text)

    monkeypatch.setattr(filling, "_write", killed)
    with pytest.raises(KeyboardInterrupt):
        fill(place, "fill: {line: Second}")
    monkeypatch.undo()
    _, _, notes = fill(place, "fill: {line: Second}")
    assert notes == ()
    assert "Second" in path.read_text()


def test_a_dry_run_reads_and_writes_nothing(place):
    before = set(place.rglob("*"))
    _, loaded, _ = fill(place, write=False)
    assert loaded.board.people["anna"].shown == "Anna"
    assert set(place.rglob("*")) - before == {place / "season.yaml"}


def test_faults_of_values_are_told(place):
    with pytest.raises(StoryboardUnreadable, match="lime"):
        fill(place, "fill: {lime: Good turn}")


def test_the_note_beside_it_can_be_lost_or_broken(place):
    path, _, _ = fill(place)
    note = place / "s1" / FILLED
    assert json.loads(note.read_text())["files"].keys() == {"models/ola.mp4", "sent/a.mp4"}
    note.write_text("{")
    _, _, notes = fill(place, "fill: {line: Second}")
    assert notes == (EDITED,)  # what it does not know it leaves alone
    assert "Second" not in path.read_text()

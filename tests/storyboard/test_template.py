"""Templates: what they take, what they give, and that every fault has its place."""

from __future__ import annotations

import csv
import datetime
import io
from pathlib import Path
from typing import Any

import pytest
import yaml

from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Point
from segmentkit.storyboard.load import loads
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.template import (
    Values,
    fill,
    load_template,
    loads_template,
    read_values,
    template_names,
    values_of_text,
)
from tests.storyboard.templates import ROW, SMALL, VALUES


def filled(changes: dict[str, Any] | None = None, template: str = SMALL, folder: Path = Path()) -> str:
    return fill(loads_template(template), {**VALUES, **(changes or {})}, folder)


def board(changes: dict[str, Any] | None = None, template: str = SMALL) -> Storyboard:
    return loads(filled(changes, template)).board


def refused(changes: dict[str, Any], folder: Path = Path()) -> str:
    with pytest.raises(StoryboardUnreadable) as error:
        filled(changes, folder=folder)
    assert len(error.value.faults) == str(error.value).count(": ") or error.value.faults
    return str(error.value)


def test_what_comes_out_is_a_storyboard_for_people():
    assert (
        filled()
        == """\
# From the template `template`. An ordinary storyboard now: change whatever you like.
# What is made.
segmentkit: 1
segment: {title: Hello, slot: 0:12}

people:
  # Whoever it is.
  maren:
    shown: Maren
    adult: yes
    release: {for: [web], by: Maren}

clips:
  swing:
    file: clips/a.mp4
    person: maren
    view: face-on
    positions: {top: f9}
    points:
      top: {belt: [0.4, 0.5]}

beats:
  # The comment goes along.
  - beat: hello
    say: Hello, [mark] Maren. You fight a slice.
    show:
      - freeze: {clip: swing, at: top, hold: 1s..20s}
    strokes: {mark: {dot: [0.5, 0.5]}}
"""
    )


def test_a_row_of_a_table_says_the_same_as_a_file():
    # RFC 4180 by Python's csv: what a spreadsheet saves comes back as texts.
    out = io.StringIO()
    writer = csv.DictWriter(out, list(ROW))
    writer.writeheader()
    writer.writerow(ROW)
    row = next(csv.DictReader(io.StringIO(out.getvalue())))
    assert fill(loads_template(SMALL), row, Path()) == filled()


def test_values_of_a_file_and_plain_ones_are_alike(tmp_path: Path):
    path = tmp_path / "fill.yaml"
    path.write_text(yaml.safe_dump(VALUES))
    assert fill(loads_template(SMALL), read_values(path), Path()) == filled()
    assert dict(read_values(path))["viewer"]["shown"] == "Maren"


def test_later_values_come_before_earlier_ones_part_by_part():
    values = values_of_text("viewer.place: Lindholm Bay\nswing: clips/b.mp4\n", "--set")
    first = values_of_text(yaml.safe_dump(VALUES), "fill.yaml")
    made = loads(fill(loads_template(SMALL), values.over(first), Path())).board
    assert (made.people["maren"].shown, made.people["maren"].place) == ("Maren", "Lindholm Bay")
    assert made.clips["swing"].file == "clips/b.mp4"
    assert "top" in made.clips["swing"].positions


def test_conditions_alternatives_and_rows_of_texts():
    plain = board()
    assert [beat.beat for beat in plain.beats] == ["hello"]
    assert plain.segment.question is None
    assert [shot.kind for shot in plain.beats[0].show] == ["freeze"]
    hook = board({"miss": "hook", "loud": "yes", "wish": "Good Luck to you", "title": "Hey"})
    assert [beat.beat for beat in hook.beats] == ["hello", "hook_only"]
    assert hook.beats[0].say[0].text == "Hello, Maren. You fight a hook. Ah! We wish: good Luck to you"
    assert (hook.segment.title, hook.segment.question) == ("Hey", "Good Luck to you")
    assert [shot.kind for shot in hook.beats[0].show] == ["run", "freeze"]
    own = board({"miss": "something of my own"})
    assert own.beats[0].say[0].text == "Hello, Maren. You fight something of my own. So!"


def test_a_date_counts_from_another_one():
    said = board({"airs": datetime.date(2027, 3, 6)}).beats[0].say[0].text
    # 2027-03-06 and 100 days: checked with GNU date, `date -d "2027-03-06 +100 days" +%F`.
    assert said.endswith("Until the fourteenth of June, the 14 June, 14 June 2027.")
    assert "Until" not in board().beats[0].say[0].text


def test_a_point_and_a_position_may_be_filled_in():
    made = board({"spot": ["0.25", "0.75"], "stop": "end"})
    assert made.beats[0].strokes["mark"].dot == Point(0.25, 0.75)
    assert made.beats[0].show[0].freeze.at == "end"


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"veiwer": "x"}, "has no blank `veiwer` — did you mean `viewer`?"),
        ({"viewer": None, "swing": ""}, "2 blanks are not filled in: `viewer`, `swing`"),
        ({"viewer": {"shwn": "x"}}, "viewer — `shwn` is not a key here — did you mean `shown`?"),
        ({"viewer": {"shown": "x", "handed": "rihgt"}}, "viewer, handed — 'rihgt' is not known here"),
        ({"viewer": {"shown": "x", "id": "Big Name"}}, "viewer, id — 'Big Name' is not a name"),
        ({"viewer": ["x"]}, "viewer — a list stands here"),
        ({"swing": {**VALUES["swing"], "positions": {}}}, "1 position is missing: top"),
        ({"swing": {**VALUES["swing"], "points": {}}}, "1 point is missing: top.belt"),
        ({"swing": {**VALUES["swing"], "view": "rear"}}, "is filmed rear — this blank takes `face-on`"),
        ({"swing": {**VALUES["swing"], "person": "ines"}}, "who is called `maren`"),
        ({"miss": {"a": "b"}}, "miss — a mapping stands here"),
        ({"wish": "one two three four five"}, "this has 5 words — at most 4"),
        ({"wish": "{open"}, "the { in the words is never closed"),
        ({"title": "far too long for a title"}, "this has 24 characters — at most 20"),
        ({"title": "a [mark]"}, "'[' has a meaning among spoken words"),
        ({"loud": "perhaps"}, "'perhaps' is neither yes nor no"),
        ({"airs": "soon"}, "'soon' is not a date"),
        ({"stop": "tpo"}, "has no position `tpo` — did you mean `top`?"),
        ({"spot": "0.5, 0.5, 0.5"}, "a point has two numbers, this has 3"),
        ({"wish": "We [other] wish"}, "[other] starts no stroke"),
    ],
)
def test_a_wrong_value_is_told_with_its_place(changes: dict[str, Any], said: str):
    assert said in refused(changes)


def test_all_faults_come_at_once_each_in_its_own_file(tmp_path: Path):
    path = tmp_path / "fill.yaml"
    path.write_text(
        "viewer: {shown: Maren}\nswing:\n  file: a.mp4\n  positions: {top: f9}\nloud: perhaps\nspot: nowhere at all\n"
    )
    with pytest.raises(StoryboardUnreadable) as error:
        fill(loads_template(SMALL, "small.yaml"), read_values(path), tmp_path)
    places = [str(fault.place) for fault in error.value.faults]
    assert places == [f"{path}:3:9", f"{path}:5:7", f"{path}:6:7"]
    # What is wrong with the storyboard itself points into the template.
    broken = SMALL.replace("slot: 0:12", "slot: 12")
    with pytest.raises(StoryboardUnreadable, match=r"template.yaml:17:\d+: segment, slot — '12' has no unit"):
        fill(loads_template(broken), VALUES, Path())


def test_a_fault_of_a_value_that_only_the_storyboard_shows_points_to_the_value():
    values = values_of_text(yaml.safe_dump({**VALUES, "wish": "[other] wish"}), "fill.yaml")
    with pytest.raises(StoryboardUnreadable) as error:
        fill(loads_template(SMALL.replace('join: ["We wish: <wish.said>"]', "join: [<wish>]")), values, Path())
    assert "[other] starts no stroke and no card" in str(error.value)


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("Hello, [mark] <viewer.shown>", "Hello, [mark] <veiwer.shown>", "there is no blank `veiwer` — did you mean"),
        ("<viewer.shown>.", "<viewer.shwn>.", "`viewer` has no part `shwn` — did you mean `shown`?"),
        ("<viewer.shown>.", "<viewer.place>.", "<viewer.place> may be left out, and then these words have a hole"),
        ("<viewer.shown>.", "<swing>.", "<swing> is no text"),
        ("<viewer.shown>.", "<loud.said>.", "`loud` is yes/no and has no parts"),
        ("when: miss is hook", "when: miss is hok", "`hok` is no alternative of `miss` — did you mean `hook`?"),
        ("when: miss is hook", "when: miss == hook", "this is no condition"),
        ("when: miss is hook", "when: [miss]", "this is no condition"),
        ("choose: miss, hook", "choose: mis, hook", "there is no blank `mis`"),
        ("own: So!, otherwise: }", "own: So!}", "`slice` would leave a hole here"),
        ("hook: Ah!", "hok: Ah!", "`hok` is no alternative of `miss`"),
        ("{when: wish is given, join:", "{when: wish is given, joni: 1, join:", "`joni` cannot stand beside `join`"),
        ('join: ["We wish: <wish.said>"]', "join: yes", "`join` takes a list of texts"),
        ("when: wish is given", "when: loud is yes", "<wish.said> may be left out"),
        ("kind: person", "kind: persn", "did you mean `person`?"),
        ("of: {slice: a slice, hook: a hook}, ", "", "a choice needs `of`"),
        ("of: {slice: a slice, hook: a hook}", "of: [slice]", "there is one alternative only"),
        ("of: {slice: a slice, hook: a hook}", "of: [given, hook]", "'given' cannot name an alternative"),
        ("default: top", "default: Top!", "'Top!' is not a name"),
        ("default: slice", "default: {a: b}", "miss — a mapping stands here"),
        ("kind: clip, person: viewer", "kind: clip, person: veiwer", "`veiwer` is no blank of kind person"),
        ("100 days after airs", "100 days after air", "`air` is no blank of kind date"),
        ("default: no, help: Whether", "default: no, most_words: 3, help: Whether", "`most_words` is for text"),
        ("template: 1", "template: 2", "reads format 1"),
        ("about: A greeting.\n", "", "`about` is missing"),
        ("storyboard:\n", "storyboard:\n  when: miss is nothing\n", "`nothing` is no alternative"),
    ],
)  # fmt: skip
def test_a_template_is_checked_before_anything_is_filled_in(old: str, new: str, said: str):
    assert old in SMALL
    with pytest.raises(StoryboardUnreadable) as error:
        loads_template(SMALL.replace(old, new, 1))
    assert said in str(error.value)


@pytest.mark.parametrize(
    "value",
    [
        "x\nbeats: []", "x: y", "x # y", "'x", '"x', "&a x", "*a", "!!python/object:os.system x", "|", "> x", "- x",
        "? x", "%YAML 1.2", "@x", "`x`", "~", "null", "yes", "---", "...", "--- x", "<<", "<viewer.shown>", "<miss>",
        "x, y: z", "a:", ":a", "#", "é ü 漢字 🏌", "\u2028x", "x\x85y", "=", "-", "?", "0x1F", "1:30", "- - -", "''",
        "a''b\"c\\d",
    ],
)  # fmt: skip
def test_a_value_is_data_and_never_yaml(value: str):
    text = filled({"viewer.place": value, "title": None})
    place = " ".join(value.split())
    assert loads(text).board.people["maren"].place == place
    # PyYAML's own parser in Python reads the same: another one than the C parser behind the loader.
    data = yaml.load(text, Loader=yaml.BaseLoader)
    assert set(data) == {"segmentkit", "segment", "people", "clips", "beats"}
    assert data["people"]["maren"]["place"] == place


def test_a_character_that_nobody_can_type_is_refused_with_its_place():
    assert "U+0007 cannot be shown or typed" in refused({"viewer.place": "x\x07"})


@pytest.mark.parametrize(
    "path", ["/etc/passwd", "../a.mp4", "clips/../../a.mp4", "~/a.mp4", "C:\\a.mp4", "https://x/a"]
)
def test_a_path_stays_in_the_folder(path: str):
    said = refused({"swing": {**VALUES["swing"], "file": path}})
    assert "values:" in said
    assert "put the file into the project's folder" in said


def test_a_link_does_not_lead_out_of_the_folder(tmp_path: Path):
    home = tmp_path / "home"
    (home / "clips").mkdir(parents=True)
    (tmp_path / "secret.mp4").write_bytes(b"x")
    (home / "clips" / "a.mp4").symlink_to(tmp_path / "secret.mp4")
    assert "a link leads out of the folder" in refused({}, home)
    (home / "clips" / "a.mp4").unlink()
    filled({}, folder=home)
    loop = home / "clips" / "a.mp4"
    loop.symlink_to(loop)
    assert "clips/a.mp4" in refused({}, home)


def test_a_template_name_is_no_path():
    for name in ("../faults/sway", "no_such", "/etc/hostname"):
        with pytest.raises(StoryboardUnreadable):
            load_template(name)
    with pytest.raises(StoryboardUnreadable, match="did you mean `review`"):
        load_template("reveiw")
    assert set(template_names()) == {"call", "follow_up", "montage", "review", "review_full", "short"}


def test_a_file_of_ones_own_is_a_template(tmp_path: Path):
    path = tmp_path / "mine.yaml"
    path.write_text(SMALL)
    assert load_template(path).name == "mine"
    assert fill(load_template(str(path)), VALUES, tmp_path).startswith("# From the template `mine`.")


def test_one_person_under_two_blanks_is_one_person():
    two = SMALL.replace("help: Who is greeted.}", "help: Who.}\n  other: {kind: person, needed: no, help: Who else.}")
    two = two.replace("    <viewer.id>: <viewer>\n", "    <viewer.id>: <viewer>\n    <other.id>: <other>\n")
    assert list(board({"other": VALUES["viewer"]}, two).people) == ["maren"]
    with pytest.raises(StoryboardUnreadable, match="`maren` stands here twice"):
        filled({"other": {"id": "maren", "shown": "Another"}}, two)


def test_values_are_a_mapping_of_what_is_filled_in():
    values = values_of_text("a: 1\nb:\nc: {d: x}\nc.e: y\n", "fill.yaml")
    assert isinstance(values, Values)
    assert dict(values) == {"a": "1", "c": {"d": "x", "e": "y"}}
    assert "b" not in values
    assert len(values_of_text("# nothing\n", "fill.yaml")) == 0
    with pytest.raises(StoryboardUnreadable, match="values are keys with values"):
        values_of_text("- a\n", "fill.yaml")


LICENSED = (
    SMALL.replace("storyboard:\n", "  bed: {kind: licence, needed: no, help: By what permission.}\nstoryboard:\n", 1)
    + "  music: [{file: bed.wav, licence: <bed>}]\n"
)


def test_a_licence_is_filled_in_from_a_file_or_a_row_and_dropped_when_there_is_none():
    keys = {"for": ["web", "broadcast"], "by": "Marram Sound", "until": "2028-12-31"}
    licence = board({"bed": keys}, LICENSED).music[0].licence
    assert licence is not None
    assert ([scope.value for scope in licence.for_], licence.by, str(licence.until)) == (
        ["web", "broadcast"], "Marram Sound", "2028-12-31",
    )  # fmt: skip
    assert board({"bed": {**keys, "for": "web broadcast"}}, LICENSED).music[0].licence == licence  # as in a cell
    assert board(template=LICENSED).music[0].licence is None
    with pytest.raises(StoryboardUnreadable, match="bed"):
        filled({"bed": "Marram Sound"}, LICENSED)  # it does not say what it covers

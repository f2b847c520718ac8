"""The season file: YAML and a table read alike, all faults at once and located, no way out of its folder."""

from __future__ import annotations

import contextlib
import csv
import datetime
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.season import load_season, read_id
from segmentkit.storyboard.table import TableSource

YAML = """\
season: Spring at the Dunes
programme: The Dune Course Hour
template: review
deliver: [web, short]
items:
  - {id: s01, submission: in/s01, air: 2028-04-02, fault: slice, fill: {feel: slow hands}}
  - {id: s02, storyboard: s02/storyboard.yaml, deliver: web, follows: s01}
"""
TABLE = """\
id,submission,template,storyboard,air,fault,deliver,follows,fill.feel
s01,in/s01,review,,2028-04-02,slice,web short,,slow hands
s02,,,s02/storyboard.yaml,,,web,s01,
"""


def faults(tmp_path, text, name="season.yaml"):
    path = tmp_path / name
    path.write_text(text, "utf-8", newline="")
    with pytest.raises(StoryboardUnreadable) as raised:
        load_season(path)
    return [(fault.place.line, fault.where, fault.message) for fault in raised.value.faults]


def test_yaml_and_table_say_the_same(tmp_path):
    (tmp_path / "a.yaml").write_text(YAML)
    (tmp_path / "b.csv").write_text(TABLE)
    yaml, table = load_season(tmp_path / "a.yaml"), load_season(tmp_path / "b.csv")
    assert yaml.season.deliver == ("web", "short")
    first, second = yaml.season.items
    assert first.air == datetime.date(2028, 4, 2)
    assert first.fill == {"feel": "slow hands"}
    assert table.season.season == "b"
    assert table.season.items == (
        first.model_copy(update={"template": "review", "deliver": ("web", "short")}), second
    )  # fmt: skip
    assert list(yaml.items) == ["s01", "s02"]


def test_all_faults_of_a_table_are_told_at_once_by_row_and_column(tmp_path):
    text = "id,air,storyboard\ns01,2028-4-2,a.yaml\nS01,2028-04-02,../x.yaml\nbad name,,b.yaml\n"
    told = faults(tmp_path, text, "t.csv")
    assert [(line, where) for line, where, _ in told] == [
        (2, "row 2, column air"), (3, "row 3, column storyboard"), (4, "row 4, column id"),
    ]  # fmt: skip
    assert "is not a date" in told[0][2]
    assert "leaves the season's folder" in told[1][2]
    assert "cannot name a folder" in told[2][2]


@pytest.mark.parametrize(
    ("line", "message"),
    [
        ("{id: a, storyboard: x.yaml, follows: b}", "`b` is not an item of this season"),
        ("{id: a, storyboard: x.yaml, follows: a}", "cannot follow itself"),
        ("{id: a}", "neither a storyboard nor a template"),
        ("{id: a, storyboard: x.yaml, template: review}", "`template` has no use"),
        ("{id: a, storyboard: x.yaml, fill: {a: b}}", "`fill` has no use"),
        ("{id: a, storyboard: /etc/passwd}", "leaves the season's folder"),
        ("{id: a, template: review, fill: a/../../b}", "leaves the season's folder"),
        ("{id: a, storyboard: 'c:x.yaml'}", "leaves the season's folder"),
        ("{id: nul, storyboard: x.yaml}", "keep for devices"),
        ("{id: a, storyboard: x.yaml, deliver: [web, web]}", "named twice"),
        ("{id: a, storyboard: x.yaml, deliver: ''}", "no profile is named"),
        ("{id: a, storyboard: x.yaml, airs: 2028-01-01}", "did you mean `air`?"),
        ("{id: a, template: review, fill: [1]}", "the names of the template's blanks"),
        ("{id: {}, template: review}", "an id is needed here"),
    ],
)
def test_each_fault_of_an_item_has_its_words(tmp_path, line, message):
    told = faults(tmp_path, f"season: A\nitems:\n  - {line}\n")
    assert len(told) == 1
    assert told[0][0] == 3
    assert message in told[0][2]


def test_ids_that_differ_only_in_case_would_share_a_folder(tmp_path):
    told = faults(tmp_path, "season: A\nitems:\n  - {id: s1, storyboard: a}\n  - {id: S1, storyboard: b}\n")
    assert "is the id of an earlier item too" in told[0][2]


def test_a_link_out_of_the_folder_is_refused(tmp_path):
    inside = tmp_path / "season"
    inside.mkdir()
    (tmp_path / "secret").mkdir()
    (inside / "link").symlink_to(tmp_path / "secret")
    told = faults(inside, "season: A\nitems:\n  - {id: a, storyboard: link/x.yaml}\n")
    assert "leads out of the season's folder by a link" in told[0][2]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "the table is empty"),
        ("id,id\na,b\n", "heads two columns"),
        ("id,,storyboard\na,,b\n", "a column has no name"),
        ("id,storyboard\na,b,c\n", "beyond the last column"),
        ("id,storyboard\n", "nothing"),
    ],
)
def test_what_is_no_table_is_told(tmp_path, text, message):
    assert message in faults(tmp_path, text, "t.csv")[0][2]


@given(st.lists(st.lists(st.text('ab,;"\n\r é', max_size=5), min_size=2, max_size=4), min_size=1, max_size=5))
def test_cells_are_those_of_the_standard_library(rows):
    """Held against Python's csv module, for tables that it has written itself."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\r\n", quoting=csv.QUOTE_ALL).writerows([["id", "x"], *rows])
    text = out.getvalue()
    expected = [row for row in csv.reader(io.StringIO(text, newline="")) if any(cell.strip() for cell in row)]
    source = TableSource(text, "t.csv")
    assert [[cell.text for cell in row] for row in source.rows] == expected
    for row in source.rows:
        for cell in row:
            assert text[cell.start : cell.end] == '"' + cell.text.replace('"', '""') + '"'


def test_spreadsheets_that_write_semicolons_and_a_mark_are_read(tmp_path):
    (tmp_path / "t.csv").write_bytes('\ufeffid;storyboard;name\r\ns1;a.yaml;"Åsa; B"\r\n'.encode())
    item = load_season(tmp_path / "t.csv").season.items[0]
    assert (item.id, item.storyboard, item.name) == ("s1", "a.yaml", "Åsa; B")


@given(st.text(max_size=200))
def test_any_text_is_a_season_or_has_faults(tmp_path_factory, text):
    folder = tmp_path_factory.getbasetemp()
    for name in ("any.csv", "any.yaml"):
        (folder / name).write_text(text, "utf-8", errors="replace", newline="")
        with contextlib.suppress(StoryboardUnreadable):
            assert load_season(folder / name).season.items


@given(st.text(max_size=70))
def test_an_id_names_one_folder_or_is_refused(text):
    try:
        name = read_id(text)
    except ValueError:
        return
    assert name not in {".", ".."}
    assert not set(name) & set('/\\:*?"<>| \0')

from pathlib import Path

import pytest

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.load_look import load_look, shipped_looks

SHIPPED = (templates_folder() / "looks" / "dune.yaml").read_text(encoding="utf-8")


def written(folder: Path, text: str) -> str:
    (folder / "ours.yaml").write_text(text, encoding="utf-8")
    return "ours.yaml"


@pytest.mark.parametrize("name", shipped_looks())
def test_every_shipped_look_reads_and_its_fonts_are_there(name, tmp_path):
    look = load_look(name, tmp_path)
    assert look.name == name
    for file in (look.type.regular, look.type.medium, look.type.bold):
        assert (Path(look.type.folder) / file).is_file()
    assert sum(file.stat().st_size for file in Path(look.type.folder).iterdir()) <= 1_000_000
    assert (Path(look.type.folder) / "OFL.txt").is_file()
    assert look.type.small <= look.type.body <= look.type.heading <= look.type.title


def test_a_look_of_ones_own_is_read_from_the_storyboards_folder(tmp_path):
    look = load_look(written(tmp_path, SHIPPED.replace("weight: 6", "weight: 9.5")), tmp_path)
    assert look.strokes.weight == 9.5
    assert look.strokes.role("good").line == "dotted"


def test_fonts_beside_the_look_come_first(tmp_path):
    (tmp_path / "signika").mkdir()
    assert Path(load_look(written(tmp_path, SHIPPED), tmp_path).type.folder) == (tmp_path / "signika").resolve()


def test_a_misspelt_name_is_met_with_the_nearest_one(tmp_path):
    with pytest.raises(StoryboardUnreadable, match="did you mean `dune`"):
        load_look("dunes", tmp_path)


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("'#f8f0df'", "sand", r"ours.yaml:11:8: palette, ink — 'sand' is not a colour"),
        ("weight: 6", "weight: thick", r"strokes, weight — 'thick' is not a number"),
        ("weight: 6", "weight: 4000", r"strokes, weight — 4000 is outside 0.5 to 400"),
        ("line: dashed", "line: wavy", r"strokes, reference, line — must be solid, dashed or dotted"),
        ("  edge: 2\n", "  edge: 2\n  glow: 3\n", r"strokes, glow — is not a key of a look"),
        ("margin: 0.05\n", "", r"margin — is missing"),
        ("margin: 0.05\n", "margin: 0.01\n", r"margin — 0.01 is outside 0.05 to 0.2"),
        ("folder: signika", "folder: nowhere", r"no font folder 'nowhere'"),
        ("name: dune", "name: dune\nname: other", r"`name` is written twice"),
        ("palette:", "palette: none\nother:", r"palette — must be a block of keys"),
    ],
)
def test_faults_are_told_with_their_place(tmp_path, old, new, message):
    assert old in SHIPPED
    with pytest.raises(StoryboardUnreadable, match=message):
        load_look(written(tmp_path, SHIPPED.replace(old, new, 1)), tmp_path)


def test_all_faults_are_told_at_once(tmp_path):
    text = SHIPPED.replace("weight: 6", "weight: x").replace("edge: 2", "edge: y")
    with pytest.raises(StoryboardUnreadable, match="2 faults"):
        load_look(written(tmp_path, text), tmp_path)


def test_a_file_that_is_no_text_is_refused(tmp_path):
    (tmp_path / "ours.yaml").write_bytes(b"name: \xff\xfe")
    with pytest.raises(StoryboardUnreadable, match="byte 6 is not UTF-8"):
        load_look("ours.yaml", tmp_path)

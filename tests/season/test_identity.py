"""Rows that have slipped, told by bytes and names; neighbours that do not go well side by side."""

from __future__ import annotations

import pytest

from segmentkit.season.clashes import by_air, clashes
from segmentkit.season.identity import contradictions, slipped
from segmentkit.storyboard.season import load_season
from tests.season.rows import NAMES, board, entries, record, rows


def ids(found):
    return {item: sorted({why.id for why in whys}) for item, whys in found.items()}


def test_a_table_in_order_says_nothing(tmp_path):
    made = entries(rows(tmp_path))
    assert [entry.refused for entry in made] == [None] * 4
    assert contradictions(made) == {}


@pytest.mark.parametrize("shift", [1, 2, 3])
def test_a_table_that_has_slipped_is_told_whichever_way(tmp_path, shift):
    made = entries(rows(tmp_path, shift=shift))
    found = contradictions(made)
    assert set(found) == {"s0", "s1", "s2", "s3"}
    assert all({"other-name", "other-submission"} <= set(whys) for whys in ids(found).values())
    assert slipped(found, made)


def test_two_rows_that_were_swapped_stop_only_themselves(tmp_path):
    path = rows(tmp_path, count=6)
    text = path.read_text().replace("s1,in/s1", "s1,in/X").replace("s2,in/s2", "s2,in/s1").replace("in/X", "in/s2")
    path.write_text(text)
    found = contradictions(made := entries(path))
    assert set(found) == {"s1", "s2"}
    assert not slipped(found, made)
    assert "the record names Carla" in found["s1"][0].what


def test_a_name_may_be_shorter_but_not_another(tmp_path):
    path = rows(tmp_path)
    path.write_text(path.read_text().replace(",Anna,", ",Anna Ek,").replace(",Bo,", ",Bob,"))
    assert ids(contradictions(entries(path))) == {"s1": ["other-name"]}


def test_a_clip_is_told_by_its_bytes_and_not_by_its_name(tmp_path):
    path = rows(tmp_path)
    (tmp_path / "s1" / "swing.mp4").write_bytes(b"clip of Carla")  # named like the right one
    found = contradictions(entries(path))
    assert ids(found) == {"s1": ["other-clip"]}
    assert "under the name of Bo is the down-the-line that Carla sent (item s2)" in found["s1"][0].what


def test_one_clip_under_two_names_is_told_without_any_record(tmp_path):
    path = rows(tmp_path, count=3)
    path.write_text("\n".join(",".join(x for k, x in enumerate(line.split(",")) if k != 1)
                              for line in path.read_text().splitlines()))  # fmt: skip
    assert contradictions(entries(path)) == {}
    (tmp_path / "s2" / "swing.mp4").write_bytes(b"clip of Anna")
    assert ids(contradictions(entries(path))) == {"s2": ["other-clip"]}


def test_the_signed_release_counts(tmp_path):
    path = rows(tmp_path)
    release = "{for: [web, marketing], until: 2028-12-31, by: Anna}"
    board(tmp_path / "s0", "anna", "Anna", release=release)
    board(tmp_path / "s1", "bo", "Bo", release="{for: [web], until: 2029-12-31, by: Bo}")
    board(tmp_path / "s2", "carla", "Carla", release="{for: [web], until: 2028-12-31, by: Someone Else}")
    found = contradictions(entries(path))
    assert ids(found) == {"s0": ["other-release"], "s1": ["other-release"], "s2": ["other-release"]}
    assert "allows marketing" in found["s0"][0].what
    assert "2029-12-31" in found["s1"][0].what
    assert "Someone Else" in found["s2"][0].what


def test_one_recording_cannot_speak_two_texts(tmp_path):
    path = rows(tmp_path)
    for k, say in ((0, "Anna turns well."), (1, "Bo turns well."), (2, "Well done."), (3, "Well done.")):
        board(tmp_path / f"s{k}", NAMES[k].lower(), NAMES[k], takes="takes", say=say)
        (tmp_path / f"s{k}" / "takes").mkdir()
        (tmp_path / f"s{k}" / "takes" / "first.wav").write_bytes(b"Anna" if k < 2 else b"well done")
    assert ids(contradictions(entries(path))) == {"s1": ["other-take"]}


def test_a_folder_of_takes_that_is_called_like_another_item(tmp_path):
    path = rows(tmp_path)
    board(tmp_path / "s1", "bo", "Bo", takes="takes/s2", say="Bo turns well.")
    (tmp_path / "s1" / "takes" / "s2").mkdir(parents=True)
    (tmp_path / "s1" / "takes" / "s2" / "first.wav").write_bytes(b"x")
    assert ids(contradictions(entries(path))) == {"s1": ["other-take-folder"]}


def test_consent_of_the_record_comes_before_all_else(tmp_path):
    path = rows(tmp_path)
    record(tmp_path / "in" / "s0", "anna", "Anna", b"clip of Anna", release="{for: [broadcast], by: Anna}")
    (tmp_path / "in" / "s1" / "withdrawn.yaml").write_text("withdrawn: {bo: 2028-03-01}\n")
    (tmp_path / "s2" / "withdrawn.yaml").write_text("withdrawn: {carla: 2028-03-01}\n")
    text = (tmp_path / "in" / "s3" / "submissions.yaml").read_text()
    (tmp_path / "in" / "s3" / "submissions.yaml").write_text(text.replace("adult: yes", "adult: no"))
    made = entries(path)
    assert [(entry.refused.id, entry.refused.consent) for entry in made] == [
        ("release-scope", True), ("withdrawn", True), ("release-withdrawn", True), ("minor-unsigned", True),
    ]  # fmt: skip


def test_one_row_that_cannot_be_read_costs_itself(tmp_path):
    path = rows(tmp_path)
    (tmp_path / "s1" / "storyboard.yaml").write_text("segmentkit: 1\nbeatz: []\n")
    (tmp_path / "in" / "s2" / "submissions.yaml").unlink()
    made = entries(path)
    assert [entry.refused.id if entry.refused else None for entry in made] == [None, "unreadable", "unreadable", None]
    assert "storyboard.yaml:" in made[1].refused.what


def test_neighbours_and_repeated_viewers(tmp_path):
    path = rows(tmp_path)
    lines = path.read_text().splitlines()
    more = ["fault,model,follows", "slice,ines,", "slice,ola,", "hook,ola,", "slice,ines,"]
    path.write_text("\n".join(f"{line},{extra}" for line, extra in zip(lines, more, strict=True)) + "\n")
    made = entries(path)
    assert [(one.id, one.where) for one in clashes(made)] == [
        ("same-fault-next", "items s0 and s1"), ("same-model-next", "items s1 and s2"),
    ]  # fmt: skip
    # Once more the first viewer: told, unless one looks back at the other.
    text = path.read_text() + "s9,in/s0,s0/storyboard.yaml,Anna,2028-05-01,,,\n"
    path.write_text(text)
    assert [one.id for one in clashes(entries(path))][-1] == "same-viewer-twice"
    path.write_text(text.replace("2028-05-01,,,", "2028-05-01,,,s0"))
    assert "same-viewer-twice" not in [one.id for one in clashes(entries(path))]


def test_the_order_is_that_of_airing_and_what_has_no_day_comes_last(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("id,storyboard,air\na,x,2028-05-01\nb,x,\nc,x,2028-04-01\nd,x,2028-05-01\n")
    assert [item.id for item in by_air(load_season(path).season.items)] == ["c", "a", "d", "b"]

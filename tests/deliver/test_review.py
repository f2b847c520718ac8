from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.checks.context import CheckContext
from segmentkit.deliver.frozen import frozen_pictures
from segmentkit.deliver.review_changes import changes, marked, pairs
from segmentkit.deliver.review_notes import (
    HEAD,
    KINDS,
    Note,
    find,
    note_line,
    note_list,
    read_notes,
    with_closed,
    with_note,
)
from segmentkit.deliver.review_page import changes_page, changes_text
from segmentkit.deliver.review_versions import INDEX, Data, mark, picture_file, smaller, snapshot, versions
from segmentkit.errors import SegmentkitError
from segmentkit.timebase import label_of_frame
from tests.deliver.boards import pictures, segment, with_sheet
from tests.plan_makers import Board, beat_of


def data_of(made: CheckContext, shade: int = 0) -> Data:
    frozen = frozen_pictures(made.plan)
    shown = {frame: rgb + np.uint8(shade) for frame, rgb in pictures(one.frame for one in frozen).items()}
    return snapshot(made.plan, {"storyboard": str(shade)}, frozen, shown)


def changed(alter: Any) -> tuple[Data, Data]:
    board = with_sheet()
    before = data_of(segment(board))
    alter(board)
    return before, data_of(segment(board))


def told(before: Data, after: Data) -> list[tuple[str, str, str]]:
    return [(one.kind, one.where, one.what) for one in changes(before, after)]


# --- what changed


def test_nothing_changed():
    before, after = changed(lambda _: None)
    assert changes(before, after) == ()
    assert pairs(before, after) == ()
    assert changes_text(("version 1", "now"), (), ()) == "version 1 → now\nnothing changed\n"


def test_changed_words_are_marked():
    def alter(board: Board) -> None:
        beat_of(board, "intro")["say"] = (
            "Maren asks why her strike is thin and flies to the left. There is plenty to like here."
        )

    kinds = {(kind, where): what for kind, where, what in told(*changed(alter))}
    assert (
        kinds["words", "beat intro, Presenter"]
        == "Maren asks why … and flies to [-one side.-] {+the left.+} There is plenty to like here."
    )


def test_words_marked_as_text():
    assert marked((("Keep", "same"), ("your", "gone"), ("the", "new"))) == "Keep [-your-] {+the+}"


def test_a_stroke_that_moves_changes_role_or_goes_is_told():
    def alter(board: Board) -> None:
        strokes = beat_of(board, "impact")["strokes"]
        strokes["gap"]["double_arrow"] = [[0.45, 0.5], [0.5, 0.5]]
        beat_of(board, "compare")["strokes"]["room"]["role"] = "reference"
        beat_of(board, "compare")["keep"] = []

    found = told(*changed(alter))
    assert ("stroke", "beat impact, stroke gap", "drawn elsewhere") in found
    assert ("stroke", "beat compare, stroke room", "good ring → reference ring") in found
    assert ("stroke", "beat compare, stroke hip_line", "gone") in found


def test_a_later_stroke_is_told_in_frames_of_its_beat():
    found = told(*changed(lambda board: beat_of(board, "compare")["strokes"]["room"].update(at="2.4s")))
    (what,) = [what for kind, where, what in found if where == "beat compare, stroke room"]
    assert what.startswith("10 frames later in its beat")


def test_beats_that_come_go_and_change_length():
    def alter(board: Board) -> None:
        beat_of(board, "close")["beat"] = "farewell"
        beat_of(board, "drill")["show"][0]["freeze"]["hold"] = "11s"

    found = told(*changed(alter))
    assert ("beat", "beat drill", "300 → 275 frames (-25)") in found
    assert any(kind == "beat" and where == "beat close" and what.startswith("gone") for kind, where, what in found)
    assert any(kind == "beat" and where == "beat farewell" and what.startswith("new") for kind, where, what in found)


def test_another_frame_is_a_changed_picture():
    found = told(*changed(lambda board: beat_of(board, "drill")["show"][0]["freeze"].update(at="impact")))
    assert ("picture", "beat drill, shot 1", "freeze model f180 (top) → freeze model f210 (impact)") in found


def test_a_card_and_an_input_and_the_music():
    before = data_of(segment())
    after = data_of(segment(), shade=1)
    after["inputs"] = {"storyboard": "x", "clip viewer": "b"}
    before["inputs"] = {"storyboard": "y", "clip viewer": "a", "clip model": "c"}
    after["cards"][0]["text"] = "Other words"
    after["music"] = [{"file": "bed.wav", "start": 0, "frames": 50, "levels": [-6, -14]}]
    found = told(before, after)
    assert ("input", "clip viewer", "another file content") in found
    assert ("input", "clip model", "gone") in found
    assert any(kind == "card" and "→ “Other words”" in what for kind, _, what in found)
    assert ("music", "music", "none → bed.wav 00:00:00:00–00:00:02:00 -6/-14 dB") in found


def test_pictures_that_look_different_are_paired():
    before, after = data_of(segment()), data_of(segment())
    after["freezes"][1]["sha256"] = "other"
    gone = after["freezes"].pop(0)
    assert [(one.old, one.new) for one in pairs(before, after)] == [
        (after["freezes"][0]["shot"], after["freezes"][0]["shot"]),
        (gone["shot"], ""),
    ]


def test_the_page_shows_both_pictures_and_is_escaped():
    def alter(board: Board) -> None:
        beat_of(board, "close")["say"] = "So keep <b>your</b> room, and your strike will not be thin, not to one side."

    before, after = changed(alter)
    looks = pairs(before, after) or pairs(before, {**after, "freezes": []})
    shown = {one.old: np.zeros((9, 16, 3), np.uint8) for one in looks}
    text = changes_page("A <title>", ("version 1", "now"), changes(before, after), looks, shown, {})
    tags: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            tags.append(tag)
            assert all(not (value or "").startswith("http") for name, value in attrs if name in {"src", "href"})

    Reader().feed(text)
    assert tags.count("img") == len(looks)
    assert {"ins", "del"} <= set(tags)
    assert "&lt;b&gt;your&lt;/b&gt;" in text
    assert "not in this version" in text


# --- versions


def keep(tmp_path: Path, made: CheckContext, why: str = "") -> tuple[Path, Any]:
    storyboard = tmp_path / "lesson.yaml"
    frozen = frozen_pictures(made.plan)
    shown = pictures(one.frame for one in frozen)
    data = snapshot(made.plan, {"storyboard": made.loaded.text}, frozen, shown)
    return storyboard, mark(storyboard, made.plan, data, frozen, shown, by="A.B.", why=why, on="2026-11-25")


def test_versions_are_numbered_and_read_back(tmp_path: Path):
    storyboard, first = keep(tmp_path, segment(), "rough cut")
    board = with_sheet()
    beat_of(board, "drill")["show"][0]["freeze"]["hold"] = "11s"
    _, second = keep(tmp_path, segment(board))
    assert (first.number, second.number) == (1, 2)
    assert [(one.number, one.by, one.why) for one in versions(storyboard)] == [
        (1, "A.B.", "rough cut"),
        (2, "A.B.", ""),
    ]
    assert versions(storyboard)[1].data == second.data
    folder = tmp_path / "review" / "lesson"
    assert (folder / "v001.plan.txt").read_text().startswith("# Keep your room")
    assert picture_file(storyboard, 1, "impact/1").exists()


def test_the_same_again_is_no_new_version(tmp_path: Path):
    keep(tmp_path, segment())
    storyboard, again = keep(tmp_path, segment())
    assert again.number == 1
    assert len(versions(storyboard)) == 1


def test_damaged_versions_are_said(tmp_path: Path):
    storyboard, _ = keep(tmp_path, segment())
    (tmp_path / "review" / "lesson" / INDEX).write_text("[{")
    with pytest.raises(SegmentkitError, match="versions cannot be read"):
        versions(storyboard)


def test_a_kept_picture_is_at_most_960_wide_and_a_mean():
    rgb = np.zeros((1080, 1920, 3), np.uint8)
    rgb[::2] = 100
    small = smaller(rgb)
    assert small.shape == (540, 960, 3)
    assert set(np.unique(small)) == {50}
    assert smaller(small) is small


# --- notes

NOTES = """\
# remarks
version 1
00:00:20:00 A.B. factual: the arrow: too high
x 00:00:05:00 C. Dahl taste: slower

version 2
00:00:30:00 structural: move the drill up
"""


def test_notes_are_read():
    read = [(n.number, n.version, n.time, n.by, n.kind, n.text, n.closed) for n in read_notes(NOTES)]
    assert read == [
        (1, 1, "00:00:20:00", "A.B.", "factual", "the arrow: too high", False),
        (2, 1, "00:00:05:00", "C. Dahl", "taste", "slower", True),
        (3, 2, "00:00:30:00", "", "structural", "move the drill up", False),
    ]


def test_every_bad_line_is_told_at_once_with_its_number():
    text = "00:00:01:00 A factual: no version yet\nversion 1\nhello\n00:00:01:00 A urgent: x\n"
    with pytest.raises(SegmentkitError) as caught:
        read_notes(text)
    lines = str(caught.value).splitlines()
    assert [line.split(" — ")[0] for line in lines] == ["notes.txt:1", "notes.txt:3", "notes.txt:4"]
    assert "`urgent` is not a kind of note — write factual, taste, structural" in lines[2]


def test_closing_changes_one_line_and_opening_it_gives_the_same_text_back():
    closed = with_closed(NOTES, 1, closed=True)
    assert closed == NOTES.replace("00:00:20:00", "x 00:00:20:00")
    assert with_closed(closed, 1, closed=False) == NOTES
    with pytest.raises(SegmentkitError, match="there is no note 9 — 3 are there"):
        with_closed(NOTES, 9, closed=True)


WORDS = st.from_regex(r"[a-zA-ZåäöÅ0-9.,!?()'-]+( [a-zA-ZåäöÅ0-9.,:!?()'-]+){0,6}", fullmatch=True)


@pytest.mark.slow
@given(st.lists(st.tuples(WORDS, st.sampled_from(KINDS), st.integers(1, 3), st.booleans()), max_size=6))
def test_notes_that_are_written_are_read_the_same(given_: list[tuple[str, str, int, bool]]):
    text = ""
    for said, kind, version, closed in given_:
        note = Note(
            number=0, line=0, version=version, time="00:01:05:12", by="A.B.", kind=kind, text=said, closed=closed
        )
        text = with_note(text, note)
    read = read_notes(text)
    assert [(n.text, n.kind, n.version, n.closed, n.by) for n in read] == [
        (said, kind, version, closed, "A.B.") for said, kind, version, closed in given_
    ]


def test_a_first_note_brings_the_head_of_the_file():
    note = read_notes(NOTES)[0]
    text = with_note("", note)
    assert text.startswith(HEAD)
    assert text.endswith(f"\nversion 1\n{note_line(note)}\n")


def at(made: CheckContext, frame: int) -> Note:
    time = str(label_of_frame(frame, made.plan.rate))
    return Note(number=1, line=1, version=1, time=time, by="A", kind="factual", text="x", closed=False)


def test_a_note_stays_on_its_word_when_the_segment_is_retimed():
    before = segment()
    line = next(line for line in before.plan.speech if line.beat == "impact")
    word = line.words[9]
    after_board = with_sheet()
    beat_of(after_board, "address")["show"][0]["freeze"]["hold"] = "11s"
    beat_of(after_board, "impact")["lead"] = "1.2s"
    after = segment(after_board)
    (found,) = find([at(before, word.frame + 3)], {1: data_of(before)}, data_of(after))
    moved = next(one for one in after.plan.speech if one.beat == "impact").words[9]
    assert moved.frame != word.frame
    assert (found.beat, found.near, found.frame) == ("impact", word.text, moved.frame + 3)


def test_a_note_where_nobody_speaks_keeps_its_part_of_the_way():
    before = segment()
    title = before.plan.beat("title")
    after_board = with_sheet()
    beat_of(after_board, "title")["show"][0]["title"]["hold"] = "5s"
    after = segment(after_board)
    (found,) = find([at(before, title.span.start + title.span.frames // 2)], {1: data_of(before)}, data_of(after))
    assert found.frame == after.plan.beat("title").span.frames // 2
    assert found.near == ""


def test_a_note_on_a_beat_that_is_gone_says_so():
    before = segment()
    board = with_sheet()
    beat_of(board, "close")["beat"] = "farewell"
    (found,) = find(
        [at(before, before.plan.beat("close").span.start + 9)], {1: data_of(before)}, data_of(segment(board))
    )
    assert (found.beat, found.frame) == ("close", None)
    assert "-- gone --" in note_list([found], before.plan.rate)


def test_a_note_on_a_version_that_is_not_kept_has_no_place():
    made = segment()
    (found,) = find([at(made, 100)], {}, data_of(made))
    assert (found.beat, found.frame) == ("", None)


def test_the_list_counts_open_and_closed():
    made = segment()
    found = find(read_notes(NOTES), {1: data_of(made), 2: data_of(made)}, data_of(made))
    text = note_list(found, made.plan.rate)
    assert text.endswith("2 open, 1 closed\n")
    assert text.index("open") < text.index("closed")


def test_snapshots_survive_json():
    data = data_of(segment())
    assert json.loads(json.dumps(data)) == data

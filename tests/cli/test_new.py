"""`segmentkit new`: from the clips somebody has to a storyboard, without overwriting anything."""

from __future__ import annotations

import datetime
import json
from pathlib import Path
from typing import Any

import pytest
import yaml

from segmentkit.cli.main import run
from segmentkit.newproject import NOTE, STORYBOARD, VALUES
from segmentkit.storyboard.load import load
from segmentkit.storyboard.submission import load_batch
from segmentkit.storyboard.template import read_records, template_names, values_from
from tests.storyboard.templates import values_for


@pytest.fixture
def clips(tmp_path: Path) -> Path:
    """A folder as it comes from a camera."""
    place = tmp_path / "card"
    (place / "clips").mkdir(parents=True)
    for name in ("clips/viewer_swing.mp4", "clips/model_swing.mp4", "IMG_0042.MOV"):
        (place / name).write_bytes(name.encode())
    return place


def called(*args: object, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    with pytest.raises(SystemExit) as stop:
        run(["new", *(str(arg) for arg in args)])
    said = capsys.readouterr()
    return int(stop.value.code or 0), said.out + said.err


def written(path: Path, **more: Any) -> Path:
    path.write_text(yaml.safe_dump(values_for("review", "sway", **more), allow_unicode=True))
    return path


def test_templates_are_listed(capsys: pytest.CaptureFixture[str]):
    code, said = called("--list", capsys=capsys)
    assert code == 0
    assert all(name in said for name in template_names())
    assert "review_full   7:00" in said
    code, said = called("review", "--list", capsys=capsys)
    assert "viewer_swing (clip; needed)" in said
    code, said = called("review", "--list", "--json", capsys=capsys)
    assert json.loads(said)["review"]["blanks"]["fault"]["kind"] == "fault"


def test_from_nothing_to_a_storyboard_in_two_calls(clips: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    home = tmp_path / "clinic"
    code, said = called("review", home, "--set", "fault=sway", "--set", f"viewer_swing={clips / 'IMG_0042.MOV'}",
                        "--set", "viewer.shown=Maren", capsys=capsys)  # fmt: skip
    assert code == 0
    assert "6 blanks to fill in: question, model, model_swing, answer, key_1, key_2" in said
    assert f"run: segmentkit new review {home}" in said
    text = (home / VALUES).read_text("utf-8")
    assert "fault: sway" in text
    assert "file: clips/viewer_swing.mov" in text
    assert "trail_hip, the outermost point of the trail hip" in text
    assert (home / "clips" / "viewer_swing.mov").read_bytes() == b"IMG_0042.MOV"
    # Called again as it is, it tells what is missing, and nothing is lost.
    code, said = called("review", home, capsys=capsys)
    assert code == 3
    assert f"{home / VALUES}:" in said
    assert not (home / STORYBOARD).exists()
    (home / "clips" / "model_swing.mp4").write_bytes(b"x")
    (home / "clips" / "viewer_swing.mp4").write_bytes(b"x")
    written(home / VALUES)
    code, said = called("review", home, capsys=capsys)
    assert code == 0
    assert f"next: segmentkit check {home / STORYBOARD}" in said
    assert load(home / STORYBOARD).board.segment.title == "The sway"
    note = (home / NOTE).read_text("utf-8")
    assert "`key_3` — What to keep, third." in note
    assert "question, praise, lines, fault" in note


def test_what_is_named_is_copied_and_nothing_is_overwritten(
    clips: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    values, home = written(clips / "fill.yaml"), tmp_path / "clinic"
    code, said = called("review", home, "--values", values, capsys=capsys)
    assert (code, "copied: clips/viewer_swing.mp4, clips/model_swing.mp4" in said) == (0, True)
    assert (home / "clips" / "model_swing.mp4").read_bytes() == b"clips/model_swing.mp4"
    assert all((home / folder).is_dir() for folder in ("takes", "music"))
    before = (home / STORYBOARD).read_bytes()
    code, said = called("short", home, "--values", values, capsys=capsys)
    assert (code, "is there already — nothing is overwritten" in said) == (5, True)
    assert (home / STORYBOARD).read_bytes() == before


@pytest.mark.slow
def test_the_new_storyboard_can_be_judged_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    from tests.clips import make_clip, steady

    card = tmp_path / "card"
    (card / "clips").mkdir(parents=True)
    for name in ("viewer_swing", "model_swing"):
        make_clip(card / "clips" / f"{name}.mp4", steady(200, 6))
    home = tmp_path / "clinic"
    code, said = called("review", home, "--values", written(card / "fill.yaml"), "--check", capsys=capsys)
    assert code == 0, said
    assert "The sway: 00:03:00:00 (3:00.0), 4500 frames at 25, meets its slot" in said
    assert "[picture-enlarged]" in said  # the synthetic clips are small


def test_files_that_lie_nowhere_are_all_told_before_anything_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    values, home = written(tmp_path / "fill.yaml"), tmp_path / "clinic"
    code, said = called("review", home, "--values", values, capsys=capsys)
    assert code == 4
    assert "clips/viewer_swing.mp4, clips/model_swing.mp4 — are named and lie in none of" in said
    assert not (home / STORYBOARD).exists()


@pytest.mark.slow
def test_a_file_of_values_reaches_nothing_outside_its_folders(
    clips: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    (tmp_path / "secret").write_bytes(b"secret")
    home = tmp_path / "clinic"
    for path in ("../secret", str(tmp_path / "secret")):
        values = written(clips / "fill.yaml", opening=path)
        code, said = called("review", home, "--values", values, capsys=capsys)
        assert (code, "fill.yaml:" in said) == (3, True)
    (clips / "clips" / "linked.png").symlink_to(tmp_path / "secret")
    values = written(clips / "fill.yaml", opening="clips/linked.png")
    code, said = called("review", home, "--values", values, capsys=capsys)
    assert (code, "clips/linked.png — is named and lies in none of" in said) == (4, True)
    assert not (home / STORYBOARD).exists()
    # Whoever calls may name a file of theirs wherever it lies.
    values = written(clips / "fill.yaml")
    assert called("review", home, "--values", values, "--set", f"opening={tmp_path / 'secret'}", capsys=capsys)[0] == 0
    assert (home / "clips" / "opening").read_bytes() == b"secret"


def test_a_preset_of_ones_own_comes_along(clips: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (clips / "faults").mkdir()
    shipped = Path(__file__).parents[2] / "templates" / "faults" / "sway.yaml"
    (clips / "faults" / "mine.yaml").write_text(shipped.read_text("utf-8").replace("Hips move sideways", "Hips drift"))
    home = tmp_path / "clinic"
    assert called("review", home, "--values", written(clips / "fill.yaml", fault="mine"), capsys=capsys)[0] == 0
    assert load(home / STORYBOARD).board.segment.title == "Hips drift going back"


SENT = """\
intake: 1
people:
  maren: {shown: Maren, place: Lindholm Bay, handed: right, club: 7-iron, adult: yes,
          release: {for: [web], until: 2028-06-30, by: Maren}}
submissions:
  s-1:
    person: maren
    down-the-line: {file: s1/dtl.mp4, positions: {impact: f207}}
    face-on: {file: s1/face.mp4, captured: 240}
    grip: {file: s1/grip.mov}
    portrait: {file: s1/me.JPG}
    miss: Thin and right.
    question: Why does it fly thin?
"""


@pytest.fixture
def sent(tmp_path: Path) -> Path:
    place = tmp_path / "sent"
    (place / "s1").mkdir(parents=True)
    (place / "submissions.yaml").write_text(SENT)
    for name in ("dtl", "face"):
        (place / "s1" / f"{name}.mp4").write_bytes(name.encode())
    found = [
        {"position": "top", "frame": 176, "chosen": False}, {"position": "impact", "frame": 200, "chosen": False},
        {"position": "finish", "frame": None, "chosen": False},
    ]  # fmt: skip
    parts = [{"part": "down-the-line", "proposals": found}, {"part": "face-on", "proposals": found}]
    (place / "intake").mkdir()
    (place / "intake" / "intake.json").write_text(json.dumps({"submissions": [{"submission": "s-1", "parts": parts}]}))
    return place


def test_a_submission_fills_what_it_says(sent: Path):
    (record,) = read_records(sent)
    values = dict(values_from(record))
    assert values["viewer"]["id"] == "maren"
    assert values["viewer"]["place"] == "Lindholm Bay"
    assert (values["club"], values["miss"], values["question"]) == (
        "7-iron",
        "Thin and right.",
        "Why does it fly thin?",
    )
    # What a person chose comes before what was found; what was not found is left open.
    assert values["viewer_dtl"] == {"file": "s1/dtl.mp4", "positions": {"top": "f176", "impact": "f207"}}
    assert values["viewer_face_on"]["captured"] == "240"
    # A close-up sent as a clip is no still.
    assert (values["viewer_portrait"], "viewer_grip" in values) == ({"file": "s1/me.JPG"}, False)
    assert values["viewer_swing"]["view"] == "down-the-line"
    assert dict(values_from(record, ["question"])) == {"question": "Why does it fly thin?"}
    assert dict(values_from(record, view="face-on"))["viewer_swing"]["file"] == "s1/face.mp4"
    assert load_batch(sent).batch.people["maren"].release.until == datetime.date(2028, 6, 30)


def test_a_project_from_a_submission(sent: Path, clips: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    home = tmp_path / "clinic"
    mine = {"start_at": "top", "end_at": "impact", "fault": "across_at_top", "viewer_swing.points.top.grip": "0.5 0.5"}
    mine["viewer_swing.points.top.clubhead"] = "0.5 0.4"
    values = values_for("review", "across_at_top")
    rest = {name: value for name, value in values.items() if name not in {"viewer", "viewer_swing", "question"}}
    (clips / "fill.yaml").write_text(yaml.safe_dump({**rest, **mine, "matched": "no"}))
    code, said = called("review", home, "--values", clips / "fill.yaml", "--submission", sent, capsys=capsys)
    assert code == 0, said
    board = load(home / STORYBOARD).board
    assert board.people["maren"].shown == "Maren"
    assert board.segment.question == "Why does it fly thin?"
    assert str(board.clips["viewer_swing"].positions["impact"]) == "f207"
    assert (home / "s1" / "dtl.mp4").read_bytes() == b"dtl"


def test_a_fault_in_a_submission_has_its_place_there(sent: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    code, said = called("review_full", tmp_path / "c", "--submission", sent, "--values", written(tmp_path / "v.yaml"),
                        capsys=capsys)  # fmt: skip
    assert code == 3
    assert "submissions.yaml:8:" in said
    assert "positions are missing: address, takeaway" in said


def test_several_submissions_want_an_id(sent: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    (sent / "submissions.yaml").write_text(SENT + SENT[SENT.index("  s-1:") :].replace("s-1", "s-2"))
    code, said = called("review", tmp_path / "c", "--submission", sent, capsys=capsys)
    assert (code, "s-1, s-2" in said) == (2, True)
    code, said = called("review", tmp_path / "c", "--submission", sent, "--id", "s-2", capsys=capsys)
    assert (code, "Known already" in (tmp_path / "c" / VALUES).read_text("utf-8")) == (0, True)


def test_wrong_calls_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert called("review", capsys=capsys)[0] == 2
    assert called("review", tmp_path / "c", "--set", "novalue", capsys=capsys)[0] == 2
    code, said = called("reveiw", tmp_path / "c", capsys=capsys)
    assert (code, "did you mean `review`" in said) == (3, True)
    code, said = called("review", tmp_path / "c", "--set", "falt=sway", capsys=capsys)
    assert code == 3
    assert "has no blank `falt` — did you mean `fault`?" in said

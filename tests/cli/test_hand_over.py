"""Captions, papers and review from the command line, on a short segment of coded frames."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image

from segmentkit.storyboard.load import load
from segmentkit.storyboard.profiles import delivery
from segmentkit.timebase import Rate
from segmentkit.versions import review_copy
from tests.cli.calling import called
from tests.clips import make_clip, steady

BOARD = """
segmentkit: 1
segment: {title: Coded frames, slot: 4s, rate: 25, size: 640x360}
people:
  maren: {shown: Maren, adult: yes, release: {for: [web], until: 2099-01-01, by: Maren}}
clips:
  coded: {file: coded.mp4, person: maren, positions: {impact: f40}}
voice: {guide: none}
beats:
  - beat: first
    say: Now stop it at [gap] impact.
    show:
      - run: {clip: coded, from: f10, to: f30, speed: 1/2}
      - freeze: {clip: coded, at: impact, hold: 1s..9s}
    strokes:
      gap: {line: [[0.4, 0.3], [0.5, 0.6]], role: fault, draw: 0.2s}
  - beat: second
    show:
      - run: {clip: coded, from: f5, to: f30, speed: 1}
sheet: {person: maren, what: Daylight., why: Room., feel: Back.}
deliver: [web]
"""


@pytest.fixture
def board(tmp_path: Path) -> Path:
    make_clip(tmp_path / "coded.mp4", steady(60, 1))
    path = tmp_path / "board.yaml"
    path.write_text(BOARD)
    return path


@pytest.mark.slow
def test_captions_are_written(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    code, said = called(capsys, "captions", board, "--rules", "learner", "-o", tmp_path / "words")
    assert code == 0
    text = (tmp_path / "words" / "board.learner.en.vtt").read_text()
    assert "Now stop it at impact." in text
    assert "board.as-broadcast.txt" in said


@pytest.mark.slow
def test_unknown_rules_are_refused_with_the_nearest(board: Path, capsys: pytest.CaptureFixture[str]):
    code, said = called(capsys, "captions", board, "--rules", "lerner")
    assert code == 3
    assert "did you mean `learner`" in said


def test_papers_are_written_and_listed(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    code, _ = called(capsys, "papers", board, "-o", tmp_path / "papers", "--today", "2026-11-25", "--paper", "letter")
    assert code == 0
    listed = json.loads((tmp_path / "papers" / "board-papers.json").read_text())
    names = {one["file"] for one in listed["files"]}
    assert {"board-takehome.pdf", "board-contact.pdf", "board.otio", "board-rights.csv"} <= names
    assert all((tmp_path / "papers" / name).stat().st_size for name in names)


@pytest.mark.slow
def test_one_kind_of_paper_alone(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    called(capsys, "papers", board, "-o", tmp_path / "papers", "--only", "contact", "--png", "--safe-area")
    assert sorted(file.name for file in (tmp_path / "papers").iterdir()) == ["board-contact.png", "board-papers.json"]


@pytest.mark.slow
def test_a_review_from_mark_to_lock(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert called(capsys, "review", "changes", board)[0] == 2
    assert "version 1" in called(capsys, "review", "mark", board, "--by", "A.B.")[1]
    assert "nothing changed since it was marked" in called(capsys, "review", "mark", board, "--by", "A.B.")[1]
    code, said = called(capsys, "review", "add", board, "00:00:01:12", "too high", "--by", "C.D.")
    assert (code, said.strip()) == (0, "note 1 on version 1")
    assert called(capsys, "review", "lock", board, "--by", "A.B.")[0] == 0
    assert "lock-broken" not in called(capsys, "check", board)[1]
    board.write_text(BOARD.replace("[0.5, 0.6]]", "[0.5, 0.7]]").replace("Now stop", "Then stop"))
    code, said = called(capsys, "check", board)
    assert code == 1
    assert "lock-broken" in said
    code, said = called(capsys, "render", board, "--rehearsal", "-o", tmp_path / "never.mp4")
    assert code == 1
    assert not (tmp_path / "never.mp4").exists()
    code, said = called(capsys, "review", "changes", board, "-o", tmp_path / "c.html")
    assert code == 0
    assert "[-Now-] {+Then+}" in said
    assert "stroke   beat first, stroke gap: drawn elsewhere" in said
    assert "looks    first: impact" in said
    assert (tmp_path / "c.html").read_text().count("<img") == 2
    assert "1 open, 0 closed" in called(capsys, "review", "notes", board)[1]
    called(capsys, "review", "close", board, 1)
    assert "0 open, 1 closed" in called(capsys, "review", "notes", board)[1]
    assert "version 2 locked by A.B." in called(capsys, "review", "lock", board, "--by", "A.B.")[1]
    assert "unlocked" in called(capsys, "review", "unlock", board)[1]


@pytest.mark.slow
def test_a_note_needs_a_timecode_that_exists(board: Path, capsys: pytest.CaptureFixture[str]):
    called(capsys, "review", "mark", board, "--by", "A.B.")
    code, said = called(capsys, "review", "add", board, "00:00:01:25", "x", "--by", "A")
    assert code == 1
    assert "frames are counted 0 to 24" in said


def test_a_review_copy_is_never_a_master(board: Path, capsys: pytest.CaptureFixture[str]):
    code, said = called(capsys, "render", board, "--review", "--profile", "broadcast")
    assert code == 2
    assert "a review copy is never a master" in said


def _frames(path: Path) -> list[np.ndarray]:
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="gray") for frame in container.decode(video=0)]


@pytest.mark.slow
def test_stamp_and_captions_are_in_the_copy_and_in_nothing_else(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    called(capsys, "review", "mark", board, "--by", "A.B.")
    assert called(capsys, "render", board, "--rehearsal", "-o", tmp_path / "plain.mp4")[0] == 0
    code, _ = called(
        capsys, "render", board, "--rehearsal", "--review", "--captions", "burned", "-o", tmp_path / "copy.mp4"
    )
    assert code == 0
    plain, copy = _frames(tmp_path / "plain.mp4"), _frames(tmp_path / "copy.mp4")
    assert len(plain) == len(copy) == 100
    different = [np.abs(a.astype(int) - b.astype(int)) > 24 for a, b in zip(plain, copy, strict=True)]
    assert all(one[:17, 320:].any() for one in different), "the stamp is on every frame"
    foot = [bool(one[280:345, 100:540].any()) for one in different]
    assert any(foot)
    assert not foot[-1], "no caption where nobody speaks"
    middle = [one[60:270].mean() for one in different]
    assert max(middle) < 0.01


@pytest.mark.slow
def test_two_storyboards_are_compared_with_pictures(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    other = tmp_path / "later.yaml"
    other.write_text(BOARD.replace("[0.5, 0.6]]", "[0.8, 0.6]]").replace("stop it at", "hold it at"))
    code, said = called(capsys, "review", "changes", board, other, "--pairs", tmp_path / "pairs.png")
    assert code == 0
    assert "board.yaml → later.yaml" in said
    assert "[-stop-] {+hold+}" in said
    assert "drawn elsewhere" in said
    page = (tmp_path / "out" / "board-to-later-changes.html").read_text()
    assert page.count("<img") == 2
    with Image.open(tmp_path / "pairs.png") as sheet:
        rgb = np.asarray(sheet.convert("RGB")).astype(int)
    # Old on the left, new on the right, at one height; where the line lay and where it lies they differ.
    left, right = rgb[:, : rgb.shape[1] // 2], rgb[:, rgb.shape[1] // 2 :]
    assert (left.std(axis=2) > 40).sum() > 1000
    assert (right.std(axis=2) > 40).sum() > 1000
    assert called(capsys, "review", "changes", board, other, "--from", 1)[0] == 2


@pytest.mark.slow
def test_a_storyboard_compared_with_itself_has_no_pairs(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    code, said = called(capsys, "review", "changes", board, board, "--pairs", tmp_path / "pairs.pdf")
    assert code == 0
    assert "nothing changed" in said
    assert not (tmp_path / "pairs.pdf").exists()


@pytest.mark.slow
@pytest.mark.parametrize(("profile", "size", "rate", "length", "sound"), [
    ("web", (640, 360), 25, 100, True), ("broadcast", (640, 360), 25, 100, True),
    ("house/tall.yaml", (360, 640), 50, 100, False),
])  # fmt: skip
def test_a_review_copy_of_any_delivery_has_its_cut_size_and_rate(
    board: Path, tmp_path: Path, profile: str, size: tuple[int, int], rate: int, length: int, sound: bool,
    capsys: pytest.CaptureFixture[str],
):  # fmt: skip
    own = "{beat: own, show: [{freeze: {clip: coded, at: impact, hold: 1s..9s}}]}"
    board.write_text(
        BOARD.replace("for: [web]", "for: [web, broadcast]") + f"cuts:\n  brief: {{slot: 2s, beats: [{own}]}}\n"
    )
    (tmp_path / "house").mkdir()
    (tmp_path / "house" / "tall.yaml").write_text(
        "what: Upright\nscope: web\nloudness: -16 LUFS\ntrue_peak: -1 dBTP\nsize: 360x640\nrate: 50\ncut: brief\n"
        "picture: {codec: vp9, quality: 30}\nsound: none\n"
    )
    code, said = called(capsys, "review", "copy", board, "--rehearsal", "--profile", profile)
    assert code == 0, said
    assert f"REVIEW, no version; {profile}" in said
    (path,) = (tmp_path / "out").glob("*-review.mp4")
    assert path.name == {"web": "board-review.mp4", "broadcast": "board-broadcast-review.mp4"}.get(
        profile, "board-tall-review.mp4"
    )
    with av.open(str(path)) as container:
        picture = container.streams.video[0]
        assert (picture.width, picture.height) == size
        assert picture.average_rate == rate
        assert picture.codec_context.name == "h264"
        assert bool(container.streams.audio) == sound
        shown = [frame.to_ndarray(format="gray") for frame in container.decode(video=0)]
    assert len(shown) == length
    corner = [frame[: size[1] // 16, size[0] // 2 :] for frame in shown]
    assert all(np.ptp(one) > 120 for one in corner), "version and running timecode are on every frame"


def test_a_review_copy_keeps_releases_and_findings(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    code, said = called(capsys, "review", "copy", board, "--rehearsal", "--profile", "broadcast")
    assert code == 1
    assert "release-scope" in said
    code, said = called(capsys, "review", "copy", board)
    assert code == 1, "no guide voice is allowed and no take is there"
    assert not (tmp_path / "out").exists() or not list((tmp_path / "out").glob("*-review*"))


def test_a_review_copy_of_interlaced_pictures_shows_each_whole(board: Path):
    loaded = load(board)
    to = delivery("broadcast-25i")
    copy = review_copy(replace(to, leader="tape"), loaded)
    assert (copy.fields, copy.rate, copy.leader) == (None, Rate(Fraction(50)), None)
    assert (copy.name, copy.scope, copy.loudness, copy.size) == (to.name, to.scope, to.loudness, to.size)
    assert copy.picture == delivery("web").picture

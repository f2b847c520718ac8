"""The verbs that show the fit and write the sheets, on a storyboard that needs no clips and no voices."""

import json
from pathlib import Path

import pytest

from segmentkit.cli.main import run

BOARD = """\
segmentkit: 1   # kept
segment: {title: No clips, slot: 0:20, rate: 25}
voice: {guide: none, pace: 150}
speakers: {host: {shown: Jonna}}
beats:
  - beat: hello
    say: Good evening to you all. {It is a fine night for it.}
    show: [{title: {main: Hello, hold: 2s..4s..8s}}]   # the first board
  - beat: more
    say: >
      There is more to be said about this. {Much more, in fact, than
      anybody would care to hear.}
    show: [{title: {main: More, hold: 2s..4s..12s}}]
deliver: [web]
"""


@pytest.fixture
def board(tmp_path: Path) -> Path:
    path = tmp_path / "board.yaml"
    path.write_text(BOARD, "utf-8")
    return path


def called(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    return int(left.value.code or 0)


def test_fit_prints_a_table_and_changes_nothing(board: Path, capsys: pytest.CaptureFixture[str]):
    assert called("fit", board) == 0
    out = capsys.readouterr().out
    assert "fits 00:00:20:00 (500 frames at 25) to the frame" in out
    assert "hello" in out
    assert board.read_text("utf-8") == BOARD


def test_fit_at_another_slot_offers_words_and_exits_1(board: Path, capsys: pytest.CaptureFixture[str]):
    # 12 and 18 words at 150 a minute, 10 frames before and 13 after them: 143 and 203 frames in a slot of 325.
    assert called("fit", board, "--slot", "13s") == 1
    out = capsys.readouterr().out
    assert "over by +0:00:00:21, 0.84s (21 frames)" in out
    assert "1. drop this, gain" in out
    assert out.index('more: "Much more') < out.index('hello: "It is a fine')
    assert called("fit", board, "--slot", "f300") == 2
    assert called("fit", board, "--slot", "00:00:10;00") == 2


def test_fit_speaks_json(board: Path, capsys: pytest.CaptureFixture[str]):
    assert called("fit", board, "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert sum(beat["given"] for beat in data["beats"]) == data["frames"] == data["slot"] == 500


def test_fit_write_splices_holds_and_slot(board: Path, capsys: pytest.CaptureFixture[str]):
    assert called("fit", board, "--slot", "0:16", "--write") == 0
    text = board.read_text("utf-8")
    assert "slot: 0:16, rate: 25" in text
    assert "segmentkit: 1   # kept" in text
    assert "hold: 2s.." in text
    capsys.readouterr()
    assert called("fit", board, "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert all(beat["nominal"] == beat["given"] for beat in data["beats"])
    assert data["slot"] == 400


def test_fit_write_leaves_a_storyboard_alone_that_does_not_fit(board: Path, capsys: pytest.CaptureFixture[str]):
    assert called("fit", board, "--slot", "1:00", "--write") == 1
    assert "only lengths that fit are written back" in capsys.readouterr().err
    assert board.read_text("utf-8") == BOARD
    assert [path.name for path in board.parent.iterdir() if path.is_file()] == ["board.yaml"]


@pytest.mark.parametrize(
    ("verb", "name", "start"),
    [
        ("chart", "a.html", b"<!doctype html>"), ("chart", "a.svg", b"<svg "), ("chart", "a.png", b"\x89PNG"),
        ("script", "a.html", b"<!doctype html>"), ("script", "a.pdf", b"%PDF-"), ("script", "a.txt", b"# No clips"),
        ("prompter", "a.html", b"<!doctype html>"), ("prompter", "a.txt", b"No clips\n"),
    ],
)  # fmt: skip
def test_sheets_are_written_by_their_ending(board: Path, verb: str, name: str, start: bytes, tmp_path: Path):
    out = tmp_path / "sheets" / name
    extra = ["--no-pictures"] if verb == "chart" else []
    assert called(verb, board, "-o", out, *extra) == 0
    assert out.read_bytes().startswith(start)
    assert [path.name for path in out.parent.iterdir()] == [name]


@pytest.mark.parametrize("verb", ["chart", "script", "prompter"])
def test_another_ending_is_refused(board: Path, verb: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    assert called(verb, board, "-o", tmp_path / "a.doc") == 5
    assert "give the file one of these endings" in capsys.readouterr().err


def test_words_go_out_and_come_back(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    words = tmp_path / "words.txt"
    assert called("script", board, "-o", words) == 0
    assert called("script", board, "--read", words) == 0
    assert "no word has changed" in capsys.readouterr().out
    words.write_text(words.read_text("utf-8").replace("a fine night", "a very fine night"), "utf-8")
    assert called("script", board, "--read", words) == 0
    out = capsys.readouterr().out
    assert "+ Good evening to you all. {It is a very fine night for it.}" in out
    assert "takes of hello have to be read again" in out
    assert board.read_text("utf-8") == BOARD.replace("a fine night", "a very fine night")


def test_words_that_do_not_fit_leave_the_storyboard_alone(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    words = tmp_path / "words.txt"
    called("script", board, "-o", words)
    words.write_text(words.read_text("utf-8").replace("== more", "== mor"), "utf-8")
    assert called("script", board, "--read", words) == 3
    assert "did you mean `more`?" in capsys.readouterr().err
    assert board.read_text("utf-8") == BOARD


def test_a_speaker_who_says_nothing_has_no_page(board: Path, capsys: pytest.CaptureFixture[str]):
    assert called("prompter", board, "--speaker", "nobody") == 2
    assert "'nobody' says nothing here — host does" in capsys.readouterr().err


CUTS = """\
cuts:
  short:
    slot: 0:12
    beats:
      - beat: quick
        say: Quickly said.
        show: [{title: {main: Quick, hold: 1s..9s}}]   # its own
      - hello
"""
PROFILE = """\
what: A cut
scope: web
cut: short
loudness: -16 LUFS
true_peak: -1 dBTP
container: mp4
picture: {codec: h264, preset: veryfast, quality: 19}
sound: {codec: aac, bit_rate: 192 kbit/s}
"""


@pytest.fixture
def with_cut(board: Path) -> Path:
    board.write_text(BOARD + CUTS, "utf-8")
    (board.parent / "quick.yaml").write_text(PROFILE, "utf-8")
    return board


def test_fit_of_a_cut_is_written_where_its_beats_are(with_cut: Path, capsys: pytest.CaptureFixture[str]):
    assert called("fit", with_cut, "--profile", "quick.yaml", "--slot", "0:13", "--write") == 0
    told = capsys.readouterr()
    text = with_cut.read_text("utf-8")
    assert "slot: 0:13\n" in text
    assert "slot: 0:20, rate: 25" in text
    assert "{main: Quick, hold: 1s.." in text
    assert "{main: Quick, hold: 1s..9s}" not in text
    assert "{main: More, hold: 2s..4s..12s}" in text
    assert "beat hello is written once for all versions that show it" in told.err
    assert called("fit", with_cut, "--profile", "quick.yaml", "--json") == 0
    data = json.loads(capsys.readouterr().out)
    assert data["frames"] == data["slot"] == 13 * 25
    assert all(beat["nominal"] == beat["given"] for beat in data["beats"])
    assert called("fit", with_cut) == 0


def test_the_words_of_a_cut_go_out_and_come_back(with_cut: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    words = tmp_path / "words.txt"
    assert called("script", with_cut, "--profile", "quick.yaml", "-o", words) == 0
    written = words.read_text("utf-8")
    assert [line for line in written.splitlines() if line.startswith("==")] == ["== quick", "== hello"]
    words.write_text(written.replace("Quickly said.", "Said in no time."), "utf-8")
    assert called("script", with_cut, "--profile", "quick.yaml", "--read", words) == 0
    assert with_cut.read_text("utf-8") == (BOARD + CUTS).replace("Quickly said.", "Said in no time.")
    assert "written once" not in capsys.readouterr().err
    words.write_text(words.read_text("utf-8").replace("to you all.", "to you here."), "utf-8")
    assert called("script", with_cut, "--profile", "quick.yaml", "--read", words) == 0
    assert "beat hello is written once" in capsys.readouterr().err
    assert "Good evening to you here." in with_cut.read_text("utf-8")


def test_the_sheet_of_a_cut_shows_its_beats_alone(with_cut: Path, tmp_path: Path):
    out = tmp_path / "cut.html"
    assert called("script", with_cut, "--profile", "quick.yaml", "-o", out) == 0
    page = out.read_text("utf-8")
    assert "Quickly said." in page
    assert "There is more to be said" not in page

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.errors import StoryboardUnreadable
from segmentkit.findings import Place
from segmentkit.geometry import Point, Size
from segmentkit.storyboard.fields import NamedPoint
from segmentkit.storyboard.load import load, loads
from segmentkit.storyboard.people import Scope
from segmentkit.timebase import Seconds, SourceFrame, Timecode, seconds_of
from tests.makers import FILE, LESSON, lesson, loaded, long_lesson


def test_what_was_written_is_what_is_read():
    board = loaded().board
    assert board.segment.title == "Hips toward the ball"
    assert board.segment.slot == Seconds(180)
    assert board.segment.size == Size(1920, 1080)
    assert board.people["marta"].release is not None
    assert board.people["marta"].release.for_ == (Scope.BROADCAST, Scope.WEB)
    assert board.clips["marta_dtl"].positions["impact"] == SourceFrame(218)
    impact, compare = board.beats[1], board.beats[2]
    assert [shot.kind for beat in board.beats for shot in beat.show] == ["title", "run", "freeze", "split", "still"]
    assert impact.strokes["line"].kind == "line"
    assert impact.strokes["line"].line == (NamedPoint("address", "belt"), Point(0.46, 0.9))
    assert [line.speaker for line in impact.say] == ["host", "coach"]
    assert compare.say[0].text == "Side by side, look at the room."
    assert board.deliver == ("broadcast", "web")


def test_defaults_hold_where_nothing_is_written():
    text = lesson().replace("  rate: 25\n", "").replace("  size: 1920x1080\n", "").replace("\nmusic:\n", "\n#\n")
    text = text.replace("  - {file: music/bed.wav, from: open, until: drill, fade_in: 0.5s}\n", "")
    board = loads(text).board
    assert (str(board.segment.rate), str(board.segment.size), board.look, board.music) == (
        "25",
        "1920x1080",
        "dune",
        (),
    )


def test_a_key_with_nothing_after_it_is_not_written():
    text = lesson(("    keep: [line]\n", "    keep:\n")).replace("deliver: [broadcast, web]", "deliver:")
    board = loads(text).board
    assert board.beats[2].keep == ()
    assert board.deliver == ("web",)


@pytest.mark.parametrize(
    ("path", "line", "column", "shown"),
    [
        (("segment", "slot"), 4, 9, "3:00"),
        (("people", "marta", "release", "until"), 8, 98, "2028-06-30"),
        (("clips", "marta_dtl"), 11, 3, "marta_dtl"),
        (("clips", "marta_dtl", "points", "address", "belt", 1), 19, 30, "0.52"),
        (("beats", 1), 39, 5, "beat"),
        (("beats", 1, "say", 2, "coach"), 43, 16, "There's"),
        (("beats", 1, "show", 0, "run", "from"), 45, 38, "top"),
        (("beats", 1, "show", 0, "run", "from_"), 45, 38, "top"),
        (("beats", 1, "show", 1), 46, 9, "freeze"),
        (("beats", 1, "strokes", "hip_gap"), 49, 7, "hip_gap"),
        (("beats", 1, "strokes", "hip_gap", "double_arrow", 1), 49, 46, "[0.52, 0.52]"),
        # Not written: the nearest that is.
        (("beats", 1, "strokes", "hip_gap", "hold"), 49, 7, "hip_gap"),
        (("beats", 9, "strokes", "hip_gap"), 32, 1, "beats"),
        (("segment", "language"), 2, 1, "segment"),
        (("look",), 1, 1, "segmentkit"),
        ((), 1, 1, "segmentkit"),
    ],
)  # fmt: skip
def test_place_says_where_a_value_is_written(path: tuple[str | int, ...], line: int, column: int, shown: str):
    place = loaded().place(*path)
    assert place == Place(file=FILE, line=line, column=column)
    assert LESSON.splitlines()[line - 1][column - 1 :].startswith(shown)


def test_span_holds_the_characters_of_a_scalar():
    board = loaded()
    start, end = board.span("beats", 1, "show", 1, "freeze", "hold")
    assert board.text[start:end] == "6s..13s"
    start, end = board.span("beats", 2, "say")
    assert board.text[start:end].startswith(">\n      Side by side")
    for path in (("beats", 1), ("segment", "language"), ()):
        with pytest.raises(KeyError):
            board.span(*path)


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_ends_and_a_byte_order_mark_change_nothing(tmp_path: Path, end: str, mark: str):
    file = tmp_path / "lesson.yaml"
    file.write_bytes((mark + LESSON.replace("\n", end)).encode())
    read = load(file)
    assert read.board == loaded().board
    assert (read.folder, read.file) == (tmp_path, str(file))
    assert (read.place("segment", "slot").line, read.place("segment", "slot").column) == (4, 9)
    start, stop = read.span("segment", "slot")
    assert read.text[start:stop] == "3:00"


def unreadable(file: Path) -> str:
    with pytest.raises(StoryboardUnreadable) as caught:
        load(file)
    return str(caught.value).replace(str(file), "lesson.yaml")


def test_a_text_that_is_not_utf_8(tmp_path: Path):
    file = tmp_path / "lesson.yaml"
    file.write_bytes(LESSON.replace("Hips toward", "Hüften zu").encode("latin-1"))
    at = LESSON.index("Hips toward") + 1
    assert unreadable(file).startswith(f"lesson.yaml:3:11: byte {at} (0xFC) is not UTF-8 — save the text as UTF-8\n")
    file.write_bytes("é: é".encode() + b"\r\n\xc3\xa9\xff")
    assert unreadable(file).startswith("lesson.yaml:2:2: byte 10 (0xFF) is not UTF-8")
    file.write_bytes(LESSON.encode("utf-16"))
    assert "the text is UTF-16 — save it as UTF-8" in unreadable(file)


def test_files_that_cannot_be_read(tmp_path: Path):
    assert unreadable(tmp_path / "none.yaml").startswith("lesson.yaml — there is no such file")
    assert unreadable(tmp_path).startswith("lesson.yaml — is a folder")
    (tmp_path / "large.yaml").write_bytes(b"#" * 2_000_001)
    assert unreadable(tmp_path / "large.yaml") == "lesson.yaml — has 2,000,001 bytes — at most 2,000,000 are read"
    (tmp_path / "empty.yaml").write_bytes(b"")
    assert unreadable(tmp_path / "empty.yaml") == "lesson.yaml:1:1: the file is empty — start it with `segmentkit: 1`"


@given(st.binary(max_size=80))
def test_any_bytes_give_located_faults(tmp_path_factory: pytest.TempPathFactory, content: bytes):
    file = tmp_path_factory.getbasetemp() / "any.yaml"
    file.write_bytes(content)
    with pytest.raises(StoryboardUnreadable) as caught:
        load(file)
    assert caught.value.faults


@pytest.mark.parametrize(
    ("written", "rate", "seconds"),
    # Every notation of the format, with its seconds worked out by hand. A label counts frames of the nominal rate:
    # 1 min 30 s and 12 frames are 90 * 24 + 12 = 2172 frames at 24000/1001; in drop-frame, the two labels left out at
    # minute 1 are not counted: 90 * 30 + 12 - 2 = 2710, and four at 60: 90 * 60 + 12 - 4 = 5408.
    [("4s", "25", Fraction(4)), ("4.5s", "25", Fraction(9, 2)), ("400ms", "25", Fraction(2, 5)),
     ("1:30", "25", Fraction(90)), ("1:30.5", "25", Fraction(181, 2)), ("0:01:30", "25", Fraction(90)),
     ("00:01:30:12", "25", Fraction(2262, 25)), ("00:01:30:12", "24000/1001", Fraction(2172 * 1001, 24000)),
     ("00:01:30;12", "30000/1001", Fraction(2710 * 1001, 30000)),
     ("00:01:30;12", "60000/1001", Fraction(5408 * 1001, 60000))],
)  # fmt: skip
def test_every_notation_of_a_length(written: str, rate: str, seconds: Fraction):
    text = long_lesson().replace("slot: 3:00", f"slot: {written}").replace("30000/1001", rate)
    segment = loads(text).board.segment
    assert seconds_of(segment.slot, segment.rate) == seconds


def test_labels_keep_their_kind():
    text = lesson(("slot: 3:00", "slot: 00:03:00;02"), ("rate: 25", "rate: 30000/1001"))
    assert loads(text).board.segment.slot == Timecode(0, 3, 0, 2, drop=True)


def test_a_label_of_a_clip_is_counted_at_the_clip_s_rate_not_here():
    assert loads(lesson(("at: impact, hold", "at: 00:00:01:59, hold")))

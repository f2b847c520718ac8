from __future__ import annotations

import csv
import datetime
import hashlib
import io
import json
import unicodedata
from pathlib import Path

import pypdfium2
import pytest
from PIL import Image

from segmentkit.deliver.contact import ContactOptions, write_contact
from segmentkit.deliver.frozen import frozen_pictures
from segmentkit.deliver.manifest import delivered, write_delivery_list
from segmentkit.deliver.paper import A4, LETTER, MM_A_POINT, PdfPaper, width_of, wrapped
from segmentkit.deliver.papers import write_rights
from segmentkit.deliver.rights import CUES_HEAD, RIGHTS_HEAD, as_csv, as_text, cue_rows, rights_rows
from segmentkit.deliver.takehome import CAUTION, FOOTER, take_home
from segmentkit.deliver.takehome_page import INKS, sheet_frames, write_take_home
from segmentkit.deliver.thumbs import thumbnails, write_thumbnails
from segmentkit.errors import SegmentkitError
from segmentkit.plan.model import ClipPicture
from segmentkit.timebase import Span
from tests.deliver.boards import pictures, segment, with_sheet
from tests.plan_makers import beat_of, clean, context

DAY = datetime.date(2026, 11, 25)


def read_pdf(path: Path) -> tuple[list[tuple[float, float]], str]:
    """Sizes of the pages in millimetres and all their text, by PDFium, the PDF reader of an open-source browser."""
    document = pypdfium2.PdfDocument(str(path))
    try:
        sizes = [(page.get_width() * MM_A_POINT, page.get_height() * MM_A_POINT) for page in document]
        text = " ".join(page.get_textpage().get_text_range() for page in document)
    finally:
        document.close()
    return sizes, " ".join(text.split())


# --- frozen pictures


def test_every_freeze_is_found_with_all_its_strokes_drawn():
    plan = segment().plan
    frozen = {one.shot.id: one for one in frozen_pictures(plan)}
    held = [shot.id for shot in plan.shots if shot.kind in {"freeze", "split"}]
    assert list(frozen) == held
    impact = frozen["impact/1"]
    assert {stroke.id for stroke in impact.strokes} == {"hip_line", "gap"}
    for stroke in impact.strokes:
        assert stroke.draw_start + stroke.draw_frames <= impact.frame < stroke.span.end - stroke.wipe_frames
    assert impact.name == "impact"
    assert frozen["drill/0"].name == "drill: top"


def test_a_run_is_no_freeze():
    plan = segment().plan
    assert all(shot.kind != "run" for shot in (one.shot for one in frozen_pictures(plan)))


# --- take-home sheet


def made_sheet(tmp_path: Path, name: str = "sheet.pdf", board: dict | None = None, paper=A4) -> Path:
    made = segment(board)
    sheet = take_home(made.plan, made.board, DAY)
    return write_take_home(tmp_path / name, sheet, pictures(sheet_frames(sheet), 1920, 1080), paper)


@pytest.mark.parametrize("paper", [A4, LETTER], ids=["a4", "letter"])
def test_the_sheet_is_one_page_of_its_paper(tmp_path: Path, paper):
    sizes, _ = read_pdf(made_sheet(tmp_path, paper=paper))
    assert len(sizes) == 1
    assert sizes[0] == pytest.approx((paper.width, paper.height), abs=0.1)


def test_paper_sizes_are_the_standard_ones():
    # ISO 216: A4 is 210 mm by 297 mm. ANSI/ASME Y14.1: Letter is 8.5 in by 11 in.
    assert (A4.width, A4.height) == (210, 297)
    assert (LETTER.width, LETTER.height) == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_the_sheet_says_all_it_must(tmp_path: Path):
    _, text = read_pdf(made_sheet(tmp_path))
    for wanted in (
        "For Maren", "daylight between your hips", "catch it thin", "lead hip go back", "Wall drill",
        "10 slow turns, once a day", "No club near the wall", "Stop if anything hurts", "5 March 2027", CAUTION, FOOTER,
        "You at impact", "Our demonstrator",
    ):  # fmt: skip
        assert wanted in text, wanted


def test_the_sheet_names_nobody_else(tmp_path: Path):
    _, text = read_pdf(made_sheet(tmp_path))
    for other in ("Ines", "Presenter", "Lindholm", "handicap"):
        assert other not in text


@pytest.mark.parametrize("name", ["Μαρία Παπαδοπούλου", "Мария Ёлкина", "Éva Łódź", "שרה לוי", "شيرين أحمد"])
def test_names_of_other_scripts_are_set_from_fallback_fonts(tmp_path: Path, name: str):
    board = with_sheet()
    board["people"]["maren"]["shown"] = name
    _, text = read_pdf(made_sheet(tmp_path, board=board))
    assert "For" in text
    if "LEFT" not in _ways(name):
        assert name in text  # scripts that need shaping stand there as a picture
    size = 25.0
    assert width_of(name, size, strong=True) > 0.35 * size * MM_A_POINT * len(name) * 0.8


def _ways(text: str) -> set[str]:
    return {"LEFT" for letter in text if unicodedata.bidirectional(letter) in {"R", "AL"}}


def test_letters_that_no_font_has_are_refused(tmp_path: Path):
    board = with_sheet()
    board["people"]["maren"]["shown"] = "Maren \U0001f3cc"
    with pytest.raises(SegmentkitError, match="no font here has \U0001f3cc"):
        made_sheet(tmp_path, board=board)


def test_of_a_minor_the_sheet_shows_the_first_name_alone(tmp_path: Path):
    board = with_sheet()
    maren = board["people"]["maren"]
    for key in ("place", "handicap"):
        del maren[key]
    maren.update(shown="Maren Holt", adult="no", guardian="Torben Holt")
    _, text = read_pdf(made_sheet(tmp_path, board=board))
    assert "For Maren" in text
    assert "Holt" not in text


def test_pictures_are_the_viewers_own_and_then_the_demonstrators():
    made = segment()
    sheet = take_home(made.plan, made.board, DAY)
    shown = [one.frozen.clips[0] for one in sheet.pictures]
    assert shown == ["viewer", "viewer", "model"]
    assert [one.title for one in sheet.pictures][:2] == ["You at address", "You at impact"]
    assert sheet.pictures[1].strokes == ("reference", "fault")


def test_pictures_can_be_chosen_by_beat_and_a_split_shows_the_viewers_side():
    made = segment(with_sheet(pictures=["compare", "impact"]))
    sheet = take_home(made.plan, made.board, DAY)
    assert [one.frozen.shot.beat for one in sheet.pictures] == ["compare", "impact"]
    half = sheet.pictures[0].window
    assert half.right <= 961


def test_a_storyboard_without_a_sheet_says_what_to_write():
    made = context(clean())
    with pytest.raises(SegmentkitError, match="write `sheet:` with person, what, why"):
        take_home(made.plan, made.board, DAY)


def test_a_beat_without_a_freeze_is_refused_by_name():
    made = segment(with_sheet(pictures=["title"]))
    with pytest.raises(SegmentkitError, match="beat title has no frozen picture"):
        take_home(made.plan, made.board, DAY)


def test_a_sheet_of_nobody_seen_is_refused():
    board = with_sheet(person="rolf")
    board["people"]["rolf"] = {"shown": "Rolf", "adult": "yes", "release": board["people"]["ines"]["release"]}
    made = segment(board)
    with pytest.raises(SegmentkitError, match="no frozen picture shows rolf"):
        take_home(made.plan, made.board, DAY)


@pytest.mark.slow
def test_long_words_are_set_smaller_and_too_long_ones_refused(tmp_path: Path):
    much = "Your hips come toward the ball, and so the arms are crowded. " * 8
    sizes, text = read_pdf(made_sheet(tmp_path, board=with_sheet(what=much)))
    assert len(sizes) == 1
    assert text.count("arms are crowded") == 8
    with pytest.raises(SegmentkitError, match="do not fit one page of A4"):
        made_sheet(tmp_path, board=with_sheet(what=much * 10))


def _luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2, of the grey a colour becomes."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize(("inked", "ground"), INKS)
def test_every_ink_of_the_sheet_can_be_read_in_grey(inked: str, ground: str):
    # WCAG 2.2, 1.4.3: 4.5 to 1. Luminance is what a grey copy keeps.
    high, low = sorted((_luminance(inked), _luminance(ground)), reverse=True)
    assert (high + 0.05) / (low + 0.05) >= 4.5


def test_the_inks_are_those_on_the_page(tmp_path: Path):
    """Printed in grey, each line of type is told from its ground by half of black's distance from white or more."""
    page = Image.open(made_sheet(tmp_path, "sheet.png")).convert("L")
    name = page.crop((70, 90, 600, 190))
    low, high = name.getextrema()
    assert (low, high) == (min(low, 75), 255)


# --- contact sheet


@pytest.mark.parametrize("suffix", ["pdf", "png"])
def test_the_contact_sheet_holds_every_freeze(tmp_path: Path, suffix: str):
    made = segment()
    frozen = frozen_pictures(made.plan)
    shown = pictures(one.frame for one in frozen)
    options = ContactOptions(format=A4, grid=True, safe_area=True)
    (file,) = write_contact(tmp_path / f"contact.{suffix}", made.plan, made.board, frozen, shown, options)
    if suffix == "pdf":
        sizes, text = read_pdf(file)
        assert sizes[0] == pytest.approx((297, 210), abs=0.1)
        for one in frozen:
            assert one.time in text
        assert "gap (fault)" in text
        return
    with Image.open(file) as page:
        colours = {colour[0] for _, colour in page.getcolors(1 << 20) if len(set(colour)) == 1}
    assert {one.frame % 251 for one in frozen} <= colours


def test_many_freezes_take_several_sheets(tmp_path: Path):
    made = segment()
    frozen = frozen_pictures(made.plan) * 3
    options = ContactOptions(format=A4, notes=True)
    shown = pictures(one.frame for one in frozen)
    written = write_contact(tmp_path / "c.png", made.plan, made.board, frozen, shown, options)
    assert [file.name for file in written] == ["c-1.png", "c-2.png", "c-3.png"]


# --- rights, cues, thumbnails, list


def test_rights_name_each_use_with_its_release():
    made = segment()
    rows = rights_rows(made.plan, made.board)
    assert all(len(row) == len(RIGHTS_HEAD) for row in rows)
    clips = [row for row in rows if row[3] == "clip"]
    assert {row[4] for row in clips} == {"viewer", "model"}
    first = next(row for row in clips if row[4] == "viewer")
    assert first[6:11] == ("Maren", "web, broadcast", "", "2028-06-30", "herself")
    seen = sum(
        shot.span.frames
        for shot in made.plan.shots
        if any(isinstance(pane.picture, ClipPicture) and pane.picture.clip == "viewer" for pane in shot.panes)
    )
    assert sum(_frames(row[2]) for row in clips if row[4] == "viewer") == seen


def _frames(label: str) -> int:
    hours, minutes, seconds, frames = map(int, label.split(":"))
    return ((hours * 60 + minutes) * 60 + seconds) * 25 + frames


def test_cues_have_in_out_and_duration():
    board = with_sheet()
    board["music"] = [{"file": "bed.wav", "until": "intro", "title": "Marram", "credit": "The house band"}]
    made = segment(board)
    ((number, start, end, lasts, title, file, credit, use, *_),) = cue_rows(made.plan, made.board)
    assert (number, start, title, file, credit, use) == (
        "1",
        "00:00:00:00",
        "Marram",
        "bed.wav",
        "The house band",
        "under speech",
    )
    assert end == lasts
    assert _frames(end) == made.plan.beat("intro").span.end


LICENCE = {"for": ["web"], "by": "Marram Sound", "reference": "MS-12", "territory": "Northern Europe",
           "from": "2026-01-01", "until": "2028-12-31"}  # fmt: skip
COLUMNS = ("Marram Sound", "MS-12", "web", "Northern Europe", "2026-01-01", "2028-12-31")


def test_the_cue_sheet_says_by_what_permission_the_music_sounds():
    board = with_sheet()
    board["music"] = [{"file": "bed.wav", "licence": LICENCE}, {"file": "other.wav", "until": "intro"}]
    made = segment(board)
    rows = cue_rows(made.plan, made.board)
    first = CUES_HEAD.index("licensed by")
    assert [row[first : first + 6] for row in rows] == [COLUMNS, ("",) * 6]
    assert all(len(row) == len(CUES_HEAD) for row in rows)


def test_the_rights_sheet_names_the_licence_of_a_clip():
    board = with_sheet()
    board["clips"]["model"]["licence"] = LICENCE
    made = segment(board)
    rows = rights_rows(made.plan, made.board)
    first = RIGHTS_HEAD.index("licensed by")
    told = {row[4]: row[first : first + 6] for row in rows if row[3] == "clip"}
    assert told == {"model": COLUMNS, "viewer": ("",) * 6}


def test_csv_survives_what_is_written_in_it_and_is_no_formula():
    rows = [("a,b", 'say "so"', "line\nbreak"), ("=1+1", "@x", "plain")]
    read = list(csv.reader(io.StringIO(as_csv(("x", "y", "z"), rows))))
    assert read == [["x", "y", "z"], ["a,b", 'say "so"', "line\nbreak"], ["'=1+1", "'@x", "plain"]]


def test_text_leaves_empty_columns_out():
    assert as_text("T", ("a", "b"), [("1", ""), ("22", "")]) == "T\n\na\n1\n22\n"
    assert as_text("T", CUES_HEAD, []) == "T\n\nnone\n"


def test_rights_are_written_as_csv_and_text(tmp_path: Path):
    made = segment()
    names = [file.name for file in write_rights(tmp_path, "x", made.plan, made.board)]
    assert names == ["x-rights.csv", "x-rights.txt", "x-music-cues.csv", "x-music-cues.txt"]
    assert (tmp_path / "x-music-cues.txt").read_text().endswith("none\n")


def test_three_thumbnails_are_proposed_and_say_so(tmp_path: Path):
    made = segment()
    chosen = thumbnails(made.plan)
    assert [one.name for one in chosen] == ["comparison", "fault", "drill"]
    assert all(one.frame in Span(0, made.plan.frames) for one in chosen)
    written = write_thumbnails(tmp_path, "x", made.plan, chosen, pictures(one.frame for one in chosen))
    assert [file.name for file in written][:3] == [f"x-thumbnail-{one.name}-proposal.png" for one in chosen]
    assert "a person looks at faces and consent" in written[-1].read_text()


def test_strokes_outside_the_safe_area_are_said():
    board = with_sheet()
    beat_of(board, "impact")["strokes"]["gap"]["double_arrow"] = [[0.02, 0.52], [0.5, 0.52]]
    fault = next(one for one in thumbnails(segment(board).plan) if one.name == "fault")
    assert not fault.inside


def test_what_is_handed_over_is_listed_with_its_hash(tmp_path: Path):
    file = tmp_path / "a.txt"
    file.write_bytes(b"abc")
    # FIPS 180-4, example of SHA-256 for "abc".
    wanted = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert delivered([file]) == [{"file": "a.txt", "bytes": 3, "sha256": wanted}]
    listed = write_delivery_list(tmp_path / "list.json", segment().plan, [file])
    data = json.loads(listed.read_text())
    assert data["files"][0]["sha256"] == hashlib.sha256(b"abc").hexdigest()
    assert data["length"] == "00:01:10:00"


# --- paper


def test_lines_are_wrapped_to_the_width_and_long_words_cut():
    lines = wrapped("Turn back until your trail hip brushes the wall " + "x" * 90, 40, 11)
    assert all(width_of(line, 11) <= 40 for line in lines)
    assert "".join(lines).replace(" ", "").endswith("x" * 90)


def test_both_papers_set_type_at_the_same_width(tmp_path: Path):
    paper = PdfPaper(A4, "t", "en", tmp_path / "x.pdf")
    paper.page()
    text = "Where the hips were at address"
    paper.text(20, 20, text, 20, "#000000")
    (tmp_path / "x.pdf").write_bytes(paper.data())
    document = pypdfium2.PdfDocument(str(tmp_path / "x.pdf"))
    page = document[0].get_textpage()
    left, right = page.get_charbox(0)[0], page.get_charbox(len(text) - 1)[2]
    document.close()
    assert (right - left) * MM_A_POINT == pytest.approx(width_of(text, 20), abs=0.7)

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from segmentkit.deliver.script import Ink, line_runs, script_beats
from segmentkit.deliver.script_html import script_page
from tests.plan.lesson import lesson, planned_lesson


def test_each_row_has_its_clock_its_back_time_and_its_words():
    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    rows = script_beats(plan, loaded.board)
    assert [row.id for row in rows] == ["open", "praise", "impact", "drill", "end"]
    assert (rows[0].start, rows[0].to_go, rows[0].count) == ("0:00.0", "0:50.0", "no words")
    # 28 words in 11.2 s are 150 a minute.
    assert (rows[1].words, rows[1].pace) == (28, 150)
    assert rows[3].rigid
    assert (
        rows[1]
        .pictures[0]
        .startswith("Maren, address to impact, speed 1/2 · 2.8 s".replace(" · ", " ·\xa0").replace(".8 s", ".8\xa0s"))
    )
    assert "Draw gap (fault line) on “daylight”" in rows[2].extras
    assert any(text.startswith("Drill at 0.5\xa0s for 5.5\xa0s: Wall drill") for text in rows[3].extras)


def test_strokes_stand_before_their_word_and_spare_words_apart():
    loaded = lesson()
    beat = next(beat for beat in loaded.board.beats if beat.beat == "impact")
    runs = [(run.text, run.ink) for run in line_runs(beat.say[0], beat)]
    assert runs == [
        ("Stop it at impact now. There's", Ink.WORDS), ("gap", Ink.STROKE),
        ("daylight between your hips and that line.", Ink.WORDS), ("And", Ink.SPARE), ("ball", Ink.STROKE),
        ("the ball is further off, too.", Ink.SPARE),
    ]  # fmt: skip
    words = " ".join(text for text, kind in runs if kind in {Ink.WORDS, Ink.SPARE})
    assert words == beat.say[0].text


class Cells(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002  the parser's signature
        if tag == "tr":
            self.rows.append([])
        elif tag == "td":
            self.rows[-1].append("")

    def handle_data(self, data: str) -> None:
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data + " "


def test_the_page_has_three_columns_and_all_words():
    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    page = script_page(plan, loaded.board)
    cells = Cells()
    cells.feed(page)
    rows = [row for row in cells.rows if row]
    assert [len(row) for row in rows] == [3] * len(plan.beats)
    for beat, row in zip(plan.beats, rows, strict=True):
        words = row[2].split()
        for line in (line for line in plan.speech if line.beat == beat.id):
            assert all(word in words for word in line.text.split())
    assert "@page { size: A4;" in page
    assert not re.search(r"https?://", page)


def test_the_pdf_holds_every_word_on_a4(tmp_path: Path):
    pytest.importorskip("fpdf", reason="the extra `sheets` is not installed")
    from segmentkit.deliver.script_pdf import script_pdf

    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    data = script_pdf(plan, loaded.board, tmp_path / "script.pdf")
    assert data.startswith(b"%PDF-")
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", data)
    # ISO 216: A4 is 210 x 297 mm, 595.28 x 841.89 points.
    assert {(round(float(w), 1), round(float(h), 1)) for w, h in boxes} == {(595.3, 841.9)}


def test_words_flow_into_their_column(tmp_path: Path):
    pytest.importorskip("fpdf", reason="the extra `sheets` is not installed")
    from segmentkit.deliver import script_pdf as module

    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    with module.new_pdf(tmp_path / "script.pdf") as pdf:
        pdf.add_page()
        for beat in script_beats(plan, loaded.board):
            columns = module._columns(pdf, beat)
            for column, width in zip(columns, module._WIDTHS, strict=True):
                for row in column:
                    used = sum(module._width(pdf, piece, row.size) for piece in row.pieces)
                    used += (len(row.pieces) - 1) * module._width(pdf, module._Piece(" "), row.size)
                    assert used <= width + 0.01, row
            set_ = " ".join(piece.text for row in columns[2] for piece in row.pieces if not piece.fill)
            said = " ".join(line.text for spec in loaded.board.beats if spec.beat == beat.id for line in spec.say)
            in_order = iter(re.sub("[{}]", "", set_).split())
            assert all(word in in_order for word in said.split())


def test_a_long_script_goes_over_several_pages(tmp_path: Path):
    pytest.importorskip("fpdf", reason="the extra `sheets` is not installed")
    from segmentkit.deliver import script_pdf as module

    loaded = lesson()
    plan, _ = planned_lesson(loaded)
    with module.new_pdf(tmp_path / "script.pdf") as pdf:
        pdf.add_page()
        columns = module._columns(pdf, script_beats(plan, loaded.board)[1])
        repeated = [list(columns[0]) * 40, list(columns[1]) * 2, list(columns[2]) * 20]
        heights = [sum(row.leading for row in column) for column in repeated]
        y = module._set(pdf, repeated, 200.0)
        # The longest column rules: what does not fit below 200 mm goes on from the top of full pages.
        assert len(pdf.pages) == 1 + -(-(max(heights) - 81) // (282 - 14))
        assert 14 < y < 290
        assert bytes(pdf.output()).count(b"/Type /Page\n") == len(pdf.pages)

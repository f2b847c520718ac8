"""The script as a PDF on A4: three columns, a row for each beat, never broken over two pages where one can hold it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from segmentkit.deliver import ink
from segmentkit.deliver.script import Ink, ScriptBeat, ScriptLine, Stretch, script_beats, script_figures
from segmentkit.deliver.svg import FAMILY, REGULAR, STRONG, font_file
from segmentkit.errors import OutputFailed
from segmentkit.plan.backtime import over_meaning, over_text
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard

if TYPE_CHECKING:
    from fpdf import FPDF

_LEFT, _TOP, _RIGHT, _BOTTOM = 13.0, 14.0, 197.0, 282.0
_COLUMNS = (_LEFT, _LEFT + 25, _LEFT + 89)
_WIDTHS = (22.0, 60.0, _RIGHT - _COLUMNS[2])
_POINT = 0.3528
"""Millimetres in a point."""


@dataclass(frozen=True, slots=True)
class _Piece:
    """Text in one colour and weight; `fill` sets it on a small plate."""

    text: str
    colour: str = ink.INK
    strong: bool = False
    fill: str | None = None


@dataclass(frozen=True, slots=True)
class _Row:
    """A line of pieces at a size in points, and the millimetres to the next."""

    pieces: tuple[_Piece, ...]
    size: float
    leading: float


def script_pdf(plan: Plan, board: Storyboard, out: Path) -> bytes:
    """The script as the bytes of a PDF; `out` is what errors call it.

    Raises:
        OutputFailed: when the library that writes PDFs is not installed.
    """
    with new_pdf(out) as pdf:
        pdf.set_title(f"{plan.title} — script")
        pdf.set_lang(board.segment.language)
        pdf.add_page()
        y = _head(pdf, plan, board)
        for beat in script_beats(plan, board):
            columns = _columns(pdf, beat)
            tall = max(sum(row.leading for row in column) for column in columns) + 4
            if y + tall > _BOTTOM and y > _TOP + 30:
                pdf.add_page()
                y = _column_heads(pdf, _TOP)
            y = _set(pdf, columns, y)
        _numbers(pdf, plan.title)
        return bytes(pdf.output())


@contextmanager
def new_pdf(out: Path) -> Iterator[FPDF]:
    """An empty A4 document with the fonts of paper work, whose files are closed at the end.

    Raises:
        OutputFailed: when the library is not installed.
    """
    try:
        from fpdf import FPDF  # noqa: PLC0415  an extra
    except ImportError:
        raise OutputFailed(
            f"{out} — a PDF needs the library fpdf2, which is not installed — pip install 'segmentkit[sheets]', or "
            "write .html"
        ) from None
    pdf: Any = FPDF(format="A4", unit="mm")
    pdf.set_auto_page_break(False)
    pdf.add_font(FAMILY, "", str(font_file(REGULAR)))
    pdf.add_font(FAMILY, "B", str(font_file(STRONG)))
    pdf.set_font(FAMILY, "", 10)
    try:
        yield pdf
    finally:
        for font in pdf.fonts.values():
            font.ttfont.close()


def _head(pdf: FPDF, plan: Plan, board: Storyboard) -> float:
    segment, over = board.segment, plan.frames - plan.slot
    colour = ink.WARNING if over else ink.SEA
    _text(pdf, _RIGHT, 22, _Piece(over_text(over, plan.rate), colour, strong=True), 22, right=True)
    _text(pdf, _RIGHT, 27.5, _Piece(over_meaning(over), colour, strong=True), 10, right=True)
    above = " · ".join(text for text in (segment.programme, segment.item) if text)
    _text(pdf, _LEFT, 16, _Piece(above, ink.QUIET), 9)
    y = 23.5
    for row in _flow(pdf, [_Piece(plan.title, ink.SLATE, strong=True)], 125, 20, 8):
        _row(pdf, _LEFT, y, row)
        y += 8
    figures = script_figures(plan)
    _text(pdf, _LEFT, y - 2, _Piece(figures), 9.5)
    return _column_heads(pdf, y + 1)


def _column_heads(pdf: FPDF, y: float) -> float:
    _rule(pdf, y, ink.SLATE, 0.7)
    for x, name in zip(_COLUMNS, ("Clock", "Picture", "Words"), strict=True):
        _text(pdf, x, y + 5, _Piece(name, ink.QUIET, strong=True), 9)
    _rule(pdf, y + 7, ink.LINE, 0.2)
    return y + 8


def _columns(pdf: FPDF, beat: ScriptBeat) -> list[list[_Row]]:
    clock = [
        _Row((_Piece(beat.start, ink.SLATE, strong=True),), 14, 6.2),
        _Row((_Piece(f"−{beat.to_go}", ink.QUIET),), 10, 4.6),
        *_flow(pdf, [_Piece(beat.name, ink.SEA, strong=True)], _WIDTHS[0], 10, 4.6),
        _Row((_Piece(f"{beat.length}{', rigid' if beat.rigid else ''}", ink.QUIET),), 9, 4.2),
    ]
    picture: list[_Row] = []
    for text in beat.pictures:
        picture += _flow(pdf, [_Piece(text)], _WIDTHS[1], 9.5, 4.4)
    for text in beat.extras:
        picture += _flow(pdf, [_Piece(text, ink.QUIET)], _WIDTHS[1], 8, 3.8)
    words: list[_Row] = []
    for line in beat.lines:
        words.append(_Row((_Piece(line.shown, ink.SUN, strong=True),), 8.5, 5.2))
        words += _flow(pdf, _pieces(line), _WIDTHS[2], 11.5, 5.4)
    words.append(_Row((_Piece(beat.count, ink.QUIET),), 8, 4.8))
    return [clock, picture, words]


def _pieces(line: ScriptLine) -> list[_Piece]:
    pieces: list[_Piece] = []
    for stretch in line.runs:
        pieces.append(_piece(stretch))
    return pieces


def _piece(stretch: Stretch) -> _Piece:
    match stretch.ink:
        case Ink.WORDS:
            return _Piece(stretch.text)
        case Ink.SPARE:
            return _Piece(f"{{{stretch.text}}}", ink.SUN)
        case Ink.STROKE:
            return _Piece(stretch.text, ink.SLATE, strong=True, fill=ink.SEA_PALE)
        case Ink.CARD:
            return _Piece(stretch.text, ink.SLATE, strong=True, fill=ink.SAND)


def _set(pdf: FPDF, columns: Sequence[Sequence[_Row]], y: float) -> float:
    """Sets a row's columns; one that is taller than a page goes on at the top of the next."""
    first = pdf.page
    ends = []
    for x, rows in zip(_COLUMNS, columns, strict=True):
        pdf.page = first
        at = y + 1
        for row in rows:
            if at + row.leading > _BOTTOM:
                _next_page(pdf)
                at = _TOP
            at += row.leading
            _row(pdf, x, at, row)
        ends.append((pdf.page, at))
    pdf.page, lowest = max(ends)
    _rule(pdf, lowest + 2, ink.LINE, 0.2)
    return lowest + 3


def _next_page(pdf: FPDF) -> None:
    """The page after this one; a new one where there is none yet."""
    if pdf.page == len(pdf.pages):
        pdf.add_page()
    else:
        pdf.page += 1


def _flow(pdf: FPDF, pieces: Sequence[_Piece], width: float, size: float, leading: float) -> list[_Row]:
    """Breaks pieces into rows that fit; a plate is never broken from within."""
    rows: list[_Row] = []
    row: list[_Piece] = []
    used = 0.0
    for piece in pieces:
        for word in [piece.text] if piece.fill else filter(None, piece.text.split(" ")):
            one = _Piece(word, piece.colour, piece.strong, piece.fill)
            wide = _width(pdf, one, size)
            space = _width(pdf, _Piece(" "), size) if row else 0.0
            if row and used + space + wide > width:
                rows.append(_Row(tuple(row), size, leading))
                row, used, space = [], 0.0, 0.0
            row.append(one)
            used += space + wide
    if row:
        rows.append(_Row(tuple(row), size, leading))
    return rows


def _width(pdf: FPDF, piece: _Piece, size: float) -> float:
    pdf.set_font(FAMILY, "B" if piece.strong else "", _size(piece, size))
    return float(pdf.get_string_width(piece.text)) + (2.4 if piece.fill else 0)


def _size(piece: _Piece, size: float) -> float:
    return size * 0.72 if piece.fill else size


def _row(pdf: FPDF, x: float, y: float, row: _Row) -> None:
    for piece in row.pieces:
        wide = _width(pdf, piece, row.size)
        if piece.fill:
            tall = row.size * _POINT
            pdf.set_fill_color(piece.fill)
            pdf.rect(x, y - tall * 0.78, wide, tall, style="F", round_corners=True, corner_radius=0.8)
            _text(pdf, x + 1.2, y - tall * 0.06, piece, _size(piece, row.size))
        else:
            _text(pdf, x, y, piece, row.size)
        x += wide + _width(pdf, _Piece(" "), row.size)


def _text(pdf: FPDF, x: float, y: float, piece: _Piece, size: float, *, right: bool = False) -> None:
    if not piece.text:
        return
    pdf.set_font(FAMILY, "B" if piece.strong else "", size)
    pdf.set_text_color(piece.colour)
    pdf.text(x - (float(pdf.get_string_width(piece.text)) if right else 0), y, piece.text)


def _rule(pdf: FPDF, y: float, colour: str, width: float) -> None:
    pdf.set_draw_color(colour)
    pdf.set_line_width(width)
    pdf.line(_LEFT, y, _RIGHT, y)


def _numbers(pdf: FPDF, title: str) -> None:
    count = len(pdf.pages)
    for number in range(1, count + 1):
        pdf.page = number
        _text(pdf, _LEFT, 290, _Piece(title, ink.QUIET), 8)
        _text(pdf, _RIGHT, 290, _Piece(f"{number} of {count}", ink.QUIET), 8, right=True)

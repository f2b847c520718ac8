"""The contact sheet: every frozen picture with its strokes, its time and its name, to be looked at by whoever signs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.deliver import ink
from segmentkit.deliver.frozen import FrozenPicture
from segmentkit.deliver.paper import Format, Paper, PdfPaper, PicturePaper, column, width_of, wrapped
from segmentkit.media import safe
from segmentkit.media.stills import Rgb
from segmentkit.plan.layout import title_safe
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import clock_text, label_of_frame, seconds_of_frame

_MARGIN, _HEAD, _FOOT, _GAP = 10.0, 15.0, 7.0, 5.0
_TEXT = 11.5  # millimetres under a picture
_NOTES = 0.55  # of a field's width is picture where the rest is for notes
_RULED = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactOptions:
    """How a contact sheet is made.

    Attributes:
        format: the paper, lying on its side.
        safe_area: draw the safe area over each picture.
        grid: draw thirds over each picture.
        notes: fewer and larger pictures with lines to write on.
    """

    format: Format
    safe_area: bool = False
    grid: bool = False
    notes: bool = False


def draw_contact(
    paper: Paper,
    plan: Plan,
    board: Storyboard,
    frozen: Sequence[FrozenPicture],
    pictures: Mapping[int, Rgb],
    options: ContactOptions,
) -> int:
    """Draws the sheets and returns how many; `pictures` by frame, uint8, shape (height, width, 3)."""
    columns, rows = _fields(plan, len(frozen), paper.format, options)
    width, height = _room(paper.format, columns, rows)
    a_page = columns * rows
    count = max(1, -(-len(frozen) // a_page))
    for number in range(count):
        paper.page()
        _head(paper, plan, board, number + 1, count)
        for k, one in enumerate(frozen[number * a_page : (number + 1) * a_page]):
            x = _MARGIN + (k % columns) * (width + _GAP)
            y = _MARGIN + _HEAD + (k // columns) * (height + _GAP)
            _field(paper, (x, y, width, height), one, pictures[one.frame], plan, options)
    return count


def _fields(plan: Plan, count: int, format_: Format, options: ContactOptions) -> tuple[int, int]:
    """Columns and rows: as few sheets as can be, then the largest pictures."""
    tall = plan.size.height > plan.size.width
    if options.notes:
        return (3, 1) if tall else (2, 3)
    tries = ((4, 1), (5, 1), (6, 2), (8, 2)) if tall else ((2, 2), (3, 2), (3, 3), (4, 3))

    def worth(fields: tuple[int, int]) -> tuple[int, float]:
        width, height = _room(format_, *fields)
        return -(-count // (fields[0] * fields[1])), -_scale(plan, width, height - _TEXT)

    return min(tries, key=worth)


def _room(format_: Format, columns: int, rows: int) -> tuple[float, float]:
    """Width and height of a field in millimetres."""
    width = (format_.width - 2 * _MARGIN - (columns - 1) * _GAP) / columns
    return width, (format_.height - 2 * _MARGIN - _HEAD - _FOOT - (rows - 1) * _GAP) / rows


def _scale(plan: Plan, width: float, height: float) -> float:
    return min(width / plan.size.width, height / plan.size.height)


def _head(paper: Paper, plan: Plan, board: Storyboard, number: int, count: int) -> None:
    segment = board.segment
    above = " · ".join(text for text in (segment.programme, segment.item) if text)
    paper.text(_MARGIN, _MARGIN + 3, above, 8, ink.QUIET)
    paper.text(_MARGIN, _MARGIN + 10, plan.title, 16, ink.SLATE, strong=True)
    length = f"{label_of_frame(plan.frames, plan.rate)} at {plan.rate}, {plan.size}"
    right = paper.format.width - _MARGIN
    paper.text(right - width_of(length, 9), _MARGIN + 10, length, 9, ink.INK)
    paper.line(_MARGIN, _MARGIN + 12.5, right, _MARGIN + 12.5, ink.SLATE, 0.5)
    foot = f"{number} of {count}"
    paper.text(right - width_of(foot, 8), paper.format.height - _MARGIN + 2, foot, 8, ink.QUIET)
    says = (
        "Every frozen picture as it is on screen when all its strokes stand. Time is that of the picture's first frame."
    )
    paper.text(_MARGIN, paper.format.height - _MARGIN + 2, says, 8, ink.QUIET)


def _field(
    paper: Paper, field: tuple[float, float, float, float], one: FrozenPicture, rgb: Rgb, plan: Plan,
    options: ContactOptions,
) -> None:  # fmt: skip
    x, y, width, height = field
    scale = _scale(plan, width * (_NOTES if options.notes else 1), height - _TEXT)
    wide, tall = plan.size.width * scale, plan.size.height * scale
    left = x
    paper.picture(left, y, wide, tall, rgb)
    if options.safe_area:
        area = title_safe(plan.canvas)
        _frame(paper, left + area.x * scale, y + area.y * scale, area.width * scale, area.height * scale)
    if options.grid:
        for third in (1 / 3, 2 / 3):
            _over(paper, left + third * wide, y, left + third * wide, y + tall)
            _over(paper, left, y + third * tall, left + wide, y + third * tall)
    clock = clock_text(seconds_of_frame(one.shot.span.start, plan.rate))
    strokes = ", ".join(f"{stroke.id.replace('_', ' ')} ({stroke.role})" for stroke in one.strokes)
    lines = wrapped(f"{one.time}  {one.name}", width, 9.5, strong=True)[:2]
    text = column(paper, left, y + tall + 1, lines, 9.5, ink.SLATE, strong=True)
    under = wrapped(f"{clock} · {strokes or 'no strokes'}", width, 8)
    column(paper, left, text, under[: 3 - len(lines)], 8, ink.QUIET)
    if options.notes:
        for k in range(int(tall // _RULED)):
            at = y + _RULED * (k + 1)
            paper.line(left + wide + _GAP, at, x + width, at, ink.LINE, 0.2)


def _frame(paper: Paper, x: float, y: float, width: float, height: float) -> None:
    for x0, y0, x1, y1 in (
        (x, y, x + width, y), (x + width, y, x + width, y + height), (x, y + height, x + width, y + height),
        (x, y, x, y + height),
    ):  # fmt: skip
        _over(paper, x0, y0, x1, y1)


def _over(paper: Paper, x0: float, y0: float, x1: float, y1: float) -> None:
    """A line that is seen on light and on dark."""
    paper.line(x0, y0, x1, y1, "#000000", 0.5)
    paper.line(x0, y0, x1, y1, "#ffffff", 0.2)


def write_contact(
    out: Path,
    plan: Plan,
    board: Storyboard,
    frozen: Sequence[FrozenPicture],
    pictures: Mapping[int, Rgb],
    options: ContactOptions,
) -> tuple[Path, ...]:
    """Writes a contact sheet as PDF, or one PNG a sheet, by the name's suffix; returns what was written.

    Raises:
        OutputFailed: when it cannot be written, or the library for PDFs is not installed.
    """
    format_ = options.format.across
    if out.suffix.lower() == ".pdf":
        sheet = PdfPaper(format_, f"{plan.title} — contact sheet", board.segment.language, out)
        draw_contact(sheet, plan, board, frozen, pictures, options)
        with safe.writing(out) as partial:
            partial.write_bytes(sheet.data())
        return (out,)
    drawn = PicturePaper(format_)
    draw_contact(drawn, plan, board, frozen, pictures, options)
    return drawn.save(out)

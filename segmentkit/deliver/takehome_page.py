"""The take-home sheet on one page, A4 or Letter: drawn to be read in grey, with line styles named, not colours."""

from __future__ import annotations

import io
from collections.abc import Mapping
from pathlib import Path

from segmentkit.deliver import ink
from segmentkit.deliver.paper import Format, Paper, PdfPaper, PicturePaper, column, lacking, width_of, wrapped
from segmentkit.deliver.takehome import FOOTER, SheetPicture, TakeHome
from segmentkit.errors import SegmentkitError
from segmentkit.media import safe
from segmentkit.media.stills import Rgb

_MARGIN, _GAP = 13.0, 6.0
_BODY, _SMALL, _HEAD = 11.0, 9.0, 12.5
INKS = ((ink.INK, "#ffffff"), (ink.SLATE, "#ffffff"), (ink.QUIET, "#ffffff"), (ink.SLATE, ink.PANEL),
        (ink.INK, ink.PANEL), ("#ffffff", ink.SLATE))  # fmt: skip
"""Each ink the sheet uses, and the ground it stands on."""
_STYLES = (
    ("reference", 1.4, "to compare with"),
    ("fault", 2.4, "what to change"),
    ("good", 0.9, "what is good"),
)
"""Role, length of a dash in steps of 2.4 mm, what it means; the look draws them dashed, solid and dotted."""


def draw_take_home(paper: Paper, sheet: TakeHome, pictures: Mapping[int, Rgb], scale: float = 1.0) -> float:
    """Draws the page and returns where it ends, in millimetres from the top; `pictures` by frame of the segment.

    Args:
        paper: where to.
        sheet: what stands on it.
        pictures: uint8, shape (height, width, 3), full range.
        scale: of pictures and type, to make a long text fit.
    """
    paper.page()
    left, right = _MARGIN, paper.format.width - _MARGIN
    paper.text(left, _MARGIN + 3, sheet.above, _SMALL, ink.QUIET)
    paper.text(left, _MARGIN + 13, f"For {sheet.name}", 25, ink.SLATE, strong=True)
    y = column(paper, left, _MARGIN + 16.5, wrapped(sheet.title, right - left, 15), 15, ink.SLATE)
    paper.line(left, y + 1.5, right, y + 1.5, ink.SLATE, 0.7)
    y = _pictures(paper, sheet, pictures, left, y + 5, right - left, scale)
    y = _words(paper, sheet, left, y + 1.5, right - left, scale)
    y = _drill(paper, sheet, left, y + 3, right - left, scale)
    y = _head(paper, left, y + 3.5, f"Film it again, from {sheet.again} on", scale)
    y = _text(paper, left, y, sheet.film, right - left, scale)
    return _foot(paper, sheet, left, y + 3, right, scale)


def _pictures(
    paper: Paper, sheet: TakeHome, pictures: Mapping[int, Rgb], x: float, y: float, width: float, scale: float
) -> float:
    """All pictures at one height side by side, the viewer's own first; below them what their lines mean."""
    shapes = [one.window.width / one.window.height for one in sheet.pictures]
    room = width - _GAP * (len(shapes) - 1)
    high = min(88.0, room / sum(shapes)) * min(1.0, scale)
    at = x
    for one, shape in zip(sheet.pictures, shapes, strict=True):
        _picture(paper, one, pictures[one.frozen.frame], at, y, high * shape, high)
        at += high * shape + _GAP
    return _legend(paper, x, y + high + 7.5, sheet)


def _picture(paper: Paper, one: SheetPicture, rgb: Rgb, x: float, y: float, width: float, height: float) -> None:
    window = one.window
    top, bottom = max(0, round(window.y)), min(rgb.shape[0], round(window.bottom))
    first, last = max(0, round(window.x)), min(rgb.shape[1], round(window.right))
    paper.picture(x, y, width, height, rgb[top:bottom, first:last])
    paper.rect(x, y, width, height, None, ink.SLATE)
    paper.text(x, y + height + 4.6, one.title, 10, ink.SLATE, strong=True)


def _legend(paper: Paper, x: float, y: float, sheet: TakeHome) -> float:
    """What the lines mean, told by how they are drawn."""
    used = {role for one in sheet.pictures for role in one.strokes}
    for role, length, text in _STYLES:
        if role in used:
            for k in range(6):
                paper.rect(x + 2.4 * k, y + 1.6, length, 0.9, ink.SLATE)
            paper.text(x + 16.5, y + 3.2, text, 9.5, ink.INK)
            x += 16.5 + width_of(text, 9.5) + 7
    return y + (6.5 if used else 0)


def _head(paper: Paper, x: float, y: float, text: str, scale: float) -> float:
    return column(paper, x, y, [text], _HEAD * scale, ink.SLATE, strong=True)


def _text(paper: Paper, x: float, y: float, text: str, width: float, scale: float) -> float:
    return column(paper, x, y, wrapped(text, width, _BODY * scale), _BODY * scale, ink.INK)


def _words(paper: Paper, sheet: TakeHome, x: float, y: float, width: float, scale: float) -> float:
    """What, why and the feel, side by side."""
    columns = (("What the pictures show", sheet.what), ("Why it matters", sheet.why), ("One feel", sheet.feel))
    each = (width - 2 * _GAP) / 3
    ends = []
    for k, (head, text) in enumerate(columns):
        at = x + k * (each + _GAP)
        ends.append(_text(paper, at, _head(paper, at, y, head, scale) + 0.5, text, each, scale))
    return max(ends)


def _drill(paper: Paper, sheet: TakeHome, x: float, y: float, width: float, scale: float) -> float:
    """The drill on a panel, its safety in white on dark."""
    if not (sheet.drill_name or sheet.drill_how):
        return y
    pad, body = 4.0, _BODY * scale
    inner = width - 2 * pad
    under = " · ".join(text for text in (sheet.drill_count, sheet.equipment) if text)
    how = wrapped(sheet.drill_how, inner, body)
    line = body * 1.28 * 25.4 / 72
    head_height = 15 * scale * 1.28 * 25.4 / 72
    height = 2 * pad + head_height + line * (len(how) + bool(under))
    paper.rect(x, y, width, height, ink.PANEL, ink.SLATE)
    at = column(paper, x + pad, y + pad, [sheet.drill_name or "Drill"], 15 * scale, ink.SLATE, strong=True)
    at = column(paper, x + pad, at, [under] if under else [], body, ink.INK, strong=True)
    column(paper, x + pad, at, how, body, ink.INK)
    y += height
    if sheet.safety:
        says = wrapped(". ".join(text.rstrip(".") for text in sheet.safety) + ".", inner, body, strong=True)
        tall = line * len(says) + 4
        paper.rect(x, y, width, tall, ink.SLATE)
        column(paper, x + pad, y + 2, says, body, "#ffffff", strong=True)
        y += tall
    return y


def _foot(paper: Paper, sheet: TakeHome, x: float, y: float, right: float, scale: float) -> float:
    size = _SMALL * scale
    lines = wrapped(" ".join((*sheet.cautions, FOOTER)), right - x, size)
    height = len(lines) * size * 1.28 * 25.4 / 72
    top = max(y, paper.format.height - _MARGIN - height)
    paper.line(x, top - 2, right, top - 2, ink.SLATE, 0.3)
    return column(paper, x, top, lines, size, ink.INK)


def write_take_home(out: Path, sheet: TakeHome, pictures: Mapping[int, Rgb], format_: Format) -> Path:
    """Writes the sheet on one page, as PDF or PNG by the name's suffix; type and pictures shrink until it fits.

    Raises:
        SegmentkitError: when the words do not fit one page at three quarters of the size, or no font has their letters.
        OutputFailed: when it cannot be written, or the library for PDFs is not installed.
    """
    if missing := lacking(" ".join((sheet.name, sheet.title, sheet.what, sheet.why, sheet.feel, sheet.drill_how))):
        raise SegmentkitError(
            f"{out} — no font here has {missing} — a sheet spells its viewer's name rightly or is not written — "
            "install fonts for that script, such as the Noto Sans CJK family for ideographs"
        )
    for scale in (1.25, 1.2, 1.15, 1.1, 1.05, 1.0, 0.95, 0.9, 0.85, 0.8, 0.75):
        if draw_take_home(PicturePaper(format_, 20), sheet, pictures, scale) <= format_.height - _MARGIN + 1:
            break
    else:
        raise SegmentkitError(
            f"{out} — the words of the sheet do not fit one page of {format_.name} — one page is what a viewer keeps — "
            "shorten what, why, feel, drill or film"
        )
    if out.suffix.lower() == ".pdf":
        sheet_paper = PdfPaper(format_, f"{sheet.title} — for {sheet.name}", sheet.language, out)
        draw_take_home(sheet_paper, sheet, pictures, scale)
        data = sheet_paper.data()
    else:
        drawn = PicturePaper(format_)
        draw_take_home(drawn, sheet, pictures, scale)
        held = io.BytesIO()
        drawn.pages[0].save(held, "PNG")
        data = held.getvalue()
    with safe.writing(out) as partial:
        partial.write_bytes(data)
    return out


def sheet_frames(sheet: TakeHome) -> list[int]:
    """The frames whose pictures the sheet needs."""
    return [one.frozen.frame for one in sheet.pictures]

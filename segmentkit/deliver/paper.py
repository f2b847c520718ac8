"""Sheets of paper to draw on, in millimetres and points: one becomes a PDF, the other pictures.

Both set the same type at the same size, so that a sheet is laid out once.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Protocol

from PIL import Image, ImageColor, ImageDraw, ImageFont

from segmentkit.deliver.svg import FAMILY, REGULAR, STRONG, font_file
from segmentkit.errors import OutputFailed
from segmentkit.media.stills import Rgb

MM_A_POINT = 25.4 / 72
"""Millimetres in a point."""


@dataclass(frozen=True, slots=True)
class Format:
    """A size of paper in millimetres."""

    name: str
    width: float
    height: float

    @property
    def across(self) -> Format:
        """The same paper lying on its side."""
        return Format(self.name, self.height, self.width)


A4 = Format("A4", 210.0, 297.0)
LETTER = Format("Letter", 215.9, 279.4)
FORMATS = {"a4": A4, "letter": LETTER}
"""ISO 216 and ANSI/ASME Y14.1."""


class Paper(Protocol):
    """What sheets can do."""

    format: Format

    def page(self) -> None:
        """Begins a page."""

    def text(self, x: float, y: float, text: str, size: float, colour: str, *, strong: bool = False) -> None:
        """Writes one line; `y` is its baseline."""

    def line(self, x0: float, y0: float, x1: float, y1: float, colour: str, width: float) -> None:
        """Draws a straight line."""

    def rect(self, x: float, y: float, width: float, height: float, fill: str | None, edge: str | None = None) -> None:
        """Draws a rectangle."""

    def picture(self, x: float, y: float, width: float, height: float, rgb: Rgb) -> None:
        """Lays a picture, stretched to the rectangle."""


@cache
def _face(strong: bool) -> ImageFont.FreeTypeFont:
    return ImageFont.truetype(str(font_file(STRONG if strong else REGULAR)), 200)


def width_of(text: str, size: float, *, strong: bool = False) -> float:
    """Width of a line in millimetres at a size in points."""
    return _face(strong).getlength(text) * size / 200 * MM_A_POINT


def wrapped(text: str, width: float, size: float, *, strong: bool = False) -> list[str]:
    """A text as lines that fit a width in millimetres; what has no spaces is cut where it must be."""
    lines: list[str] = []
    current = ""
    for word in text.split():
        tried = f"{current} {word}".strip()
        if width_of(tried, size, strong=strong) <= width:
            current = tried
            continue
        if current:
            lines.append(current)
        rest = word
        while width_of(rest, size, strong=strong) > width and len(rest) > 1:
            fits = (
                n for n in range(len(rest) - 1, 0, -1) if n == 1 or width_of(rest[:n], size, strong=strong) <= width
            )
            count = next(fits)
            lines.append(rest[:count])
            rest = rest[count:]
        current = rest
    return [*lines, current] if current else lines


def column(
    paper: Paper, x: float, y: float, lines: Sequence[str], size: float, colour: str, *, strong: bool = False,
    leading: float = 1.28,
) -> float:  # fmt: skip
    """Writes lines under one another, the first one's top at `y`; returns where the column ends."""
    pitch = size * leading * MM_A_POINT
    for index, line in enumerate(lines):
        paper.text(x, y + index * pitch + 0.78 * size * MM_A_POINT, line, size, colour, strong=strong)
    return y + len(lines) * pitch


class PdfPaper:
    """Sheets of a PDF.

    Raises:
        OutputFailed: when the library that writes PDFs is not installed.
    """

    def __init__(self, format: Format, title: str, language: str, out: Path) -> None:
        try:
            from fpdf import FPDF  # noqa: PLC0415  an extra
        except ImportError:
            raise OutputFailed(
                f"{out} — a PDF needs the library fpdf2, which is not installed — pip install 'segmentkit[sheets]'"
            ) from None
        self.format = format
        pdf: Any = FPDF(unit="mm", format=(format.width, format.height))
        pdf.set_auto_page_break(False)
        pdf.add_font(FAMILY, "", str(font_file(REGULAR)))
        pdf.add_font(FAMILY, "B", str(font_file(STRONG)))
        pdf.set_title(title)
        pdf.set_lang(language)
        self._pdf = pdf

    def page(self) -> None:
        """Begins a page."""
        self._pdf.add_page()

    def text(self, x: float, y: float, text: str, size: float, colour: str, *, strong: bool = False) -> None:
        """Writes one line; `y` is its baseline."""
        if text:
            self._pdf.set_font(FAMILY, "B" if strong else "", size)
            self._pdf.set_text_color(colour)
            self._pdf.text(x, y, text)

    def line(self, x0: float, y0: float, x1: float, y1: float, colour: str, width: float) -> None:
        """Draws a straight line."""
        self._pdf.set_draw_color(colour)
        self._pdf.set_line_width(width)
        self._pdf.line(x0, y0, x1, y1)

    def rect(self, x: float, y: float, width: float, height: float, fill: str | None, edge: str | None = None) -> None:
        """Draws a rectangle."""
        if fill:
            self._pdf.set_fill_color(fill)
        if edge:
            self._pdf.set_draw_color(edge)
            self._pdf.set_line_width(0.3)
        self._pdf.rect(x, y, width, height, style=f"{'D' if edge else ''}{'F' if fill else ''}")

    def picture(self, x: float, y: float, width: float, height: float, rgb: Rgb) -> None:
        """Lays a picture, stretched to the rectangle, as JPEG of good quality."""
        data = io.BytesIO()
        Image.fromarray(rgb).save(data, "JPEG", quality=88, subsampling=0)
        data.seek(0)
        self._pdf.image(data, x, y, width, height)

    def data(self) -> bytes:
        """The file's bytes."""
        return bytes(self._pdf.output())


class PicturePaper:
    """Sheets as pictures, `dots` to the inch."""

    def __init__(self, format: Format, dots: int = 150) -> None:
        self.format = format
        self.pages: list[Image.Image] = []
        self._scale = dots / 25.4
        self._draw: ImageDraw.ImageDraw | None = None

    def page(self) -> None:
        """Begins a page."""
        size = (round(self.format.width * self._scale), round(self.format.height * self._scale))
        self.pages.append(Image.new("RGB", size, "white"))
        self._draw = ImageDraw.Draw(self.pages[-1])

    @property
    def _pen(self) -> ImageDraw.ImageDraw:
        if self._draw is None:
            self.page()
        assert self._draw is not None
        return self._draw

    def text(self, x: float, y: float, text: str, size: float, colour: str, *, strong: bool = False) -> None:
        """Writes one line; `y` is its baseline."""
        if text:
            font = ImageFont.truetype(str(font_file(STRONG if strong else REGULAR)), size * MM_A_POINT * self._scale)
            self._pen.text((x * self._scale, y * self._scale), text, ImageColor.getrgb(colour), font, anchor="ls")

    def line(self, x0: float, y0: float, x1: float, y1: float, colour: str, width: float) -> None:
        """Draws a straight line."""
        ends = [value * self._scale for value in (x0, y0, x1, y1)]
        self._pen.line(ends, ImageColor.getrgb(colour), max(1, round(width * self._scale)))

    def rect(self, x: float, y: float, width: float, height: float, fill: str | None, edge: str | None = None) -> None:
        """Draws a rectangle."""
        box = [value * self._scale for value in (x, y, x + width, y + height)]
        self._pen.rectangle(box, ImageColor.getrgb(fill) if fill else None, ImageColor.getrgb(edge) if edge else None)

    def picture(self, x: float, y: float, width: float, height: float, rgb: Rgb) -> None:
        """Lays a picture, stretched to the rectangle."""
        if not self.pages:
            self.page()
        size = (round(width * self._scale), round(height * self._scale))
        scaled = Image.fromarray(rgb).resize(size, Image.Resampling.LANCZOS, reducing_gap=3)
        self.pages[-1].paste(scaled, (round(x * self._scale), round(y * self._scale)))

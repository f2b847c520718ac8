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

from PIL import Image, ImageColor, ImageDraw

from segmentkit.deliver.svg import FAMILY, REGULAR, STRONG, font_file
from segmentkit.errors import OutputFailed
from segmentkit.media import safe
from segmentkit.media.stills import Rgb
from segmentkit.media.typefaces import FontFile, FontStack, Run, fallback_file, opened

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


FALLBACKS = (
    "sofia-sans/SofiaSansSemiCondensed-Bold.ttf",
    "noto/NotoSansHebrew-SemiBold.ttf",
    "noto/NotoSansArabic-SemiBold.ttf",
    "NotoSansCJK-Bold.ttc",
    "NotoSansCJK-Regular.ttc",
)
"""What the type of papers lacks: Greek and Cyrillic, Hebrew, Arabic, and ideographs where the system has them."""
_MEASURED = 200.0
_DOTS = 600
"""Dots to the inch of script that a PDF shows as a picture."""


@cache
def _faces(strong: bool) -> FontStack:
    first = font_file(STRONG if strong else REGULAR)
    found = (fallback_file(name, first.parent) for name in FALLBACKS)
    return FontStack(opened(first), [opened(path) for path in found if path is not None])


def lacking(text: str) -> str:
    """The characters of a text, each once, for which no font of the papers has a glyph."""
    return "".join(dict.fromkeys(_faces(False).absent(text) + _faces(True).absent(text)))


def _length(run: Run, size: float) -> float:
    return float(run.font.sized(size).getlength(run.text, direction=_way(run)))


def _way(run: Run) -> str:
    return "rtl" if run.leftwards else "ltr"


def width_of(text: str, size: float, *, strong: bool = False) -> float:
    """Width of a line in millimetres at a size in points."""
    return sum(_length(run, _MEASURED) for run in _faces(strong).runs(text)) * size / _MEASURED * MM_A_POINT


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
        self._added: set[str] = set()

    def page(self) -> None:
        """Begins a page."""
        self._pdf.add_page()

    def text(self, x: float, y: float, text: str, size: float, colour: str, *, strong: bool = False) -> None:
        """Writes one line; `y` is its baseline."""
        for run in _faces(strong).runs(text) if text else ():
            wide = _length(run, _MEASURED) * size / _MEASURED * MM_A_POINT
            family = self._family(run.font)
            if family is None or run.leftwards:
                self._drawn(run, x, y, wide, size, colour)
            else:
                own = family == FAMILY
                self._pdf.set_font(family, "B" if strong and own else "", size)
                self._pdf.set_text_color(colour)
                self._pdf.text(x, y, run.text)
            x += wide

    def _family(self, font: FontFile) -> str | None:
        """The name of a font in the file; None for a collection, which is not put in."""
        if font.path in {font_file(REGULAR), font_file(STRONG)}:
            return FAMILY
        if font.path.suffix.lower() != ".ttf":
            return None
        if font.path.stem not in self._added:
            self._pdf.add_font(font.path.stem, "", str(font.path))
            self._added.add(font.path.stem)
        return font.path.stem

    def _drawn(self, run: Run, x: float, y: float, wide: float, size: float, colour: str) -> None:
        """Script that needs shaping, as a fine picture: the library would write its letters apart."""
        dot = 25.4 / _DOTS
        pixels = size * MM_A_POINT / dot
        rise, fall, side = round(1.2 * pixels), round(0.5 * pixels), round(0.2 * pixels)
        mask = Image.new("L", (round(wide / dot) + 2 * side, rise + fall), 0)
        font = run.font.sized(pixels)
        ImageDraw.Draw(mask).text((side, rise), run.text, 255, font, anchor="ls", direction=_way(run))
        ink = Image.new("RGBA", mask.size, (*ImageColor.getrgb(colour)[:3], 0))
        ink.putalpha(mask)
        data = io.BytesIO()
        ink.save(data, "PNG")
        data.seek(0)
        self._pdf.image(data, x - side * dot, y - rise * dot, mask.width * dot, mask.height * dot, alt_text=run.text)

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

    def save(self, out: Path) -> tuple[Path, ...]:
        """Writes the sheets as PNGs, numbered where there are several; returns them.

        Raises:
            OutputFailed: when one cannot be written.
        """
        written = []
        for number, page in enumerate(self.pages, 1):
            target = out if len(self.pages) == 1 else out.with_name(f"{out.stem}-{number}{out.suffix}")
            data = io.BytesIO()
            page.save(data, "PNG")
            with safe.writing(target) as partial:
                partial.write_bytes(data.getvalue())
            written.append(target)
        return tuple(written)

    @property
    def _pen(self) -> ImageDraw.ImageDraw:
        if self._draw is None:
            self.page()
        assert self._draw is not None
        return self._draw

    def text(self, x: float, y: float, text: str, size: float, colour: str, *, strong: bool = False) -> None:
        """Writes one line; `y` is its baseline."""
        pixels, at = size * MM_A_POINT * self._scale, x * self._scale
        for run in _faces(strong).runs(text) if text else ():
            self._pen.text((at, y * self._scale), run.text, ImageColor.getrgb(colour), run.font.sized(pixels),
                           anchor="ls", direction=_way(run))  # fmt: skip
            at += _length(run, pixels)

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

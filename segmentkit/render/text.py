"""Sets text: measured, wrapped into lines of like length, drawn as coverage masks."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw

from segmentkit.media.bidi import base_level
from segmentkit.plan.caption_text import NOT_FIRST, NOT_LAST
from segmentkit.render.blend import Mask
from segmentkit.render.fonts import FontBook, Run

LEADING = 1.16
"""Distance of two baselines, in sizes."""

# A line may end after a space, but not one that binds; after a hyphen, dash or slash in a word; between ideographs.
_IDEOGRAPHS = r"\u3040-\u30ff\u3400-\u9fff\uf900-\ufaff"
_PIECES = re.compile(rf"[^ \t\n\-–—/{_IDEOGRAPHS}]*(?:[\-–—/]+|[{_IDEOGRAPHS}])?[ \t\n]*")


@dataclass(frozen=True, slots=True)
class SetText:
    """Text as it will be drawn.

    Attributes:
        lines: from top to bottom.
        widths: advance of each line in pixels.
        weight: regular, medium or bold.
        size: in pixels.
        cap: height of the capitals in pixels.
        broken: whether a word had to be cut because it is wider than a line may be.
    """

    lines: tuple[str, ...]
    widths: tuple[float, ...]
    weight: str
    size: float
    cap: float
    broken: bool

    @property
    def width(self) -> float:
        """Of the widest line."""
        return max(self.widths)

    @property
    def pitch(self) -> float:
        """From baseline to baseline."""
        return self.size * LEADING

    @property
    def height(self) -> float:
        """From the top of the capitals of the first line to the last baseline."""
        return self.cap + self.pitch * (len(self.lines) - 1)


class Typesetter:
    """Measures, wraps and draws with the fonts of one look."""

    def __init__(self, book: FontBook) -> None:
        self.book = book
        self._advances: dict[tuple[str, str, float], float] = {}

    def advance(self, text: str, weight: str, size: float) -> float:
        """Width of a line in pixels, kerning and shaping included."""
        key = (text, weight, round(size, 2))
        if key not in self._advances:
            self._advances[key] = sum(self._length(run, size) for run in self.book.runs(text, weight))
        return self._advances[key]

    def _length(self, run: Run, size: float) -> float:
        return run.font.sized(size).getlength(run.text, direction=_way(run), features=self.book.features)

    def set(self, text: str, weight: str, size: float, room: float) -> SetText:
        """Wraps a text to a width, with as few lines as it takes and all of them of about one length.

        Args:
            text: one paragraph.
            weight: regular, medium or bold.
            size: in pixels.
            room: greatest width of a line in pixels; it is kept whatever the text.
        """
        text = " ".join(unicodedata.normalize("NFC", text).split(" ")).strip() or " "
        pieces, broken = self._pieces(text, weight, size, room)
        lines = self._filled(pieces, weight, size, room)
        if len(lines) > 1:
            # The narrowest measure that needs no further line gives the evenest lines.
            low, high = 0.0, room
            while high - low > 1:
                middle = (low + high) / 2
                tried = self._filled(pieces, weight, size, middle)
                fits = len(tried) <= len(lines) and all(self.advance(t, weight, size) <= middle for t in tried)
                low, high = (low, middle) if fits else (middle, high)
                lines = tried if fits else lines
        widths = tuple(self.advance(line, weight, size) for line in lines)
        return SetText(tuple(lines), widths, weight, size, self.book.cap_height(weight, size), broken)

    def _pieces(self, text: str, weight: str, size: float, room: float) -> tuple[list[str], bool]:
        """The parts between which a line may end; a part wider than the room is cut where it must be."""
        pieces: list[str] = []
        broken = False
        for piece in _parted(text):
            rest = piece
            while len(rest.rstrip()) > 1 and self.advance(rest.rstrip(), weight, size) > room:
                count = max(1, int(len(rest) * room / self.advance(rest, weight, size)))
                while count > 1 and self.advance(rest[:count], weight, size) > room:
                    count -= 1
                pieces.append(rest[:count])
                rest = rest[count:]
                broken = True
            pieces.append(rest)
        return pieces, broken

    def _filled(self, pieces: list[str], weight: str, size: float, room: float) -> list[str]:
        lines: list[str] = []
        current = ""
        for piece in pieces:
            if current and self.advance((current + piece).rstrip(), weight, size) > room:
                lines.append(current.rstrip())
                current = piece
            else:
                current += piece
        return [*lines, current.rstrip()]

    def mask(self, text: SetText, align: str = "left", room: float | None = None) -> tuple[Mask, int, int]:
        """Draws lines as coverage.

        Args:
            text: what to draw.
            align: left, centre or right, within `room` or the widest line.
            room: width within which lines are aligned.

        Returns:
            Coverage (uint8, shape (height, width)), and where its upper left corner lies against the point where the
            first baseline starts: columns to the right, rows down (negative: above the baseline).
        """
        margin = int(text.size * 0.35) + 2
        room = text.width if room is None else room
        if align == "left" and base_level(" ".join(text.lines)):
            align, room = "right", text.width  # lines of a text that runs to the left are even on the right
        rise = int(text.size * 1.05) + 2
        height = rise + int(text.pitch * (len(text.lines) - 1) + text.size * 0.45) + 2
        picture = Image.new("L", (int(room) + 2 * margin, height), 0)
        draw = ImageDraw.Draw(picture)
        for k, (line, width) in enumerate(zip(text.lines, text.widths, strict=True)):
            x = margin + {"left": 0.0, "centre": (room - width) / 2, "right": room - width}[align]
            for run in self.book.runs(line, text.weight):
                draw.text(
                    (x, rise + k * text.pitch), run.text, fill=255, font=run.font.sized(text.size), anchor="ls",
                    direction=_way(run), features=self.book.features,
                )  # fmt: skip
                x += self._length(run, text.size)
        return np.asarray(picture, np.uint8), -margin, -rise


def _parted(text: str) -> list[str]:
    """The parts of a text between which a line may end; stops and small kana stay with what they follow."""
    parts: list[str] = []
    for piece in (match[0] for match in _PIECES.finditer(text) if match[0]):
        rest = piece
        while parts and rest and rest[0] in NOT_FIRST and not parts[-1][-1].isspace():
            parts[-1] += rest[0]
            rest = rest[1:]
        if parts and rest and parts[-1][-1] in NOT_LAST:
            parts[-1] += rest
        elif rest:
            parts.append(rest)
    return parts


def _way(run: Run) -> str:
    return "rtl" if run.leftwards else "ltr"

"""What is burned into review copies: which version it is, and a timecode that runs. Never in a master."""

from __future__ import annotations

from segmentkit.geometry import Rect, Size
from segmentkit.render.blend import YuvPatch
from segmentkit.render.design import Stage
from segmentkit.render.paint import rounded
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Rate, label_of_frame

_TOP, _HEIGHT = 0.008, 0.036
"""In the margin above the safe area, where neither cards nor captions stand; parts of the picture's shorter side."""
_DIGITS = "0123456789:;"


class Stamp:
    """Draws the version and the running timecode in the upper right corner; each digit is drawn once and reused."""

    def __init__(self, text: str, look: Look, canvas: Size, rate: Rate) -> None:
        self._stage = Stage(look, canvas)
        self._rate = rate
        self._text = text
        side = min(canvas.width, canvas.height)
        self._size = 0.72 * _HEIGHT * side
        self._cell = max(self._advance(digit) for digit in _DIGITS)
        count = len(str(label_of_frame(0, rate)))
        pad = 0.4 * self._size
        width = self._advance(text) + 3 * pad + count * self._cell
        right = canvas.width - self._stage.safe.x
        self.area = Rect(right - width, _TOP * side, width, _HEIGHT * side)
        self._digits_at = right - pad - count * self._cell
        self._plate = self._drawn_plate(pad)
        self._glyphs: dict[tuple[int, str], YuvPatch] = {}

    def _advance(self, text: str) -> float:
        return self._stage.setter.advance(text, "medium", self._size)

    def _baseline(self) -> float:
        return self.area.y + (self.area.height + self._stage.book.cap_height("medium", self._size)) / 2

    def _drawn_plate(self, pad: float) -> YuvPatch:
        area, palette = self.area, self._stage.look.palette
        painting = self._stage.painting(int(area.x) - 2, int(area.y) - 2, int(area.width) + 6, int(area.height) + 6)
        painting.shape(rounded(area.x, area.y, area.right, area.bottom, 3), palette.ground_deep, 0.9)
        set_ = self._stage.setter.set(self._text, "medium", self._size, self._advance(self._text) + 2)
        painting.text(self._stage.setter, set_, area.x + pad, self._baseline(), palette.caution)
        return painting.patch()

    def patches(self, frame: int) -> tuple[YuvPatch, ...]:
        """The stamp of a frame of the segment."""
        label = str(label_of_frame(frame, self._rate))
        return (self._plate, *(self._glyph(index, digit) for index, digit in enumerate(label)))

    def _glyph(self, index: int, digit: str) -> YuvPatch:
        if (index, digit) not in self._glyphs:
            left = self._digits_at + index * self._cell
            area = self.area
            painting = self._stage.painting(int(left) - 4, int(area.y), int(self._cell) + 10, int(area.height) + 2)
            set_ = self._stage.setter.set(digit, "medium", self._size, self._cell + 4)
            x = left + (self._cell - self._advance(digit)) / 2
            painting.text(self._stage.setter, set_, x, self._baseline(), self._stage.look.palette.ink)
            self._glyphs[index, digit] = painting.patch()
        return self._glyphs[index, digit]

"""A caption: what is read while someone speaks, when, and where on the picture."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from segmentkit.geometry import Rect, Size
from segmentkit.plan.caption_text import cells, words_to_read
from segmentkit.timebase import Rate, Span


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptionPlace:
    """Where a caption stands, in whole per cent of the picture, as caption files have it.

    Attributes:
        top: whether `edge` is the upper edge of the text; else its lower one.
        edge: from the top of the picture.
        centre: of the text, from the left.
        size: room across for the longest line.
        usual: whether it is where captions stand when nothing is in their way.
    """

    top: bool
    edge: int
    centre: int
    size: int
    usual: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Caption:
    """One caption.

    Attributes:
        span: frames on which it stands.
        lines: what is read, from top to bottom, in logical order; the speaker's label included.
        speaker: name of who speaks, as shown.
        place: where it stands.
        beat: id of the beat; empty for a caption that was read from a file.
        line: index of the spoken line in its beat.
        hits: what it lies on, if there was no free place; the worst first.
    """

    span: Span
    lines: tuple[str, ...]
    speaker: str
    place: CaptionPlace
    beat: str = ""
    line: int = 0
    hits: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """The lines as one text."""
        return " ".join(self.lines)

    @property
    def words(self) -> Fraction:
        """How many words a viewer has to read, labels included."""
        return words_to_read(self.text)

    def words_per_minute(self, rate: Rate) -> Fraction:
        """How fast it must be read."""
        return self.words * 60 * rate.fps / max(1, self.span.frames)

    def area(self, size: Size, line_height: Fraction, character: Fraction) -> Rect:
        """What it covers on a canvas.

        Args:
            size: of the canvas.
            line_height: of a line, in per cent of the height.
            character: width of a character, in per cent of the width.
        """
        width = float(max(map(cells, self.lines)) * character) / 100 * size.width
        height = float(len(self.lines) * line_height) / 100 * size.height
        edge = self.place.edge / 100 * size.height
        left = self.place.centre / 100 * size.width - width / 2
        return Rect(left, edge if self.place.top else edge - height, width, height)

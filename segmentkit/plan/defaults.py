"""Lengths that hold where the storyboard says nothing: common practice of the trade, no published source."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from segmentkit.storyboard.fields import Hold
from segmentkit.timebase import Rate, Seconds, Timecode, nearest_frame, seconds_of

LEAD = Fraction(2, 5)
"""From the start of a beat to its first word."""
TAIL = Fraction(1, 2)
"""From the last word to the end of a beat."""
GAP = Fraction(3, 10)
"""Between two speakers."""
DRAW = Fraction(4, 5)
"""How long a stroke takes to be drawn; 0.6 to 1.0 s reads well."""
LOOK = Fraction(3, 2)
"""Least time to look at a stroke once it is drawn."""
WIPE = Fraction(3, 10)
"""How long wiping a stroke off takes."""
UNCUED = Fraction(1, 2)
"""A stroke without a word starts this long after its picture."""
CARD_IN = Fraction(2, 5)
CARD_OUT = Fraction(3, 10)
CARD_AT = Fraction(1, 2)
LOWER_THIRD_AT = Fraction(3, 2)
LOWER_THIRD_HOLD = Fraction(6)
ENTER = Fraction(1, 2)
"""How long a picture takes to take the place of another, unless it cuts."""
PUSH = Fraction(2)
"""How long coming closer takes."""
SWEEP_AT = Fraction(1)
SWEEP = Fraction(2)
"""An edge between two pictures starts after this long, and takes this long."""
FADE_IN = Fraction(1, 2)
FADE_OUT = Fraction(3, 2)

HOLDS = {
    "freeze": Hold(Fraction(3, 2), None, Fraction(20)),
    "split": Hold(Fraction(2), None, Fraction(30)),
    "three_up": Hold(Fraction(3), None, Fraction(30)),
    "overlay": Hold(Fraction(2), None, Fraction(20)),
    "wipe": Hold(Fraction(5), None, Fraction(20)),
    "still": Hold(Fraction(2), None, Fraction(20)),
    "title": Hold(Fraction(3), Fraction(4), Fraction(7)),
    "end_board": Hold(Fraction(3), Fraction(5), Fraction(8)),
}
"""How long each kind of held picture may stay when no hold is written; text on it is held for as long as it takes to
read (`reading_time`)."""


def reading_time(words: int) -> Fraction:
    """Least seconds for a text: 0.2 s a word, and 2 s more (3 s from ten words on).

    The rule of the British guidance for text in television advertising (BCAP guidance note 1), used here as a published
    floor: 1 word needs 2.2 s, 9 need 3.8 s, 10 need 5 s, 20 need 7 s.
    """
    return Fraction(words, 5) + (2 if words < 10 else 3)


@dataclass(frozen=True, slots=True)
class Grid:
    """Turns the storyboard's lengths into frames of the output."""

    rate: Rate

    def frames(self, length: Seconds | Timecode | Fraction | None, default: Fraction = Fraction(0)) -> int:
        """The frame boundary nearest to a length, or to `default` when none is written."""
        if length is None:
            return nearest_frame(default, self.rate)
        if isinstance(length, Fraction):
            return nearest_frame(length, self.rate)
        return nearest_frame(seconds_of(length, self.rate), self.rate)

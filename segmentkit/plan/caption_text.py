"""Caption text: how wide it is, where it may break, and where it breaks best.

Works on any script: words parted by spaces break at spaces, ideographs break anywhere but where a mark of punctuation
forbids it (the common core of JIS X 4051 and of Unicode UAX 14), and text that runs from right to left stays in its
logical order. What a language adds are hints only.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from itertools import combinations, pairwise

SENTENCE_END = re.compile(r"[.!?…。！？؟।]+[\"'”’»)\]」』）]*$")
CLAUSE_END = re.compile(r"[,;:،؛、，；：–—]+[\"'”’»)\]」』）]*$")
_WIDE = re.compile(r"[\u2e80-\u303e\u3041-\u30ff\u3105-\u312f\u31a0-\u31ff\u3400-\u9fff\uf900-\ufaff\uff01-\uff60]")
NOT_FIRST = frozenset("、。，．・：；！？」』）】〉》〕］｝ー々ぁぃぅぇぉっゃゅょゎァィゥェォッャュョヮヵヶ…‥")
NOT_LAST = frozenset("「『（【〈《〔［｛")
"""What a line of ideographs neither begins nor ends with: the common core of JIS X 4051 and of Unicode UAX 14."""
_IDEOGRAPH_WORDS = Fraction(1, 2)
"""How many words a wide character counts for in reading; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Unit:
    """The smallest part of a caption: a word, or one wide character with its punctuation.

    Attributes:
        text: as written, without spaces around it.
        frame: when it starts to be spoken.
        space: whether a space stands before it when it is not first on its line.
    """

    text: str
    frame: int
    space: bool


@dataclass(frozen=True, slots=True)
class Hints:
    """What a language says of breaks: words that a line does not end after, and words it likes to begin with."""

    joined: frozenset[str] = field(default_factory=frozenset)
    opens: frozenset[str] = field(default_factory=frozenset)


@lru_cache(maxsize=8192)
def cells(text: str) -> int:
    """Width in characters: wide characters of East Asia count two (Unicode UAX 11), combining marks none."""
    if text.isascii():
        return len(text)
    return sum(
        0 if unicodedata.combining(c) or unicodedata.category(c) in {"Cf", "Mn"}
        else 2 if unicodedata.east_asian_width(c) in {"W", "F"} else 1
        for c in text
    )  # fmt: skip


@lru_cache(maxsize=8192)
def words_to_read(text: str) -> Fraction:
    """How many words a viewer reads; wide characters, which are not parted by spaces, count half a word each."""
    wide = sum(1 for c in text if _WIDE.match(c) and c.isalnum())
    rest = _WIDE.sub(" ", text)
    return sum(1 for word in rest.split() if any(c.isalnum() for c in word)) + wide * _IDEOGRAPH_WORDS


def units_of(words: Sequence[tuple[str, int]], end: int, label: str | None = None) -> tuple[Unit, ...]:
    """The units of a line.

    Args:
        words: each word and the frame on which it starts.
        end: frame after the line's last sound.
        label: the speaker's name, when it must be told; it stays with the first word.
    """
    units: list[Unit] = []
    for index, (word, frame) in enumerate(words):
        until = words[index + 1][1] if index + 1 < len(words) else end
        parts = _parts(word)
        for k, part in enumerate(parts):
            # Where one written word is many units, they share its time by their number.
            units.append(Unit(part, frame + max(0, until - frame) * k // len(parts), space=k == 0 and index > 0))
    if label and units:
        units[0] = Unit(f"{label}: {units[0].text}", units[0].frame, space=False)
    return tuple(units)


def _parts(word: str) -> list[str]:
    """A word as it may be broken: whole, or between its wide characters."""
    if not _WIDE.search(word):
        return [word]
    parts: list[str] = []
    for piece in re.findall(
        rf"{_WIDE.pattern}|[^\u2e80-\u30ff\u3105-\u31ff\u3400-\u9fff\uf900-\ufaff\uff01-\uff60]+", word
    ):
        glued = parts and (piece[0] in NOT_FIRST or parts[-1][-1] in NOT_LAST or not any(map(str.isalnum, piece)))
        if glued:
            parts[-1] += piece
        else:
            parts.append(piece)
    return parts


def joined(units: Sequence[Unit]) -> str:
    """Units as one text."""
    return "".join(f" {u.text}" if u.space and k else u.text for k, u in enumerate(units))


def break_cost(before: Unit, after: Unit, hints: Hints) -> float:
    """How bad it is to part two neighbours: 0 after a sentence, little after a clause, much within a phrase."""
    return _break_cost(before.text, after.text, hints)


@lru_cache(maxsize=8192)
def _break_cost(before: str, after: str, hints: Hints) -> float:
    if SENTENCE_END.search(before):
        return 0.0
    if CLAUSE_END.search(before):
        return 1.0
    word, follows = bare(before), bare(after)
    cost = 5.0
    if word in hints.joined:
        cost += 7.0
    if follows in hints.opens:
        cost -= 2.5
    if any(c.isdigit() for c in word):  # a number belongs to what it counts
        cost += 4.0
    if before[:1].isupper() and after[:1].isupper():  # so do the parts of a name
        cost += 3.0
    return cost


def bare(text: str) -> str:
    """A word without case and punctuation, as the hints have it."""
    return text.lower().strip(".,;:!?…\"'“”‘’()[]«»").replace("’", "'")


@dataclass(frozen=True, slots=True)
class Laid:
    """Units on lines: for each line how many, and how bad that is."""

    counts: tuple[int, ...]
    cost: float


def lay(units: Sequence[Unit], most: int, lines: int, hints: Hints) -> Laid | None:
    """Parts units into lines, at sense first and evenly second; None when they do not fit.

    A single unit that is wider than a line stands alone on it: a word is never cut.

    Args:
        units: of one caption.
        most: longest line in characters.
        lines: most lines.
        hints: of the language.
    """
    widths = [0]
    for k, unit in enumerate(units):
        widths.append(widths[-1] + cells(unit.text) + (1 if unit.space and k else 0))
    if widths[-1] <= most or len(units) == 1:
        return Laid((len(units),), 0.0)
    if widths[-1] > most * lines + lines:
        return None
    best: Laid | None = None
    for count in range(2, lines + 1):
        for cuts in combinations(range(1, len(units)), count - 1):
            edges = (0, *cuts, len(units))
            sizes = [widths[b] - widths[a] - (1 if a and units[a].space else 0) for a, b in pairwise(edges)]
            if max(sizes) > most:
                continue
            cost = sum(break_cost(units[cut - 1], units[cut], hints) for cut in cuts)
            # Uneven lines are forgiven as long as the upper one is the shorter: it hides less of the picture.
            cost += 0.12 * (max(sizes) - min(sizes)) + (0.6 if sizes[0] > sizes[-1] else 0.0)
            if best is None or cost < best.cost:
                best = Laid(tuple(b - a for a, b in pairwise(edges)), cost)
        if best is not None:
            break
    return best


def lines_of(units: Sequence[Unit], laid: Laid) -> tuple[str, ...]:
    """The texts of the lines."""
    lines, start = [], 0
    for count in laid.counts:
        lines.append(joined(units[start : start + count]))
        start += count
    return tuple(lines)

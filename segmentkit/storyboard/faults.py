"""Faults of a text: where, what is wrong, and a picture of the spot.

A fault prints as three lines, so that a producer sees the spot without opening the file:

    lesson.yaml:31:22: beat impact, stroke hip_gap — `widht` is not a key here — did you mean `width`?
      hip_gap: {ring: {widht: 0.1}}
                       ^^^^^
"""

from __future__ import annotations

import difflib
import unicodedata
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

from segmentkit.errors import StoryboardUnreadable
from segmentkit.findings import Place

MOST_SHOWN = 100
_WIDEST = 116


class Source:
    """A text with its lines; turns character indexes into places.

    Lines end with LF, CR LF or CR, as editors count them; columns count characters from 1.
    """

    def __init__(self, text: str, file: str) -> None:
        self.text = text
        self.file = file

    @cached_property
    def _starts(self) -> list[int]:
        starts = [0]
        text, index = self.text, 0
        while index < len(text):
            if text[index] == "\r" and text[index + 1 : index + 2] != "\n":
                starts.append(index + 1)
                index += 1
                continue
            found = min((at for at in (text.find("\n", index), text.find("\r", index)) if at >= 0), default=-1)
            if found < 0:
                break
            if text[found] == "\n":
                starts.append(found + 1)
                index = found + 1
            elif text[found + 1 : found + 2] == "\n":
                starts.append(found + 2)
                index = found + 2
            else:
                index = found
        return starts

    def line_of(self, index: int) -> int:
        """The line, counted from 0, that holds a character."""
        return bisect_right(self._starts, index) - 1

    def place(self, index: int) -> Place:
        """The place of a character."""
        line = self.line_of(index)
        return Place(file=self.file, line=line + 1, column=index - self._starts[line] + 1)

    def line_start(self, index: int) -> int:
        """The index at which the line of a character starts."""
        return self._starts[self.line_of(index)]

    def line_text(self, index: int) -> str:
        """The line that holds a character, without its end."""
        line = self.line_of(index)
        end = self._starts[line + 1] if line + 1 < len(self._starts) else len(self.text)
        return self.text[self._starts[line] : end].rstrip("\r\n")

    def narrowed(self, span: tuple[int, int], literal: str) -> tuple[int, int]:
        """The characters of a literal within a span, such as `[hip_gap]` within the words; else the whole span."""
        at = self.text.find(literal, *span) if literal else -1
        return (at, at + len(literal)) if at >= 0 else span

    def fault(self, start: int, end: int, message: str, where: str = "") -> Fault:
        """A fault at the characters from `start` to `end`; a longer span is shown to the end of its first line."""
        line = self.line_text(start)
        column = min(start - self.line_start(start), len(line))
        length = min(end - start, len(line) - column)
        return Fault(
            place=self.place(start), message=message, where=where, source=line, first=column, length=max(1, length)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One thing that keeps a text from being a storyboard.

    Attributes:
        place: file, line and column.
        where: what a person calls the spot, such as "beat impact, stroke hip_gap"; may be empty.
        message: what is, what is allowed, what to do.
        source: the line of the text.
        first: index in that line of the first character meant; `length` how many are.
    """

    place: Place
    message: str
    source: str
    first: int
    length: int
    where: str = ""

    @property
    def headline(self) -> str:
        """Place and message on one line."""
        return f"{self.place}: {self.where} — {self.message}" if self.where else f"{self.place}: {self.message}"

    def __str__(self) -> str:
        shown, column, width = _excerpt(self.source, self.first, self.length)
        if not shown.strip():
            return self.headline
        return f"{self.headline}\n  {shown}\n  {' ' * column}{'^' * width}"

    def as_data(self) -> dict[str, object]:
        """The fault as plain data for `--json`."""
        return {
            "file": self.place.file,
            "line": self.place.line,
            "column": self.place.column,
            "length": self.length,
            "where": self.where,
            "message": self.message,
            "source": self.source,
        }


def _cells(text: str) -> int:
    """How many columns of a terminal a text fills: 2 for wide East Asian characters, 0 for combining ones."""
    return sum(
        0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in {"W", "F"} else 1 for c in text
    )


def _excerpt(line: str, first: int, length: int) -> tuple[str, int, int]:
    """A line as printed, and the column and width of the carets below it; long lines are cut around the spot."""
    parts = (line[:first].lstrip(), line[first : first + length], line[first + length :].rstrip())
    before, marked, after = (part.replace("\t", "    ") for part in parts)
    if _cells(before) > _WIDEST // 2:
        before = "…" + before[-_WIDEST // 2 :]
    if len(marked) > _WIDEST // 2:
        marked = marked[: _WIDEST // 2] + "…"
    room = max(0, _WIDEST - len(before) - len(marked))
    if len(after) > room:
        after = after[:room] + "…"
    return before + marked + after, _cells(before), max(1, _cells(marked))


def in_order(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    """Faults as the text runs, each once."""
    unique = {(f.place.line, f.place.column, f.message): f for f in faults}
    return tuple(unique[key] for key in sorted(unique))


def unreadable(faults: Iterable[Fault]) -> StoryboardUnreadable:
    """The error that carries all faults; its text shows each with its line, and at the end how many there are."""
    ordered = in_order(faults)
    shown = [str(fault) for fault in ordered[:MOST_SHOWN]]
    if len(ordered) > MOST_SHOWN:
        shown.append(f"and {len(ordered) - MOST_SHOWN} more faults")
    elif len(ordered) > 1:
        shown.append(f"{len(ordered)} faults")
    return StoryboardUnreadable("\n".join(shown), ordered)


def nearest(name: str, known: Iterable[str]) -> str | None:
    """The known name most like a written one, if one is near enough to be meant."""
    names = {one.lower(): one for one in known}
    close = difflib.get_close_matches(name.lower()[:80], list(names), n=1, cutoff=0.65)
    return names[close[0]] if close else None


def listed(names: Sequence[str], last: str = "or") -> str:
    """Names for a sentence: `a`, `b` or `c`."""
    quoted = [f"`{name}`" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} {last} {quoted[-1]}"


def suggestion(name: str, known: Sequence[str], kind: str = "") -> str:
    """What to write instead of an unknown name."""
    if close := nearest(name, known):
        return f"did you mean `{close}`?"
    if not known:
        return f"there is no {kind} yet" if kind else "nothing may be written here"
    shown = list(known) if len(known) <= 16 else [*known[:15], "…"]
    return f"there {'is' if len(shown) == 1 else 'are'} {listed(shown, 'and')}"

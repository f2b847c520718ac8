"""Reads the words back from plain text, so that nothing but words changes in the storyboard.

The form is that of `script_text`. Beats, speakers and marks must be those of the storyboard; every one that is missing,
new or out of place is a fault with its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from segmentkit.deliver.script_text import Path, path_of, written
from segmentkit.plan.speech import speaker_of
from segmentkit.storyboard.faults import Fault, Source, suggestion, unreadable
from segmentkit.storyboard.fields import NAME
from segmentkit.storyboard.load import LoadedStoryboard, loads
from segmentkit.storyboard.locate import written_at
from segmentkit.storyboard.model import Beat
from segmentkit.storyboard.splice import replace_scalars
from segmentkit.storyboard.words import read_line

_BEAT = re.compile(r"==\s*(.*?)\s*")
_SPEAKER = re.compile(rf"({NAME}):(?:\s+(.*))?")
_MARK = re.compile(r"\[\s*([^\[\]]*?)\s*\]")


@dataclass(frozen=True, slots=True, kw_only=True)
class WordChange:
    """A line whose words changed: as it was, and as it is now; marks and braces included.

    `shared` says that the beat is one of the whole segment's, so that words edited in a cut change the whole as well.
    """

    beat: str
    speaker: str
    was: str
    now: str
    shared: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class EditedWords:
    """The storyboard's text with other words, and what changed."""

    text: str
    changes: tuple[WordChange, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Spoken:
    """A line as it stands in the plain text: where it starts and ends, who says it, and the words."""

    start: int
    end: int
    speaker: str
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Section:
    """A beat as it stands in the plain text."""

    start: int
    end: int
    beat: str
    lines: tuple[_Spoken, ...]


def read_words(loaded: LoadedStoryboard, text: str, name: str) -> EditedWords:
    """Puts edited words into the storyboard's text; comments, order and layout stay.

    Args:
        loaded: the storyboard, or a version of it.
        text: the plain text, as `words_text` wrote it, with other words.
        name: what faults call the plain text.

    Raises:
        StoryboardUnreadable: when a beat, speaker or mark is missing, new or out of place, with every fault of the
            plain text; or when the words cannot be written where they stand.
    """
    source = Source(text.removeprefix("\ufeff").replace("\r\n", "\n"), name)
    reader = _Reader(loaded, source)
    sections = list(reader.sections())
    lines = list(reader.compare(sections))
    if reader.faults:
        raise unreadable(reader.faults)
    values: dict[Path, str] = {}
    changes = []
    for beat, path, spoken in lines:
        was = written(loaded, path)
        if was != spoken.words:
            at = written_at(path, loaded.moved)
            values[at] = spoken.words
            shared = at[0] == "beats"
            changes.append(WordChange(beat=beat, speaker=spoken.speaker, was=was, now=spoken.words, shared=shared))
    edited = replace_scalars(loaded.text, values, loaded.file)
    loads(edited, loaded.file, loaded.folder)
    return EditedWords(text=edited, changes=tuple(changes))


class _Reader:
    """Reads plain text against a storyboard and collects what does not fit."""

    def __init__(self, loaded: LoadedStoryboard, source: Source) -> None:
        self._board = loaded.board
        self._source = source
        self.faults: list[Fault] = []

    def _fault(self, start: int, end: int, message: str, where: str = "") -> None:
        self.faults.append(self._source.fault(start, max(end, start + 1), message, where))

    def sections(self) -> Iterator[_Section]:
        """The beats as they stand in the text."""
        at = 0
        head: tuple[int, int, str] | None = None
        lines: list[_Spoken] = []
        for raw in self._source.text.split("\n"):
            line, start, end = raw.rstrip(), at, at + len(raw.rstrip())
            at += len(raw) + 1
            if not line.strip() or line.lstrip().startswith("#"):
                continue
            if beat := _BEAT.fullmatch(line):
                if head is not None:
                    yield _Section(start=head[0], end=head[1], beat=head[2], lines=tuple(lines))
                head, lines = (start, end, beat[1]), []
            elif head is None:
                self._fault(start, end, "words stand before the first beat — start with `== ` and the beat's name")
            elif (spoken := _SPEAKER.fullmatch(line)) is not None:
                lines.append(
                    _Spoken(start=start, end=end, speaker=spoken[1], words=" ".join((spoken[2] or "").split()))
                )
            elif lines:
                last = lines.pop()
                words = f"{last.words} {' '.join(line.split())}".strip()
                lines.append(_Spoken(start=last.start, end=end, speaker=last.speaker, words=words))
            else:
                self._fault(
                    start, end, "it is not said who speaks — start with the speaker's name and a `:`", f"beat {head[2]}"
                )
        if head is not None:
            yield _Section(start=head[0], end=head[1], beat=head[2], lines=tuple(lines))

    def compare(self, sections: list[_Section]) -> Iterator[tuple[str, Path, _Spoken]]:
        """Each line of words with its place in the storyboard."""
        beats = {beat.beat: index for index, beat in enumerate(self._board.beats)}
        seen: dict[str, _Section] = {}
        for section in sections:
            span = section.start, section.end
            if section.beat not in beats:
                hint = suggestion(section.beat, list(beats))
                self._fault(*span, f"the storyboard has no beat `{section.beat}` — {hint}")
            elif section.beat in seen:
                self._fault(*span, f"beat {section.beat} stands twice — keep one")
            else:
                seen[section.beat] = section
        end = len(self._source.text.rstrip())
        for beat in beats:
            if beat not in seen:
                self._fault(end, end, f"beat {beat} is missing — put `== {beat}` and its words back")
        order = list(seen)
        if not self.faults and (
            moved := next((b for b, wanted in zip(order, beats, strict=False) if b != wanted), None)
        ):
            span = seen[moved].start, seen[moved].end
            self._fault(
                *span, f"beat {moved} stands in another place than in the storyboard — put it back in its order"
            )
        for name, section in seen.items():
            yield from self._lines(beats[name], self._board.beats[beats[name]], section)

    def _lines(self, index: int, beat: Beat, section: _Section) -> Iterator[tuple[str, Path, _Spoken]]:
        where = f"beat {beat.beat}"
        wanted = [speaker_of(self._board, line)[0] for line in beat.say]
        found = [line.speaker for line in section.lines]
        if found != wanted:
            self._speakers(section, wanted, where)
            return
        self._marks(beat, section, where)
        for line, spoken in zip(beat.say, section.lines, strict=True):
            try:
                read_line(spoken.speaker, spoken.words, None, None)
            except ValueError as error:
                literal = getattr(error, "literal", "")
                span = self._source.narrowed((spoken.start, spoken.end), literal)
                self._fault(*span, str(error), f"{where}, {spoken.speaker}")
            yield beat.beat, path_of(index, line), spoken

    def _speakers(self, section: _Section, wanted: list[str], where: str) -> None:
        if not wanted:
            first = section.lines[0]
            self._fault(
                first.start, first.end, "this beat has no words in the storyboard — add `say:` to it there first", where
            )
            return
        for number, line in enumerate(section.lines):
            if line.speaker not in wanted:
                message = f"`{line.speaker}` does not speak here — the speakers are {', '.join(dict.fromkeys(wanted))}"
                self._fault(line.start, line.end, f"{message}; indent the line if these are words", where)
                return
            if number >= len(wanted) or line.speaker != wanted[number]:
                expected = f"{wanted[number]} speaks" if number < len(wanted) else "nobody speaks"
                self._fault(
                    line.start,
                    line.end,
                    f"{line.speaker} speaks here, in the storyboard {expected} — keep the order",
                    where,
                )
                return
        missing = wanted[len(section.lines)]
        self._fault(
            section.start, section.end, f"line {len(section.lines) + 1}, of {missing}, is missing — put it back", where
        )

    def _marks(self, beat: Beat, section: _Section, where: str) -> None:
        wanted = [mark.id for line in beat.say for mark in line.marks]
        found: Mapping[str, _Spoken] = {name: line for line in section.lines for name in _MARK.findall(line.words)}
        for name in wanted:
            if name not in found:
                line = section.lines[-1]
                self._fault(
                    line.start, line.end, f"[{name}] is missing — put it before the word on which it starts", where
                )
        for name, line in found.items():
            if name not in wanted:
                known = f"its marks are {', '.join(f'[{one}]' for one in wanted)}" if wanted else "it has no marks"
                span = self._source.narrowed((line.start, line.end), f"[{name}]")
                self._fault(*span, f"[{name}] is new to this beat — {known}; draw it in the storyboard first", where)

"""What a segment would be without words that may be left out: the storyboard, the readings, and what hangs on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from segmentkit.facts import Facts, ReadingFacts
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.words import Line, Mark, Spare


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareWords:
    """A stretch of words in braces.

    Attributes:
        beat: id of the beat; `index` its place in the storyboard.
        line: index of the line in the beat; `first` and `last` bound the words, half-open.
        text: the words.
        strokes: ids of strokes that start in them and would go with them.
        cards: kinds of the cards that start in them and would go with them.
        path: the recorded take that holds them, with the seconds of the file; None where nothing is recorded.
    """

    beat: str
    index: int
    line: int
    first: int
    last: int
    text: str
    strokes: tuple[str, ...]
    cards: tuple[str, ...]
    path: Path | None
    take_from: Fraction
    take_to: Fraction

    @property
    def words(self) -> int:
        """How many words they are."""
        return self.last - self.first


def spare_words(board: Storyboard, facts: Facts) -> tuple[SpareWords, ...]:
    """All stretches in braces, in order."""
    readings = {(reading.beat, reading.line): reading for reading in facts.readings}
    found = []
    for index, beat in enumerate(board.beats):
        for number, line in enumerate(beat.say):
            reading = readings[beat.beat, number]
            for stretch in line.spare:
                marks = {mark.id for mark in line.marks if mark.word in stretch}
                start, end = _seconds(reading, stretch)
                found.append(
                    SpareWords(
                        beat=beat.beat,
                        index=index,
                        line=number,
                        first=stretch.first,
                        last=stretch.last,
                        text=" ".join(line.words[stretch.first : stretch.last]),
                        strokes=tuple(id_ for id_ in beat.strokes if id_ in marks),
                        cards=tuple(card.kind for card in beat.cards if getattr(card, card.kind).cue in marks),
                        path=None if reading.is_guide else reading.path,
                        take_from=reading.start + start,
                        take_to=reading.start + end,
                    )
                )
    return tuple(found)


def _seconds(reading: ReadingFacts, stretch: Spare) -> tuple[Fraction, Fraction]:
    """From the first sound of a stretch to that of the word after it, in seconds of the reading."""
    end = reading.words[stretch.last].start if stretch.last < len(reading.words) else reading.length
    return reading.words[stretch.first].start, end


def without(loaded: LoadedStoryboard, facts: Facts, left_out: Iterable[SpareWords]) -> tuple[LoadedStoryboard, Facts]:
    """The storyboard and readings with some words left out, as if the takes were cut there.

    The pause after the words goes with them. Strokes and cards that start in them go as well, and so does a line of
    which no word is left. Places still point into the text as it is written.
    """
    gone = tuple(left_out)
    beats, readings = [], list(facts.readings)
    for index, beat in enumerate(loaded.board.beats):
        own = [words for words in gone if words.index == index]
        if own:
            spoken = sorted((r for r in readings if r.beat == beat.beat), key=lambda r: r.line)
            kept_beat, kept = _shortened(beat, spoken, own)
            readings = [r for r in readings if r.beat != beat.beat] + kept
            beats.append(kept_beat)
        else:
            beats.append(beat)
    board = loaded.board.model_copy(update={"beats": tuple(beats)})
    return replace(loaded, board=board), replace(facts, readings=tuple(readings))


def _shortened(
    beat: Beat, readings: Sequence[ReadingFacts], gone: Sequence[SpareWords]
) -> tuple[Beat, list[ReadingFacts]]:
    lines: list[Line] = []
    kept: list[ReadingFacts] = []
    for number, (line, reading) in enumerate(zip(beat.say, readings, strict=True)):
        stretches = [Spare(words.first, words.last) for words in gone if words.line == number]
        stays = [w for w in range(len(line.words)) if not any(w in stretch for stretch in stretches)]
        if not stays:
            continue
        kept.append(replace(_shorter_reading(reading, stretches), line=len(lines)))
        lines.append(_shorter_line(line, stays, leads=number > 0 and not lines))
    strokes = {id_ for words in gone for id_ in words.strokes}
    marks = {mark.id for line in lines for mark in line.marks}
    cards = tuple(c for c in beat.cards if (cue := getattr(c, c.kind).cue) is None or cue in marks)
    changed = {
        "say": tuple(lines),
        "strokes": {id_: stroke for id_, stroke in beat.strokes.items() if id_ not in strokes},
        "cards": cards,
    }
    return beat.model_copy(update=changed), kept


def _shorter_line(line: Line, stays: Sequence[int], *, leads: bool) -> Line:
    """A line of which some words stay; a pause before it goes when it `leads` the beat in another's place."""
    place = {word: index for index, word in enumerate(stays)}
    words = tuple(line.words[word] for word in stays)
    spare = (Spare(place[s.first], place[s.last - 1] + 1) for s in line.spare if s.first in place)
    return replace(
        line,
        text=" ".join(words),
        words=words,
        marks=tuple(Mark(mark.id, place[mark.word]) for mark in line.marks if mark.word in place),
        spare=tuple(spare),
        after=None if leads else line.after,
    )


def _shorter_reading(reading: ReadingFacts, stretches: Sequence[Spare]) -> ReadingFacts:
    words, shift = [], Fraction(0)
    for index, word in enumerate(reading.words):
        for stretch in stretches:
            if stretch.first == index:
                start, end = _seconds(reading, stretch)
                shift += end - start
        if not any(index in stretch for stretch in stretches):
            words.append(replace(word, start=word.start - shift))
    return replace(reading, words=tuple(words), length=reading.length - shift)

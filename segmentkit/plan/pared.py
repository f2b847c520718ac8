"""A version without the words in braces: each line is spoken in the stretches that are left, cut out of its take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from segmentkit.facts import Facts, ReadingFacts
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.model import Beat
from segmentkit.storyboard.words import Line, Mark


def pared(loaded: LoadedStoryboard, facts: Facts) -> tuple[LoadedStoryboard, Facts]:
    """The storyboard and its readings without the words in braces; both as they are where there are none.

    What is left of a line follows at once, as if the take were cut there; the pause after the words goes with them.
    Strokes and cards that start on them go as well. Places still point into the text as it is written.
    """
    readings = {(reading.beat, reading.line): reading for reading in facts.readings}
    beats, kept, drawn = [], [], set[str]()
    for beat in loaded.board.beats:
        lines: list[Line] = []
        for number, line in enumerate(beat.say):
            for part, reading in _stretches(line, readings[beat.beat, number], leads=number > 0 and not lines):
                kept.append(replace(reading, line=len(lines)))
                lines.append(part)
        shorter = _beat(beat, tuple(lines), drawn)
        drawn |= set(shorter.strokes)
        beats.append(shorter)
    board = loaded.board.model_copy(update={"beats": tuple(beats)})
    return replace(loaded, board=board), replace(facts, readings=tuple(kept))


def _beat(beat: Beat, lines: tuple[Line, ...], drawn: set[str]) -> Beat:
    """A beat with the words that are left, and what hangs on them."""
    if all(not line.spare for line in beat.say):
        return beat.model_copy(update={"keep": tuple(name for name in beat.keep if name in drawn)})
    gone = {mark.id for line in beat.say for mark in line.marks} - {mark.id for line in lines for mark in line.marks}
    return beat.model_copy(
        update={
            "say": lines,
            "strokes": {id_: stroke for id_, stroke in beat.strokes.items() if id_ not in gone},
            "cards": tuple(card for card in beat.cards if getattr(card, card.kind).cue not in gone),
            "keep": tuple(name for name in beat.keep if name in drawn),
        }
    )


def _stretches(line: Line, reading: ReadingFacts, *, leads: bool) -> Iterator[tuple[Line, ReadingFacts]]:
    """What is left of a line; a pause before it goes when it `leads` the beat in another's place."""
    if not line.spare:
        yield replace(line, after=None) if leads else line, reading
        return
    edges = [0, *(edge for spare in line.spare for edge in (spare.first, spare.last)), len(line.words)]
    first_of_all = True
    for first, last in zip(edges[::2], edges[1::2], strict=True):
        if first == last:
            continue
        words = line.words[first:last]
        after: Fraction | None = Fraction(0)
        if first_of_all:
            after = None if leads else line.after
        marks = tuple(Mark(mark.id, mark.word - first) for mark in line.marks if first <= mark.word < last)
        yield (
            replace(line, text=" ".join(words), words=words, marks=marks, after=after, spare=()),
            _reading(reading, first, last),
        )
        first_of_all = False


def _reading(reading: ReadingFacts, first: int, last: int) -> ReadingFacts:
    """The part of a reading that speaks some words: from the first one's start to that of the next word left out."""
    start = reading.words[first].start if first else Fraction(0)
    end = reading.words[last].start if last < len(reading.words) else reading.length
    return replace(
        reading,
        start=reading.start + start,
        length=end - start,
        words=tuple(replace(word, start=max(Fraction(0), word.start - start)) for word in reading.words[first:last]),
    )

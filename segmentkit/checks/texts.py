"""All words of a storyboard, spoken and written, each with what a person calls its spot and its path in the file."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from segmentkit.checks.check import Step
from segmentkit.plan.cards import card_fields
from segmentkit.plan.model import Speech
from segmentkit.storyboard.model import Storyboard

_SENTENCE_END = re.compile(r"[.!?…][\"'”’)]*$")


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """One text of the storyboard.

    Attributes:
        text: the words.
        where: what a person calls the spot.
        path: keys and indices that lead to it.
        beat: index of its beat; None for texts of the whole segment.
        spoken: whether it is heard; else it is read.
        kind: "say", or the kind of card, shot, stroke label or segment key that holds it.
    """

    text: str
    where: str
    path: tuple[Step, ...]
    beat: int | None
    spoken: bool
    kind: str


def spoken(board: Storyboard) -> Iterator[Text]:
    """The lines that are said, in order."""
    for index, beat in enumerate(board.beats):
        for number, line in enumerate(beat.say):
            path: tuple[Step, ...] = ("beats", index, "say")
            if line.item is not None and line.speaker is not None:
                path = (*path, line.item, line.speaker)
            where = f"beat {beat.beat}, words" if len(beat.say) == 1 else f"beat {beat.beat}, line {number + 1}"
            yield Text(text=line.text, where=where, path=path, beat=index, spoken=True, kind="say")


def written(board: Storyboard) -> Iterator[Text]:
    """The texts that are read, in order: segment names, full-screen cards, overlaid cards, labels."""
    segment = board.segment
    for key, text in (("title", segment.title), ("programme", segment.programme), ("item", segment.item)):
        if text:
            yield Text(text=text, where=f"segment, {key}", path=("segment", key), beat=None, spoken=False, kind=key)
    for index, beat in enumerate(board.beats):
        yield from _of_shots(index, beat.beat, board)
        for number, spec in enumerate(beat.cards):
            body = ". ".join(text for _, text in card_fields(spec, board))
            yield Text(
                text=body,
                where=f"beat {beat.beat}, {spec.kind.replace('_', ' ')}",
                path=("beats", index, "cards", number, spec.kind),
                beat=index,
                spoken=False,
                kind=spec.kind,
            )
        for id_, stroke in beat.strokes.items():
            if stroke.label:
                yield Text(
                    text=stroke.label,
                    where=f"beat {beat.beat}, stroke {id_}",
                    path=("beats", index, "strokes", id_, "label"),
                    beat=index,
                    spoken=False,
                    kind="stroke",
                )


def _of_shots(index: int, beat: str, board: Storyboard) -> Iterator[Text]:
    for number, shot in enumerate(board.beats[index].show):
        texts: list[tuple[str, tuple[Step, ...]]] = []
        if shot.title is not None:
            texts = [(". ".join(t for t in (shot.title.main, shot.title.sub) if t), ("title",))]
        elif shot.end_board is not None:
            texts = [(". ".join((shot.end_board.main, *shot.end_board.lines)), ("end_board",))]
        elif shot.comparison is not None:
            texts = [(side.label, (shot.kind, name, "label")) for name, side in shot.comparison.sides if side.label]
        elif shot.inset is not None and shot.inset.label:
            texts = [(shot.inset.label, (shot.kind, "inset", "label"))]
        for text, path in texts:
            yield Text(
                text=text,
                where=f"beat {beat}, {shot.kind.replace('_', ' ')}",
                path=("beats", index, "show", number, *path),
                beat=index,
                spoken=False,
                kind=shot.kind,
            )


def texts(board: Storyboard) -> Iterator[Text]:
    """All words, spoken ones first."""
    yield from spoken(board)
    yield from written(board)


def is_english(board: Storyboard) -> bool:
    """Whether the word lists apply to this segment."""
    return board.segment.language.lower().split("-")[0] == "en"


def sentences(text: str) -> list[str]:
    """A text's sentences, as written."""
    found: list[list[str]] = [[]]
    for word in text.split():
        found[-1].append(word)
        if _SENTENCE_END.search(word):
            found.append([])
    return [" ".join(words) for words in found if words]


@dataclass(frozen=True, slots=True, kw_only=True)
class TimedWords:
    """Words as they are heard: from frame `start` to frame `end`, number `first` up to but not including `last`."""

    text: str
    start: int
    end: int
    first: int
    last: int

    @property
    def frames(self) -> int:
        """How long they take, the pause after them included."""
        return self.end - self.start


def timed_words(speech: Speech, first: int, last: int) -> TimedWords:
    """Some words of a line with their frames; they last until the next word starts."""
    end = speech.words[last].frame if last < len(speech.words) else speech.span.end
    text = " ".join(word.text for word in speech.words[first:last])
    return TimedWords(text=text, start=speech.words[first].frame, end=end, first=first, last=last)


def timed_sentences(speech: Speech) -> list[TimedWords]:
    """The sentences of a line with their frames."""
    cuts = [0]
    for index, word in enumerate(speech.words):
        if _SENTENCE_END.search(word.text) or index == len(speech.words) - 1:
            cuts.append(index + 1)
    return [timed_words(speech, first, last) for first, last in pairwise(cuts)]

"""The script as a producer reads it: beside each beat's pictures its words, with the clock and what is still to go.

This file says what stands where; `script_html`, `script_pdf` and `script_text` set it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum

from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import Card, Plan, PlannedBeat, Shot
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.shots import Comparison, Freeze, Run, ShotSpec
from segmentkit.storyboard.words import Line
from segmentkit.timebase import clock_text, label_of_frame, seconds_of_frame, seconds_text

_COMPARISONS = {"split": "Split screen", "three_up": "Three pictures", "overlay": "Overlay", "wipe": "Wipe"}


class Ink(Enum):
    """What a stretch of words is."""

    WORDS = "words"
    SPARE = "spare"
    STROKE = "stroke"
    CARD = "card"


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of one line: words to speak, or the name of a stroke or card that starts on the word after it."""

    text: str
    ink: Ink


@dataclass(frozen=True, slots=True, kw_only=True)
class ScriptLine:
    """What one speaker says; `pause` is how long nobody speaks before it, in frames, below 0 for an overlap."""

    speaker: str
    shown: str
    runs: tuple[Stretch, ...]
    pause: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScriptBeat:
    """One row of the script.

    Attributes:
        id: the beat.
        start: running time at its start; `to_go` from there to the end, `length` its own, all as texts.
        rigid: whether it has one length only.
        pictures: what is seen, one line each.
        extras: strokes and cards, one line each.
        lines: what is said.
        words: how many words; `pace` words a minute, None without words.
    """

    id: str
    start: str
    to_go: str
    length: str
    rigid: bool
    pictures: tuple[str, ...]
    extras: tuple[str, ...]
    lines: tuple[ScriptLine, ...]
    words: int
    pace: int | None

    @property
    def name(self) -> str:
        """The beat's name for people."""
        return self.id.replace("_", " ")

    @property
    def count(self) -> str:
        """Words and pace."""
        return f"{self.words} words, {self.pace} a minute" if self.pace is not None else "no words"


def script_beats(plan: Plan, board: Storyboard) -> tuple[ScriptBeat, ...]:
    """The rows of the script."""
    return tuple(_beat(plan, board, beat, spec) for beat, spec in zip(plan.beats, board.beats, strict=True))


def script_figures(plan: Plan) -> str:
    """Length, slot, rate and words in a line."""
    words = sum(len(line.words) for line in plan.speech)
    runs, slot = label_of_frame(plan.frames, plan.rate), label_of_frame(plan.slot, plan.rate)
    return f"{runs} in a slot of {slot} at {plan.rate} · {words} words"


def _beat(plan: Plan, board: Storyboard, beat: PlannedBeat, spec: Beat) -> ScriptBeat:
    speech = [line for line in plan.speech if line.beat == beat.id]
    spoken = sum((line.length for line in speech), start=0 / plan.rate.fps)
    words = sum(len(line.words) for line in speech)
    ends = [beat.span.start, *(line.span.end for line in speech)]
    shots = [shot for shot in plan.shots if shot.beat == beat.id]
    return ScriptBeat(
        id=beat.id,
        start=clock_text(seconds_of_frame(beat.span.start, plan.rate)),
        to_go=clock_text(seconds_of_frame(plan.frames - beat.span.start, plan.rate)),
        length=_lasting(beat.span.frames, plan),
        rigid=beat.rigid,
        pictures=tuple(_picture(plan, board, shot, one) for shot, one in zip(shots, spec.show, strict=True)),
        extras=tuple(_extras(plan, beat, spec)),
        lines=tuple(
            ScriptLine(
                speaker=line.speaker,
                shown=line.shown,
                runs=tuple(line_runs(spec.say[line.line], spec)),
                pause=line.span.start - end,
            )
            for line, end in zip(speech, ends, strict=False)
        ),
        words=words,
        pace=round(float(words * 60 / spoken)) if spoken else None,
    )


def _lasting(frames: int, plan: Plan) -> str:
    return seconds_text(seconds_of_frame(frames, plan.rate), 1).replace("s", "\u00a0s")


def line_runs(line: Line, beat: Beat) -> Iterator[Stretch]:
    """A line's words, with the names of strokes and cards before the words on which they start."""
    pending: list[str] = []
    spare = False

    def flush() -> Iterator[Stretch]:
        if pending:
            yield Stretch(" ".join(pending), Ink.SPARE if spare else Ink.WORDS)
            pending.clear()

    for index, word in enumerate(line.words):
        inside = any(index in stretch for stretch in line.spare)
        marks = [mark.id for mark in line.marks if mark.word == index]
        if inside != spare or marks:
            yield from flush()
            spare = inside
        for mark in marks:
            yield Stretch(mark.replace("_", " "), Ink.STROKE if mark in beat.strokes else Ink.CARD)
        pending.append(word)
    yield from flush()


def _picture(plan: Plan, board: Storyboard, shot: Shot, spec: ShotSpec) -> str:
    """A shot in words, with its length."""
    match getattr(spec, spec.kind):
        case Run() as run:
            speed = "real time" if run.speed == 1 else f"speed {run.speed}"
            what = f"{_who(board, run.clip)}, {_named(run.from_)} to {_named(run.to)}, {speed}"
        case Freeze() as freeze:
            what = f"{_who(board, freeze.clip)}, frozen at {_named(freeze.at)}{', soft' if freeze.soften else ''}"
        case Comparison() as comparison:
            sides = " beside ".join(
                f"{side.label or _who(board, side.clip)}{f' at {_named(side.at)}' if side.at is not None else ''}"
                for _, side in comparison.sides
            )
            what = f"{_COMPARISONS.get(spec.kind, spec.kind)}: {sides}"
        case _:
            title = spec.title or spec.end_board
            what = f"{spec.kind.replace('_', ' ').capitalize()}: {title.main if title else _still(spec)}"
    return f"{what} ·\u00a0{_lasting(shot.span.frames, plan)}"


def _still(spec: ShotSpec) -> str:
    return spec.still.still.replace("_", " ") if spec.still is not None else ""


def _who(board: Storyboard, clip: str) -> str:
    person = board.clips[clip].person
    return board.people[person].shown if person in board.people else clip.replace("_", " ")


def _named(when: object) -> str:
    return str(when).replace("_", " ")


def _extras(plan: Plan, beat: PlannedBeat, spec: Beat) -> Iterator[str]:
    if spec.keep:
        yield f"Kept: {', '.join(id_.replace('_', ' ') for id_ in spec.keep)}"
    for stroke in plan.strokes:
        if stroke.beat == beat.id and not stroke.kept:
            when = (
                f"on “{stroke.cue.strip('.,;:!?')}”"
                if stroke.cue
                else f"at {_lasting(stroke.span.start - beat.span.start, plan)}"
            )
            yield f"Draw {stroke.id.replace('_', ' ')} ({stroke.role} {stroke.kind.replace('_', ' ')}) {when}"
    for card in plan.cards:
        if card.beat == beat.id and card.kind not in {GUIDE_MARK, "title", "end_board"}:
            yield _card(card, beat, plan)


def _card(card: Card, beat: PlannedBeat, plan: Plan) -> str:
    text = " / ".join(text for _, text in card.fields)
    at = _lasting(card.span.start - beat.span.start, plan)
    return f"{card.kind.replace('_', ' ').capitalize()} at {at} for {_lasting(card.span.frames, plan)}: {text}"

"""Cards on the frame grid: full-screen ones fill their shot, the others lie over the beat's pictures."""

from __future__ import annotations

from collections.abc import Sequence

from segmentkit.plan.defaults import CARD_AT, CARD_IN, CARD_OUT, LOWER_THIRD_AT, LOWER_THIRD_HOLD, Grid, reading_time
from segmentkit.plan.model import Card, ClipPicture, Shot, Speech
from segmentkit.plan.speech import BeatSpeech
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.shots import (
    CardSpec,
    CardTiming,
    DrillCard,
    ListCard,
    LowerThird,
    ShotSpec,
    SidedCard,
    TextCard,
)
from segmentkit.timebase import Span, frames_covering

GUIDE_MARK = "guide_mark"
GUIDE_TEXT = "Guide voice"
Fields = tuple[tuple[str, str], ...]
PLAYER_RIGHT = 0.55
"""From this part of the picture's width on a player stands on the right; common practice, no source."""


def full_screen_card(beat: Beat, index: int, spec: ShotSpec, shot: Shot, board: Storyboard, grid: Grid) -> Card | None:
    """The type of a title or end board; None for other shots."""
    fields = _board_fields(spec, board)
    if not fields:
        return None
    return Card(
        beat=beat.beat,
        kind=spec.kind,
        index=index,
        fields=fields,
        span=shot.span,
        enter_frames=grid.frames(CARD_IN),
        leave_frames=0,
    )


def frames_to_read(spec: ShotSpec, board: Storyboard, grid: Grid) -> int:
    """Frames that a title or end board needs to come in and be read; 0 for other shots."""
    words = sum(len(text.split()) for _, text in _board_fields(spec, board))
    return grid.frames(CARD_IN) + frames_covering(reading_time(words), grid.rate) if words else 0


def _board_fields(spec: ShotSpec, board: Storyboard) -> Fields:
    if spec.title is not None:
        extra = (("item", board.segment.item), ("programme", board.segment.programme))
        return _given(("main", spec.title.main), ("sub", spec.title.sub), *extra)
    if spec.end_board is not None:
        return _given(("main", spec.end_board.main), *(("line", line) for line in spec.end_board.lines))
    return ()


def _given(*fields: tuple[str, str | None]) -> Fields:
    return tuple((name, text) for name, text in fields if text)


def card_fields(spec: CardSpec, board: Storyboard) -> Fields:
    """The texts of an overlaid card, in reading order."""
    match getattr(spec, spec.kind):
        case LowerThird() as third:
            person = board.people.get(third.person) if third.person else None
            return _given(("name", third.name or _name_line(person)), ("line", third.line or _person_line(person)))
        case ListCard() as card:
            return _given(("title", card.title), *(("line", line) for line in card.lines))
        case DrillCard() as drill:
            return _given(("name", drill.name), ("count", drill.count), ("equipment", drill.equipment),
                          ("safety", drill.safety), ("line", drill.line))  # fmt: skip
        case TextCard() as card:
            return (("text", card.text),)
        case unknown:
            raise AssertionError(f"no card of kind {unknown!r}")


def _is_minor(person: Person) -> bool:
    return person.adult is False


def _name_line(person: Person | None) -> str | None:
    if person is None:
        return None
    return person.shown if person.place is None or _is_minor(person) else f"{person.shown}, {person.place}"


def _person_line(person: Person | None) -> str | None:
    if person is None or _is_minor(person):
        return None
    handicap = f"handicap {person.handicap}" if person.handicap else None
    line = ", ".join(part for part in (person.club, handicap) if part)
    return line[:1].upper() + line[1:] if line else None


def placed_cards(
    beat: Beat, span: Span, speech: BeatSpeech, board: Storyboard, grid: Grid, shots: Sequence[Shot] = ()
) -> list[Card]:
    """The overlaid cards of a beat; its `shots` tell on which side the player leaves room."""
    placed = []
    for index, spec in enumerate(beat.cards):
        timing: CardTiming = getattr(spec, spec.kind)
        start = span.start + _start(timing, spec, speech, grid)
        start = min(start, span.end - 1)
        hold = timing.hold
        if hold is not None:
            end = min(span.end, start + max(1, grid.frames(hold)))
        elif spec.lower_third is not None:
            end = min(span.end, start + grid.frames(LOWER_THIRD_HOLD))
        else:
            end = span.end
        enter, leave = grid.frames(CARD_IN), grid.frames(CARD_OUT)
        if enter + leave >= end - start:
            enter = leave = 0
        placed.append(
            Card(
                beat=beat.beat,
                kind=spec.kind,
                index=index,
                fields=card_fields(spec, board),
                span=Span(start, end),
                enter_frames=enter,
                leave_frames=leave,
                side=_side(timing, Span(start, end), shots, board),
            )
        )
    return placed


def _side(timing: CardTiming, span: Span, shots: Sequence[Shot], board: Storyboard) -> str:
    """The side that is written, else the one away from the player: the right one unless the player stands there."""
    if not isinstance(timing, SidedCard):
        return "right"
    if timing.side is not None:
        return timing.side.value
    spots = [x for shot in shots if shot.span.overlap(span) for x in _player(shot, board)]
    return "left" if spots and sum(spots) / len(spots) > PLAYER_RIGHT else "right"


def _player(shot: Shot, board: Storyboard) -> list[float]:
    """Where the player of a shot with one picture stands, as a part of the window's width.

    By the points named in the clip (the ball apart), else by the spot to keep in the middle.
    """
    if len(shot.panes) != 1 or not isinstance(shot.panes[0].picture, ClipPicture):
        return []
    pane = shot.panes[0]
    clip = board.clips[shot.panes[0].picture.clip]
    points = [point for spots in clip.points.values() for name, point in spots.items() if name != "ball"]
    if not points and clip.focus is not None:
        points = [clip.focus]
    window = pane.placement.window
    found = [(pane.placement.to_canvas(point).x - window.x) / window.width for point in points]
    return [sum(found) / len(found)] if found else []


def _start(timing: CardTiming, spec: CardSpec, speech: BeatSpeech, grid: Grid) -> int:
    if timing.cue is not None and timing.cue in speech.cues:
        return speech.cues[timing.cue][0]
    return grid.frames(timing.at, LOWER_THIRD_AT if spec.lower_third is not None else CARD_AT)


def guide_marks(speech: Sequence[Speech]) -> list[Card]:
    """The sign that a guide voice is speaking, so that nobody takes a rehearsal for the programme."""
    marks: list[Card] = []
    for line in speech:
        if not line.is_guide:
            continue
        if marks and marks[-1].span.end >= line.span.start - 1:
            span = Span(marks[-1].span.start, max(marks[-1].span.end, line.span.end))
            marks.pop()
        else:
            span = line.span
        marks.append(
            Card(beat=line.beat, kind=GUIDE_MARK, index=len(marks), fields=(("text", GUIDE_TEXT),), span=span,
                 enter_frames=0, leave_frames=0)
        )  # fmt: skip
    return marks

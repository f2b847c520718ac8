"""Who speaks when: lines within a beat, first without the frame grid of the segment, then on it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from segmentkit.facts import ReadingFacts, SpeechRequest
from segmentkit.plan.defaults import GAP, LEAD, TAIL, Grid
from segmentkit.plan.model import Speech, Word
from segmentkit.plan.respell import respelled
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.people import Speaker, SpeakerLine
from segmentkit.storyboard.words import Line
from segmentkit.timebase import Span, frames_covering, nearest_frame

DEFAULT_SPEAKER = "presenter"
NO_GUIDE = "none"


def speaker_of(board: Storyboard, line: Line) -> tuple[str, Speaker]:
    """Who says a line: the one named, else the segment's first speaker."""
    id_ = line.speaker or next(iter(board.speakers), DEFAULT_SPEAKER)
    return id_, board.speakers.get(id_, Speaker())


def shown_name(board: Storyboard, id_: str, speaker: Speaker) -> str:
    """A speaker's name for captions and scripts."""
    if speaker.shown:
        return speaker.shown
    if speaker.person and speaker.person in board.people:
        return board.people[speaker.person].shown
    return id_.replace("_", " ").capitalize()


def speech_requests(board: Storyboard) -> tuple[SpeechRequest, ...]:
    """All lines that want a reading, in order."""
    requests = []
    for beat in board.beats:
        for index, line in enumerate(beat.say):
            id_, speaker = speaker_of(board, line)
            guide = speaker.guide or board.voice.guide
            said = respelled(line.words, board.voice.pronounce)
            requests.append(
                SpeechRequest(
                    beat=beat.beat,
                    line=index,
                    lines=len(beat.say),
                    speaker=id_,
                    words=line.words,
                    good=board.voice.good.get(beat.beat),
                    guide=None if guide == NO_GUIDE else guide,
                    pace=speaker.pace or board.voice.pace,
                    language=board.segment.language,
                    respelled=said if said != line.words else None,
                )
            )
    return tuple(requests)


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatSpeech:
    """The words of one beat in frames from the beat's start.

    Attributes:
        starts: first frame of each line.
        readings: what is heard, line by line.
        words_end: frame after the last sound; None without words.
        needs: frames the beat must have for its words, tail included; 0 without words.
        cues: for each `[id]` the frame on which its word starts and the word.
    """

    starts: tuple[int, ...]
    readings: tuple[ReadingFacts, ...]
    words_end: int | None
    needs: int
    cues: Mapping[str, tuple[int, str]]


def beat_speech(
    board: Storyboard, beat: Beat, readings: Mapping[tuple[str, int], ReadingFacts], grid: Grid
) -> BeatSpeech:
    """Lays a beat's lines one after the other, with their pauses and overlaps."""
    starts: list[int] = []
    heard: list[ReadingFacts] = []
    cues: dict[str, tuple[int, str]] = {}
    end = 0
    for index, line in enumerate(beat.say):
        reading = readings[beat.beat, index]
        if index == 0:
            lead = beat.lead if beat.lead is not None else board.voice.lead
            start = grid.frames(lead, LEAD) + grid.frames(line.after)
        else:
            gap = line.after if line.after is not None else _usual_gap(board, grid)
            start = max(0, end + grid.frames(gap))
        for mark in line.marks:
            spoken = reading.words[mark.word]
            cues[mark.id] = (start + nearest_frame(spoken.start, grid.rate), spoken.text)
        starts.append(start)
        heard.append(reading)
        end = max(end, start + frames_covering(reading.length, grid.rate))
    if not heard:
        return BeatSpeech(starts=(), readings=(), words_end=None, needs=0, cues=cues)
    return BeatSpeech(
        starts=tuple(starts),
        readings=tuple(heard),
        words_end=end,
        needs=end + grid.frames(board.voice.tail, TAIL),
        cues=cues,
    )


def _usual_gap(board: Storyboard, grid: Grid) -> Fraction:
    return GAP if board.voice.gap is None else Fraction(grid.frames(board.voice.gap)) / grid.rate.fps


def placed_speech(board: Storyboard, beat: Beat, speech: BeatSpeech, start: int, grid: Grid) -> list[Speech]:
    """The lines of a beat that starts at a known frame."""
    placed = []
    for index, (line, offset, reading) in enumerate(zip(beat.say, speech.starts, speech.readings, strict=True)):
        id_, speaker = speaker_of(board, line)
        first = start + offset
        placed.append(
            Speech(
                beat=beat.beat,
                line=index,
                speaker=id_,
                shown=shown_name(board, id_, speaker),
                text=line.text,
                span=Span(first, first + frames_covering(reading.length, grid.rate)),
                path=reading.path,
                source_start=reading.start,
                length=reading.length,
                gain_db=speaker.level,
                telephone=speaker.line is SpeakerLine.TELEPHONE,
                denoise=0.0 if reading.is_guide else speaker.denoise,
                words=tuple(Word(text=w.text, frame=first + nearest_frame(w.start, grid.rate)) for w in reading.words),
                word_source=reading.word_source,
                expected_error=reading.expected_error,
                is_guide=reading.is_guide,
            )
        )
    return placed

"""The plan: everything that is seen and heard, on whole frames of the output.

All spans are half-open and counted from the first frame of the segment. Points of strokes stay fractions of the
clip's upright picture; the pane that shows the clip says where that lies on the canvas, so a stroke stays on the body
in any layout.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from segmentkit.facts import WordSource
from segmentkit.geometry import Point, Rect, Size
from segmentkit.plan.pictures import (
    ClipPicture,
    Entry,
    Face,
    Light,
    Matched,
    Move,
    Pane,
    Shot,
    StillPicture,
)
from segmentkit.timebase import Rate, Span

__all__ = [
    "Card", "ClipPicture", "Entry", "Face", "Light", "Matched", "Move", "MusicCue", "NaturalSound", "Pane", "Plan",
    "PlannedBeat", "Shot", "Speech", "Spot", "StillPicture", "Stroke", "Word",
]  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """Where a stroke lies in one frame's picture; as in `Stroke`."""

    points: tuple[Point, ...]
    radius: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """One appearance of a drawn mark within one shot.

    Attributes:
        id: as in the storyboard; a kept stroke has one appearance in each shot that shows it.
        beat: the beat in whose shot this appearance is.
        shot: id of the shot.
        pane: index of the pane whose picture it belongs to.
        kind: line, arrow, double_arrow, ring, box, curve, curve_arrow, angle, dot or shade.
        points: fractions of the upright source picture. ring and shade: the centre alone.
        radius: for ring and shade, as a fraction of the source's height.
        role: reference, fault or good.
        label: a few words beside it.
        span: frames on which it is seen.
        draw_start: frame at which drawing begins; before `span.start` when it was drawn in an earlier shot.
        draw_frames: how long the drawing takes.
        wipe_frames: how long before the end of `span` it is wiped off; 0 to stay to the cut.
        cue: the word that starts it, if one does.
        cue_frame: the frame on which that word is spoken.
        kept: whether it comes from an earlier shot.
        source_frame: the frame of the clip on which it was drawn; None on a still.
        followed: where it lies on each frame of `span`, when it moves with the background; empty when it stays.
    """

    id: str
    beat: str
    shot: str
    pane: int
    kind: str
    points: tuple[Point, ...]
    radius: float | None
    role: str
    label: str | None
    span: Span
    draw_start: int
    draw_frames: int
    wipe_frames: int
    cue: str | None
    cue_frame: int | None
    kept: bool
    source_frame: int | None = None
    followed: tuple[Spot, ...] = ()

    def at(self, frame: int) -> Stroke:
        """The stroke as it lies on a frame of the segment; itself when it stays where it is."""
        if not self.followed or frame not in self.span:
            return self
        spot = self.followed[frame - self.span.start]
        return replace(self, points=spot.points, radius=spot.radius)


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """Text laid over the picture.

    Attributes:
        kind: title, end_board, lower_third, information, key_points, key_words, drill, caution, disclosure, label,
            or guide_mark (the sign that a guide voice is speaking).
        index: place in its beat's list of cards, to tell cards apart; full-screen cards use the shot's index.
        fields: named texts in reading order, such as ("name", "Wall drill"); a list repeats the name "line".
        span: frames on which it is seen, in and out included.
        enter_frames: how long it takes to come in; 0 for a cut.
        leave_frames: how long it takes to go.
        side: the side of a wide picture on which a panel stands: left or right.
        sheet: where the sheet of a panel begins in a picture that is not wide, as a part of its height.
        high: whether a name stands at the head of the picture, because at its foot it would cover the player.
    """

    beat: str
    kind: str
    index: int
    fields: tuple[tuple[str, str], ...]
    span: Span
    enter_frames: int
    leave_frames: int
    side: str = "right"
    sheet: float | None = None
    high: bool = False

    @property
    def words(self) -> int:
        """How many words a viewer has to read."""
        return sum(len(text.split()) for _, text in self.fields)


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A spoken word and the frame on which it starts."""

    text: str
    frame: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Speech:
    """One line of words as it is heard.

    Attributes:
        speaker: id, and `shown` the name for captions.
        text: the words.
        span: frames from first to last sound.
        path: the sound file, or None when nothing speaks it yet.
        source_start: seconds into the file at which speech begins.
        length: seconds of speech.
        gain_db: level against the other voices.
        telephone: whether it is band-limited.
        denoise: dB by which steady noise in it is lowered.
        words: each word with its frame.
        word_source: where the word times come from; `expected_error` in seconds.
        is_guide: whether the guide voice speaks.
    """

    beat: str
    line: int
    speaker: str
    shown: str
    text: str
    span: Span
    path: Path | None
    source_start: Fraction
    length: Fraction
    gain_db: float
    telephone: bool
    words: tuple[Word, ...]
    word_source: WordSource
    expected_error: Fraction
    is_guide: bool
    denoise: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class NaturalSound:
    """The sound of a clip that runs at real speed."""

    clip: str
    span: Span
    source_start: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class MusicCue:
    """A stretch of music; levels in dB against the voices' level."""

    path: Path
    span: Span
    level_db: float
    under_speech_db: float
    fade_in: int
    fade_out: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBeat:
    """A beat on the frame grid.

    Attributes:
        least, nominal, most: frames it could have; equal when it is rigid.
        words_end: frame at which its last word ends; None without words.
        needs: frames that its words and strokes need.
    """

    id: str
    span: Span
    least: int
    nominal: int
    most: int
    words_end: int | None
    needs: int
    rigid: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The whole segment. Shots tile the frames 0 to `frames` with no gap and no overlap."""

    title: str
    rate: Rate
    size: Size
    slot: int
    beats: tuple[PlannedBeat, ...]
    shots: tuple[Shot, ...]
    strokes: tuple[Stroke, ...]
    cards: tuple[Card, ...]
    speech: tuple[Speech, ...]
    natural: tuple[NaturalSound, ...]
    music: tuple[MusicCue, ...]

    @property
    def frames(self) -> int:
        """Length of the planned segment; equals `slot` exactly when it fits."""
        return self.beats[-1].span.end if self.beats else 0

    def beat(self, id: str) -> PlannedBeat:
        """The beat of that name."""
        return next(beat for beat in self.beats if beat.id == id)

    def shot_at(self, frame: int) -> Shot:
        """The shot on screen at a frame."""
        return next(shot for shot in self.shots if frame in shot.span)

    @property
    def canvas(self) -> Rect:
        """The whole picture, in pixels."""
        return Rect(0, 0, self.size.width, self.size.height)

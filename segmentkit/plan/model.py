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
from segmentkit.geometry import Placement, Point, Rect, Size, between
from segmentkit.timebase import Rate, Span


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipPicture:
    """A clip in motion or frozen: for each output frame of the shot, the source frame that is shown.

    Attributes:
        clip: id of the clip.
        frames: one source frame for each output frame; all equal in a freeze.
        position: name of the frozen position, for labels and sheets.
    """

    clip: str
    frames: tuple[int, ...]
    position: str | None = None

    @property
    def frozen(self) -> bool:
        """Whether it shows one frame throughout."""
        return self.frames[0] == self.frames[-1] and len(set(self.frames)) == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class StillPicture:
    """A still picture."""

    still: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """A gentle change of brightness and tint: new luma = gain * (old - 16) + 16 + lift, and a shift of each chroma.

    Attributes:
        gain: factor of the luma above black.
        lift: added to it, in code values.
        blue: added to Cb, in code values; `red` to Cr.
    """

    gain: float
    lift: float
    blue: float
    red: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A picture on its way to another placement; it rests before and after.

    Attributes:
        to: where it arrives.
        start: frames from the start of the shot at which it sets out.
        frames: how long it takes.
    """

    to: Placement
    start: int
    frames: int

    def part(self, offset: int) -> float:
        """Part of the way behind it on a frame of the shot, 0 to 1; it sets out and arrives at rest (smoothstep)."""
        gone = min(1.0, max(0.0, (offset - self.start) / self.frames))
        return gone * gone * (3 - 2 * gone)


@dataclass(frozen=True, slots=True)
class Face:
    """A face that labels keep off: middle in fractions of the upright picture, radius as a part of its height."""

    centre: Point
    radius: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Pane:
    """A picture in its place on the canvas.

    Attributes:
        picture: what is shown.
        placement: where the whole source lies, and the window that shows part of it; where it starts, if it moves.
        name: what strokes call it, such as "left"; empty where a shot has only one.
        faces: where faces are, as far as somebody named them.
        move: how its placement changes within the shot.
        soften: blurred and dimmed, as the ground for a card.
        opacity: how much of it is seen over the panes before it.
        inset: whether it lies over the panes before it, with an edge of its own, and hides their strokes.
        light: how its brightness and tint were brought near those of the first pane.
        label: text in a corner, such as a name.
        note: second, smaller text of the label, such as "mirrored".
        label_at: where in the window: (0, 0) its upper left corner, (1, 1) the lower right one.
        label_room: the canvas rectangle in which the label stands, when that is not the window.
    """

    picture: ClipPicture | StillPicture
    placement: Placement
    name: str = ""
    move: Move | None = None
    soften: bool = False
    faces: tuple[Face, ...] = ()
    opacity: float = 1.0
    inset: bool = False
    light: Light | None = None
    label: str | None = None
    note: str | None = None
    label_at: tuple[float, float] = (0.0, 0.0)
    label_room: Rect | None = None

    @property
    def label_window(self) -> Rect:
        """The rectangle that its label lies in."""
        return self.label_room or self.whole_window

    @property
    def whole_window(self) -> Rect:
        """The window at its largest, also while an edge still uncovers it."""
        first, last = self.placement.window, self.move.to.window if self.move is not None else self.placement.window
        return max(first, last, key=lambda window: window.width * window.height)

    def placement_at(self, offset: int) -> Placement:
        """Its placement on a frame of the shot, counted from the shot's start; the same object while it rests."""
        if self.move is None:
            return self.placement
        return between(self.placement, self.move.to, self.move.part(offset))


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """How a shot takes the place of the one before: over its own first frames, above that one's last picture.

    Attributes:
        by: dissolve, wipe or push.
        frames: how many of the shot's frames are a mixture; the one after them is the shot alone.
    """

    by: str
    frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Matched:
    """What was made alike between the panes of a comparison, and what is left between them.

    Attributes:
        by: what was asked for: ground, belt, level, events, light.
        scales: canvas pixels a source pixel of each pane; `turns` its degrees.
        heel: height between the heel lines, in pixels at a picture height of 1080; None without such points.
        belt: difference of heel to belt in per cent of the first pane's; None without such points.
        spots: the same as `heel` for the other points that all panes have at the matched position, by name.
        events: positions at which the running sides meet.
    """

    by: tuple[str, ...]
    scales: tuple[float, ...]
    turns: tuple[float, ...]
    heel: float | None
    belt: float | None
    spots: tuple[tuple[str, float], ...]
    events: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One picture of a beat: no pane (a plain card ground), one pane (full frame) or several (a comparison, an inset).

    Attributes:
        id: `<beat>/<index>`.
        kind: run, freeze, split, three_up, overlay, wipe, still, title or end_board.
        speed: against real time, for shots in motion.
        enter: how it takes the place of the shot before; None for a cut.
        matched: what was made alike, in a comparison that asks for it.
    """

    id: str
    beat: str
    kind: str
    span: Span
    panes: tuple[Pane, ...]
    speed: Fraction | None = None
    enter: Entry | None = None
    matched: Matched | None = None

    def placement(self, pane: int, frame: int) -> Placement:
        """The placement of a pane on a frame of the segment."""
        return self.panes[pane].placement_at(frame - self.span.start)

    def resting(self, pane: int) -> Placement:
        """The placement of a pane on the shot's last frame, where it has come to rest."""
        return self.panes[pane].placement_at(self.span.frames - 1)


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
    """

    beat: str
    kind: str
    index: int
    fields: tuple[tuple[str, str], ...]
    span: Span
    enter_frames: int
    leave_frames: int
    side: str = "right"

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

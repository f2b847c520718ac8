"""What was measured: clips, readings, guide voices, finished movies. Values only; no file is opened here."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from pathlib import Path

from segmentkit.geometry import Projection, Rect, Size
from segmentkit.timebase import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipFacts:
    """A source clip as it can be used: upright, with square pixels, every frame with its true moment.

    Attributes:
        path: the file as sent; never modified.
        content: SHA-256 of the file's bytes, in hex.
        size: upright picture in square pixels.
        times: for each frame, the moment at which it begins, in seconds from the first frame; strictly rising.
        duration: from the first frame to the end of the last one, in seconds of the file.
        has_sound: whether there is a usable sound track.
        normalised: the working copy in which frame k is frame k of the source; None until it was made.
        sound: the working copy of its sound, 48 kHz, starting with the first frame; None if there is none.
        notes: what had to be put right (rotation, variable rate, interlace, HDR ...), one sentence each.
    """

    path: Path
    content: str
    size: Size
    times: tuple[Fraction, ...]
    duration: Fraction
    has_sound: bool
    normalised: Path | None = None
    sound: Path | None = None
    notes: tuple[str, ...] = ()

    @property
    def frames(self) -> int:
        """How many frames decode."""
        return len(self.times)

    @property
    def mean_rate(self) -> Fraction:
        """Frames a second over the whole clip."""
        return self.frames / self.duration


@dataclass(frozen=True, slots=True, kw_only=True)
class StillFacts:
    """A still picture: its upright size; `content` is the SHA-256 of its bytes."""

    path: Path
    content: str
    size: Size


class WordSource(Enum):
    """Where word times come from, best first."""

    ALIGNED = "aligned with the take"
    GUIDE = "the guide voice's own times"
    PACE = "the stated pace"


@dataclass(frozen=True, slots=True, kw_only=True)
class SpokenWord:
    """A word of a line with the moment it starts, in seconds from the start of the reading."""

    text: str
    start: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingFacts:
    """How one line of words is spoken: a recorded take, or the guide voice standing in.

    Attributes:
        beat: id of the beat.
        line: index of the line within the beat's words.
        path: sound file, or None when nothing speaks it (the pace alone gives its length).
        start: where speech begins in the file, in seconds; what lies before is trimmed.
        length: seconds from there to the end of speech, handles included.
        words: one entry for each word of the script, in order.
        word_source: where the word times come from.
        expected_error: how far off a word may be, in seconds.
        is_guide: whether this is the guide voice.
    """

    beat: str
    line: int
    path: Path | None
    start: Fraction
    length: Fraction
    words: tuple[SpokenWord, ...]
    word_source: WordSource
    expected_error: Fraction
    is_guide: bool
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Loudness:
    """Measured by ITU-R BS.1770-4 with the gate: integrated LUFS, loudness range LU, true peak dBTP."""

    integrated: float
    range: float
    true_peak: float


@dataclass(frozen=True, slots=True, kw_only=True)
class MovieFacts:
    """A finished file, read back by decoding it to the end.

    Attributes:
        path: the file.
        size: picture size in pixels.
        rate: declared frames a second.
        frames: decoded frames.
        samples: decoded sound samples a channel at 48 kHz.
        video_codec: codec, profile and pixel format, such as "h264 High yuv420p".
        audio_codec: codec and rate, such as "aac 48000 Hz".
        colour: matrix/primaries/transfer/range as tagged.
        loudness: of the sound as decoded.
        chapters: number of chapters.
        programme: its frames between leader and tail; None when it has neither.
        timecode: the label of the first frame as the file states it; None where it states none.
        field_order: "top" or "bottom", the field of an interlaced frame that is shown first; None for whole pictures.
    """

    path: Path
    size: Size
    rate: Fraction
    frames: int
    samples: int
    video_codec: str
    audio_codec: str
    colour: str
    loudness: Loudness
    chapters: int
    programme: Span | None = None
    timecode: str | None = None
    field_order: str | None = None

    @property
    def running(self) -> int:
        """Frames of the programme: a leader never counts."""
        return self.frames if self.programme is None else self.programme.frames


@dataclass(frozen=True, slots=True, kw_only=True)
class TextFacts:
    """One drawn text of a card or label, as it came out.

    Attributes:
        beat: id of the beat; `kind` and `index` tell the card, as in the plan.
        text: what is written.
        area: its ink on the canvas, in pixels.
        cap_height: height of a capital in pixels of the output.
        contrast: WCAG contrast ratio of the ink against what is under it at its worst, 1 to 21.
        overflow: whether it did not fit and was cut or shrunk below the look's smallest size.
        missing: characters for which the font has no glyph.
        secondary: whether it is read second (the line under a name, a note, a second caution, a stroke's label), for
            which the size of subtitles will do.
        covers: the rectangle of its whole card on the canvas; None when the text stands alone.
        over: what the label of a stroke lies on because no spot was free, in words.
    """

    beat: str
    kind: str
    index: int
    text: str
    area: Rect
    cap_height: float
    contrast: float
    overflow: bool = False
    missing: str = ""
    secondary: bool = False
    covers: Rect | None = None
    over: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenArea:
    """A part of the canvas that must be seen for a while, so that no caption may lie on it.

    Attributes:
        span: frames of the output.
        area: in pixels of the canvas.
        what: what a person calls it, such as "stroke hip_gap".
        beat: id of the beat it is drawn in.
        soft: whether it is kept clear where that is possible, and covered without a word where it is not.
    """

    span: Span
    area: Rect
    what: str
    beat: str
    soft: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LockFacts:
    """What a locked segment was made of, against what lies there now.

    Attributes:
        version: number of the version that was locked.
        by: who locked it.
        on: the day, as written.
        changed: names of the inputs whose content differs, or that came or went; empty while the lock holds.
    """

    version: int
    by: str
    on: str
    changed: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackFacts:
    """How the background of a clip lies in its frames, measured against one of them.

    Attributes:
        anchor: the frame against which is measured.
        frames: the frames that were measured, rising.
        maps: for each, where a spot of the anchor's picture lies in it; in fractions of the picture.
        residuals: for each, how far the tracked spots miss that map, in pixels at a picture height of 1080 (root mean
            square); infinite where the background was lost.
    """

    anchor: int
    frames: tuple[int, ...]
    maps: tuple[Projection, ...]
    residuals: tuple[float, ...]

    def measured(self, frame: int) -> tuple[Projection, float] | None:
        """Map and residual of a frame; None when it was not measured."""
        at = bisect_left(self.frames, frame)
        if at == len(self.frames) or self.frames[at] != frame:
            return None
        return self.maps[at], self.residuals[at]


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneFacts:
    """What moves in a clip, and how its background is lit.

    Attributes:
        frames: the frames that were looked at, rising.
        boxes: for each, the box around all that is not background, in fractions of the picture; None where nothing is.
        luma: 10th, 50th and 90th percentile of the background's luma, in code values.
        blue: median Cb of the background; `red` its Cr.
    """

    frames: tuple[int, ...]
    boxes: tuple[Rect | None, ...]
    luma: tuple[float, float, float]
    blue: float
    red: float

    def box(self, first: int, last: int) -> Rect | None:
        """The box around all that moves from one frame to another, with the frames looked at on both sides."""
        low = max(0, bisect_right(self.frames, first) - 1)
        high = min(len(self.frames), bisect_left(self.frames, last) + 1)
        found = [box for box in self.boxes[low:high] if box is not None]
        joined = found[0] if found else None
        for box in found[1:]:
            joined = box if joined is None else joined.joined(box)
        return joined


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """All that was measured for one storyboard, by the ids the storyboard uses.

    Tracks and scenes are there for those clips that need them only. `unused_takes` names the files in the folder of
    readings that fit no line, a sentence each.
    """

    clips: dict[str, ClipFacts]
    stills: dict[str, StillFacts]
    readings: tuple[ReadingFacts, ...]
    tracks: dict[str, TrackFacts] = field(default_factory=dict)
    scenes: dict[str, SceneFacts] = field(default_factory=dict)
    unused_takes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechRequest:
    """One line of words that wants a reading.

    Attributes:
        beat: id of the beat; `line` is the index of the line in it and `lines` how many the beat has.
        speaker: id of who says it.
        words: the words of the script, in order, punctuation kept.
        good: the take the producer marked, such as "t02"; None for the last one there is.
        guide: guide voice for what is not recorded; None for none.
        pace: words a minute when nothing speaks.
        language: IETF tag of the words.
        respelled: the same words as a voice that reads letters should see them; None where no note says how.
    """

    beat: str
    line: int
    lines: int
    speaker: str
    words: tuple[str, ...]
    good: str | None
    guide: str | None
    pace: float
    language: str
    respelled: tuple[str, ...] | None = None

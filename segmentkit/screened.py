"""What a finished file turned out to be when it was decoded again: pictures, light, sound, headers. Values only.

Frames are those of the file, counted from its first picture, leader included. Areas are fractions of the picture.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path

from segmentkit.facts import Loudness
from segmentkit.geometry import Rect, Size
from segmentkit.timebase import Rate, Span


@dataclass(frozen=True, slots=True, kw_only=True)
class Coded:
    """How a file says that it is made.

    Attributes:
        container: name of the format, as libav calls it.
        size: of the picture in pixels; `aspect` the shape of one, width to height.
        rate: frames a second, as stated.
        pixels: sampling and depth, as libav calls them; `bits` a sample.
        picture: codec and profile of the pictures.
        colour: matrix/primaries/transfer/range as tagged.
        fields: whether frames are flagged as made of two fields.
        pictures: how many picture tracks there are; `sounds` how many of sound.
        sound: codec, rate and layout of the sound; empty where there is none.
        others: kinds of further tracks, such as data or subtitle.
        timecode: label of the first frame, where the file carries one.
    """

    container: str
    size: Size
    aspect: Fraction
    rate: Rate
    pixels: str
    bits: int
    picture: str
    colour: str
    fields: bool
    pictures: int
    sounds: int
    sound: str
    others: tuple[str, ...] = ()
    timecode: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """One word of metadata: where it stands, its name, what it says."""

    where: str
    name: str
    value: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OddFrame:
    """A single frame between two that are alike, or a shot of one frame.

    Attributes:
        frame: which.
        before: how far it is from the frame before, as the mean difference in 8-bit code values; `after` likewise.
        across: how far its neighbours are from one another.
    """

    frame: int
    before: float
    after: float
    across: float


@dataclass(frozen=True, slots=True, kw_only=True)
class OutOfRange:
    """Frames in a row with more than the allowed area outside the legal levels.

    Attributes:
        span: the frames.
        share: the largest area of one of them, 0 to 1.
        lowest, highest: the levels found there, in 8-bit code values.
        area: the box around it in the worst frame.
    """

    span: Span
    share: float
    lowest: float
    highest: float
    area: Rect


class FlashKind(Enum):
    """What kind of flashing was found."""

    GENERAL = "general"
    RED = "red"


class LightModel(Enum):
    """In which form the published text gives its luminance."""

    RELATIVE = "relative luminance (WCAG 2.2)"
    SCREEN = "cd/m² on a 200 cd/m² screen (ITU-R BT.1702)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Flashing:
    """Frames in a row within a second of too many, or of suspiciously many, changes.

    Attributes:
        kind: general or red.
        model: the form of luminance.
        span: from the first of the changes to the last.
        changes: the most changes within a second, on more than a quarter of the picture; two make a flash.
        sustained: whether it is a long row of 4 to 6 changes a second, and not one of more than 6.
        area: the box around what changes.
    """

    kind: FlashKind
    model: LightModel
    span: Span
    changes: int
    sustained: bool
    area: Rect


@dataclass(frozen=True, slots=True, kw_only=True)
class Pictures:
    """What the pictures were found to hold.

    Attributes:
        frames: how many decode.
        uneven: the first frame that does not begin when a constant rate says; None when all do.
        black: frames in a row that are black.
        frozen: frames in a row, half a second or more, that show nearly the same picture.
        stir: for each frame, how much the liveliest of 9 by 16 tiles differs from the frame before, as the mean
            difference in 8-bit code values of luma; 0 where nothing at all moves.
        odd: frames that belong to neither neighbour.
        cuts: frames that differ from the one before as at a cut.
        levels: frames outside the legal levels; None where the range is full and the rule does not apply.
        flashes: where it flashes, by either form of luminance.
        looked: what was seen where a text should stand.
    """

    frames: int
    uneven: int | None
    black: tuple[Span, ...]
    frozen: tuple[Span, ...]
    stir: tuple[float, ...]
    odd: tuple[OddFrame, ...]
    cuts: tuple[int, ...]
    levels: tuple[OutOfRange, ...] | None
    flashes: tuple[Flashing, ...]
    looked: tuple[Seen, ...] = ()


@dataclass(frozen=True, slots=True)
class JoinedPiece:
    """A piece that a file was joined from: SHA-256 of its packets in hex, and how many frames they are."""

    packets: str
    frames: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """A part of one frame to be looked at closely.

    Attributes:
        name: what it is, for whoever asked.
        frame: of the file.
        area: fractions of the picture.
    """

    name: str
    frame: int
    area: Rect


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What a look showed: contrast ratio of the lightest and darkest twentieth of its pixels (WCAG 2.2), 1 to 21."""

    look: Look
    contrast: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Clipped:
    """Samples in a row at full scale: from which frame on, how many runs, and the longest in samples."""

    span: Span
    runs: int
    longest: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sync:
    """Where the sound lies against the sound that was planned.

    Attributes:
        late: seconds by which it is heard too late; negative when too early.
        likeness: correlation at that shift, 0 to 1.
        windows: the same for stretches of some seconds: frame of its start, seconds late, likeness.
        swapped: whether left and right fit the plan's right and left better.
    """

    late: float
    likeness: float
    windows: tuple[tuple[int, float, float], ...]
    swapped: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sound:
    """What the sound of the programme was found to be.

    Attributes:
        samples: a channel, at 48 kHz, of the whole file as decoded.
        start: seconds from the first picture to the first sample.
        channels: how many.
        loudness: of the programme; `momentary` and `short_term` its highest, in LUFS.
        powers: mean level of each channel in dBFS.
        correlation: of left and right, -1 to 1; None where there are not two, or one is silent.
        apart: level in dB of what differs between them, against the louder one; None likewise.
        silences: frames in a row, 0.3 s or more, below -60 dBFS on all channels.
        gaps: where sound falls away to nothing and comes back at once: span and seconds.
        missing: where the planned sound is heard and this one is not: span and seconds.
        clipped: where samples stand at full scale.
        envelope: highest true peak of each 50 ms of the whole file, 0 to 1 and above, for drawing.
        sync: where it lies against the plan's own mix; None when there was none to compare with.
    """

    samples: int
    start: Fraction
    channels: int
    loudness: Loudness
    momentary: float
    short_term: float
    powers: tuple[float, ...]
    correlation: float | None
    apart: float | None
    silences: tuple[Span, ...]
    gaps: tuple[tuple[Span, float], ...]
    missing: tuple[tuple[Span, float], ...]
    clipped: tuple[Clipped, ...]
    envelope: tuple[float, ...]
    sync: Sync | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Sidecar:
    """A caption file beside the movie.

    Attributes:
        path: the file.
        fault: why it cannot be read; empty when it can.
        cues: the frames of each caption, from the first frame of the programme.
    """

    path: Path
    fault: str
    cues: tuple[Span, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Screened:
    """Everything measured about one finished file in one pass.

    Attributes:
        path: the file.
        content: SHA-256 of its bytes, in hex.
        bytes: how many.
        coded: how it says that it is made.
        tags: all metadata that was found.
        programme: the frames between leader and tail; the whole file when nobody said otherwise.
        pictures: what they hold.
        sound: what it is; None where there is none.
        reduced: size of the pictures on which black, freezes, cuts and flashes were measured.
    """

    path: Path
    content: str
    bytes: int
    coded: Coded
    tags: tuple[Tag, ...]
    programme: Span
    pictures: Pictures
    sound: Sound | None
    reduced: Size

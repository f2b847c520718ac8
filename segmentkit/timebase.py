"""Time, exactly: rates, notations, timecode labels, frames and samples. The only file that converts between them.

Seconds are `Fraction`s, frames are integers at a stated rate, and every rounding is named where it is called.
Drop-frame counting follows SMPTE ST 12-1: at 30000/1001 the labels ;00 and ;01 (at 60000/1001 ;00 to ;03) are left out
at each minute that is not a multiple of ten.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

SAMPLE_RATE = 48_000
"""Samples a second of all sound inside segmentkit."""


class TimeNotationError(ValueError):
    """A text is not one of the time notations; the message says which there are."""


@dataclass(frozen=True, slots=True)
class Rate:
    """Frames a second as an exact fraction."""

    fps: Fraction

    @property
    def nominal(self) -> int:
        """The whole number that labels count with: 30 for 30000/1001."""
        return math.ceil(self.fps)

    @property
    def has_labels(self) -> bool:
        """Whether frames can be labelled: at whole rates and at those of the 1001 family."""
        return self.fps.denominator == 1 or self.nominal * Fraction(1000, 1001) == self.fps

    @property
    def counts_drop_frame(self) -> bool:
        """Whether drop-frame labels exist at this rate."""
        return self.fps in (Fraction(30000, 1001), Fraction(60000, 1001))

    def __str__(self) -> str:
        return str(self.fps.numerator) if self.fps.denominator == 1 else f"{self.fps.numerator}/{self.fps.denominator}"


_ROUNDED_RATES = {
    "23.976": "24000/1001",
    "23.98": "24000/1001",
    "29.97": "30000/1001",
    "59.94": "60000/1001",
    "119.88": "120000/1001",
}
HIGHEST_RATE = 2000


def parse_rate(text: str) -> Rate:
    """Reads `25`, `24000/1001` or `120 fps`.

    Raises:
        TimeNotationError: for anything else, for rounded decimals of the 1001 family, and outside 1 to 2000.
    """
    bare = text.strip().removesuffix("fps").strip()
    if bare in _ROUNDED_RATES:
        raise TimeNotationError(f"{text!r} is a rounded rate — write {_ROUNDED_RATES[bare]}, which is exact")
    if not re.fullmatch(r"\d{1,7}(/\d{1,7}|\.\d{1,3})?", bare, re.ASCII):
        raise TimeNotationError(
            f"'{_shortened(text)}' is not a rate — write whole frames a second such as 25, or 30000/1001"
        )
    if re.fullmatch(r"\d+/0+", bare):
        raise TimeNotationError(f"{text!r} divides by zero — write a rate such as 25 or 30000/1001")
    fps = Fraction(bare)
    if not 1 <= fps <= HIGHEST_RATE:
        raise TimeNotationError(f"{text!r} is outside 1 to {HIGHEST_RATE} frames a second")
    return Rate(fps)


@dataclass(frozen=True, slots=True)
class Seconds:
    """A time written in seconds or minutes."""

    value: Fraction

    def __str__(self) -> str:
        return seconds_text(self.value)


@dataclass(frozen=True, slots=True)
class Timecode:
    """A label hours:minutes:seconds:frames; `drop` when it was written with a semicolon."""

    hours: int
    minutes: int
    seconds: int
    frames: int
    drop: bool

    def __str__(self) -> str:
        mark = ";" if self.drop else ":"
        return f"{self.hours:02}:{self.minutes:02}:{self.seconds:02}{mark}{self.frames:02}"


@dataclass(frozen=True, slots=True)
class SourceFrame:
    """A frame of a clip, counted from 0: `f218`."""

    index: int

    def __str__(self) -> str:
        return f"f{self.index}"


Time = Seconds | Timecode | SourceFrame

_TIMECODE = re.compile(r"(\d{1,2}):([0-5]\d):([0-5]\d)([:;])(\d{1,3})", re.ASCII)
_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,3}):([0-5]\d(?:\.\d{1,9})?)", re.ASCII)
_PLAIN = re.compile(r"(\d{1,7}(?:\.\d{1,9})?) ?s", re.ASCII)
_MILLI = re.compile(r"(\d{1,9}) ?ms", re.ASCII)
_FRAME = re.compile(r"f(\d{1,9})", re.ASCII)
NOTATIONS = "4s, 4.5s, 400ms, 1:30, 1:30.5, 00:01:30:12, 00:01:30;12 (drop-frame) or f218 (a frame of the clip)"


def parse_time(text: str) -> Time:
    """Reads any of the time notations.

    Raises:
        TimeNotationError: for anything else; the message names the notations.
    """
    text = text.strip()
    if match := _FRAME.fullmatch(text):
        return SourceFrame(int(match[1]))
    if match := _PLAIN.fullmatch(text):
        return Seconds(Fraction(match[1]))
    if match := _MILLI.fullmatch(text):
        return Seconds(Fraction(int(match[1]), 1000))
    if match := _TIMECODE.fullmatch(text):
        return Timecode(int(match[1]), int(match[2]), int(match[3]), int(match[5]), drop=match[4] == ";")
    if match := _CLOCK.fullmatch(text):
        hours, minutes = int(match[1] or 0), int(match[2])
        if match[1] and minutes > 59:
            raise TimeNotationError(f"{text!r} has {minutes} minutes beside hours — at most 59 are allowed")
        return Seconds(hours * 3600 + minutes * 60 + Fraction(match[3]))
    if re.fullmatch(r"\d+(\.\d+)?", text, re.ASCII):
        frame = text.split(".")[0]
        raise TimeNotationError(f"'{text}' has no unit — write {text}s for seconds, or f{frame} for a frame")
    raise TimeNotationError(f"'{_shortened(text)}' is not a time — write {NOTATIONS}")


def _shortened(text: str) -> str:
    return text if len(text) <= 40 else text[:39] + "…"


def label_fault(label: Timecode, rate: Rate) -> str | None:
    """Why a label does not exist at a rate, or None when it does."""
    if not rate.has_labels:
        return f"{label} is a label, but frames are not labelled at {rate} a second — write seconds"
    if label.hours > 23:
        return f"{label} has {label.hours} hours, but labels count one day, 0 to 23 — write a label of that day"
    if label.frames >= rate.nominal:
        return f"{label} has frame {label.frames}, but at {rate} frames are counted 0 to {rate.nominal - 1}"
    return _drop_fault(label, rate) if label.drop else None


def _drop_fault(label: Timecode, rate: Rate) -> str | None:
    if not rate.counts_drop_frame:
        return f"{label} is a drop-frame label, but {rate} is not counted in drop-frame — write ':' before the frames"
    left_out = rate.nominal // 15
    if label.seconds == 0 and label.frames < left_out and label.minutes % 10:
        first = Timecode(label.hours, label.minutes, 0, left_out, drop=True)
        return f"{label} does not exist: in drop-frame counting this minute starts with {first}"
    return None


def frame_of_label(label: Timecode, rate: Rate) -> int:
    """The frame that carries a label, counted from 0.

    Raises:
        TimeNotationError: when the label does not exist at this rate.
    """
    if fault := label_fault(label, rate):
        raise TimeNotationError(fault)
    minutes = label.hours * 60 + label.minutes
    count = (minutes * 60 + label.seconds) * rate.nominal + label.frames
    if label.drop:
        count -= (rate.nominal // 15) * (minutes - minutes // 10)
    return count


def label_of_frame(frame: int, rate: Rate, *, drop: bool | None = None) -> Timecode:
    """The label of a frame; drop-frame where the rate has it, unless told otherwise. A new day starts at 00:00:00:00.

    Raises:
        ValueError: for a frame before the first, and for drop-frame at a rate that does not count so.
    """
    drop = rate.counts_drop_frame if drop is None else drop
    if frame < 0 or (drop and not rate.counts_drop_frame):
        raise ValueError(f"frame {frame} at {rate} has no {'drop-frame ' if drop else ''}label")
    count = frame
    if drop:
        left_out = rate.nominal // 15
        a_minute = rate.nominal * 60 - left_out
        ten_minutes = a_minute * 10 + left_out
        tens, rest = divmod(frame, ten_minutes)
        extra_minutes = max(0, (rest - left_out) // a_minute)
        count += left_out * (9 * tens + extra_minutes)
    seconds, frames = divmod(count, rate.nominal)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return Timecode(hours % 24, minutes, seconds, frames, drop=drop)


def seconds_of(time: Time, rate: Rate) -> Fraction:
    """A time in exact seconds; labels and frames are counted at `rate`.

    Raises:
        TimeNotationError: when a label does not exist at this rate.
    """
    match time:
        case Seconds(value):
            return value
        case Timecode():
            return seconds_of_frame(frame_of_label(time, rate), rate)
        case SourceFrame(index):
            return seconds_of_frame(index, rate)


def seconds_of_frame(frame: int, rate: Rate) -> Fraction:
    """The exact moment at which a frame begins."""
    return frame / rate.fps


def nearest_frame(seconds: Fraction, rate: Rate) -> int:
    """The frame boundary nearest to a moment; exact halves go up."""
    return math.floor(seconds * rate.fps + Fraction(1, 2))


def frames_covering(seconds: Fraction, rate: Rate) -> int:
    """The least number of whole frames that is not shorter than a length."""
    return math.ceil(seconds * rate.fps)


def frame_at(seconds: Fraction, rate: Rate) -> int:
    """The frame that is on screen at a moment."""
    return math.floor(seconds * rate.fps)


def sample_of_frame(frame: int, rate: Rate, sample_rate: int = SAMPLE_RATE) -> int:
    """The sample at which a frame begins, rounded to the nearest; the error never adds up over frames."""
    return math.floor(frame * sample_rate / rate.fps + Fraction(1, 2))


def milliseconds_of_frame(frame: int, rate: Rate) -> int:
    """The last whole millisecond that is not after the moment at which a frame begins."""
    return math.floor(frame * 1000 / rate.fps)


def frame_of_milliseconds(milliseconds: int, rate: Rate) -> int:
    """The frame whose beginning is nearest to a moment; undoes `milliseconds_of_frame` up to 500 frames a second."""
    return nearest_frame(Fraction(milliseconds, 1000), rate)


def nearest_sample(seconds: Fraction, sample_rate: int = SAMPLE_RATE) -> int:
    """The sample nearest to a moment; exact halves go up."""
    return math.floor(seconds * sample_rate + Fraction(1, 2))


def seconds_text(seconds: Fraction, places: int = 3) -> str:
    """Seconds for a person, such as `6.2s`, with trailing zeros left out."""
    rounded = f"{float(round(seconds, places)):.{places}f}"
    return f"{rounded.rstrip('0').rstrip('.') if '.' in rounded else rounded}s"


def clock_text(seconds: Fraction) -> str:
    """A running time for a person, such as `1:05.2`."""
    tenths = math.floor(abs(seconds) * 10 + Fraction(1, 2))
    sign = "-" if seconds < 0 and tenths else ""
    return f"{sign}{tenths // 600}:{tenths // 10 % 60:02}.{tenths % 10}"


@dataclass(frozen=True, slots=True, order=True)
class Span:
    """Frames from `start` up to but not including `end`."""

    start: int
    end: int

    def __post_init__(self) -> None:
        if self.end < self.start:
            raise ValueError(f"span ends at frame {self.end}, before its start {self.start}")

    @property
    def frames(self) -> int:
        """How many frames the span holds."""
        return self.end - self.start

    def __contains__(self, frame: int) -> bool:
        return self.start <= frame < self.end

    def overlap(self, other: Span) -> int:
        """How many frames two spans share."""
        return max(0, min(self.end, other.end) - max(self.start, other.start))

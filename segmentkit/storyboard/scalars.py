"""How each kind of value is read from text; `fields` makes the keys' types from these.

YAML's own guesses (`no`, `1:30`, `012`) are traps, so the loader hands every scalar over as text. Each reader takes a
text, or a value that was read before, and raises ValueError with what is wrong and what to write.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction

from segmentkit.geometry import Point, Size
from segmentkit.timebase import (
    Rate,
    Seconds,
    SourceFrame,
    Time,
    Timecode,
    TimeNotationError,
    parse_rate,
    parse_time,
)

NAME = "[a-z][a-z0-9_-]{0,47}"
"""Pattern of every name: of clips, people, positions, strokes ..."""
LANGUAGE = "[a-zA-Z]{2,8}(-[a-zA-Z0-9]{1,8})*"
"""Pattern of a language tag, as far as a pattern can tell."""
LENGTHS = "4s, 4.5s, 400ms, 1:30, 1:30.5, or a label: 00:01:30:12, drop-frame 00:01:30;12"
HARDLY_ENDLESS = Fraction(4 * 3600)


class MisreadError(ValueError):
    """A value that cannot be read, for a reason further inside than the value itself.

    Attributes:
        path: steps from the value to the part that is wrong.
        literal: characters of that part to point at.
    """

    def __init__(self, message: str, path: tuple[str | int, ...] = (), literal: str = "") -> None:
        super().__init__(message)
        self.path = path
        self.literal = literal


def _quoted(text: str) -> str:
    """A text for a message, shortened."""
    return f"'{text if len(text) <= 40 else text[:39] + '…'}'"


def _text(value: object, wanted: str) -> str:
    match value:
        case str():
            return value.strip()
        case bool() | None:
            raise ValueError(f"nothing is written here — write {wanted}")
        case int() | float():
            return str(value)
        case dict():
            raise ValueError(f"a mapping stands here — write {wanted}")
        case _:
            raise ValueError(f"a list stands here — write {wanted}")


def read_duration(value: object) -> Seconds | Timecode:
    """A length in seconds or as a label."""
    if isinstance(value, Seconds | Timecode):
        return value
    text = _text(value, "a length such as 4s or 1:30")
    if re.fullmatch(r"\d+(\.\d+)?", text):
        raise ValueError(f"{_quoted(text)} has no unit — write {text}s")
    try:
        time = parse_time(text)
    except TimeNotationError:
        raise ValueError(f"{_quoted(text)} is not a length — write {LENGTHS}") from None
    if isinstance(time, SourceFrame):
        raise ValueError(f"{time} is a frame of a clip, not a length — write seconds such as 4s")
    if isinstance(time, Seconds) and time.value > HARDLY_ENDLESS:
        raise ValueError(f"{time} is longer than a segment may be — write at most {HARDLY_ENDLESS}s")
    return time


def read_moment(value: object) -> Time:
    """A time of a clip, or one of its frames."""
    if isinstance(value, Seconds | Timecode | SourceFrame):
        return value
    try:
        return parse_time(_text(value, "a time such as 1.55s, or a frame such as f218"))
    except TimeNotationError as error:
        raise ValueError(str(error)) from None


def read_clip_time(value: object) -> Time | str:
    """The name of a position, a time of a clip, or one of its frames."""
    if isinstance(value, Seconds | Timecode | SourceFrame):
        return value
    text = _text(value, "a position of the clip, a time, or a frame such as f218")
    if re.fullmatch(NAME, text) and not re.fullmatch(r"f\d+", text):
        return text
    return read_moment(text)


def read_rate(value: object) -> Rate:
    """Frames a second."""
    if isinstance(value, Rate):
        return value
    try:
        return parse_rate(_text(value, "a rate such as 25 or 30000/1001"))
    except TimeNotationError as error:
        raise ValueError(str(error)) from None


def read_size(value: object) -> Size:
    """Width and height in even pixels."""
    if isinstance(value, Size):
        return value
    text = _text(value, "a size such as 1920x1080")
    match = re.fullmatch(r"(\d{2,5})\s*[x×]\s*(\d{2,5})", text, re.ASCII)
    if not match:
        raise ValueError(f"{_quoted(text)} is not a size — write width x height in pixels, such as 1920x1080")
    size = Size(int(match[1]), int(match[2]))
    if size.width % 2 or size.height % 2:
        raise ValueError(f"{size} has an odd side — video needs an even number of pixels on both sides")
    if not (64 <= size.width <= 7680 and 64 <= size.height <= 7680):
        raise ValueError(f"{size} is outside 64 to 7680 pixels a side")
    return size


_SPEED_WORDS = {"real": "1", "half": "1/2", "quarter": "1/4", "eighth": "1/8"}


def read_speed(value: object) -> Fraction:
    """A fraction of real time."""
    if isinstance(value, Fraction):
        return value
    text = _text(value, "a speed such as 1/8")
    bare = _SPEED_WORDS.get(text, text)
    if not re.fullmatch(r"\d{1,4}(/[1-9]\d{0,3}|\.\d{1,4})?", bare, re.ASCII):
        raise ValueError(f"{_quoted(text)} is not a speed — write a fraction of real time such as 1, 1/2, 1/8 or 0.25")
    speed = Fraction(bare)
    if not Fraction(1, 100) <= speed <= 8:
        raise ValueError(f"{_quoted(text)} is outside 1/100 to 8 times real time")
    return speed


@dataclass(frozen=True, slots=True)
class Hold:
    """How long something stays: minimum, nominal if one is written, and maximum. All equal when it is rigid."""

    least: Fraction
    nominal: Fraction | None
    most: Fraction

    @property
    def elastic(self) -> bool:
        """Whether the fit may change it."""
        return self.least != self.most


def read_hold(value: object) -> Hold:
    """A length, or a range of lengths."""
    if isinstance(value, Hold):
        return value
    text = _text(value, "a hold such as 6s or 6s..13s")
    parts = [part.strip() for part in text.split("..")]
    if len(parts) > 3:
        raise ValueError(f"{_quoted(text)} has more than three parts — write 6s, 6s..13s, or 6s..8s..13s")
    lengths: list[Fraction] = []
    for part in parts:
        time = read_duration(part)
        if not isinstance(time, Seconds):
            raise ValueError(f"{_quoted(part)} is a label — write a hold in seconds, such as 6s or 6s..13s")
        lengths.append(time.value)
    if lengths != sorted(lengths):
        raise ValueError(f"{_quoted(text)} does not rise — write minimum..maximum or minimum..nominal..maximum")
    if not lengths[-1]:
        raise ValueError("a hold of 0 s shows nothing — write at least a frame, or leave the shot out")
    return Hold(lengths[0], lengths[1] if len(lengths) == 3 else None, lengths[-1])


def read_yes_no(value: object) -> bool:
    """Yes or no."""
    if isinstance(value, bool):
        return value
    text = _text(value, "yes or no").lower()
    if text in {"yes", "true"}:
        return True
    if text in {"no", "false"}:
        return False
    raise ValueError(f"{_quoted(text)} is neither yes nor no — write one of them")


def _fraction_number(value: object, wanted: str, low: float, high: float) -> float:
    text = _text(value, wanted)
    if not re.fullmatch(r"[-+]?\d{0,6}\.?\d{1,17}(e-\d{1,2})?", text, re.ASCII):
        raise ValueError(f"{_quoted(text)} is not a number — write {wanted}, {low:g} to {high:g}")
    number = float(text)
    if not low <= number <= high:
        raise ValueError(f"{text} is outside {low:g} to {high:g} — write {wanted}")
    return number


_NAMED_POINT = re.compile(rf"(?:({NAME})\.)?({NAME})")


_A_POINT = "[x, y] in fractions of the upright picture"
POINT_RANGE = (-0.5, 1.5)
"""How far outside the picture a point may lie, for lines that leave it."""


@dataclass(frozen=True, slots=True)
class NamedPoint:
    """A point of the clip by its name, such as `address.belt`; without a position, that of the picture shown."""

    position: str | None
    name: str

    def __str__(self) -> str:
        return f"{self.position}.{self.name}" if self.position else self.name


def read_point(value: object) -> Point | NamedPoint:
    """A point of the picture: two fractions, or a name."""
    if isinstance(value, Point | NamedPoint):
        return value
    if isinstance(value, str):
        match = _NAMED_POINT.fullmatch(value.strip())
        if not match:
            raise ValueError(f"{_quoted(value)} is not a point — write {_A_POINT}, or a name such as address.belt")
        return NamedPoint(match[1], match[2])
    return read_plain_point(value)


def read_plain_point(value: object) -> Point:
    """Two fractions of the picture."""
    if isinstance(value, Point):
        return value
    if not isinstance(value, list | tuple):
        has = "nothing" if value is None else "a mapping" if isinstance(value, dict) else _quoted(str(value).strip())
        raise ValueError(f"{has} stands here — write {_A_POINT}")
    if len(value) != 2:
        raise ValueError(f"a point has two numbers, this has {len(value)} — write {_A_POINT}")
    numbers: list[float] = []
    for index, part in enumerate(value):
        try:
            numbers.append(_fraction_number(part, "a fraction of the picture", *POINT_RANGE))
        except ValueError as error:
            raise MisreadError(str(error), (index,)) from None
    return Point(*numbers)


def read_date(value: object) -> datetime.date:
    """A day, year first."""
    if isinstance(value, datetime.date):
        return value
    text = _text(value, "a date such as 2028-06-30")
    try:
        if not re.fullmatch(r"\d{4}-\d\d-\d\d", text, re.ASCII):
            raise ValueError
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{_quoted(text)} is not a date — write year-month-day, such as 2028-06-30") from None


def amount_reader(unit: str, low: float, high: float) -> Callable[[object], float]:
    """A reader of numbers whose unit may be written or left out."""
    wanted = f"an amount in {unit}" if unit else "a number"

    def read(value: object) -> float:
        if isinstance(value, float):
            return value
        text = _text(value, wanted).removesuffix(unit).strip()
        return _fraction_number(text, wanted, low, high)

    return read


def read_sentence(value: object) -> str:
    """Text on one line; line ends and repeated spaces become single spaces."""
    text = " ".join(_text(value, "text").split())
    if not text:
        raise ValueError("the text is empty — write it, or delete the key")
    return text


def read_language(value: object) -> str:
    """A language tag."""
    text = _text(value, "a language such as en")
    if not re.fullmatch(LANGUAGE, text):
        raise ValueError(f"{_quoted(text)} is not a language tag — write one such as en, de or pt-BR")
    return text


def read_name(value: object) -> str:
    """A name, as ids are."""
    text = _text(value, "a name")
    if not re.fullmatch(NAME, text):
        raise ValueError(f"{_quoted(text)} is not a name — use a lower-case letter, then letters, digits, '_' or '-'")
    return text


def read_fractional(value: object) -> float:
    """A length as a fraction of the picture's height."""
    return (
        value if isinstance(value, float) else _fraction_number(value, "a fraction of the picture's height", 0.001, 2)
    )


def read_zoom(value: object) -> float:
    """How many times closer."""
    return value if isinstance(value, float) else _fraction_number(value, "how many times closer", 1, 8)


def read_share(value: object) -> float:
    """A part of a whole."""
    return value if isinstance(value, float) else _fraction_number(value, "a part of the whole", 0.1, 0.9)


def read_priority(value: object) -> int:
    """A whole number from 1 to 9."""
    if isinstance(value, int):
        return value
    text = _text(value, "a whole number from 1 to 9")
    if not re.fullmatch("[1-9]", text):
        raise ValueError(f"{_quoted(text)} is not a whole number from 1 to 9")
    return int(text)

"""The types that a storyboard's keys have: how each is read, checked in an editor, and called in the key reference."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, PlainValidator, WithJsonSchema, model_validator

from segmentkit.geometry import Point, Size
from segmentkit.storyboard import scalars
from segmentkit.storyboard.scalars import LANGUAGE, NAME, POINT_RANGE, Hold, MisreadError, NamedPoint
from segmentkit.timebase import HIGHEST_RATE, Rate, Seconds, SourceFrame, Timecode


class Node(BaseModel):
    """A mapping of the storyboard: unknown keys are faults, and nothing changes after reading."""

    # Built when first read: a tenth of a second of each start, as most are only ever read as parts of another one.
    model_config = ConfigDict(
        extra="forbid", frozen=True, arbitrary_types_allowed=True, populate_by_name=True, defer_build=True
    )

    @model_validator(mode="before")
    @classmethod
    def _empty_is_absent(cls, data: object) -> object:
        """A key with nothing after it counts as not written, unless it is needed."""
        if not isinstance(data, dict) or None not in data.values():
            return data
        needed = {info.alias or name for name, info in cls.model_fields.items() if info.is_required()}
        known = {info.alias or name for name, info in cls.model_fields.items()}
        return {key: value for key, value in data.items() if value is not None or key in needed or key not in known}


@dataclass(frozen=True, slots=True)
class Takes:
    """What a key takes, in a word or two, for the key reference; `example` as a producer would write it."""

    words: str
    example: str


def takes(
    words: str,
    read: Callable[[Any], Any],
    example: str,
    pattern: str | None = None,
    *,
    number: bool = False,
    limits: tuple[float, float] | None = None,
    schema: dict[str, Any] | None = None,
) -> tuple[Any, ...]:
    """The annotations of a type.

    Args:
        words: what it is called in the key reference.
        read: turns text into the value; raises ValueError with designed words.
        example: as a producer would write it.
        pattern: what an editor may check while a person types.
        number: whether an editor sees some of these texts as numbers.
        limits: the least and the most that those numbers may be.
        schema: the JSON Schema, where a pattern does not say it.
    """
    made: dict[str, Any] = schema or {"type": ["string", "number"] if number else "string", "examples": [example]}
    if limits:
        made |= {"minimum": limits[0], "maximum": limits[1]}
    if pattern:
        made["pattern"] = f"^(?:{pattern})$"
    return PlainValidator(read), WithJsonSchema(made), Takes(words, example)


def number_within(unit: str, low: float, high: float, example: str = "1") -> tuple[Any, ...]:
    """The annotations of a number whose unit may be written or left out."""
    pattern = rf"{_AMOUNT}( ?{re.escape(unit)})?" if unit else _AMOUNT
    words = f"{unit or 'number'}, {low:g} to {high:g}"
    reader = scalars.amount_reader(unit, low, high)
    return takes(words, reader, example, pattern, number=True, limits=(low, high))


_SECONDS = r"(\d+(\.\d+)? ?s|\d+ ?ms|(\d+:)?\d+:\d\d(\.\d+)?)"
_LENGTH = rf"{_SECONDS}|\d+:\d\d:\d\d[:;]\d+"
_AMOUNT = r"[-+]?\d+(\.\d+)?"
_PLAIN_POINT: dict[str, Any] = {
    "type": "array",
    "items": {"type": "number", "minimum": POINT_RANGE[0], "maximum": POINT_RANGE[1]},
    "minItems": 2,
    "maxItems": 2,
    "examples": [[0.46, 0.52]],
}
_POINT: dict[str, Any] = {
    "anyOf": [_PLAIN_POINT, {"type": "string", "pattern": rf"^({NAME}\.)?{NAME}$", "examples": ["address.belt"]}]
}

Duration = Annotated[Seconds | Timecode, *takes("length", scalars.read_duration, "4.5s", _LENGTH)]
Moment = Annotated[
    Seconds | Timecode | SourceFrame, *takes("time or frame", scalars.read_moment, "1.55s", rf"{_LENGTH}|f\d+")
]
ClipTime = Annotated[
    Seconds | Timecode | SourceFrame | str,
    *takes("position, time or frame", scalars.read_clip_time, "impact", rf"{_LENGTH}|f\d+|{NAME}"),
]
RateField = Annotated[
    Rate,
    *takes("rate", scalars.read_rate, "30000/1001", r"\d+(/\d+|\.\d+)?( ?fps)?", number=True, limits=(1, HIGHEST_RATE)),
]
SizeField = Annotated[Size, *takes("size", scalars.read_size, "1920x1080", r"\d+ ?[x×] ?\d+")]
Speed = Annotated[
    Fraction,
    *takes(
        "speed", scalars.read_speed, "1/8", r"\d+(/\d+|\.\d+)?|real|half|quarter|eighth", number=True, limits=(0.01, 8)
    ),
]
HoldField = Annotated[Hold, *takes("hold", scalars.read_hold, "6s..13s", rf"{_SECONDS}( ?\.\. ?{_SECONDS}){{0,2}}")]
YesNo = Annotated[bool, *takes("yes or no", scalars.read_yes_no, "yes", schema={"enum": ["yes", "no", True, False]})]
Date = Annotated[datetime.date, *takes("date", scalars.read_date, "2028-06-30", r"\d{4}-\d\d-\d\d")]
Decibels = Annotated[float, *number_within("dB", -60, 20, "-6 dB")]
WordsPerMinute = Annotated[float, *number_within("wpm", 60, 300, "150 wpm")]
Sentence = Annotated[
    str,
    *takes(
        "text", scalars.read_sentence, "Wall drill", schema={"type": ["string", "number", "boolean"], "minLength": 1}
    ),
]
LanguageTag = Annotated[str, *takes("language tag", scalars.read_language, "en", LANGUAGE)]
FilePath = Annotated[str, *takes("path", scalars.read_sentence, "clips/swing.mp4")]
Name = Annotated[str, *takes("name", scalars.read_name, "hip_gap", NAME)]
PointField = Annotated[Point | NamedPoint, *takes("point", scalars.read_point, "[0.46, 0.52]", schema=_POINT)]
PlainPoint = Annotated[Point, *takes("[x, y]", scalars.read_plain_point, "[0.46, 0.52]", schema=_PLAIN_POINT)]
Fractional = Annotated[
    float,
    *takes(
        "number, 0.001 to 2",
        scalars.read_fractional,
        "0.12",
        schema={"type": "number", "minimum": 0.001, "maximum": 2, "examples": [0.12]},
    ),
]
Zoom = Annotated[
    float,
    *takes(
        "number, 1 to 8",
        scalars.read_zoom,
        "1.5",
        schema={"type": "number", "minimum": 1, "maximum": 8, "examples": [1.5]},
    ),
]
Share = Annotated[
    float,
    *takes(
        "number, 0.1 to 0.9",
        scalars.read_share,
        "0.5",
        schema={"type": "number", "minimum": 0.1, "maximum": 0.9, "examples": [0.5]},
    ),
]
Priority = Annotated[
    int,
    *takes(
        "whole number, 1 to 9",
        scalars.read_priority,
        "5",
        schema={"type": "integer", "minimum": 1, "maximum": 9, "examples": [5]},
    ),
]

__all__ = [
    "NAME", "ClipTime", "Date", "Decibels", "Duration", "FilePath", "Fractional", "Hold", "HoldField", "LanguageTag",
    "MisreadError", "Moment", "Name", "NamedPoint", "Node", "PlainPoint", "PointField", "Priority", "RateField",
    "Sentence", "Share", "SizeField", "Speed", "Takes", "WordsPerMinute", "YesNo", "Zoom", "number_within", "takes",
]  # fmt: skip

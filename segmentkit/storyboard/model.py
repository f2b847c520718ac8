"""The storyboard as a whole: what a producer writes, validated and frozen."""

from __future__ import annotations

from fractions import Fraction
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from segmentkit.geometry import Size
from segmentkit.storyboard.fields import (
    NAME,
    Duration,
    FilePath,
    LanguageTag,
    MisreadError,
    Name,
    Node,
    Priority,
    RateField,
    Sentence,
    SizeField,
    YesNo,
    takes,
)
from segmentkit.storyboard.people import Clip, Music, Person, Speaker, Still, Voice
from segmentkit.storyboard.sheet import Sheet
from segmentkit.storyboard.shots import CardSpec, ShotSpec, StrokeSpec
from segmentkit.storyboard.words import Line, read_say
from segmentkit.timebase import Rate, Timecode, frames_covering, label_fault, seconds_of


class Segment(Node):
    """What is made: its name, its exact length, its rate and size."""

    title: Sentence = Field(description="What the segment is called.")
    programme: Sentence | None = Field(default=None, description="The programme it belongs to.")
    item: Sentence | None = Field(default=None, description="Name of the regular item within the programme.")
    slot: Duration = Field(description="Exact length: 3:00, 180s or 00:03:00:00.")
    rate: RateField = Field(default=Rate(Fraction(25)), description="Frames a second.")
    size: SizeField = Field(default=Size(1920, 1080), description="Width x height in pixels.")
    language: LanguageTag = Field(default="en", description="Language of the words, as an IETF tag.")
    question: Sentence | None = Field(default=None, description="The viewer's question, which the words must answer.")
    sponsor: Sentence | None = Field(default=None, description="Who pays or gives a prize; needs a disclosure card.")

    @model_validator(mode="after")
    def _slot_exists(self) -> Self:
        if isinstance(self.slot, Timecode) and (fault := label_fault(self.slot, self.rate)):
            raise MisreadError(fault, ("slot",))
        if not frames_covering(seconds_of(self.slot, self.rate), self.rate):
            raise MisreadError("a slot of 0 s holds nothing — write the segment's length, such as 3:00", ("slot",))
        return self


Say = Annotated[
    tuple[Line, ...],
    *takes(
        "words",
        read_say,
        "Stop it at [hip_gap] impact.",
        schema={
            "oneOf": [
                {"type": "string"},
                {
                    "type": "array",
                    "items": {
                        "type": "object",
                        "minProperties": 1,
                        "maxProperties": 1,
                        "patternProperties": {f"^{NAME}$": {"type": "string"}},
                        "additionalProperties": False,
                    },
                },
            ]
        },
    ),
]


class Beat(Node):
    """The smallest unit of the story, with its own picture and words."""

    beat: Name = Field(description="Its name; unique in the storyboard.")
    say: Say = Field(default=(), description="The words: text, or a list of `speaker: text`, `pause:` and `overlap:`.")
    show: tuple[ShotSpec, ...] = Field(min_length=1, description="The pictures, in order.")
    keep: tuple[Name, ...] = Field(default=(), description="Strokes of earlier beats that stay where they were drawn.")
    strokes: dict[Name, StrokeSpec] = Field(default_factory=dict, description="What is drawn on the picture, by name.")
    fault: Name | None = Field(
        default=None,
        description="A fault preset, whose strokes are drawn on the frozen pictures; `segmentkit faults` lists them.",
    )
    cards: tuple[CardSpec, ...] = Field(default=(), description="Cards laid over the picture.")
    rigid: YesNo = Field(default=False, description="Never made shorter or longer to make the segment fit.")
    length: Duration | None = Field(default=None, description="Exact length of the beat, if it must have one.")
    gives: Priority = Field(default=5, description="Who gives time first when the segment is over: 1 first, 9 last.")
    lead: Duration | None = Field(default=None, description="From the start of the beat to its first word.")


def _format_version(value: object) -> int:
    if str(value).strip() != "1":
        raise ValueError("this version of segmentkit reads format 1 — write `segmentkit: 1`")
    return 1


FormatVersion = Annotated[Literal[1], *takes("1", _format_version, "1", schema={"enum": [1, "1"]})]


class Storyboard(Node):
    """The whole file."""

    segmentkit: FormatVersion = Field(description="Version of this format: 1.")
    segment: Segment = Field(description="What is made: name, exact length, rate, size.")
    look: FilePath = Field(default="dune", description="A shipped look by name, or the path of a look file.")
    people: dict[Name, Person] = Field(default_factory=dict, description="Who is seen or heard, by name.")
    clips: dict[Name, Clip] = Field(default_factory=dict, description="Moving pictures, by name.")
    stills: dict[Name, Still] = Field(default_factory=dict, description="Still pictures, by name.")
    speakers: dict[Name, Speaker] = Field(
        default_factory=dict, description="Voices, by name; the first speaks plain words."
    )
    voice: Voice = Field(default_factory=Voice, description="How the words are spoken.")
    music: tuple[Music, ...] = Field(default=(), description="Stretches of music.")
    beats: tuple[Beat, ...] = Field(min_length=1, description="The story, one beat after the other.")
    sheet: Sheet | None = Field(default=None, description="The words of the viewer's take-home sheet.")
    deliver: tuple[Name, ...] = Field(default=("web",), min_length=1, description="Profiles to deliver, by name.")

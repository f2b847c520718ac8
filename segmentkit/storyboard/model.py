"""The storyboard as a whole: what a producer writes, validated and frozen."""

from __future__ import annotations

from enum import Enum
from fractions import Fraction
from typing import TYPE_CHECKING, Annotated, Any, Literal, Self

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic_core import CoreSchema, core_schema

from segmentkit.geometry import Size
from segmentkit.storyboard import scalars
from segmentkit.storyboard.fields import (
    NAME,
    Duration,
    FilePath,
    LanguageTag,
    MisreadError,
    Name,
    Node,
    PlainPoint,
    Priority,
    RateField,
    Sentence,
    SizeField,
    Takes,
    YesNo,
    number_within,
    takes,
)
from segmentkit.storyboard.leaders import Slate
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
        description="A fault preset, whose strokes are drawn on the frozen pictures, in comparisons on each side from "
        "its own points; `segmentkit faults` lists them.",
    )
    cards: tuple[CardSpec, ...] = Field(default=(), description="Cards laid over the picture.")
    rigid: YesNo = Field(default=False, description="Never made shorter or longer to make the segment fit.")
    length: Duration | None = Field(default=None, description="Exact length of the beat, if it must have one.")
    gives: Priority = Field(default=5, description="Who gives time first when the segment is over: 1 first, 9 last.")
    lead: Duration | None = Field(default=None, description="From the start of the beat to its first word.")


class _NameOrBeat:
    """Reads the name of a beat, or a beat of the cut's own; faults inside that one keep their spots."""

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        def read(value: Any, beat: core_schema.ValidatorFunctionWrapHandler) -> Any:
            return scalars.read_name(value) if isinstance(value, str) else beat(value)

        return core_schema.no_info_wrap_validator_function(read, handler(Beat))

    def __get_pydantic_json_schema__(self, schema: CoreSchema, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [{"type": "string", "pattern": f"^{NAME}$"}, handler(schema)]}


if TYPE_CHECKING:
    CutBeat = str | Beat
else:
    CutBeat = Annotated[Beat, _NameOrBeat(), Takes("beat, or a name", "impact")]


class CutWords(Enum):
    """Which words a cut keeps."""

    ALL = "all"
    SPARE = "spare"


class Framing(Node):
    """How a clip is framed in a cut of another shape."""

    zoom: Annotated[float, *number_within("", 0.4, 8)] | None = Field(
        default=None,
        description="1 fills the frame; more comes closer; less shows more of the sides, in a window with the look's "
        "ground above and below it.",
    )
    focus: PlainPoint | None = Field(default=None, description="The spot to keep in the middle.")


class Cut(Node):
    """Another version of the segment, such as a short: some of its beats, or beats of its own, in a slot of its own."""

    slot: Duration = Field(description="Exact length: 0:40, 40s.")
    beats: tuple[CutBeat, ...] = Field(
        min_length=1, description="Its beats in order: the name of one of the segment's, or a whole beat of its own."
    )
    words: CutWords = Field(
        default=CutWords.ALL, description="`all`; or `spare`, which leaves out the words in braces."
    )
    title: Sentence | None = Field(default=None, description="What it is called; else as the segment.")
    question: Sentence | None = Field(default=None, description="The question it answers, if it asks one.")
    size: SizeField | None = Field(
        default=None, description="Width x height, where the profile has none; else the segment's."
    )
    music: tuple[Music, ...] | None = Field(
        default=None, description="Its stretches of music; else the segment's, as far as their beats are in it."
    )
    framing: dict[Name, Framing] = Field(
        default_factory=dict,
        description="By clip: zoom and focus in this cut; else a narrower picture than the segment's comes no closer.",
    )

    @model_validator(mode="after")
    def _slot_lasts(self) -> Self:
        if isinstance(self.slot, Timecode):
            return self  # counted at the segment's rate, which is looked at with all other labels
        if self.slot.value <= 0:
            raise MisreadError("a slot of 0 s holds nothing — write the cut's length, such as 0:40", ("slot",))
        return self


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
    slate: Slate = Field(default_factory=Slate, description="What the slate of a master says besides title and length.")
    sheet: Sheet | None = Field(default=None, description="The words of the viewer's take-home sheet.")
    cuts: dict[Name, Cut] = Field(
        default_factory=dict, description="Other versions, by the name that a profile asks for: `short`, `teaser`."
    )
    deliver: tuple[FilePath, ...] = Field(
        default=("web",), min_length=1, description="Profiles to deliver: shipped ones by name, a house's own by path."
    )

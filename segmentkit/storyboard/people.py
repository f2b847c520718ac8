"""Who and what a segment shows: people with their releases, clips, stills, speakers, and music with its licence."""

from __future__ import annotations

from enum import Enum
from typing import Annotated

from pydantic import Field

from segmentkit.storyboard.fields import (
    Date,
    Decibels,
    Duration,
    FilePath,
    Moment,
    Name,
    Node,
    PlainPoint,
    RateField,
    Sentence,
    WordsPerMinute,
    YesNo,
    Zoom,
    number_within,
)


class Scope(Enum):
    """What a release allows."""

    BROADCAST = "broadcast"
    WEB = "web"
    SHORT = "short"
    MARKETING = "marketing"


class Hand(Enum):
    """The side from which a person plays."""

    RIGHT = "right"
    LEFT = "left"


class View(Enum):
    """Where the camera stood."""

    DOWN_THE_LINE = "down-the-line"
    FACE_ON = "face-on"
    REAR = "rear"
    OVERHEAD = "overhead"
    CLOSE_UP = "close-up"
    OTHER = "other"


class Release(Node):
    """A person's written permission: for what, how long, and who signed it."""

    for_: tuple[Scope, ...] = Field(alias="for", min_length=1, description="The uses it allows.")
    from_: Date | None = Field(default=None, alias="from", description="First day on which it holds.")
    until: Date | None = Field(default=None, description="Last day on which it holds; none when left out.")
    by: Sentence | None = Field(default=None, description="Who signed: the person, or a minor's guardian.")


class Licence(Node):
    """Permission to use what somebody else made: for what, where, how long, and who gave it."""

    for_: tuple[Scope, ...] = Field(alias="for", min_length=1, description="The uses it covers.")
    from_: Date | None = Field(default=None, alias="from", description="First day on which it holds.")
    until: Date | None = Field(default=None, description="Last day on which it holds; none when left out.")
    by: Sentence | None = Field(default=None, description="Who gave it: the holder of the rights, or a library.")
    reference: Sentence | None = Field(default=None, description="Its number, as on the paper.")
    territory: Sentence | None = Field(
        default=None, description="Where it holds, as on the paper; shown on the sheets and compared with nothing."
    )


class Person(Node):
    """Someone seen or heard, as they want to be shown."""

    shown: Sentence = Field(description="The name or description used on screen.")
    place: Sentence | None = Field(default=None, description="Place as shown; never for a minor.")
    handed: Hand | None = Field(default=None, description="The side they play from.")
    handicap: Sentence | None = Field(default=None, description="As shown; never for a minor.")
    club: Sentence | None = Field(default=None, description="The club in the clip.")
    sex: Sentence | None = Field(
        default=None, description="As they gave it, where they were asked; counted over a season, never shown."
    )
    adult: YesNo | None = Field(default=None, description="Whether they are of age; a minor needs a guardian.")
    guardian: Sentence | None = Field(default=None, description="Who signed for a minor; never shown.")
    pain: YesNo = Field(default=False, description="Whether they told of pain.")
    release: Release | None = Field(default=None, description="Without one nothing of this person is rendered.")
    withdrawn: Date | None = Field(default=None, description="The day on which they took the release back.")


class Camera(Node):
    """How the camera stood, as far as it was found out."""

    yaw: Annotated[float, *number_within("deg", -80, 80, "4")] = Field(
        description="Degrees by which it stood beside the line that its view means; 0 is square."
    )
    within: Annotated[float, *number_within("deg", 0, 30, "3")] = Field(
        default=3.0, description="By how many degrees that may be off."
    )


class Clip(Node):
    """A moving picture, with the positions and points a person has named in it."""

    file: FilePath = Field(description="Path from the storyboard's folder.")
    person: Name | None = Field(default=None, description="Who is seen; leave out only where nobody is.")
    licence: Licence | None = Field(default=None, description="Where somebody else made it: by what permission.")
    view: View = Field(default=View.OTHER, description="Where the camera stood.")
    camera: Camera | None = Field(default=None, description="How the camera stood; else nothing is said about it.")
    captured: RateField | None = Field(
        default=None, description="Real capture rate, when the file was slowed down afterwards."
    )
    mirrored: YesNo = Field(default=False, description="The file is mirrored and must be turned back.")
    positions: dict[Name, Moment] = Field(
        default_factory=dict,
        description="Moments of the swing, by name: a time or a frame. `start` and `end` are always there.",
    )
    points: dict[Name, dict[Name, PlainPoint]] = Field(
        default_factory=dict, description="Spots by position and name, in fractions of the upright picture."
    )
    zoom: Zoom | None = Field(
        default=None, description="How close its shots come when they do not say: 1 fills the frame."
    )
    focus: PlainPoint | None = Field(
        default=None, description="The spot to keep in the middle where the picture must be cropped."
    )


class Still(Node):
    """A still picture."""

    file: FilePath = Field(description="Path from the storyboard's folder.")
    person: Name | None = Field(default=None, description="Who is seen; leave out only where nobody is.")
    credit: Sentence | None = Field(default=None, description="Who made it and who holds the rights, for the papers.")
    licence: Licence | None = Field(default=None, description="Where somebody else made it: by what permission.")


class SpeakerLine(Enum):
    """Where a voice seems to come from."""

    STUDIO = "studio"
    TELEPHONE = "telephone"


class Speaker(Node):
    """A voice of the segment."""

    shown: Sentence | None = Field(default=None, description="Name for captions and the script.")
    person: Name | None = Field(default=None, description="The person whose voice it is, for the release.")
    guide: Sentence | None = Field(default=None, description="Guide voice for what is not recorded yet.")
    level: Decibels = Field(default=0.0, description="Louder or softer than the other voices.")
    line: SpeakerLine = Field(default=SpeakerLine.STUDIO, description="`telephone` is band-limited and set lower.")
    denoise: Annotated[float, *number_within("dB", 0, 24, "10 dB")] = Field(
        default=0.0, description="Lowers steady noise in the readings: hiss, hum, a fan. 10 dB is a careful start."
    )
    pace: WordsPerMinute | None = Field(default=None, description="Words a minute where nothing is recorded.")


class Voice(Node):
    """How the words are spoken."""

    takes: FilePath | None = Field(default=None, description="Folder of readings: `<beat>.wav`, `<beat>_t02.wav` ...")
    guide: Sentence = Field(default="en-us", description="Guide voice for what is not recorded; `none` for silence.")
    guide_in_final: YesNo = Field(default=False, description="Let the guide voice stand in a final render.")
    pace: WordsPerMinute = Field(default=150.0, description="Words a minute where nothing is recorded.")
    lead: Duration | None = Field(default=None, description="From the start of a beat to its first word; else 0.4s.")
    tail: Duration | None = Field(default=None, description="From the last word to the end of a beat; else 0.5s.")
    gap: Duration | None = Field(default=None, description="Between two lines of a beat; else 0.3s.")
    good: dict[Name, Sentence] = Field(
        default_factory=dict, description="The take to use, by beat: `t02`; else the last one that is there."
    )
    pronounce: dict[str, Sentence] = Field(
        default_factory=dict, description="How a word is said, for the prompter and the guide voice: `Maren: MAH-ren`."
    )


class Music(Node):
    """A stretch of music, lowered while someone speaks."""

    file: FilePath = Field(description="Path from the storyboard's folder.")
    title: Sentence | None = Field(default=None, description="Its title, for the cue sheet; else the file's name.")
    credit: Sentence | None = Field(
        default=None, description="Who made it and who holds the rights, for the cue sheet."
    )
    licence: Licence | None = Field(
        default=None, description="By what permission it sounds; one that ended, or covers another use, is an error."
    )
    from_: Name | None = Field(default=None, alias="from", description="Beat at which it starts; else the first one.")
    until: Name | None = Field(default=None, description="Beat at whose end it stops; else the last one.")
    level: Decibels = Field(default=-6.0, description="Level while nobody speaks, against the voices' level.")
    under_speech: Decibels = Field(default=-14.0, description="Level while someone speaks, against the voices' level.")
    fade_in: Duration | None = Field(default=None, description="How long it takes to come in; else 0.5s.")
    fade_out: Duration | None = Field(default=None, description="How long it takes to go; else 1.5s.")

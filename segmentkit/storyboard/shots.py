"""What a beat shows: shots, strokes and cards."""

from __future__ import annotations

from enum import Enum
from typing import Any, ClassVar, Self

from pydantic import ConfigDict, Field, model_validator

from segmentkit.storyboard.fields import (
    ClipTime,
    Duration,
    Fractional,
    HoldField,
    MisreadError,
    Name,
    Node,
    PlainPoint,
    PointField,
    Sentence,
    Speed,
    YesNo,
    Zoom,
)


def _one_of(schema: dict[str, Any], kinds: tuple[str, ...]) -> None:
    schema["oneOf"] = [{"required": [kind]} for kind in kinds]


class OneKind(Node):
    """A mapping in which exactly one of several keys says what kind of thing it is."""

    kinds: ClassVar[tuple[str, ...]] = ()
    what: ClassVar[str] = "thing"

    @model_validator(mode="before")
    @classmethod
    def _kind_has_content(cls, data: object) -> object:
        if isinstance(data, dict) and (empty := next((k for k in cls.kinds if data.get(k, k) is None), None)):
            raise MisreadError(f"nothing is written for `{empty}` — say what it is, or delete the key", (empty,))
        return data

    @model_validator(mode="after")
    def _exactly_one(self) -> Self:
        given = [kind for kind in self.kinds if getattr(self, kind) is not None]
        if not given:
            raise ValueError(f"it is not said what kind of {self.what} this is — write one of {', '.join(self.kinds)}")
        if len(given) > 1:
            raise MisreadError(
                f"a {self.what} has exactly one kind, this has {' and '.join(given)} — keep one", (given[1],)
            )
        return self

    @property
    def kind(self) -> str:
        """The key that is present."""
        return next(kind for kind in self.kinds if getattr(self, kind) is not None)


class Run(Node):
    """A clip in motion."""

    clip: Name = Field(description="Id of the clip.")
    from_: ClipTime = Field(default="start", alias="from", description="Position, time or frame at which it starts.")
    to: ClipTime = Field(default="end", description="Position, time or frame at which it stops; that frame is shown.")
    speed: Speed = Field(description="Against real time: 1, 1/2, 1/4, 1/8 ...")
    length: Duration | None = Field(
        default=None, description="A length to hold the arithmetic against; may be left out."
    )
    sound: YesNo = Field(default=False, description="Natural sound of the clip; heard at real speed only.")
    mirror: YesNo = Field(default=False, description="Swap the sides; the picture is then labelled as mirrored.")
    zoom: Zoom | None = Field(default=None, description="1 fills the frame; more comes closer, around the focus.")
    focus: PlainPoint | None = Field(default=None, description="The spot to come closer to.")


class Freeze(Node):
    """One frame of a clip, held."""

    clip: Name = Field(description="Id of the clip.")
    at: ClipTime = Field(description="Position, time or frame.")
    hold: HoldField | None = Field(default=None, description="How long: 6s, or 6s..13s for the fit to choose from.")
    mirror: YesNo = Field(default=False, description="Swap the sides; the picture is then labelled as mirrored.")
    soften: YesNo = Field(default=False, description="Blurred and dimmed, as the ground for a card.")
    zoom: Zoom | None = Field(default=None, description="1 fills the frame; more comes closer, around the focus.")
    focus: PlainPoint | None = Field(default=None, description="The spot to come closer to.")


class Side(Node):
    """One half of a split screen: a frozen frame (`at`) or a clip in motion (`from`, `to`, `speed`)."""

    clip: Name = Field(description="Id of the clip.")
    at: ClipTime | None = Field(default=None, description="The frame to hold.")
    from_: ClipTime | None = Field(default=None, alias="from", description="Start of the motion.")
    to: ClipTime | None = Field(default=None, description="End of the motion.")
    speed: Speed | None = Field(default=None, description="Against real time.")
    mirror: YesNo = Field(default=False, description="Swap the sides; labelled as mirrored.")
    label: Sentence | None = Field(default=None, description="Instead of the person's name.")

    @model_validator(mode="after")
    def _still_or_moving(self) -> Self:
        moving = (self.from_, self.to, self.speed)
        if self.at is not None and any(part is not None for part in moving):
            raise ValueError("a frozen side (at) has no from, to or speed — keep one or the other")
        if self.at is None and self.speed is None:
            raise ValueError("a side is either frozen or in motion — write at, or from, to and speed")
        return self


class Match(Enum):
    """What is made equal on both sides of a split screen."""

    GROUND = "ground"
    BELT = "belt"


class Split(Node):
    """Two pictures side by side."""

    left: Side = Field(description="The left picture.")
    right: Side = Field(description="The right picture.")
    match: tuple[Match, ...] = Field(
        default=(), description="`ground` levels the heels, `belt` makes heel to belt equal."
    )
    zoom: Zoom | None = Field(default=None, description="1 fills each half; more comes closer to the players.")
    labels: YesNo = Field(default=True, description="Names under the pictures.")
    hold: HoldField | None = Field(default=None, description="How long; a moving side then holds its last frame.")


class StillShot(Node):
    """A still picture, held."""

    still: Name = Field(description="Id of the still.")
    hold: HoldField | None = Field(default=None, description="How long: 6s, or 6s..13s for the fit to choose from.")
    soften: YesNo = Field(default=False, description="Blurred and dimmed, as the ground for a card.")


class Ground(Node):
    """What lies behind a full-screen card: a still, or a frame of a clip."""

    still: Name | None = Field(default=None, description="Id of a still.")
    clip: Name | None = Field(default=None, description="Id of a clip; needs `at`.")
    at: ClipTime | None = Field(default=None, description="Position, time or frame of that clip.")
    soften: YesNo = Field(default=True, description="Blurred and dimmed.")

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.still is None) == (self.clip is None) or (self.clip is not None) != (self.at is not None):
            raise ValueError("the ground of a card is a still, or a frame of a clip — write still, or clip and at")
        return self


class Title(Node):
    """A full-screen title."""

    main: Sentence = Field(description="The large line.")
    sub: Sentence | None = Field(default=None, description="The smaller line below it.")
    over: Ground | None = Field(default=None, description="What lies behind; the look's ground when left out.")
    hold: HoldField | None = Field(default=None, description="How long.")


class EndBoard(Node):
    """The last picture of a segment."""

    main: Sentence = Field(description="The large line.")
    lines: tuple[Sentence, ...] = Field(default=(), description="Smaller lines below it.")
    over: Ground | None = Field(default=None, description="What lies behind; the look's ground when left out.")
    hold: HoldField | None = Field(default=None, description="How long.")


class ShotSpec(OneKind):
    """One picture of a beat."""

    model_config = ConfigDict(json_schema_extra=lambda s: _one_of(s, ShotSpec.kinds))
    kinds: ClassVar[tuple[str, ...]] = ("run", "freeze", "split", "still", "title", "end_board")
    what: ClassVar[str] = "shot"

    run: Run | None = Field(default=None, description="A clip in motion.")
    freeze: Freeze | None = Field(default=None, description="One frame of a clip, held.")
    split: Split | None = Field(default=None, description="Two pictures side by side.")
    still: StillShot | None = Field(default=None, description="A still picture, held.")
    title: Title | None = Field(default=None, description="A full-screen title.")
    end_board: EndBoard | None = Field(default=None, description="The last picture of a segment.")


class Role(Enum):
    """What a stroke means; the look gives each its colour and its line."""

    REFERENCE = "reference"
    FAULT = "fault"
    GOOD = "good"


class Disc(Node):
    """A round area; the radius is a fraction of the picture's height."""

    centre: PointField = Field(description="Its middle.")
    radius: Fractional = Field(description="As a fraction of the picture's height.")


class On(Enum):
    """A side of a split screen."""

    LEFT = "left"
    RIGHT = "right"


class StrokeSpec(OneKind):
    """A drawn mark. It starts on the word after its `[id]`, or at `at` seconds into the beat."""

    model_config = ConfigDict(json_schema_extra=lambda s: _one_of(s, StrokeSpec.kinds))
    kinds: ClassVar[tuple[str, ...]] = (
        "line", "arrow", "double_arrow", "ring", "box", "curve", "curve_arrow", "angle", "dot", "shade",
    )  # fmt: skip
    what: ClassVar[str] = "stroke"

    line: tuple[PointField, ...] | None = Field(
        default=None, min_length=2, description="Straight through two or more points."
    )
    arrow: tuple[PointField, ...] | None = Field(default=None, min_length=2, max_length=2, description="From, to.")
    double_arrow: tuple[PointField, ...] | None = Field(
        default=None, min_length=2, max_length=2, description="Between two points."
    )
    ring: Disc | None = Field(default=None, description="A circle.")
    box: tuple[PointField, ...] | None = Field(
        default=None, min_length=2, max_length=2, description="Two opposite corners."
    )
    curve: tuple[PointField, ...] | None = Field(
        default=None, min_length=3, description="Smoothly through three or more points."
    )
    curve_arrow: tuple[PointField, ...] | None = Field(
        default=None, min_length=3, description="A curve with a head at its end."
    )
    angle: tuple[PointField, ...] | None = Field(
        default=None, min_length=3, max_length=3, description="Arm, corner, arm."
    )
    dot: PointField | None = Field(default=None, description="A filled spot.")
    shade: Disc | None = Field(default=None, description="Everything but this disc is dimmed.")

    role: Role = Field(default=Role.REFERENCE, description="What it means; the look gives each its colour and line.")
    draw: Duration | None = Field(default=None, description="How long the drawing takes; else 0.8s.")
    at: Duration | None = Field(default=None, description="Seconds into the beat, for a stroke without a word.")
    hold: Duration | None = Field(
        default=None, description="Wiped off after this long; else it stays to the end of its shot."
    )
    on: On | None = Field(default=None, description="The side of a split screen whose picture it belongs to.")
    label: Sentence | None = Field(default=None, description="A few words beside it.")
    moving: YesNo = Field(default=False, description="May start while the picture moves.")


class CardTiming(Node):
    """When an overlaid card is seen; the whole beat when nothing is said."""

    at: Duration | None = Field(default=None, description="Seconds into the beat.")
    cue: Name | None = Field(default=None, description="An `[id]` in the words on which it appears.")
    hold: Duration | None = Field(default=None, description="How long; else to the end of the beat.")


class LowerThird(CardTiming):
    """Name and a line about a person, low in the picture."""

    person: Name | None = Field(default=None, description="Fills in what is not written, from the person's record.")
    name: Sentence | None = Field(default=None, description="The name; the person's `shown` when left out.")
    line: Sentence | None = Field(default=None, description="The second line; place and handicap when left out.")

    @model_validator(mode="after")
    def _named(self) -> Self:
        if self.person is None and self.name is None:
            raise ValueError("a lower third needs a person or a name")
        return self


class ListCard(CardTiming):
    """A heading and short lines."""

    title: Sentence | None = Field(default=None, description="The heading.")
    lines: tuple[Sentence, ...] = Field(min_length=1, max_length=5, description="One to five short lines.")


class DrillCard(CardTiming):
    """The drill: what, how often, with what, and its safety."""

    name: Sentence = Field(description="What the drill is called.")
    count: Sentence = Field(description="How often, such as 10 slow turns, once a day.")
    equipment: Sentence | None = Field(default=None, description="What it needs.")
    safety: Sentence = Field(description="The safety line; never trimmed.")
    line: Sentence | None = Field(default=None, description="A second caution, such as when to stop.")


class TextCard(CardTiming):
    """One short text."""

    text: Sentence = Field(description="The words.")


class CardSpec(OneKind):
    """A card laid over the picture."""

    model_config = ConfigDict(json_schema_extra=lambda s: _one_of(s, CardSpec.kinds))
    kinds: ClassVar[tuple[str, ...]] = (
        "lower_third", "information", "key_points", "key_words", "drill", "caution", "disclosure", "label",
    )  # fmt: skip
    what: ClassVar[str] = "card"

    lower_third: LowerThird | None = Field(default=None, description="Who this is.")
    information: ListCard | None = Field(default=None, description="Facts, such as about the shot or the course.")
    key_points: ListCard | None = Field(default=None, description="What to remember.")
    key_words: ListCard | None = Field(default=None, description="Single words, large, as they are said.")
    drill: DrillCard | None = Field(default=None, description="The drill with its safety line.")
    caution: TextCard | None = Field(default=None, description="A caution; never trimmed.")
    disclosure: TextCard | None = Field(default=None, description="Who pays or gives a prize; never trimmed.")
    label: TextCard | None = Field(default=None, description="A few words about the picture.")

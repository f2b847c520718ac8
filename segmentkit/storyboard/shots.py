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
    Share,
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


class Corner(Enum):
    """A corner of the picture."""

    UPPER_LEFT = "upper_left"
    UPPER_RIGHT = "upper_right"
    LOWER_LEFT = "lower_left"
    LOWER_RIGHT = "lower_right"


class Push(Node):
    """The frame moves closer to a detail; strokes stay on the body."""

    to: PointField = Field(description="The spot to come closer to: [x, y], or a named point.")
    zoom: Zoom = Field(description="How close it comes: 1 fills the frame.")
    at: Duration | None = Field(
        default=None, description="Seconds into the shot at which it starts; at once if not said."
    )
    over: Duration | None = Field(default=None, description="How long it takes; else 2s.")


class Inset(Node):
    """A close-up in a corner beside the wide picture: a frozen frame, a clip in motion, or a still."""

    clip: Name | None = Field(default=None, description="Id of the clip.")
    still: Name | None = Field(default=None, description="Id of a still, instead of a clip.")
    at: ClipTime | None = Field(default=None, description="The frame to hold.")
    from_: ClipTime | None = Field(default=None, alias="from", description="Start of the motion.")
    to: ClipTime | None = Field(default=None, description="End of the motion.")
    speed: Speed | None = Field(default=None, description="Against real time.")
    mirror: YesNo = Field(default=False, description="Swap the sides; labelled as mirrored.")
    zoom: Zoom | None = Field(default=None, description="1 fills the inset; more comes closer, around the focus.")
    focus: PlainPoint | None = Field(default=None, description="The spot to come closer to.")
    corner: Corner = Field(default=Corner.UPPER_RIGHT, description="Where it lies.")
    size: Share = Field(default=0.42, description="Its height, as a part of the picture's.")
    label: Sentence | None = Field(default=None, description="A few words at its edge.")

    @model_validator(mode="after")
    def _one_picture(self) -> Self:
        moving = any(part is not None for part in (self.from_, self.to, self.speed))
        if (self.clip is None) == (self.still is None):
            raise ValueError("an inset shows one clip or one still — write clip, or still")
        if self.still is not None and (moving or self.at is not None):
            raise ValueError("a still has no at, from, to or speed — delete them")
        if self.at is not None and moving:
            raise ValueError("a frozen inset (at) has no from, to or speed — keep one or the other")
        if self.clip is not None and self.at is None and self.speed is None:
            raise ValueError("an inset is either frozen or in motion — write at, or from, to and speed")
        return self


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
    push: Push | None = Field(default=None, description="Come closer to a detail while it is shown.")
    inset: Inset | None = Field(default=None, description="A close-up in a corner.")


class Freeze(Node):
    """One frame of a clip, held."""

    clip: Name = Field(description="Id of the clip.")
    at: ClipTime = Field(description="Position, time or frame.")
    hold: HoldField | None = Field(default=None, description="How long: 6s, or 6s..13s for the fit to choose from.")
    mirror: YesNo = Field(default=False, description="Swap the sides; the picture is then labelled as mirrored.")
    soften: YesNo = Field(default=False, description="Blurred and dimmed, as the ground for a card.")
    zoom: Zoom | None = Field(default=None, description="1 fills the frame; more comes closer, around the focus.")
    focus: PlainPoint | None = Field(default=None, description="The spot to come closer to.")
    push: Push | None = Field(default=None, description="Come closer to a detail while it is shown.")
    inset: Inset | None = Field(default=None, description="A close-up in a corner.")


class Side(Node):
    """One picture of a comparison: a frozen frame (`at`) or a clip in motion (`from`, `to`, `speed`)."""

    clip: Name = Field(description="Id of the clip.")
    at: ClipTime | None = Field(default=None, description="The frame to hold.")
    from_: ClipTime | None = Field(default=None, alias="from", description="Start of the motion.")
    to: ClipTime | None = Field(default=None, description="End of the motion.")
    speed: Speed | None = Field(
        default=None, description="Against real time; with `match: [events]` written on the side that leads, only."
    )
    mirror: YesNo = Field(default=False, description="Swap the sides; labelled as mirrored.")
    label: Sentence | None = Field(default=None, description="Instead of the person's name.")

    @model_validator(mode="after")
    def _still_or_moving(self) -> Self:
        moving = (self.from_, self.to, self.speed)
        if self.at is not None and any(part is not None for part in moving):
            raise ValueError("a frozen side (at) has no from, to or speed — keep one or the other")
        if self.at is None and all(part is None for part in moving):
            raise ValueError("a side is either frozen or in motion — write at, or from, to and speed")
        return self


class Match(Enum):
    """What is made equal between the pictures of a comparison."""

    GROUND = "ground"
    BELT = "belt"
    LEVEL = "level"
    EVENTS = "events"
    LIGHT = "light"


class Comparison(Node):
    """What all comparisons have: pictures of one moment of different swings, made alike where asked."""

    names: ClassVar[tuple[str, ...]] = ()

    match: tuple[Match, ...] = Field(
        default=(),
        description="`ground` puts the heels at one height, `belt` makes heel to belt equal, `level` turns a crooked "
        "picture, `events` brings running sides to each position together, `light` matches brightness and tint gently.",
    )
    zoom: Zoom | None = Field(default=None, description="1 fills each window; more comes closer to the players.")
    labels: YesNo = Field(default=True, description="Names in the pictures' upper corners.")
    hold: HoldField | None = Field(default=None, description="How long; a moving side then holds its last frame.")

    @property
    def sides(self) -> tuple[tuple[str, Side], ...]:
        """Each picture with its name, in the order in which they are placed."""
        return tuple((name, getattr(self, name)) for name in self.names)

    @model_validator(mode="after")
    def _speeds(self) -> Self:
        moving = [(name, side) for name, side in self.sides if side.at is None]
        timed = [name for name, side in moving if side.speed is not None]
        if Match.EVENTS not in self.match:
            for name, side in moving:
                if side.speed is None:
                    raise MisreadError("a side in motion needs a speed — write one, or match: [events]", (name,))
            return self
        if len(moving) < len(self.names):
            raise MisreadError(
                "events are matched between sides in motion — write from and to on each side", ("match",)
            )
        if not timed:
            raise MisreadError("one side leads the others — write its speed", (self.names[0],))
        if len(timed) > 1:
            raise MisreadError(
                f"{timed[0]} leads, so this side's speed follows from the events — delete it", (timed[1], "speed")
            )
        return self


class Split(Comparison):
    """Two pictures side by side; above one another in a tall picture."""

    names: ClassVar[tuple[str, ...]] = ("left", "right")

    left: Side = Field(description="The left picture, or the upper one.")
    right: Side = Field(description="The right picture, or the lower one.")


class ThreeUp(Comparison):
    """Three pictures side by side, such as a swing then and now, and the demonstrator."""

    names: ClassVar[tuple[str, ...]] = ("then", "now", "model")

    then: Side = Field(description="The first picture.")
    now: Side = Field(description="The middle picture.")
    model: Side = Field(description="The last picture.")


class Overlay(Comparison):
    """One picture seen through another."""

    names: ClassVar[tuple[str, ...]] = ("under", "over")

    under: Side = Field(description="The picture below.")
    over: Side = Field(description="The picture that lies over it.")
    opacity: Share = Field(default=0.5, description="How much of the upper picture is seen.")


class Wipe(Comparison):
    """Two pictures in one place; an edge moves across and uncovers the second."""

    names: ClassVar[tuple[str, ...]] = ("first", "second")

    first: Side = Field(description="The picture that is seen first.")
    second: Side = Field(description="The picture that is uncovered.")
    at: Duration | None = Field(default=None, description="Seconds into the shot at which the edge starts; else 1s.")
    over: Duration | None = Field(default=None, description="How long the edge takes; else 2s.")


class StillShot(Node):
    """A still picture, held."""

    still: Name = Field(description="Id of the still.")
    hold: HoldField | None = Field(default=None, description="How long: 6s, or 6s..13s for the fit to choose from.")
    soften: YesNo = Field(default=False, description="Blurred and dimmed, as the ground for a card.")
    push: Push | None = Field(default=None, description="Come closer to a detail while it is shown.")


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
    hold: HoldField | None = Field(default=None, description="How long; else as long as it takes to read.")


class EndBoard(Node):
    """The last picture of a segment."""

    main: Sentence = Field(description="The large line.")
    lines: tuple[Sentence, ...] = Field(default=(), description="Smaller lines below it.")
    over: Ground | None = Field(default=None, description="What lies behind; the look's ground when left out.")
    hold: HoldField | None = Field(default=None, description="How long; else as long as it takes to read.")


class EnterBy(Enum):
    """How a picture takes the place of the one before."""

    CUT = "cut"
    DISSOLVE = "dissolve"
    WIPE = "wipe"
    PUSH = "push"


class Enter(Node):
    """The way in. It takes the first frames of this shot, over the last picture of the one before."""

    by: EnterBy = Field(description="`cut`, `dissolve`, `wipe` (an edge passes) or `push` (both move).")
    over: Duration | None = Field(default=None, description="How long it takes; else 0.5s.")


class ShotSpec(OneKind):
    """One picture of a beat."""

    model_config = ConfigDict(json_schema_extra=lambda s: _one_of(s, ShotSpec.kinds))
    kinds: ClassVar[tuple[str, ...]] = (
        "run", "freeze", "split", "three_up", "overlay", "wipe", "still", "title", "end_board",
    )  # fmt: skip
    what: ClassVar[str] = "shot"

    run: Run | None = Field(default=None, description="A clip in motion.")
    freeze: Freeze | None = Field(default=None, description="One frame of a clip, held.")
    split: Split | None = Field(default=None, description="Two pictures side by side.")
    three_up: ThreeUp | None = Field(default=None, description="Three pictures side by side.")
    overlay: Overlay | None = Field(default=None, description="One picture seen through another.")
    wipe: Wipe | None = Field(default=None, description="Two pictures in one place, uncovered by a moving edge.")
    still: StillShot | None = Field(default=None, description="A still picture, held.")
    title: Title | None = Field(default=None, description="A full-screen title.")
    end_board: EndBoard | None = Field(default=None, description="The last picture of a segment.")

    enter: Enter | None = Field(default=None, description="How it takes the place of the shot before; else a cut.")

    @property
    def comparison(self) -> Comparison | None:
        """The comparison, if it is one of the four kinds."""
        return self.split or self.three_up or self.overlay or self.wipe

    @property
    def inset(self) -> Inset | None:
        """The close-up in a corner, if there is one."""
        wide = self.run or self.freeze
        return wide.inset if wide is not None else None

    @property
    def pane_names(self) -> tuple[str, ...]:
        """What strokes may lie `on` in this shot; nothing where there is only one picture."""
        if self.comparison is not None:
            return self.comparison.names
        return ("wide", "inset") if self.inset is not None else ()


class Role(Enum):
    """What a stroke means; the look gives each its colour and its line."""

    REFERENCE = "reference"
    FAULT = "fault"
    GOOD = "good"


class Disc(Node):
    """A round area; the radius is a fraction of the picture's height."""

    centre: PointField = Field(description="Its middle.")
    radius: Fractional = Field(description="As a fraction of the picture's height.")


class Follow(Enum):
    """What a stroke moves with when the camera moves."""

    BACKGROUND = "background"


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
    on: Name | None = Field(
        default=None,
        description="The picture it belongs to where a shot has several: left, right, then, now, model, under, over, "
        "first, second, wide or inset.",
    )
    label: Sentence | None = Field(default=None, description="A few words beside it.")
    show_degrees: YesNo = Field(
        default=False,
        description="Write an angle's degrees beside it, with the tolerance that the clip's camera gives.",
    )
    moving: YesNo = Field(default=False, description="May start while the picture moves.")

    @model_validator(mode="after")
    def _degrees_of_an_angle(self) -> Self:
        if self.show_degrees and self.angle is None:
            raise MisreadError(f"a {self.kind} has no degrees — delete show_degrees", ("show_degrees",))
        return self

    follow: Follow | None = Field(
        default=None, description="`background`: moves with what stands still behind the player, in a hand-held clip."
    )


class CardTiming(Node):
    """When an overlaid card is seen; the whole beat when nothing is said."""

    at: Duration | None = Field(default=None, description="Seconds into the beat.")
    cue: Name | None = Field(default=None, description="An `[id]` in the words on which it appears.")
    hold: Duration | None = Field(default=None, description="How long; else to the end of the beat.")


class CardSide(Enum):
    """The side of a wide picture on which a panel stands."""

    LEFT = "left"
    RIGHT = "right"


class SidedCard(CardTiming):
    """A card beside the player; in upright and square pictures it lies below."""

    side: CardSide | None = Field(default=None, description="`left` or `right`; away from the player when left out.")


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


class ListCard(SidedCard):
    """A heading and short lines."""

    title: Sentence | None = Field(default=None, description="The heading.")
    lines: tuple[Sentence, ...] = Field(min_length=1, max_length=5, description="One to five short lines.")


class DrillCard(SidedCard):
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

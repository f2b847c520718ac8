"""Leaders: what stands before and after a programme on a master. Read from `templates/leaders`, or a house file."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import Duration, MisreadError, Node, Sentence, number_within, takes
from segmentkit.storyboard.reading import read_as, read_text
from segmentkit.timebase import Rate, Seconds, Timecode, TimeNotationError, parse_time, seconds_of

KINDS = ("bars", "slate", "countdown", "black")
BARS = ("100/0/75/0", "smpte")
LONGEST_COUNTDOWN = 60
_PLAIN = Rate(Fraction(25))  # lengths in leader files are seconds; no label is counted


def _bars(value: object) -> str:
    text = str(value).strip()
    if text not in BARS:
        raise ValueError(f"'{text}' is not a kind of bars — {suggestion(text, BARS)}")
    return text


def _label(value: object) -> Timecode:
    try:
        label = parse_time(str(value))
    except TimeNotationError as error:
        raise ValueError(str(error)) from None
    if not isinstance(label, Timecode) or label.frames or label.minutes or label.seconds or label.drop:
        raise ValueError(f"'{value}' is not a full hour — write a label such as 10:00:00:00")
    return label


class Part(Node):
    """One stretch of a leader: its kind and how long it lasts."""

    bars: Duration | None = Field(default=None, description="Colour bars with tone.")
    slate: Duration | None = Field(default=None, description="What the tape holds, to read.")
    countdown: Duration | None = Field(default=None, description="A clock that counts the seconds down to two.")
    black: Duration | None = Field(default=None, description="Black and silence.")

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [kind for kind in KINDS if getattr(self, kind) is not None]
        if len(kinds) != 1:
            raise MisreadError(f"a part is one of {', '.join(KINDS)} — write one a line, such as {{bars: 60s}}", ())
        if self.seconds.denominator != 1 or self.seconds < 1:
            raise MisreadError("a part lasts whole seconds, at least one", (self.kind,))
        if self.kind == "countdown" and not 3 <= self.seconds <= LONGEST_COUNTDOWN:
            raise MisreadError(f"a countdown lasts 3 to {LONGEST_COUNTDOWN} s", (self.kind,))
        return self

    @property
    def kind(self) -> str:
        """Bars, slate, countdown or black."""
        return next(kind for kind in KINDS if getattr(self, kind) is not None)

    @property
    def seconds(self) -> Fraction:
        """How long it lasts."""
        length: Duration = getattr(self, self.kind)
        return seconds_of(length, _PLAIN)


class Leader(Node):
    """A leader file."""

    what: Sentence = Field(description="What it is, in one line.")
    programme_at: Annotated[Timecode, *takes("full hour", _label, "10:00:00:00", schema={"type": "string"})] = Field(
        description="Timecode of the programme's first frame: a full hour."
    )
    bars: Annotated[
        Literal["100/0/75/0", "smpte"], *takes("bars", _bars, "100/0/75/0", schema={"enum": list(BARS)})
    ] = Field(default="100/0/75/0", description="Which colour bars: 100/0/75/0 over the full field, or SMPTE HD bars.")
    tone: Annotated[float, *number_within("dBFS", -40, -6, "-18 dBFS")] = Field(
        description="Peak of the 1 kHz line-up tone."
    )
    parts: tuple[Part, ...] = Field(min_length=1, description="What comes before the programme, in order.")
    tail: Duration = Field(description="Black after the programme.")

    @model_validator(mode="after")
    def _fits(self) -> Self:
        if any(part.kind == "countdown" for part in self.parts[:-1]):
            raise MisreadError("a countdown comes last: it counts down to the programme", ("parts",))
        if self.seconds_before >= self.programme_at.hours * 3600:
            raise MisreadError("is longer than the time before the programme's label", ("parts",))
        if not isinstance(self.tail, Seconds) or self.tail.value.denominator != 1:
            raise MisreadError("the tail lasts whole seconds, such as 30s", ("tail",))
        return self

    @property
    def tail_seconds(self) -> int:
        """Of black after the programme."""
        return int(seconds_of(self.tail, _PLAIN))

    @property
    def seconds_before(self) -> int:
        """From its start to the programme, by the label."""
        return int(sum(part.seconds for part in self.parts))


class Slate(Node):
    """What a slate says beside the segment's own title and length."""

    number: Sentence | None = Field(default=None, description="Number of the programme or the tape.")
    episode: Sentence | None = Field(default=None, description="Episode or part.")
    house: Sentence | None = Field(default=None, description="Who made it.")
    contact: Sentence | None = Field(default=None, description="Whom to call when something is wrong with it.")


@cache
def leader_names() -> tuple[str, ...]:
    """Names of the leaders that travel with segmentkit."""
    return tuple(sorted(path.stem for path in (templates_folder() / "leaders").glob("*.yaml")))


def leader(name: str) -> Leader:
    """A leader by its name, or by the path of a file.

    Raises:
        StoryboardUnreadable: when there is no such leader, or its file has faults.
    """
    if name in leader_names():
        path = templates_folder() / "leaders" / f"{name}.yaml"
    elif name.endswith(".yaml"):
        path = Path(name)
    else:
        raise StoryboardUnreadable(f"leader — `{name}` is not a leader — {suggestion(name, leader_names(), 'leader')}")
    return read_as(Leader, read_text(path), path.name)

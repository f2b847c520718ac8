"""Fault presets: what is drawn for a common fault, what may be said, and what one camera cannot know.

Shipped ones lie in `templates/faults`; a file of the same name in a storyboard's folder `faults` comes first, so that
each can be copied and changed.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Point
from segmentkit.resources import templates_folder
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import MisreadError, Name, NamedPoint, Node, Sentence, number_within, takes
from segmentkit.storyboard.people import View
from segmentkit.storyboard.reading import read_as, read_text
from segmentkit.storyboard.scalars import read_point
from segmentkit.storyboard.shots import StrokeSpec

FOLDER = "faults"


def _named(value: object) -> NamedPoint:
    point = read_point(value)
    if not isinstance(point, NamedPoint) or point.position is None:
        raise ValueError(f"'{value}' is no point with its position — write one such as address.belt")
    return point


Spot = Annotated[NamedPoint, *takes("point", _named, "address.belt")]


class DerivedPoint(Node):
    """A point that follows from others: level with one and upright with another, or beyond two in a row."""

    x: Spot | None = Field(default=None, description="As far across as this point.")
    y: Spot | None = Field(default=None, description="As far down as this point.")
    from_: Spot | None = Field(default=None, alias="from", description="Start of a straight line.")
    through: Spot | None = Field(default=None, description="A second point on it.")
    times: Annotated[float, *number_within("", 0.1, 5, "1.5")] = Field(
        default=1.0, description="How far along it, in distances of the two."
    )

    @model_validator(mode="after")
    def _one_way(self) -> Self:
        if (self.x is not None and self.y is not None) == (self.from_ is not None and self.through is not None):
            raise ValueError("a derived point has either x and y, or from, through and times — write one pair")
        return self

    @property
    def needs(self) -> tuple[NamedPoint, ...]:
        """The points that it is made from."""
        return tuple(spot for spot in (self.x, self.y, self.from_, self.through) if spot is not None)

    def of(self, spots: dict[str, dict[str, Point]]) -> Point:
        """The point itself, from a clip's points, all of which are there."""
        first, second = (spots[spot.position or ""][spot.name] for spot in self.needs)
        if self.x is not None:
            return Point(first.x, second.y)
        return first + (second - first).scaled(self.times)


class PresetDrill(Node):
    """The drill that goes with a fault, with its safety line."""

    name: Sentence = Field(description="What it is called.")
    count: Sentence = Field(description="How often.")
    equipment: Sentence | None = Field(default=None, description="What it needs.")
    safety: Sentence = Field(description="The safety line.")
    line: Sentence | None = Field(default=None, description="A second caution.")


class Preset(Node):
    """A fault preset."""

    name: Sentence = Field(description="The fault in plain words.")
    what: Sentence = Field(description="What is seen, in one sentence.")
    view: tuple[View, ...] = Field(min_length=1, description="Views from which it can be seen.")
    yaw: Annotated[float, *number_within("deg", 0, 45, "5")] = Field(
        description="The most that the camera may have stood aside, its uncertainty included."
    )
    points: dict[Name, dict[Name, Sentence]] = Field(
        min_length=1, description="Points that the clip must have, by position, and how each is found."
    )
    derived: dict[Name, dict[Name, DerivedPoint]] = Field(
        default_factory=dict, description="Points that follow from them, unless the clip has its own."
    )
    strokes: dict[Name, dict[Name, StrokeSpec]] = Field(
        min_length=1, description="What is drawn, by the position that must be frozen for it."
    )
    say: tuple[Sentence, ...] = Field(min_length=2, description="Honest wordings to choose from.")
    not_to_say: tuple[Sentence, ...] = Field(min_length=1, description="What must not be concluded.")
    never: tuple[Sentence, ...] = Field(default=(), description="Wordings that a beat with this fault may not have.")
    feel: Sentence = Field(description="One feel.")
    drill: PresetDrill = Field(description="One drill, with caution.")
    note: Sentence | None = Field(default=None, description="When to leave it out.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        for position, drawn in self.strokes.items():
            for id_, stroke in drawn.items():
                for point in stroke_points(stroke):
                    if isinstance(point, NamedPoint) and not self.knows(point):
                        raise MisreadError(
                            f"nothing says where {point} is — add it to points or derived",
                            ("strokes", position, id_),
                        )
        for position, made in self.derived.items():
            for name, derived in made.items():
                for point in derived.needs:
                    if point.name not in self.points.get(point.position or "", {}):
                        raise MisreadError(
                            f"{point} is not among the points — add it there", ("derived", position, name)
                        )
        return self

    def knows(self, point: NamedPoint) -> bool:
        """Whether a point is asked for or follows from others."""
        where = point.position or ""
        return point.name in self.points.get(where, {}) or point.name in self.derived.get(where, {})

    @property
    def ids(self) -> tuple[str, ...]:
        """Names of all strokes."""
        return tuple(id_ for drawn in self.strokes.values() for id_ in drawn)


def stroke_points(stroke: StrokeSpec) -> tuple[Point | NamedPoint, ...]:
    """The points of a stroke as written; of ring and shade the centre."""
    content = getattr(stroke, stroke.kind)
    disc = stroke.ring or stroke.shade
    if disc is not None:
        return (disc.centre,)
    return content if isinstance(content, tuple) else (content,)


@cache
def shipped_presets() -> tuple[str, ...]:
    """Names of the presets that travel with segmentkit."""
    return tuple(sorted(path.stem for path in (templates_folder() / FOLDER).glob("*.yaml")))


def preset_names(folder: Path) -> tuple[str, ...]:
    """Names of all presets that a storyboard in a folder can use."""
    return tuple(sorted({*shipped_presets(), *(path.stem for path in (folder / FOLDER).glob("*.yaml"))}))


def preset_file(name: str, folder: Path) -> Path | None:
    """The file of a preset: in the storyboard's own folder, else the shipped one."""
    for place in (folder / FOLDER, templates_folder() / FOLDER):
        if (place / f"{name}.yaml").is_file():
            return place / f"{name}.yaml"
    return None


def load_preset(name: str, folder: Path) -> Preset:
    """Reads a preset.

    Args:
        name: of the preset.
        folder: of the storyboard, whose own presets come first.

    Raises:
        StoryboardUnreadable: when there is none of that name, or with every fault of its file.
    """
    path = preset_file(name, folder)
    if path is None:
        raise StoryboardUnreadable(f"there is no fault preset `{name}` — {suggestion(name, preset_names(folder))}")
    return read_as(Preset, read_text(path), f"{FOLDER}/{path.name}")

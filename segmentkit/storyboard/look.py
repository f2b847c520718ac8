"""The look of a programme: colours by role, type, margins. Read from a look file; drawn by the render room."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, WithJsonSchema

from segmentkit.storyboard.fields import Node, Sentence


def _colour(value: object) -> tuple[int, int, int]:
    if isinstance(value, tuple):
        return value
    text = str(value).strip()
    if not re.fullmatch(r"#[0-9a-fA-F]{6}", text):
        raise ValueError(f"{text!r} is not a colour — write '#rrggbb' in quotes")
    return int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16)


def _number(low: float, high: float) -> Callable[[object], float]:
    def read(value: object) -> float:
        text = str(value).strip()
        if not re.fullmatch(r"[-+]?\d{0,6}(\.\d{1,6})?", text) or not any(c.isdigit() for c in text):
            raise ValueError(f"{text!r} is not a number — write one from {low:g} to {high:g}")
        if not low <= float(text) <= high:
            raise ValueError(f"{text} is outside {low:g} to {high:g}")
        return float(text)

    return read


def _between(low: float, high: float) -> tuple[Any, Any]:
    return BeforeValidator(_number(low, high)), WithJsonSchema({"type": "number", "minimum": low, "maximum": high})


Colour = Annotated[
    tuple[int, int, int],
    BeforeValidator(_colour),
    WithJsonSchema({"type": "string", "pattern": "^#[0-9a-fA-F]{6}$"}),
]
"""Full-range BT.709 R'G'B', 0 to 255 each."""
Pixels = Annotated[float, *_between(0.5, 400)]
"""Pixels on a picture whose shorter side has 1080."""
Part = Annotated[float, *_between(0, 1)]
LineStyle = Annotated[str, Field(pattern="^(solid|dashed|dotted)$")]


class RoleLook(Node):
    """Colour and line style of a stroke's role; the style tells roles apart for those who see few colours."""

    colour: Colour
    line: LineStyle


class StrokesLook(Node):
    """How strokes are drawn; weights in pixels on a picture whose shorter side has 1080."""

    weight: Pixels = Field(description="Width of the coloured line.")
    edge: Pixels = Field(description="Width of the dark edge on each side.")
    edge_colour: Colour
    edge_opacity: Part = Field(default=0.8, description="How much the dark edge covers.")
    shade: Part = Field(default=0.62, description="How much a shade darkens what it does not point at.")
    reference: RoleLook
    fault: RoleLook
    good: RoleLook

    def role(self, name: str) -> RoleLook:
        """The look of a role: reference, fault or good."""
        return {"reference": self.reference, "fault": self.fault, "good": self.good}[name]


class TypeLook(Node):
    """Fonts by weight (files of the font folder) and sizes in pixels on a picture whose shorter side has 1080."""

    folder: Sentence = Field(description="Folder of the fonts: beside the look file, or a shipped one.")
    regular: Sentence
    medium: Sentence
    bold: Sentence
    fallback: tuple[Sentence, ...] = Field(
        default=(),
        description="Further fonts, for glyphs that the family lacks: files beside it, `folder/file` of the shipped "
        "ones, or names of fonts of the system, used where they are.",
    )
    features: tuple[Sentence, ...] = Field(
        default=(), description="OpenType features that are switched on, such as lnum for figures of one height."
    )
    title: Pixels
    heading: Pixels
    body: Pixels
    small: Pixels = Field(description="Second lines: of a lower third, of a pane's name, the programme on a title.")


class PaletteLook(Node):
    """Colours by what they do."""

    ground: Colour = Field(description="Panels and plain backgrounds.")
    ground_deep: Colour = Field(description="The darkest tone: the foot of panels, and what a shade dims towards.")
    ground_light: Colour = Field(description="A lighter tone of the ground, for shapes on it.")
    ink: Colour = Field(description="Text on the ground.")
    quiet: Colour = Field(description="Secondary text on the ground.")
    accent: Colour
    paper: Colour = Field(description="Ground of what is not editorial, such as disclosures.")
    paper_ink: Colour
    caution: Colour
    caution_ink: Colour
    sky: Colour = Field(description="Top of the plain background; `glow` is its horizon.")
    glow: Colour
    label: Colour = Field(description="Ground of the labels beside strokes.")
    label_ink: Colour


CHARACTERS = ("contour", "dune", "pennant")
"""What there is of forms, grounds and ways to come in; each is drawn by a module of its own."""


def _character(value: object) -> str:
    text = str(value).strip()
    if text not in CHARACTERS:
        raise ValueError(f"{text!r} is not a character — write one of {', '.join(CHARACTERS)}")
    return text


class Look(Node):
    """A complete look."""

    name: Sentence
    character: Annotated[str, BeforeValidator(_character), WithJsonSchema({"enum": list(CHARACTERS)})] = Field(
        description="Whose forms its cards and grounds have, and how they come in."
    )
    palette: PaletteLook
    strokes: StrokesLook
    type: TypeLook
    margin: Annotated[float, *_between(0.05, 0.2)] = Field(
        description="Outer margin as a part of each side; 0.05 is the title-safe area."
    )
    panel_opacity: Part = Field(default=0.94)

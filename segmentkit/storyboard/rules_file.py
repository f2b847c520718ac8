"""Reads a file of house rules: how much each check weighs, named limits, and wordings of the house's own.

Which checks and limits there are is not known here; who knows asks for a fault at the spot.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Annotated

from pydantic import Field, PlainValidator, WithJsonSchema

from segmentkit.storyboard import compose, locate
from segmentkit.storyboard.faults import Fault, Source, unreadable
from segmentkit.storyboard.fields import Node, Sentence
from segmentkit.storyboard.reading import read_model, read_text


class Weight(Enum):
    """How much a check weighs in a house."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"
    OFF = "off"


def _number(value: object) -> Fraction:
    text = str(value).strip()
    if not re.fullmatch(r"\d{1,6}(\.\d{1,6})?", text):
        raise ValueError(f"'{text[:40]}' is not a number — write it without a unit, such as 4 or 1.5")
    return Fraction(text)


LimitNumber = Annotated[Fraction, PlainValidator(_number), WithJsonSchema({"type": ["number", "string"]})]


class HouseWording(Node):
    """A wording that the house does not want, matched as whole words without regard to case."""

    words: Sentence = Field(description="The words.")
    why: Sentence = Field(description="Why not, as a clause.")
    rather: Sentence = Field(description="What to write instead, as an instruction.")
    severity: Weight | None = Field(default=None, description="error, warning or note; else that of wording-forbidden.")


class HouseRules(Node):
    """A file of house rules; every key may be left out."""

    severity: dict[str, Weight] = Field(default_factory=dict, description="Weight by check id.")
    limits: dict[str, LimitNumber] = Field(default_factory=dict, description="Numbers by name.")
    forbidden: tuple[HouseWording, ...] = Field(default=(), description="Wordings beside the shipped ones.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedRules:
    """House rules with the text they came from.

    Attributes:
        rules: the validated model.
        source: the text.
        tree: the located tree of the text.
    """

    rules: HouseRules
    source: Source = field(repr=False)
    tree: compose.Node = field(repr=False)

    def fault(self, path: tuple[str | int, ...], message: str, *, at_key: bool = False) -> Fault:
        """A fault at a path; at the key when the key is what is wrong."""
        span = locate.key_spot(self.tree, path) if at_key else locate.spot(locate.find(self.tree, path))
        return self.source.fault(*span, message, ", ".join(str(step) for step in path))


def load_rules(path: Path) -> LoadedRules:
    """Reads a file of house rules.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    return rules_from_text(read_text(path), path.name)


def rules_from_text(text: str, name: str = "house.yaml") -> LoadedRules:
    """Reads house rules from text; `name` is what faults call it.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    source = Source(text, name)
    read = read_model(HouseRules, source)
    if read.faults or read.model is None:
        raise unreadable(read.faults)
    return LoadedRules(rules=read.model, source=source, tree=read.tree)

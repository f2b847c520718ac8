"""What a template asks for: named blanks, each of a kind, with its limits and a line of help."""

from __future__ import annotations

import re
from enum import Enum
from typing import Annotated, Any, Literal, Self

from pydantic import Field, model_validator

from segmentkit.storyboard.fields import MisreadError, Name, Node, Sentence, YesNo, takes
from segmentkit.storyboard.people import View
from segmentkit.storyboard.scalars import NAME


class BlankKind(Enum):
    """What may be filled in."""

    TEXT = "text"
    WORDS = "words"
    NAME = "name"
    PERSON = "person"
    CLIP = "clip"
    STILL = "still"
    LICENCE = "licence"
    FILE = "file"
    POSITION = "position"
    POSITIONS = "positions"
    POINT = "point"
    POINTS = "points"
    DATE = "date"
    FAULT = "fault"
    CLUB = "club"
    CHOICE = "choice"
    YES_NO = "yes/no"
    LENGTH = "length"


MEANINGS: dict[BlankKind, str] = {
    BlankKind.TEXT: "Text on one line; no brackets or braces, which mean something among spoken words.",
    BlankKind.WORDS: "Words to be spoken: `[id]` starts a stroke, `{…}` may be left out when time is short.",
    BlankKind.NAME: "A name: a lower-case letter, then letters, digits, `_` or `-`.",
    BlankKind.PERSON: "A person, with the keys that a storyboard's `people` have, and `id`, the name they go by there.",
    BlankKind.CLIP: "A clip, with the keys that a storyboard's `clips` have; a path alone is its `file`.",
    BlankKind.STILL: "A still, with the keys that a storyboard's `stills` have; a path alone is its `file`.",
    BlankKind.LICENCE: "A licence, with the keys that a storyboard's `licence` has.",
    BlankKind.FILE: "The path of a file, such as music.",
    BlankKind.POSITION: "The name of a position.",
    BlankKind.POSITIONS: "Names of positions, in order.",
    BlankKind.POINT: "`[x, y]` in fractions of the upright picture, or the name of a point.",
    BlankKind.POINTS: "A list of points.",
    BlankKind.DATE: "A date such as `2028-06-30`. A default may be `100 days after NAME`, another date.",
    BlankKind.FAULT: "A fault preset; `segmentkit faults` lists them.",
    BlankKind.CLUB: "What is in the player's hands, as shown.",
    BlankKind.CHOICE: "One of some alternatives; where `own` is `yes`, words of your own as well.",
    BlankKind.YES_NO: "`yes` or `no`.",
    BlankKind.LENGTH: "A length such as `8s`.",
}


def _count(value: object) -> int:
    text = str(value).strip()
    if not re.fullmatch(r"[1-9]\d{0,3}", text, re.ASCII):
        raise ValueError(f"'{text[:40]}' is not a count — write a whole number from 1 to 9999")
    return int(text)


def _alternatives(value: object) -> dict[str, str]:
    """Alternatives by name; a list of names stands for itself."""
    if isinstance(value, list):
        value = dict.fromkeys(value) if all(isinstance(one, str) for one in value) else value
    if not isinstance(value, dict) or not value:
        raise ValueError("alternatives are a list of names, or `name: text` for each — write two or more")
    made: dict[str, str] = {}
    for name, text in value.items():
        if not re.fullmatch(NAME, str(name)) or name in RESERVED:
            raise MisreadError(f"'{str(name)[:40]}' cannot name an alternative — take another name", (str(name),))
        if text is not None and not isinstance(text, str):
            raise MisreadError("an alternative is one text", (name,))
        made[name] = " ".join(text.split()) if text else name.replace("_", " ")
    if len(made) < 2:
        raise ValueError("there is one alternative only — write two or more")
    return made


DAYS_AFTER = re.compile(rf"(\d{{1,3}}) days after ({NAME})")
RESERVED = frozenset({"given", "otherwise", "not", "is"})

Count = Annotated[int, *takes("whole number", _count, "12", schema={"type": "integer", "minimum": 1})]
Anything = Annotated[Any, *takes("as the blank", lambda value: value, "slice", schema={})]
Alternatives = Annotated[dict[str, str], *takes("list of names, or by name: text", _alternatives, "", schema={})]


class Blank(Node):
    """One blank of a template."""

    kind: BlankKind = Field(description="What it takes; see the list of kinds.")
    help: Sentence = Field(description="One line for whoever fills it in.")
    example: Sentence | None = Field(default=None, description="What somebody might write.")
    needed: YesNo = Field(default=True, description="Whether it must be filled in; with a default it never must.")
    default: Anything = Field(default=None, description="What holds when nothing is filled in.")
    most_words: Count | None = Field(default=None, description="How many words a text may have.")
    most_letters: Count | None = Field(default=None, description="How many characters a text may have.")
    of: Alternatives | None = Field(default=None, description="The alternatives of a choice; the text of each.")
    own: YesNo = Field(default=False, description="Whether words that are no alternative may be filled in.")
    person: Name | None = Field(default=None, description="The blank of the person whom the clip or still shows.")
    view: tuple[View, ...] = Field(default=(), description="Views a clip may have; a single one need not be filled in.")
    positions: tuple[Name, ...] = Field(default=(), description="Positions that a clip must have.")
    points: dict[Name, tuple[Name, ...]] = Field(
        default_factory=dict, description="Points that a clip must have, by position."
    )
    in_: Name | None = Field(default=None, alias="in", description="The blank of the clip that has the position.")

    @model_validator(mode="after")
    def _hangs_together(self) -> Self:
        if (self.kind is BlankKind.CHOICE) != (self.of is not None):
            raise ValueError("a choice needs `of`, its alternatives; no other kind has them")
        if self.own and self.kind is not BlankKind.CHOICE:
            raise MisreadError("only a choice can be left to words of one's own — delete own", ("own",))
        for key, kinds in _ONLY_FOR.items():
            if getattr(self, key) and self.kind not in kinds:
                names = " or ".join(kind.value for kind in kinds)
                written = key.rstrip("_")
                raise MisreadError(f"`{written}` is for {names} only — delete it", (written,))
        return self

    @property
    def always_given(self) -> bool:
        """Whether a filled template always has a value for it."""
        return self.default is not None or self.needed

    @property
    def counts_from(self) -> str | None:
        """The date that the default counts from: `100 days after airs`."""
        if self.kind is not BlankKind.DATE or not isinstance(self.default, str):
            return None
        match = DAYS_AFTER.fullmatch(" ".join(self.default.split()))
        return match[2] if match else None

    @property
    def must(self) -> bool:
        """Whether somebody has to fill it in."""
        return self.needed and self.default is None


_ONLY_FOR: dict[str, tuple[BlankKind, ...]] = {
    "most_words": (BlankKind.TEXT, BlankKind.WORDS, BlankKind.CLUB, BlankKind.CHOICE),
    "most_letters": (BlankKind.TEXT, BlankKind.WORDS, BlankKind.CLUB, BlankKind.CHOICE),
    "person": (BlankKind.CLIP, BlankKind.STILL),
    "view": (BlankKind.CLIP,),
    "positions": (BlankKind.CLIP,),
    "points": (BlankKind.CLIP,),
    "in_": (BlankKind.POSITION, BlankKind.POSITIONS),
}


def _format(value: object) -> int:
    if str(value).strip() != "1":
        raise ValueError("this version of segmentkit reads format 1 — write `template: 1`")
    return 1


def _body(value: object) -> dict[str, Any]:
    if not isinstance(value, dict) or not value:
        raise ValueError("the storyboard is missing here — write its keys: segmentkit, segment, beats ...")
    return value


class TemplateFile(Node):
    """A template as it is written: what it asks for, and the storyboard with its places."""

    template: Annotated[Literal[1], *takes("1", _format, "1", schema={"enum": [1, "1"]})] = Field(
        description="Version of this format: 1."
    )
    about: Sentence = Field(description="What it is for, in a line or two.")
    blanks: dict[Name, Blank] = Field(default_factory=dict, description="What is asked for, by name.")
    storyboard: Annotated[dict[str, Any], *takes("a storyboard with places", _body, "", schema={})] = Field(
        description="An ordinary storyboard, in which places stand for blanks."
    )

"""Delivery profiles: which version of a segment, how it is coded and how loud it is.

Those that travel with segmentkit lie in `templates/profiles`; a house's own is named by its path. What codings there
are stands in `profile_codings`.
"""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, model_validator

from segmentkit.delivery import Delivery
from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.caption_rules import caption_rule_names
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import (
    NAME,
    Duration,
    FilePath,
    MisreadError,
    Name,
    Node,
    RateField,
    Sentence,
    SizeField,
    YesNo,
    number_within,
)
from segmentkit.storyboard.paths import leaves_folder
from segmentkit.storyboard.people import Scope
from segmentkit.storyboard.profile_codings import (
    INTERLACED,
    Container,
    Fields,
    Picture,
    Sound,
    SoundField,
    coding_fault,
)
from segmentkit.storyboard.reading import read_as, read_text
from segmentkit.timebase import Rate, seconds_of

_PLAIN = Rate(Fraction(25))  # lengths in profile files are seconds; no label is counted
SUFFIXES = (".yaml", ".yml")


class Profile(Node):
    """A profile file."""

    what: Sentence = Field(description="What the profile is for, in one line.")
    scope: Scope = Field(description="The use that releases must allow.")
    loudness: Annotated[float, *number_within("LUFS", -40, -5)] = Field(description="Integrated loudness.")
    true_peak: Annotated[float, *number_within("dBTP", -12, 0)] = Field(description="Highest true peak.")
    container: Container | None = Field(
        default=None, description="The kind of file, which is its suffix as well; else the codec's usual one."
    )
    picture: Picture = Field(default_factory=Picture, description="How pictures are coded.")
    sound: SoundField = Field(
        default=Sound(), description="How sound is coded, or `none`; else as the file usually is."
    )
    size: SizeField | None = Field(default=None, description="Width x height, where it is not the storyboard's own.")
    rate: RateField | None = Field(
        default=None, description="Frames a second of the file, where it is not the storyboard's own."
    )
    fields: Fields | None = Field(
        default=None, description="`top` or `bottom`: the field that is shown first of an interlaced picture."
    )
    captions: Name | None = Field(
        default=None, description="The caption rules to keep; else those that suit use and shape."
    )
    burned: YesNo = Field(default=False, description="Whether captions are in the picture.")
    leader: FilePath | None = Field(
        default=None, description="What stands before and after: a shipped leader, or a file beside the profile."
    )
    cut: Name | None = Field(default=None, description="The cut of the storyboard that is delivered; else the whole.")
    clean: YesNo = Field(default=False, description="No text and no strokes, at the same length.")
    shortest: Duration | None = Field(default=None, description="A shorter version gets a finding.")
    longest: Duration | None = Field(default=None, description="A longer version gets a finding.")

    @property
    def file(self) -> str:
        """The suffix of the file, without its dot."""
        return self.container.value if self.container is not None else self.picture.codec.containers[0]

    @model_validator(mode="after")
    def _can_be(self) -> Self:
        if fault := coding_fault(self.picture, self.sound, self.file, given=self.container is not None):
            raise fault
        if self.fields is not None and self.file not in INTERLACED.get(self.picture.codec.value, ()):
            able = ", ".join(f"{codec} in {' or '.join(files)}" for codec, files in INTERLACED.items())
            raise MisreadError(
                f"{self.picture.codec.value} in {self.file} holds whole pictures only — delete fields, or take {able}",
                ("fields",),
            )
        if self.captions is not None and self.captions not in caption_rule_names():
            raise MisreadError(
                f"`{self.captions}` is not a set of caption rules — {suggestion(self.captions, caption_rule_names())}",
                ("captions",),
            )
        low, high = self.seconds("shortest"), self.seconds("longest")
        if low is not None and high is not None and high < low:
            raise MisreadError(f"at most {high} s and at least {low} s cannot be — swap them", ("longest",))
        if self.leader is not None and (why := leaves_folder(self.leader)):
            raise MisreadError(f"{why} — put the leader's file beside the profile", ("leader",))
        return self

    def seconds(self, name: str) -> Fraction | None:
        """One of the lengths, in seconds."""
        length: Duration | None = getattr(self, name)
        return None if length is None else seconds_of(length, _PLAIN)


@cache
def delivery_names() -> tuple[str, ...]:
    """Names of the profiles that travel with segmentkit."""
    return tuple(sorted(path.stem for path in (templates_folder() / "profiles").glob("*.yaml")))


def is_profile_path(name: str) -> bool:
    """Whether `deliver` names a file of the house's own, and not a shipped profile."""
    return "/" in name or "\\" in name or name.lower().endswith(SUFFIXES)


def delivery_name(name: str) -> str:
    """What a delivery is called in findings and file names: a shipped profile's name, or its file's without suffix."""
    return re.split(r"[/\\]", name)[-1].rsplit(".", 1)[0] if is_profile_path(name) else name


def delivery(name: str, folder: Path | None = None) -> Delivery:
    """A profile by its name, or by the path of a file.

    Args:
        name: of a shipped profile; or a path, from the storyboard's folder.
        folder: the storyboard's; the working folder when left out.

    Raises:
        StoryboardUnreadable: when there is no such profile, or its file has faults.
    """
    if not is_profile_path(name):
        return _shipped(name)
    if why := leaves_folder(name):
        raise StoryboardUnreadable(f"deliver, {name} — {why} — put the profile into the storyboard's folder")
    called = delivery_name(name)
    if not re.fullmatch(NAME, called):
        raise StoryboardUnreadable(
            f"deliver, {name} — `{called}` cannot name a delivery — begin the file's name with a lower-case letter, "
            "then write letters, digits, - or _"
        )
    path = (folder or Path()) / name
    made = read_as(Profile, read_text(path), str(name))
    beside = made.leader is not None and is_profile_path(made.leader)
    return _delivery(called, made, str(path.parent / made.leader) if beside and made.leader else made.leader)


@cache
def _shipped(name: str) -> Delivery:
    if name not in delivery_names():
        raise StoryboardUnreadable(
            f"deliver — `{name}` is not a profile — {suggestion(name, delivery_names(), 'profile')}"
        )
    path = templates_folder() / "profiles" / f"{name}.yaml"
    profile = read_as(Profile, read_text(path), path.name)
    return _delivery(name, profile, profile.leader)


def _delivery(name: str, profile: Profile, leader: str | None) -> Delivery:
    return Delivery(
        name=name,
        what=profile.what,
        scope=profile.scope.value,
        loudness=profile.loudness,
        true_peak=profile.true_peak,
        picture=profile.picture.coding,
        sound=None if profile.sound is None else profile.sound.coding(profile.file),
        container=profile.file,
        size=profile.size,
        rate=profile.rate,
        fields=None if profile.fields is None else profile.fields.value,
        captions=profile.captions,
        burned=profile.burned,
        leader=leader,
        cut=profile.cut,
        clean=profile.clean,
        shortest=profile.seconds("shortest"),
        longest=profile.seconds("longest"),
    )

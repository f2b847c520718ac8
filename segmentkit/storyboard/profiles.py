"""Delivery profiles: how a finished file is coded and how loud it is. Read from `templates/profiles`."""

from __future__ import annotations

from functools import cache
from typing import Annotated

from pydantic import Field

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import Node, Sentence, number_within, takes
from segmentkit.storyboard.people import Scope
from segmentkit.storyboard.reading import read_as, read_text

PRESETS = ("ultrafast", "superfast", "veryfast", "faster", "fast", "medium", "slow", "slower", "veryslow")


def _preset(value: object) -> str:
    text = str(value).strip()
    if text not in PRESETS:
        raise ValueError(f"'{text}' is not an encoder preset — {suggestion(text, PRESETS)}")
    return text


class Profile(Node):
    """A profile file."""

    what: Sentence = Field(description="What the profile is for, in one line.")
    scope: Scope = Field(description="The use that releases must allow.")
    loudness: Annotated[float, *number_within("LUFS", -40, -5)] = Field(description="Integrated loudness.")
    true_peak: Annotated[float, *number_within("dBTP", -12, 0)] = Field(description="Highest true peak.")
    preset: Annotated[str, *takes("preset", _preset, "medium", schema={"enum": list(PRESETS)})] = Field(
        description="Effort of the H.264 encoder."
    )
    crf: Annotated[float, *number_within("", 0, 40)] = Field(
        description="Quality of the H.264 encoder; lower is better."
    )
    audio_bitrate: Annotated[float, *number_within("kbit/s", 64, 512)] = Field(description="AAC bits a second.")


@cache
def delivery_names() -> tuple[str, ...]:
    """Names of the profiles that travel with segmentkit."""
    return tuple(sorted(path.stem for path in (templates_folder() / "profiles").glob("*.yaml")))


@cache
def delivery(name: str) -> Delivery:
    """A profile by its name.

    Raises:
        StoryboardUnreadable: when there is no such profile, or its file has faults.
    """
    if name not in delivery_names():
        raise StoryboardUnreadable(
            f"deliver — `{name}` is not a profile — {suggestion(name, delivery_names(), 'profile')}"
        )
    path = templates_folder() / "profiles" / f"{name}.yaml"
    profile = read_as(Profile, read_text(path), path.name)
    return Delivery(
        name=name,
        scope=profile.scope.value,
        loudness=profile.loudness,
        true_peak=profile.true_peak,
        what=profile.what,
        picture=PictureCoding(preset=profile.preset, quality=round(profile.crf)),
        sound=SoundCoding(bit_rate=round(profile.audio_bitrate * 1000)),
    )

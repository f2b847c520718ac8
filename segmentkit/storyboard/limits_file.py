"""Reads the limits of the intake: one file that verdicts, the shooting sheet and letters share."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Annotated

from pydantic import Field

from segmentkit.resources import templates_folder
from segmentkit.storyboard.fields import Node, number_within
from segmentkit.storyboard.reading import read_as, read_text

Seconds = Annotated[float, *number_within("s", 0, 600)]
PerSecond = Annotated[float, *number_within("fps", 1, 2000)]
Pixels = Annotated[float, *number_within("px", 16, 8192)]
Share = Annotated[float, *number_within("%", 0, 100)]
Plain = Annotated[float, *number_within("", 0, 100_000)]
Metres = Annotated[float, *number_within("m", 0, 50)]


class IntakeLimits(Node):
    """A limits file. Each number is one sentence of the sheet, one test of a clip, one line of a letter."""

    seconds_least: Seconds = Field(description="Shortest clip.")
    seconds_most: Seconds = Field(description="Longest clip.")
    rest_before: Seconds = Field(description="Rest that must be seen before the swing starts.")
    short_side_least: Pixels = Field(description="Shorter side of the picture, below which it is filmed again.")
    short_side_good: Pixels = Field(description="Shorter side below which it is not shown full screen.")
    rate_impact: PerSecond = Field(description="Frames a second below which nothing is said of tempo and impact.")
    rate_good: PerSecond = Field(description="Frames a second to ask for.")
    downswing_most: Seconds = Field(description="Longest way down in real time; a longer one is a slowed file.")
    drift_lines: Share = Field(description="Camera drift, of the long side, up to which drawn lines stay evidence.")
    drift_most: Share = Field(description="Camera drift above which it is filmed again.")
    shake_lines: Share = Field(description="Camera shake up to which drawn lines stay evidence.")
    shake_most: Share = Field(description="Camera shake above which it is filmed again.")
    figure_least: Share = Field(description="Height of the swing in the picture below which it is filmed again.")
    figure_good: Share = Field(description="Height below which it is shown small.")
    edge_most: Share = Field(description="Width of sharp edges, of the picture's height; wider is out of focus.")
    smear_most: Plain = Field(description="Edges at speed against edges at rest; wider is smeared.")
    dark_least: Plain = Field(description="Middle brightness of the player, 16 black to 235 white.")
    burnt_most: Share = Field(description="Share of the player's part that is burnt out.")
    flicker_good: Share = Field(description="Wavering of the light that does not disturb.")
    flicker_most: Share = Field(description="Wavering above which it is filmed again.")
    quantiser_good: Plain = Field(description="Mean H.264 quantiser up to which the picture is clean.")
    quantiser_most: Plain = Field(description="Mean H.264 quantiser above which it is sent again.")
    blocks_most: Plain = Field(description="Steps at block borders against steps between them.")
    bars_most: Share = Field(description="Black bars, of the width or height.")
    distance: Metres = Field(description="From the camera to the player.")
    height: Metres = Field(description="Of the camera: the height of the hands.")
    megabytes_most: Plain = Field(description="Largest file.")
    megapixels_most: Plain = Field(description="Largest picture.")
    frames_most: Plain = Field(description="Most frames of a clip.")
    memory_most: Plain = Field(description="Memory that opening one clip may take, in megabytes.")


@cache
def intake_limits(path: Path | None = None) -> IntakeLimits:
    """The limits of a file, or those that travel with segmentkit.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    path = path or templates_folder() / "intake" / "limits.yaml"
    return read_as(IntakeLimits, read_text(path), path.name)

"""Reads the words of the intake that a house may change: actions of letters and lines of the shooting sheet."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from pydantic import Field

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.fields import Name, Node, Sentence
from segmentkit.storyboard.reading import read_as, read_text


class Actions(Node):
    """What a viewer is asked to do, by the id of a reason; one sentence each, the most useful first."""

    actions: dict[Name, Sentence] = Field(description="By reason, in the order in which they matter.")


class SheetPart(Node):
    """One block of the shooting sheet."""

    title: Sentence = Field(description="Its heading.")
    lines: tuple[Sentence, ...] = Field(min_length=1, description="One sentence each.")


class SheetWords(Node):
    """The words of the shooting sheet."""

    title: Sentence = Field(description="Heading of the page.")
    lead: Sentence = Field(description="One sentence below it.")
    parts: tuple[SheetPart, ...] = Field(min_length=1, description="The blocks, in order.")
    foot: Sentence = Field(description="The last line.")
    down_the_line: Sentence = Field(alias="down-the-line", description="Under the first diagram.")
    face_on: Sentence = Field(alias="face-on", description="Under the second diagram.")
    framing: Sentence = Field(description="Under the picture of the frame.")


def wording_path(name: str, own: Path | None) -> Path:
    """A file of words: from a folder of the house's own where it is there, else the shipped one."""
    if own is not None:
        if not own.is_dir():
            raise StoryboardUnreadable(f"{own} — there is no such folder — give the folder that holds your own words")
        if (own / name).is_file():
            return own / name
    return templates_folder() / "intake" / name


@cache
def actions(own: Path | None = None) -> dict[str, str]:
    """Actions by reason, in order of weight.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    path = wording_path("actions.yaml", own)
    return dict(read_as(Actions, read_text(path), path.name).actions)


@cache
def sheet_words(own: Path | None = None) -> SheetWords:
    """The words of the shooting sheet.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    path = wording_path("sheet.yaml", own)
    return read_as(SheetWords, read_text(path), path.name)

"""Reads a library of demonstrators: who shows how it is done, and their clips, as in a storyboard."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from segmentkit.storyboard import locate
from segmentkit.storyboard.faults import Fault, Source, suggestion, unreadable
from segmentkit.storyboard.fields import Name, Node, takes
from segmentkit.storyboard.people import Clip, Person
from segmentkit.storyboard.reading import read_model, read_text

LIBRARY = "library.yaml"


def _format(value: object) -> int:
    if str(value).strip() != "1":
        raise ValueError("this version of segmentkit reads format 1 — write `library: 1`")
    return 1


class Library(Node):
    """Demonstrators and their clips."""

    library: Annotated[Literal[1], *takes("1", _format, "1", schema={"enum": [1, "1"]})] = Field(
        description="Version of this format: 1."
    )
    people: dict[Name, Person] = Field(min_length=1, description="Who demonstrates, with their releases.")
    clips: dict[Name, Clip] = Field(min_length=1, description="Their clips, each with its person, view and positions.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedLibrary:
    """A library with the place it came from.

    Attributes:
        library: the validated model.
        folder: where its paths start.
        file: the file, as messages show it.
    """

    library: Library
    folder: Path
    file: str


def load_library(path: Path) -> LoadedLibrary:
    """Reads a library file, or that of a folder.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    path = path / LIBRARY if path.is_dir() else path
    source = Source(read_text(path), str(path))
    read = read_model(Library, source)
    faults: list[Fault] = list(read.faults)
    if read.model is not None:
        for id_, clip in read.model.clips.items():
            if clip.person not in read.model.people:
                span = locate.spot(locate.find(read.tree, ("clips", id_, "person")))
                hint = suggestion(clip.person or "", list(read.model.people), "person")
                faults.append(source.fault(*span, f"`{clip.person or ''}` is not among people — {hint}", f"clip {id_}"))
    if faults or read.model is None:
        raise unreadable(faults)
    return LoadedLibrary(library=read.model, folder=path.parent, file=str(path))

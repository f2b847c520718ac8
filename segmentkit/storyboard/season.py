"""Reads a season: items, each from a viewer's submission to what is delivered; YAML, or a table with a row an item.

Both forms have the same columns. In a table `fill.name` gives the blank `name` of a template, several profiles stand
with spaces or semicolons between them, and the season's own title is the file's name.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Annotated, Any

from pydantic import Field, ValidationError

from segmentkit.storyboard import compose, locate
from segmentkit.storyboard.compose import plain
from segmentkit.storyboard.explain import explain
from segmentkit.storyboard.faults import Fault, Source, suggestion, unreadable
from segmentkit.storyboard.fields import Date, Name, Node, Sentence, YesNo, takes
from segmentkit.storyboard.reading import read_model, read_text
from segmentkit.storyboard.scalars import MisreadError
from segmentkit.storyboard.table import TableSource, read_table

ID = "[A-Za-z0-9][A-Za-z0-9_-]{0,63}"
"""Pattern of an item's id: it becomes the name of a folder on any system."""
_RESERVED = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(10))}


def _text(value: object, wanted: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ValueError(f"{wanted} is needed here")
    return value.strip()


def read_id(value: object) -> str:
    """An item's id."""
    text = _text(value, "an id")
    if not re.fullmatch(ID, text, re.ASCII):
        raise ValueError(
            f"'{text[:40]}' cannot name a folder — begin with a letter or digit, then letters, digits, '_' or '-'"
        )
    if text.casefold() in _RESERVED:
        raise ValueError(f"'{text}' is a name that some systems keep for devices — choose another id")
    return text


def read_inside(value: object) -> str:
    """A path below the season's folder, with `/` between its steps."""
    text = _text(value, "a path")
    path = PurePosixPath(text)
    if "\\" in text or "\0" in text or path.is_absolute() or re.match("[A-Za-z]:", text) or ".." in path.parts:
        raise ValueError(f"'{text[:60]}' leaves the season's folder — write a path below it, with / between its steps")
    return text


def read_profiles(value: object) -> tuple[str, ...]:
    """Profiles by name, or by path below the folder: a list, or a text with spaces or semicolons between them."""
    match value:
        case tuple() | list():
            names = [read_inside(one) for one in value]
        case str() if value.strip():
            names = [read_inside(one) for one in re.split(r"[;\s]+", value.strip(" ;"))]
        case _:
            names = []
    if not names:
        raise ValueError("no profile is named — write one or more, such as [web, short]")
    for index, name in enumerate(names):
        if name in names[:index]:
            raise MisreadError(f"`{name}` is named twice — once is enough", (index,), name)
    return tuple(names)


def read_fill(value: object) -> dict[str, Any] | str:
    """Values for a template's blanks: a mapping, or the path of a file with them."""
    match value:
        case dict():
            return {str(key): inner for key, inner in value.items()}
        case str():
            return read_inside(value)
        case _:
            raise ValueError("write values by the names of the template's blanks, or the path of a file with them")


ItemId = Annotated[str, *takes("id", read_id, "s03", ID)]
InsidePath = Annotated[str, *takes("path", read_inside, "submissions/s03")]
ProfileNames = Annotated[
    tuple[str, ...],
    *takes(
        "profiles", read_profiles, "[web, short]",
        schema={"anyOf": [{"type": "array", "items": {"type": "string"}, "minItems": 1}, {"type": "string"}]},
    ),
]  # fmt: skip
FillField = Annotated[
    dict[str, Any] | str,
    *takes("values or path", read_fill, "{fault: hips_toward_ball}", schema={"type": ["object", "string"]}),
]


class Item(Node):
    """One segment of the season."""

    id: ItemId = Field(description="Names its folder; unique in the season.")
    submission: InsidePath | None = Field(
        default=None, description="Folder of the intake record; `folder#name` where it holds several submissions."
    )
    storyboard: InsidePath | None = Field(default=None, description="A storyboard that is ready.")
    template: InsidePath | None = Field(default=None, description="A template by name or path, filled for this item.")
    fill: FillField | None = Field(default=None, description="Values of the template's blanks, or a file with them.")
    name: Sentence | None = Field(default=None, description="The viewer's name as shown, to hold the row against.")
    air: Date | None = Field(default=None, description="The day on which it is aired; earlier ones are made first.")
    received: Date | None = Field(default=None, description="The day on which the submission came.")
    deliver: ProfileNames | None = Field(default=None, description="Profiles to deliver; else the season's.")
    fault: Name | None = Field(default=None, description="What it teaches; not the same twice in a row.")
    model: Name | None = Field(default=None, description="Who demonstrates; not the same twice in a row.")
    follows: ItemId | None = Field(default=None, description="The earlier item of this viewer that it looks back at.")


class Season(Node):
    """The whole file."""

    season: Sentence = Field(description="What the season is called.")
    programme: Sentence | None = Field(default=None, description="The programme it belongs to.")
    template: InsidePath | None = Field(default=None, description="The template of items that name none.")
    deliver: ProfileNames | None = Field(
        default=None, description="Profiles of items that name none; else those of each storyboard."
    )
    store: Sentence | None = Field(
        default=None, description="The common working folder, from the season's; else `.segmentkit` beside the season."
    )
    papers: YesNo = Field(default=False, description="Whether each item's papers are written beside its files.")
    items: tuple[Item, ...] = Field(min_length=1, description="The segments, in any order.")


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadedSeason:
    """A season with the text it came from.

    Attributes:
        season: the validated model.
        folder: where its paths start.
        file: the file's name, as messages show it.
        source: the text; `tree` its located tree.
    """

    season: Season
    folder: Path
    file: str
    source: Source = field(repr=False)
    tree: compose.Node = field(repr=False)

    @property
    def items(self) -> dict[str, Item]:
        """The items by id, in the order of the file."""
        return {item.id: item for item in self.season.items}

    def fault(self, item: str, message: str, *keys: str) -> Fault:
        """A fault at a value of an item; where no such value is written, at the item's id."""
        index = next((k for k, one in enumerate(self.season.items) if one.id == item), 0)
        found = locate.find(self.tree, ("items", index, *keys))
        span = locate.spot(found if found.whole else locate.find(self.tree, ("items", index, "id")))
        return self.source.fault(*span, message, f"item {item}")


def load_season(path: Path) -> LoadedSeason:
    """Reads a season from YAML, or from a table when its name ends with .csv.

    Raises:
        StoryboardUnreadable: with all faults at once, each with line and column; in a table with row and column too.
    """
    text = read_text(path)
    source: Source
    tree: compose.Node
    if path.suffix.lower() == ".csv":
        source = TableSource(text, str(path))
        tree, faults = read_table(source, list_key="items", nested="fill")
        title = compose.Scalar(0, 0, path.stem)
        tree.entries["season"] = compose.Entry(title, title)
        season, wrong = _validated(tree, source) if not faults else (None, ())
        faults += wrong
    else:
        source = Source(text, str(path))
        read = read_model(Season, source)
        tree, faults, season = read.tree, read.faults, read.model
    if season is not None:
        loaded = LoadedSeason(season=season, folder=path.parent, file=str(path), source=source, tree=tree)
        faults += tuple(_clashing(loaded))
        if not faults:
            return loaded
    raise unreadable(faults)


def _validated(tree: compose.Node, source: Source) -> tuple[Season | None, tuple[Fault, ...]]:
    try:
        return Season.model_validate(plain(tree)), ()
    except ValidationError as error:
        return None, tuple(explain(error, Season, tree, source))


def _clashing(loaded: LoadedSeason) -> Iterator[Fault]:
    """What no item shows by itself: ids that are not unique, blanks of nothing, links to nowhere, ways out."""
    seen: dict[str, int] = {}
    ids = [item.id for item in loaded.season.items]
    for index, item in enumerate(loaded.season.items):
        at = ("items", index)
        first = seen.setdefault(item.id.casefold(), index)
        if first != index:
            # Some file systems do not tell case apart.
            yield _at(loaded, (*at, "id"), item.id, f"`{item.id}` is the id of an earlier item too — ids are unique")
        if item.storyboard is None and item.template is None and loaded.season.template is None:
            yield _at(
                loaded, (*at, "id"), item.id,
                "has neither a storyboard nor a template — write `storyboard:` with its path, or `template:`",
            )  # fmt: skip
        if item.storyboard is not None and (item.template is not None or item.fill is not None):
            key = "template" if item.template is not None else "fill"
            yield _at(
                loaded, (*at, key), item.id, f"`storyboard` is ready, so `{key}` has no use — keep one of the two"
            )
        if item.follows is not None and item.follows not in ids:
            hint = suggestion(item.follows, ids, "item")
            yield _at(loaded, (*at, "follows"), item.id, f"`{item.follows}` is not an item of this season — {hint}")
        elif item.follows == item.id:
            yield _at(loaded, (*at, "follows"), item.id, "an item cannot follow itself — name the earlier one")
        for key in ("submission", "storyboard", "template", "fill"):
            value = getattr(item, key)
            if isinstance(value, str) and leaves(loaded.folder, value.split("#")[0]):
                yield _at(
                    loaded, (*at, key), item.id,
                    f"'{value[:60]}' leads out of the season's folder by a link — put what it needs inside",
                )  # fmt: skip


def _at(loaded: LoadedSeason, path: tuple[str | int, ...], item: str, message: str) -> Fault:
    span = locate.spot(locate.find(loaded.tree, path))
    return loaded.source.fault(*span, message, f"item {item}")


def leaves(folder: Path, path: str) -> bool:
    """Whether a path below a folder ends outside it, as a symbolic link may."""
    root = folder.resolve()
    try:
        return not (root / path).resolve().is_relative_to(root)
    except (OSError, RuntimeError):  # links in a ring
        return True

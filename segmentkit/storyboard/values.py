"""Values for the blanks of a template: from a YAML file, from a row of a spreadsheet, from the command line.

All become one tree of texts whose spots are known. A key with dots, `viewer.shown`, is the key `shown` within `viewer`:
so a row of a table can say all that a file can.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Mappings
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar, compose, plain
from segmentkit.storyboard.faults import Source, unreadable
from segmentkit.storyboard.reading import read_text
from segmentkit.storyboard.writing import write_yaml

_DEEPEST = 6


@dataclass(frozen=True, slots=True)
class Values(Mappings[str, Any]):
    """Values with the texts they came from; as a mapping, plain data by the names of blanks.

    Attributes:
        layers: each a text with its tree; what stands in a later one comes before an earlier one.
    """

    layers: tuple[tuple[Source, Mapping], ...] = field(repr=False)

    def __getitem__(self, name: str) -> Any:
        return self._plain()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._plain())

    def __len__(self) -> int:
        return len(self._plain())

    def _plain(self) -> dict[str, Any]:
        made = plain(merged([tree for _, tree in self.layers]))
        return {name: value for name, value in made.items() if value not in (None, "", {}, [])}

    def over(self, other: Values) -> Values:
        """These values, and behind them others for what these do not say."""
        return Values(other.layers + self.layers)


def read_values(path: Path) -> Values:
    """Reads a file of values.

    Raises:
        StoryboardUnreadable: with every fault of the text.
    """
    return values_of_text(read_text(path), str(path))


def values_of_text(text: str, name: str) -> Values:
    """Values from YAML text; `name` is what faults call it. A text without any values gives none.

    Raises:
        StoryboardUnreadable: with every fault of the text.
    """
    source = Source(text, name)
    if all(line.strip() == "" or line.lstrip().startswith("#") for line in text.splitlines()):
        return Values(((source, Mapping(0, 0, False)),))
    composed = compose(source)
    root = composed.root
    if composed.faults or root is None:
        raise unreadable(composed.faults)
    if not isinstance(root, Mapping):
        raise unreadable([source.fault(root.start, root.end, "values are keys with values, such as `viewer: Maren`")])
    return Values(((source, root),))


def values_of(data: Mappings[str, Any], name: str = "values") -> Values:
    """Values from plain data, such as a row of a CSV file; `name` is what faults call it.

    Raises:
        StoryboardUnreadable: when a text has characters that no text may have.
    """
    if isinstance(data, Values):
        return data
    tree = _as_tree(dict(data))
    text = write_yaml(tree) if isinstance(tree, Mapping) and tree.entries else "{}\n"
    return values_of_text(text, name)


def _as_tree(value: object, depth: int = 0) -> Node | None:  # noqa: PLR0911  one kind of value a line
    match value:
        case None | "":
            return None
        case bool():
            return Scalar(0, 0, "yes" if value else "no")
        case str():
            return Scalar(0, 0, " ".join(value.split())) if value.strip() else None
        case int() | Fraction() | datetime.date() | Path():
            return Scalar(0, 0, str(value))
        case float():
            return Scalar(0, 0, f"{value:.10f}".rstrip("0").rstrip("."))
        case Mappings() if depth < _DEEPEST * 2:
            made = {
                " ".join(str(k).split()): tree for k, v in value.items() if (tree := _as_tree(v, depth + 1)) is not None
            }
            return Mapping(0, 0, depth > 1, {k: Entry(Scalar(0, 0, k), tree) for k, tree in made.items()})
        case Sequence() if depth < _DEEPEST * 2:
            return Listing(0, 0, True, [tree for v in value if (tree := _as_tree(v, depth + 1)) is not None])
        case _:
            return Scalar(0, 0, " ".join(str(value).split()))


def merged(trees: Sequence[Mapping]) -> Mapping:
    """Trees as one, dotted keys taken apart; what stands in a later tree comes before an earlier one."""
    made = Mapping(trees[0].start if trees else 0, trees[0].end if trees else 0, False)
    for tree in trees:
        for name, entry in tree.entries.items():
            _put(made, [part for part in re.split(r"\s*\.\s*", name.strip()) if part] or [name], entry)
    return made


def _put(into: Mapping, path: list[str], entry: Entry) -> None:
    step, rest = path[0], path[1:]
    old = into.entries.get(step)
    if rest:
        inner = _inside(old, entry)
        if len(rest) < _DEEPEST:
            _put(inner, rest, entry)
        into.entries[step] = Entry(old.key if old else entry.key, inner)
    elif isinstance(entry.value, Scalar) and not (entry.value.text or "").strip():
        return  # nothing is filled in: what stood before holds
    elif isinstance(entry.value, Mapping):
        inner = _inside(old, entry)
        inner.flow = entry.value.flow if old is None else inner.flow
        for name, child in entry.value.entries.items():
            _put(inner, [name], child)
        into.entries[step] = Entry(entry.key, inner)
    elif old is not None and isinstance(old.value, Mapping) and isinstance(entry.value, Scalar):
        # `viewer_dtl: other.mp4` beside keys of the same blank: the short form is one of its keys.
        old.value.entries[SHORT] = entry
    else:
        into.entries[step] = entry


def _inside(old: Entry | None, entry: Entry) -> Mapping:
    """The mapping to go on in: the old one, or a new one in which the short form becomes a key."""
    if old is not None and isinstance(old.value, Mapping):
        return Mapping(old.value.start, old.value.end, old.value.flow, dict(old.value.entries))
    inner = Mapping(entry.key.start, entry.key.end, False)
    if old is not None:
        inner.entries[EARLIER] = old
    return inner


SHORT, EARLIER = "=", "=?"
"""Among the keys of a person or a clip: a value that was written alone, the name shown or the path. The first comes
before the key that it stands for, the second behind it."""

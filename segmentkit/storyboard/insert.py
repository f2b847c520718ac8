"""Adds a key to a mapping of a storyboard's text, in the way the mapping is written; the rest stays as it is."""

from __future__ import annotations

from typing import Any

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Mapping, Node, compose, plain
from segmentkit.storyboard.faults import Source, unreadable


def insert_scalar(text: str, path: tuple[str | int, ...], value: str, file: str = "storyboard.yaml") -> str:
    """The text with one more key, after the last one of its mapping: within braces, or on a line of its own.

    Args:
        text: a storyboard.
        path: leads to the new key; all but its last step must be there.
        value: plain text without anything that YAML reads as its own.
        file: what errors call the text.

    Raises:
        StoryboardUnreadable: when the text has faults, when there is no such mapping, when it has the key already, or
            when it is shared with other places by an anchor.
    """
    source = Source(text, file)
    tree = _tree(source)
    mapping, name = _mapping(source, tree, path), str(path[-1])
    last = list(mapping.entries.values())[-1]
    if mapping.flow:
        at = last.value.end
        written = f", {name}: {value}"
    else:
        at = last.value.start + len(text[last.value.start : last.value.end].rstrip())
        # A comment behind the last value stays behind it.
        at = source.line_start(at) + len(source.line_text(at))
        column = last.key.start - source.line_start(last.key.start)
        newline = "\r\n" if "\r\n" in text else "\n"
        written = f"{newline}{' ' * column}{name}: {value}"
    candidate = text[:at] + written + text[at:]
    again = compose(Source(candidate, file))
    if again.faults or again.root is None or plain(again.root) != _with(plain(tree), path, value):
        place = source.place(mapping.start)
        raise StoryboardUnreadable(f"{place} — {name} cannot be added here without moving other text — add it by hand")
    return candidate


def _tree(source: Source) -> Node:
    composed = compose(source)
    if composed.faults or composed.root is None:
        raise unreadable(composed.faults)
    return composed.root


def _mapping(source: Source, tree: Node, path: tuple[str | int, ...]) -> Mapping:
    found = locate.find(tree, path[:-1])
    place = source.place(locate.spot(found)[0])
    where = ".".join(str(step) for step in path[:-1])
    if not found.whole or not isinstance(found.node, Mapping) or not found.node.entries:
        raise StoryboardUnreadable(f"{place} — {where} is no mapping with keys — a key can only be added to one")
    if str(path[-1]) in found.node.entries:
        raise StoryboardUnreadable(f"{place} — {where} has {path[-1]} already — replace its value instead")
    if any(locate.find(tree, path[:depth]).node.anchored for depth in range(len(path))):
        raise StoryboardUnreadable(f"{place} — {where} is shared with other places by an anchor — change it by hand")
    return found.node


def _with(data: Any, path: tuple[str | int, ...], value: str) -> Any:
    """A copy of plain data with one more key."""
    step, rest = path[0], path[1:]
    if not rest:
        return {**data, step: value}
    if isinstance(data, list):
        index = int(step)
        return [*data[:index], _with(data[index], rest, value), *data[index + 1 :]]
    return {**data, step: _with(data[step], rest, value)}

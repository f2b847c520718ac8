"""Writes values back into a storyboard's text, touching only the characters of those values.

A person's comments, order, spacing and quotes stay as they are. What was written is read again before it is handed
back: the tree must be the old one with the new values, or the next way of quoting is tried.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from collections.abc import Mapping as Mappings
from typing import Any

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Node, Scalar, compose, plain
from segmentkit.storyboard.faults import Source, unreadable

_LEAST_WIDTH = 40
_ESCAPES = {
    "\\": "\\\\",
    '"': '\\"',
    "\n": "\\n",
    "\t": "\\t",
    "\r": "\\r",
    "\x85": "\\N",
    "\u2028": "\\L",
    "\u2029": "\\P",
}


def replace_scalars(text: str, values: Mappings[tuple[str | int, ...], str], file: str = "storyboard.yaml") -> str:
    """The text with some scalars written anew; every other character stays.

    A plain or quoted scalar keeps its style where the new value allows it. A block scalar (`>` or `|`) keeps its header
    and indentation, and the final line end that belongs to it.

    Args:
        text: a storyboard.
        values: the new value for each path of keys and indexes.
        file: what errors call the text.

    Raises:
        StoryboardUnreadable: when the text has faults, when no scalar is written at a path, or when it is shared with
            other places by an anchor.
    """
    for path, value in values.items():
        text = _replaced(text, path, value, file)
    return text


def _replaced(text: str, path: tuple[str | int, ...], value: str, file: str) -> str:
    source = Source(text, file)
    tree = _tree(source)
    scalar = _scalar(source, tree, path)
    wanted = _with(plain(tree), path, value)
    for start, end, written in _ways(source, scalar, value):
        candidate = text[:start] + written + text[end:]
        again = compose(Source(candidate, file))
        if again.complete and not again.faults and again.root is not None:
            found = plain(again.root)
            if _same(found, wanted, path, block=scalar.style in {"|", ">"}):
                return candidate
    place = source.place(scalar.start)
    raise StoryboardUnreadable(f"{place} — the new value has characters that cannot be written here — leave them out")


def _tree(source: Source) -> Node:
    composed = compose(source)
    if composed.faults or composed.root is None:
        raise unreadable(composed.faults)
    return composed.root


def _scalar(source: Source, tree: Node, path: tuple[str | int, ...]) -> Scalar:
    found = locate.find(tree, path)
    name = ".".join(str(step) for step in path)
    place = source.place(locate.spot(found)[0])
    if not found.whole or not isinstance(found.node, Scalar):
        what = "is a mapping or a list" if found.whole else "is not written"
        raise StoryboardUnreadable(f"{place} — {name} {what} — only a single value that is there can be replaced")
    if any(locate.find(tree, path[:depth]).node.anchored for depth in range(len(path) + 1)):
        raise StoryboardUnreadable(f"{place} — {name} is shared with other places by an anchor — change it by hand")
    return found.node


def _with(data: Any, path: tuple[str | int, ...], value: str) -> Any:
    """A copy of plain data with another value at a path."""
    if not path:
        return value
    step, rest = path[0], path[1:]
    if isinstance(data, list):
        index = int(step)
        return [*data[:index], _with(data[index], rest, value), *data[index + 1 :]]
    key = step if step in data else str(step).rstrip("_")
    return {**data, key: _with(data[key], rest, value)}


def _same(found: Any, wanted: Any, path: tuple[str | int, ...], *, block: bool) -> bool:
    if found == wanted or not block:
        return bool(found == wanted)
    # A block scalar ends with a line end of its own, which is not part of what was asked for.
    written = found
    for step in path:
        written = written[step if isinstance(step, int) or step in written else str(step).rstrip("_")]
    return isinstance(written, str) and bool(_with(found, path, written.rstrip("\n")) == wanted)


def _ways(source: Source, scalar: Scalar, value: str) -> Iterator[tuple[int, int, str]]:
    """Ways to write a value in place of a scalar, the present style first: start, end, new characters."""
    start, end = scalar.start, scalar.end
    if scalar.style in {"|", ">"}:
        end = start + len(source.text[start:end].rstrip())
        yield from _block(source, scalar, end, value)
    if start == end and start and not source.text[start - 1].isspace():
        ways = [" " + way for way in _inline(value, "")]
    else:
        ways = list(_inline(value, scalar.style))
    for way in ways:
        yield start, end, way


def _inline(value: str, style: str) -> Iterator[str]:
    one_line = not any(c in value for c in "\n\r\t\x85\u2028\u2029")
    if one_line and style == "" and value == value.strip():
        yield value
    if one_line and style == "'":
        yield "'" + value.replace("'", "''") + "'"
    yield '"' + "".join(_ESCAPES.get(c, c) for c in value) + '"'


def _block(source: Source, scalar: Scalar, end: int, value: str) -> Iterator[tuple[int, int, str]]:
    lines = source.text[scalar.start : end].splitlines()
    body = [line for line in lines[1:] if line.strip()]
    if not body or not value.strip():
        return
    newline = "\r\n" if "\r\n" in source.text[scalar.start : end] else "\n"
    indent = body[0][: len(body[0]) - len(body[0].lstrip(" "))]
    width = max(_LEAST_WIDTH, max(len(line) for line in body) - len(indent))
    if scalar.style == "|":
        paragraphs = [value.splitlines()]
    else:
        paragraphs = [
            textwrap.wrap(part, width, break_long_words=False, break_on_hyphens=False) for part in value.split("\n")
        ]
    written = (newline * 2).join(newline.join(indent + line if line else "" for line in part) for part in paragraphs)
    yield scalar.start, end, lines[0] + newline + written

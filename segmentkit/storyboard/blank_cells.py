"""Values as tables have them: several things in one cell; and the order in which keys are written out again."""

from __future__ import annotations

import re

from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar
from segmentkit.storyboard.explain import keys_of
from segmentkit.storyboard.people import Person


def cell(node: Scalar, separator: str) -> Listing:
    """A list written in one cell of a table."""
    words = [word for word in re.split(separator, (node.text or "").strip(" []()")) if word]
    return Listing(node.start, node.end, True, [Scalar(node.start, node.end, word) for word in words])


def split_cells(keys: Mapping, path: tuple[str, str]) -> None:
    """Turns the text of a cell at a path into a list, where there is one."""
    outer = keys.entries.get(path[0])
    if outer is None or not isinstance(outer.value, Mapping):
        return
    inner = outer.value.entries.get(path[1])
    if inner is not None and isinstance(inner.value, Scalar) and inner.value.text:
        inside = dict(outer.value.entries)
        inside[path[1]] = Entry(inner.key, cell(inner.value, r"[\s,;]+"))
        made = Mapping(outer.value.start, outer.value.end, True, inside)
        keys.entries[path[0]] = Entry(outer.key, made)


def points_in_cells(keys: Mapping) -> None:
    """Points that stand in cells of a table, `0.45 0.86`, as lists."""
    focus = keys.entries.get("focus")
    if focus is not None and isinstance(focus.value, Scalar) and focus.value.text:
        keys.entries["focus"] = Entry(focus.key, cell(focus.value, r"[\s,;]+"))
    points = keys.entries.get("points")
    if points is None or not isinstance(points.value, Mapping):
        return
    made = Mapping(points.value.start, points.value.end, points.value.flow)
    for position, entry in points.value.entries.items():
        inner = entry.value
        if isinstance(inner, Mapping):
            spots = {
                n: Entry(e.key, cell(e.value, r"[\s,;]+") if isinstance(e.value, Scalar) and e.value.text else e.value)
                for n, e in inner.entries.items()
            }
            inner = Mapping(inner.start, inner.end, True, spots)
        made.entries[position] = Entry(entry.key, inner)
    keys.entries["points"] = Entry(points.key, made)


_ORDER = (
    *keys_of(Person), "file", "person", "view", "camera", "captured", "mirrored", "zoom", "focus", "positions",
    "points",
)  # fmt: skip


def in_order(keys: Mapping) -> Mapping:
    """The keys of a person or a picture in the order in which one reads them; what is inside on one line each."""
    names = sorted(keys.entries, key=lambda n: _ORDER.index(n) if n in _ORDER else len(_ORDER))
    made = {name: keys.entries[name] for name in names}
    for name, entry in made.items():
        inner = entry.value
        if not isinstance(inner, Mapping):
            continue
        if name == "points":
            spots = {at: Entry(e.key, _on_a_line(e.value)) for at, e in inner.entries.items()}
            made[name] = Entry(entry.key, Mapping(inner.start, inner.end, False, spots))
        else:
            made[name] = Entry(entry.key, _on_a_line(inner))
    return Mapping(keys.start, keys.end, keys.flow, made)


def _on_a_line(node: Node) -> Node:
    if not isinstance(node, Mapping):
        return node
    first = [name for name in ("for",) if name in node.entries]
    entries = {name: node.entries[name] for name in (*first, *(n for n in node.entries if n not in first))}
    return Mapping(node.start, node.end, True, entries)

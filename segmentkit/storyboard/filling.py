"""Puts values into the places of a template's storyboard; the outcome is a tree whose every spot is still known."""

from __future__ import annotations

import re
from collections.abc import Mapping as Mappings

from segmentkit.storyboard.atlas import Atlas
from segmentkit.storyboard.blank_values import Filled
from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar, plain
from segmentkit.storyboard.faults import Fault
from segmentkit.storyboard.places import CHOOSE, GIVEN, JOIN, OTHERWISE, PLACE, WHEN, Condition, read_condition


class Filler:
    """Fills a tree; what is not given and has no default is left out with its key."""

    def __init__(self, filled: Mappings[str, Filled], atlas: Atlas) -> None:
        self.filled = filled
        self.atlas = atlas
        self.faults: list[Fault] = []

    def node(self, node: Node) -> Node | None:
        """The node with its places filled; None where nothing is left of it."""
        match node:
            case Scalar():
                return self._scalar(node)
            case Listing(items=items):
                kept = [made for item in items if (made := self.node(item)) is not None]
                return Listing(node.start, node.end, node.flow, kept) if kept or not items else None
            case Mapping(entries=entries):
                if WHEN in entries and not self._holds(entries[WHEN].value):
                    return None
                if CHOOSE in entries:
                    return self._chosen(node)
                if JOIN in entries:
                    return self._joined(node)
                return self._mapping(node)

    def _mapping(self, node: Mapping) -> Mapping | None:
        made = Mapping(node.start, node.end, node.flow)
        for name, entry in node.entries.items():
            value = self.node(entry.value) if name != WHEN else None
            if value is None:
                continue
            key = self._inserted(entry.key, name)
            old = made.entries.get(key)
            if old is None:
                made.entries[key] = Entry(Scalar(entry.key.start, entry.key.end, key), value)
            elif plain(old.value) != plain(value):
                self.faults.append(self.atlas.fault(
                    entry.key.start, entry.key.end,
                    f"`{key}` stands here twice with different content — give the two different names",
                ))  # fmt: skip
        return made if made.entries or not node.entries else None

    def _scalar(self, node: Scalar) -> Node | None:
        if node.text is None:
            return None
        alone = PLACE.fullmatch(node.text.strip())
        if alone:
            return self._whole(node, alone[1])
        return Scalar(node.start, node.end, self._inserted(node, node.text), node.style)

    def _whole(self, node: Scalar, part: str) -> Node | None:
        name, _, rest = part.partition(".")
        filled = self.filled.get(name)
        if filled is None:
            return None
        if not rest:
            return filled.node
        if rest in filled.parts:
            at = _inner(filled.node, rest) or node
            return Scalar(at.start, at.end, filled.parts[rest])
        return _inner(filled.node, rest)

    def _inserted(self, node: Scalar, text: str) -> str:
        """A text with its places filled; what was filled in is not read again."""

        def word(match: re.Match[str]) -> str:
            found = self._text_of(match[1])
            if found is None:
                self.faults.append(self.atlas.fault(
                    *self.atlas.narrowed((node.start, node.end), match[0]),
                    f"{match[0]} is not filled in, and these words need it — fill it in",
                ))  # fmt: skip
                return ""
            return found

        return " ".join(PLACE.sub(word, text).split())

    def _text_of(self, part: str) -> str | None:
        name, _, rest = part.partition(".")
        filled = self.filled.get(name)
        if filled is None:
            return None
        return filled.parts.get(rest) if rest else filled.text

    def _key_of(self, part: str) -> str | None:
        name, _, rest = part.partition(".")
        filled = self.filled.get(name)
        if filled is None:
            return None
        if not rest:
            return filled.key
        found = filled.parts.get(rest)
        if found is None and any(one.startswith(f"{rest}.") for one in filled.parts):
            return GIVEN
        return found

    def _holds(self, node: Node) -> bool:
        condition = read_condition(node.text or "") if isinstance(node, Scalar) else None
        return condition is not None and self._true(condition)

    def _true(self, condition: Condition) -> bool:
        key = self._key_of(condition.part)
        same = key is not None if condition.value == GIVEN else key == condition.value
        return same is not condition.negated

    def _chosen(self, node: Mapping) -> Node | None:
        asked = node.entries[CHOOSE].value
        key = self._key_of((asked.text or "").strip()) if isinstance(asked, Scalar) else None
        for name in (key, GIVEN if key is not None else None, OTHERWISE):
            if name is not None and name in node.entries and name not in {CHOOSE, WHEN}:
                return self.node(node.entries[name].value)
        return None

    def _joined(self, node: Mapping) -> Node | None:
        parts = self.node(node.entries[JOIN].value)
        if not isinstance(parts, Listing):
            return None
        texts = []
        for item in parts.items:
            if isinstance(item, Scalar):
                texts.append(" ".join((item.text or "").split()))
            else:
                self.faults.append(self.atlas.fault(
                    item.start, max(item.end, item.start + 1), "`join` puts texts in a row — this is none"
                ))  # fmt: skip
        text = " ".join(one for one in texts if one)
        return Scalar(node.start, node.end, text, ">") if text else None


def _inner(node: Node, path: str) -> Node | None:
    """The node at a dotted path of a value, if it is written."""
    for step in path.split("."):
        match node:
            case Mapping(entries=entries) if step in entries:
                node = entries[step].value
            case Listing(items=items) if step.isdigit() and 0 < int(step) <= len(items):
                node = items[int(step) - 1]
            case _:
                return None
    return node

"""Several texts as one: trees of different files side by side, each spot still known by its own file and line.

A filled storyboard is made of a template and of values, and a fault in it belongs to one of them. Spans are shifted, so
that whatever reports faults for one text reports them for many.
"""

from __future__ import annotations

from bisect import bisect_right

from segmentkit.findings import Place
from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar
from segmentkit.storyboard.faults import Fault, Source


class Atlas(Source):
    """Sources one after the other; a character index leads to its source."""

    def __init__(self) -> None:
        super().__init__("", "")
        self._sources: list[Source] = []
        self._offsets: list[int] = []
        self._next = 0

    def add(self, source: Source, tree: Node) -> Node:
        """Takes a text in; returns its tree with spans that this atlas understands."""
        offset = self._next
        self._sources.append(source)
        self._offsets.append(offset)
        self._next += len(source.text) + 2
        return _shifted(tree, offset)

    def at(self, index: int) -> tuple[Source, int]:
        """The source that holds a character, and where the source starts."""
        which = max(0, bisect_right(self._offsets, index) - 1)
        return self._sources[which], self._offsets[which]

    def place(self, index: int) -> Place:
        """The place of a character in its own file."""
        source, offset = self.at(index)
        return source.place(index - offset)

    def narrowed(self, span: tuple[int, int], literal: str) -> tuple[int, int]:
        """The characters of a literal within a span; else the whole span."""
        source, offset = self.at(span[0])
        start, end = source.narrowed((span[0] - offset, span[1] - offset), literal)
        return start + offset, end + offset

    def fault(self, start: int, end: int, message: str, where: str = "") -> Fault:
        """A fault at a span of one of the texts."""
        source, offset = self.at(start)
        return source.fault(start - offset, end - offset, message, where)


def _shifted(node: Node, by: int) -> Node:
    """A tree whose spans lie further on; what anchors share becomes separate."""
    match node:
        case Scalar():
            return Scalar(node.start + by, node.end + by, node.text, node.style)
        case Listing():
            return Listing(node.start + by, node.end + by, node.flow, [_shifted(item, by) for item in node.items])
        case Mapping():
            entries = {
                name: Entry(Scalar(e.key.start + by, e.key.end + by, e.key.text, e.key.style), _shifted(e.value, by))
                for name, e in node.entries.items()
            }
            return Mapping(node.start + by, node.end + by, node.flow, entries)

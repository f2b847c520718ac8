"""YAML text to a located tree, with every scalar handed on as text.

PyYAML's events are used and nothing above them: no guesses about types, no tags, no recursion. The C parser serves
where it is built in; the Python one gives the same events. What a text must not do is a located fault: duplicate keys,
tags, merge keys, aliases that loop or multiply, nesting without end.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NoReturn

import yaml

from segmentkit.storyboard.faults import Fault, Source
from segmentkit.storyboard.syntax import broken_syntax

MOST_BYTES = 2_000_000
MOST_NODES = 100_000
MOST_FROM_ALIASES = 2_000
DEEPEST = 40

_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")
_NOTHING = frozenset({"", "~", "null", "Null", "NULL"})
_PROPERTIES = re.compile(r"(?:[&!]\S*\s+)+")


@dataclass(slots=True)
class Scalar:
    """A text of the file.

    Attributes:
        start: index of its first character, quotes included; `end` is after its last.
        text: its content; None when nothing, `~` or `null` stands there without quotes.
        style: "" plain, `'`, `"`, `|` or `>`.
        anchored: whether it carries an anchor, so that other spots may share it.
        size: number of nodes, aliases expanded; always 1.
    """

    start: int
    end: int
    text: str | None
    style: str = ""
    anchored: bool = False
    size: int = 1


@dataclass(slots=True)
class Listing:
    """A YAML sequence; `flow` when written with brackets."""

    start: int
    end: int
    flow: bool
    items: list[Node] = field(default_factory=list)
    anchored: bool = False
    size: int = 1


@dataclass(slots=True)
class Entry:
    """A key of a mapping with its value."""

    key: Scalar
    value: Node


@dataclass(slots=True)
class Mapping:
    """A YAML mapping, keys in the order written; `flow` when written with braces."""

    start: int
    end: int
    flow: bool
    entries: dict[str, Entry] = field(default_factory=dict)
    anchored: bool = False
    size: int = 1


Node = Scalar | Listing | Mapping


@dataclass(frozen=True, slots=True)
class Composed:
    """What a text gave: its tree, if any, and its faults; `complete` when the text was read to its end."""

    root: Node | None
    faults: tuple[Fault, ...]
    complete: bool


class _StopError(Exception):
    """Reading cannot go on after the fault just noted."""


def plain(node: Node) -> Any:
    """A tree as dicts, lists, texts and None."""
    match node:
        case Scalar(text=text):
            return text
        case Listing(items=items):
            return [plain(item) for item in items]
        case Mapping(entries=entries):
            return {name: plain(entry.value) for name, entry in entries.items()}


def compose(source: Source) -> Composed:
    """Reads a text; never raises for anything that stands in it."""
    builder = _Builder(source)
    try:
        builder.look_at_characters()
        builder.read()
    except _StopError:
        return Composed(builder.root, tuple(builder.faults), complete=False)
    except yaml.YAMLError as error:
        builder.faults.append(broken_syntax(error, source, builder.open_bracket))
        return Composed(builder.root, tuple(builder.faults), complete=False)
    return Composed(builder.root, tuple(builder.faults), complete=builder.root is not None)


def _events(text: str) -> Iterator[Any]:
    loader = yaml.CSafeLoader if yaml.__with_libyaml__ else yaml.SafeLoader
    return iter(yaml.parse(text, Loader=loader))


class _Builder:
    """Turns events into a tree with a stack of its own, so that no depth can exhaust Python's."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.faults: list[Fault] = []
        self.root: Node | None = None
        self._open: list[Listing | Mapping] = []
        self._keys: list[Scalar | None] = []
        self._anchors: dict[str, Node] = {}
        self._nodes = 0
        self._from_aliases = 0

    def look_at_characters(self) -> None:
        text = self.source.text
        if not text.strip("\ufeff \t\r\n"):
            self._stop(0, 0, "the file is empty — start it with `segmentkit: 1`")
        if len(text) > MOST_BYTES:
            self._stop(0, 0, f"the text has {len(text):,} characters — at most {MOST_BYTES:,} are read")
        # A byte order mark may come first. Elsewhere it is invisible, and the two parsers do not agree on it.
        if match := _UNPRINTABLE.search(text, 1 if text.startswith("\ufeff") else 0):
            code = f"U+{ord(match[0]):04X}"
            self._stop(match.start(), match.end(), f"the character {code} cannot be shown or typed — delete it")

    def read(self) -> None:
        # A byte order mark is dropped by the Python parser and counted by neither in the same way: it is cut off here.
        skip = 1 if self.source.text.startswith("\ufeff") else 0
        documents = 0
        for event in _events(self.source.text[skip:]):
            start, end = event.start_mark.index + skip, event.end_mark.index + skip
            match event:
                case yaml.DocumentStartEvent():
                    documents += 1
                    if documents > 1:
                        self._stop(
                            start,
                            end,
                            "a second document starts here — a storyboard is one document, without `---` inside",
                        )
                case yaml.AliasEvent():
                    self._alias(start, end, str(event.anchor))
                case yaml.ScalarEvent():
                    self._scalar(event, start, end)
                case yaml.SequenceStartEvent() | yaml.MappingStartEvent():
                    self._begin(event, start, end)
                case yaml.SequenceEndEvent() | yaml.MappingEndEvent():
                    self._finish(end)
                case _:
                    pass
        if self.root is None or (isinstance(self.root, Scalar) and self.root.text is None):
            self._stop(0, 0, "the file is empty — start it with `segmentkit: 1`")

    @property
    def open_bracket(self) -> int | None:
        """Where the innermost bracket or brace that is still open stands."""
        return next((node.start for node in reversed(self._open) if node.flow), None)

    def _note(self, start: int, end: int, message: str) -> None:
        self.faults.append(self.source.fault(start, end, message))

    def _stop(self, start: int, end: int, message: str) -> NoReturn:
        self._note(start, end, message)
        raise _StopError

    def _count(self, start: int, end: int) -> None:
        self._nodes += 1
        if self._nodes > MOST_NODES:
            self._stop(start, end, f"the text has more than {MOST_NODES:,} values — a storyboard needs far fewer")

    def _refuse_tag(self, event: Any, start: int) -> None:
        if event.tag is not None:
            written = re.match(r"(?:&\S+\s+)?(!\S*)", self.source.text[start : start + 300])
            name = written[1] if written else "!"
            at = start + (written.start(1) if written else 0)
            self._note(at, at + len(name), f"the tag `{name}` is not read — delete it; every value is plain text here")

    def _anchor(self, event: Any, node: Node) -> None:
        if event.anchor is not None:
            node.anchored = True
            self._anchors[event.anchor] = node

    def _scalar(self, event: Any, start: int, end: int) -> None:
        self._count(start, end)
        self._refuse_tag(event, start)
        if (event.anchor is not None or event.tag is not None) and (
            properties := _PROPERTIES.match(self.source.text, start, end)
        ):
            start = properties.end()
        style = event.style if event.style in {"'", '"', "|", ">"} else ""
        nothing = not style and event.value in _NOTHING
        node = Scalar(start, end, None if nothing else event.value, style)
        self._anchor(event, node)
        self._put(node)

    def _begin(self, event: Any, start: int, end: int) -> None:
        self._count(start, end)
        self._refuse_tag(event, start)
        if len(self._open) >= DEEPEST:
            self._stop(start, end, f"this is nested more than {DEEPEST} levels deep — a storyboard needs about eight")
        kind = Listing if isinstance(event, yaml.SequenceStartEvent) else Mapping
        if (event.anchor is not None or event.tag is not None) and (
            properties := _PROPERTIES.match(self.source.text, start)
        ):
            start = properties.end()
        node = kind(start, end, bool(event.flow_style))
        self._anchor(event, node)
        self._open.append(node)
        self._keys.append(None)

    def _finish(self, end: int) -> None:
        node = self._open.pop()
        self._keys.pop()
        node.end = end if node.flow else max(node.end, self._last_end(node))
        self._put(node)

    def _last_end(self, node: Listing | Mapping) -> int:
        children: list[Node] = node.items if isinstance(node, Listing) else [e.value for e in node.entries.values()]
        return children[-1].end if children else node.start

    def _alias(self, start: int, end: int, name: str) -> None:
        self._count(start, end)
        target = self._anchors.get(name)
        if target is None:
            self._note(start, end, f"`*{name}` refers to `&{name}`, which does not stand above — write the value out")
            self._put(Scalar(start, end, f"*{name}"))
            return
        if any(target is node for node in self._open):
            self._note(
                start, end, f"`*{name}` stands inside its own `&{name}` and would never end — write the value out"
            )
            self._put(Scalar(start, end, f"*{name}"))
            return
        self._from_aliases += target.size
        if self._from_aliases > MOST_FROM_ALIASES:
            self._stop(start, end, f"aliases multiply to more than {MOST_FROM_ALIASES:,} values — write the values out")
        self._put(target)

    def _put(self, node: Node) -> None:
        if not self._open:
            self.root = node
            return
        parent = self._open[-1]
        parent.size += node.size
        if isinstance(parent, Listing):
            parent.items.append(node)
            return
        key = self._keys[-1]
        if key is None:
            self._keys[-1] = self._as_key(node)
            return
        self._keys[-1] = None
        self._enter(parent, key, node)

    def _as_key(self, node: Node) -> Scalar:
        if not isinstance(node, Scalar):
            self._note(node.start, node.start + 1, "a key must be a plain word, not a list or a mapping")
            return Scalar(node.start, node.start + 1, None)
        if node.text is None and self.source.text[node.start : node.end] not in _NOTHING - {""}:
            self._note(node.start, node.end, "a key is missing before the ':'")
        return node

    def _enter(self, parent: Mapping, key: Scalar, value: Node) -> None:
        name = key.text if key.text is not None else self.source.text[key.start : key.end]
        if key.text is None and name not in _NOTHING - {""}:
            return
        if name == "<<" and not key.style:
            self._note(key.start, key.end, "the merge key `<<` is not read — write the keys out")
        elif first := parent.entries.get(name):
            line = self.source.place(first.key.start).line
            self._note(key.start, key.end, f"`{name}` is written twice — the first one is in line {line}; keep one")
        else:
            parent.entries[name] = Entry(key, value)

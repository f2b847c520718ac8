"""Writes a tree as YAML that a person likes to go on editing: short things in braces, long words folded, comments kept.

Whatever stands in the values is data: it is quoted where YAML would read more into it.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable

from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar

WIDTH = 118
_PLAIN = re.compile(r"[^\W_][^\x00-\x1f]*|[_/+.$(<€£][\w<][^\x00-\x1f]*|-[\d.][^\x00-\x1f]*", re.UNICODE)
_NOTHING = frozenset({"", "~", "null", "Null", "NULL"})
Comments = Callable[[Entry | Node], list[str]]


def _none(_: Entry | Node) -> list[str]:
    return []


def write_yaml(tree: Mapping, comments: Comments = _none, airy: tuple[str, ...] = ("beats",)) -> str:
    """A mapping as YAML text.

    Args:
        tree: what to write; scalars without text are left out before.
        comments: lines, with their `#`, that belong above a key or an item of a list.
        airy: keys at the left edge whose items have an empty line before them.
    """
    lines: list[str] = []
    for number, (name, entry) in enumerate(tree.entries.items()):
        above = comments(entry)
        if number and (above or number > 1):
            lines.append("")
        lines += above
        lines += _entry(name, entry.value, 0, comments, airy=name in airy)
    return "\n".join(lines) + "\n"


def _entry(name: str, value: Node, indent: int, comments: Comments, *, airy: bool = False) -> list[str]:
    head = f"{' ' * indent}{scalar(name, flow=False)}:"
    match value:
        case Scalar():
            return _text(head, value.text or "", indent, marked=value.style in {">", "|"})
        case _ if short := _one_line(head, value):
            return [short]
        case Mapping(flow=True) if all(_leaf(e.value) for e in value.entries.values()):
            parts = [f"{scalar(k, flow=True)}: {flow(e.value)}" for k, e in value.entries.items()]
            return _wrapped(head, parts)
        case Mapping():
            lines = [head]
            for key, entry in value.entries.items():
                lines += [" " * (indent + 2) + line for line in comments(entry)]
                lines += _entry(key, entry.value, indent + 2, comments)
            return lines
        case Listing():
            lines = [head]
            for number, item in enumerate(value.items):
                if airy and number:
                    lines.append("")
                lines += [" " * (indent + 2) + line for line in comments(item)]
                lines += _item(item, indent + 2, comments)
            return lines


def _item(item: Node, indent: int, comments: Comments) -> list[str]:
    dash = f"{' ' * indent}-"
    match item:
        case Scalar():
            return _text(dash, item.text or "", indent, marked=False)
        case _ if short := _one_line(dash, item):
            return [short]
        case Mapping(flow=True) if len(item.entries) > 1 and all(_leaf(e.value) for e in item.entries.values()):
            return _wrapped(dash, [f"{scalar(k, flow=True)}: {flow(e.value)}" for k, e in item.entries.items()])
        case Mapping():
            lines: list[str] = []
            for number, (key, entry) in enumerate(item.entries.items()):
                if number:
                    lines += [" " * (indent + 2) + line for line in comments(entry)]
                lines += _entry(key, entry.value, indent + 2, comments)
            return [f"{dash} {lines[0].lstrip()}", *lines[1:]]
        case Listing():
            lines = []
            for inner in item.items:
                lines += _item(inner, indent + 2, comments)
            return [f"{dash} {lines[0].lstrip()}", *lines[1:]]


def _leaf(node: Node) -> bool:
    """Whether a value stays on one line within braces: a text, or a short list of texts."""
    match node:
        case Scalar():
            return True
        case Listing(items=items):
            return all(isinstance(item, Scalar) for item in items)
        case Mapping():
            return False


def _one_line(head: str, value: Mapping | Listing) -> str | None:
    """The whole in brackets or braces, where it was written so and is short enough, or where it is empty."""
    empty = not (value.entries if isinstance(value, Mapping) else value.items)
    points = isinstance(value, Listing) and len(value.items) <= 3 and _leaf(value) and len(flow(value)) < 40
    # A list of mappings reads like `- lower_third: {…}`: the mapping with one key keeps its own braces inside.
    alone = isinstance(value, Mapping) and len(value.entries) == 1 and head.endswith("-")
    written = f"{head} {flow(value)}"
    if empty or points or (value.flow and not alone and len(written) <= WIDTH):
        return written
    return None


def _wrapped(head: str, parts: list[str]) -> list[str]:
    """Braces over several lines."""
    lines, current = [], head + " {"
    hang = " " * len(current)
    for number, part in enumerate(parts):
        piece = part + ("," if number + 1 < len(parts) else "}")
        if len(current) + len(piece) + 1 > WIDTH and current.strip() and not current.endswith("{"):
            lines.append(current.rstrip())
            current = hang + piece
        else:
            current += piece if current.endswith("{") else " " + piece
    return [*lines, current]


def _text(head: str, text: str, indent: int, *, marked: bool) -> list[str]:
    written = f"{head} {scalar(text, flow=False)}"
    if len(written) <= WIDTH and not (marked and len(written) > WIDTH * 2 // 3):
        return [written]
    if " " not in text:
        return [written]
    pad = " " * (indent + 2)
    folded = textwrap.wrap(text, WIDTH - len(pad), break_long_words=False, break_on_hyphens=False)
    return [f"{head} >", *(pad + line for line in folded)]


def flow(node: Node) -> str:
    """A value within brackets or braces."""
    match node:
        case Scalar(text=text):
            return scalar(text or "", flow=True)
        case Listing(items=items):
            return "[" + ", ".join(flow(item) for item in items) + "]"
        case Mapping(entries=entries):
            return "{" + ", ".join(f"{scalar(k, flow=True)}: {flow(e.value)}" for k, e in entries.items()) + "}"


def scalar(text: str, *, flow: bool) -> str:
    """A text, quoted if YAML would read it as anything else."""
    if _is_plain(text, flow):
        return text
    if "'" in text and '"' not in text and "\\" not in text:
        return f'"{text}"'
    return "'" + text.replace("'", "''") + "'"


def _is_plain(text: str, flow: bool) -> bool:
    if text in _NOTHING or text != text.strip() or not _PLAIN.fullmatch(text):
        return False
    if ": " in text or " #" in text or text.endswith(":") or "\t" in text:
        return False
    if flow and (any(c in text for c in ",[]{}") or re.search(r":(?!\d)", text)):
        return False
    return not text.startswith(("---", "..."))

"""From a path of keys and indexes to the spot in the text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from segmentkit.storyboard.compose import Listing, Mapping, Node, Scalar

Step = str | int
Path = Sequence[Step]


@dataclass(frozen=True, slots=True)
class Moved:
    """A part of a version that is written elsewhere in the text: its path in the model, and its path in the text."""

    here: tuple[Step, ...]
    written: tuple[Step, ...]


def written_at(path: Path, moved: Sequence[Moved]) -> tuple[Step, ...]:
    """The path in the text of a path in the model of a version; the longest part that was moved counts."""
    steps = tuple(path)
    found = max(
        (one for one in moved if steps[: len(one.here)] == one.here), key=lambda one: len(one.here), default=None
    )
    return steps if found is None else (*found.written, *steps[len(found.here) :])


@dataclass(frozen=True, slots=True)
class Found:
    """The deepest node on a path that is in the text.

    Attributes:
        node: the value there.
        key: the key before it, for values of mappings.
        whole: whether the entire path was found.
    """

    node: Node
    key: Scalar | None
    whole: bool


def find(root: Node, path: Path) -> Found:
    """Follows a path as far as the text goes; `from_` finds the key `from`."""
    node, key = root, None
    for step in path:
        match node:
            case Mapping(entries=entries) if entry := entries.get(str(step)) or entries.get(str(step).rstrip("_")):
                node, key = entry.value, entry.key
            case Listing(items=items) if isinstance(step, int) and -len(items) <= step < len(items):
                node, key = items[step], None
            case _:
                return Found(node, key, whole=False)
    return Found(node, key, whole=True)


def spot(found: Found) -> tuple[int, int]:
    """The characters to show for a value: a scalar itself; of anything larger its key, first key or bracket."""
    match found.node:
        case Scalar(start=start, end=end) if end > start:
            return start, end
        case _ if found.key is not None:
            return found.key.start, found.key.end
        case Mapping(entries=entries, flow=False) if entries:
            first = next(iter(entries.values())).key
            return first.start, first.end
        case node:
            return node.start, max(node.end, node.start + 1)


def inner_spot(found: Found) -> tuple[int, int]:
    """As `spot`, but brackets and braces stand for themselves: for faults of what is inside them."""
    if isinstance(found.node, Listing | Mapping) and found.node.flow:
        return found.node.start, found.node.end
    return spot(found)


def key_spot(root: Node, path: Path) -> tuple[int, int]:
    """The key at a path; the spot of the value where there is no key."""
    found = find(root, path)
    return (found.key.start, found.key.end) if found.key is not None and found.whole else spot(found)


def where(root: Node, path: Path) -> str:
    """What a person calls a spot: `beat impact, stroke hip_gap, draw`."""
    words: list[str] = []
    singular = {
        "beats": "beat", "strokes": "stroke", "clips": "clip", "stills": "still", "people": "person",
        "speakers": "speaker", "show": "shot", "cards": "card", "music": "music", "positions": "position",
        "points": "points", "say": "item", "deliver": "deliver", "cuts": "cut",
    }  # fmt: skip
    collection = ""
    for index, step in enumerate(path):
        found = find(root, path[: index + 1])
        if isinstance(step, int):
            name = _own_name(found.node) if found.whole and collection == "beats" else None
            label = singular.get(collection, "item")
            words.append(f"{label} {name}" if name else f"{label} {step + 1}")
            collection = ""
        elif collection:
            words.append(f"{singular.get(collection, collection)} {step}")
            collection = ""
        elif step in {"beats", "strokes", "clips", "stills", "people", "speakers", "positions", "points", "cuts"} or (
            step in {"show", "cards", "music", "say", "deliver"} and index + 1 < len(path)
        ):
            collection = step
        else:
            words.append(step)
    if collection:
        words.append(collection)
    return ", ".join(words)


def _own_name(node: Node) -> str | None:
    if isinstance(node, Scalar):
        return node.text  # a cut names beats of the segment
    if isinstance(node, Mapping) and (entry := node.entries.get("beat")) and isinstance(entry.value, Scalar):
        return entry.value.text
    return None

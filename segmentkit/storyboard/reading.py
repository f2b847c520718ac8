"""From a file's bytes to a validated model of any kind, or every fault at once.

The storyboard itself is read by `load`; looks and profiles come in by `read_as`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from pydantic import BaseModel, ValidationError

from segmentkit.errors import StoryboardUnreadable
from segmentkit.storyboard.compose import MOST_BYTES, Node, Scalar, compose, plain
from segmentkit.storyboard.explain import explain
from segmentkit.storyboard.faults import Fault, Source, unreadable

Model = TypeVar("Model", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Read(Generic[Model]):
    """What a text gave: the model, unless there are faults; the located tree; the faults."""

    model: Model | None
    tree: Node
    faults: tuple[Fault, ...]


def read_model(kind: type[Model], source: Source) -> Read[Model]:
    """Reads a text as a model; faults are returned, not raised."""
    composed = compose(source)
    tree = composed.root or Scalar(0, 0, None)
    if not composed.complete:
        return Read(None, tree, composed.faults)
    try:
        model = kind.model_validate(plain(tree))
    except ValidationError as error:
        # A spot that YAML's own faults name is not named twice: what validation sees there only follows.
        known = {(fault.place.line, fault.place.column) for fault in composed.faults}
        found = explain(error, kind, tree, source)
        fresh = tuple(fault for fault in found if (fault.place.line, fault.place.column) not in known)
        return Read(None, tree, composed.faults + fresh)
    return Read(model, tree, composed.faults)


def read_as(kind: type[Model], text: str, name: str) -> Model:
    """Reads a YAML text as a model, with all the care that a storyboard gets.

    Args:
        kind: the model's class.
        text: the text.
        name: what faults call the file.

    Raises:
        StoryboardUnreadable: with all faults at once.
    """
    read = read_model(kind, Source(text, name))
    if read.faults or read.model is None:
        raise unreadable(read.faults)
    return read.model


def read_text(path: Path) -> str:
    """A file's text as it stands, line ends included.

    Raises:
        StoryboardUnreadable: when there is no such file, it is too large, or it is not UTF-8.
    """
    try:
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise StoryboardUnreadable(f"{path} — has {size:,} bytes — at most {MOST_BYTES:,} are read")
        content = path.read_bytes()
    except OSError as error:
        raise StoryboardUnreadable(f"{path} — {_why(error)} — give the path of a storyboard file") from None
    return decoded(content, str(path))


def decoded(content: bytes, name: str) -> str:
    """Bytes as UTF-8 text.

    Raises:
        StoryboardUnreadable: with the place of the first byte that is not UTF-8.
    """
    try:
        return content.decode("utf-8")
    except UnicodeDecodeError as error:
        if content.startswith((b"\xff\xfe", b"\xfe\xff")):
            advice = "the text is UTF-16 — save it as UTF-8"
        else:
            advice = f"byte {error.start} (0x{content[error.start]:02X}) is not UTF-8 — save the text as UTF-8"
        before = content[: error.start].decode("utf-8")
        source = Source(before + content[error.start :].decode("utf-8", "replace"), name)
        raise unreadable([source.fault(len(before), len(before) + 1, advice)]) from None


def _why(error: OSError) -> str:
    match error:
        case FileNotFoundError():
            return "there is no such file"
        case IsADirectoryError():
            return "is a folder"
        case PermissionError():
            return "may not be read"
        case _:
            return (error.strerror or str(error)).lower()

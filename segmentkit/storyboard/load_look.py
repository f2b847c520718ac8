"""Finds and reads a look: a shipped one by its name, or a file of the producer's own."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.compose import Listing, Mapping, Node, compose, plain
from segmentkit.storyboard.faults import Fault, Source, suggestion, unreadable
from segmentkit.storyboard.look import Look


def shipped_looks() -> tuple[str, ...]:
    """Names of the looks that travel with segmentkit."""
    return tuple(sorted(path.stem for path in (templates_folder() / "looks").glob("*.yaml")))


def look_file(name_or_path: str, folder: Path) -> Path:
    """The file of a look: a shipped one by name, else a path from the storyboard's folder.

    Raises:
        StoryboardUnreadable: when there is no such look.
    """
    names = shipped_looks()
    if name_or_path in names:
        return templates_folder() / "looks" / f"{name_or_path}.yaml"
    path = folder / name_or_path
    if path.is_file():
        return path
    raise StoryboardUnreadable(
        f"look {name_or_path!r} — is neither a shipped look nor a file in {folder} — "
        f"{suggestion(name_or_path, names, 'look')}"
    )


def load_look(name_or_path: str, folder: Path) -> Look:
    """Reads a look; the folder of its fonts is made absolute.

    Args:
        name_or_path: a shipped look's name, or the path of a look file.
        folder: the storyboard's folder, from which paths count.

    Raises:
        StoryboardUnreadable: with every fault of the look file and its place.
    """
    path = look_file(name_or_path, folder)
    try:
        text = path.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        raise StoryboardUnreadable(
            f"{path} — byte {error.start} is not UTF-8 text — save the file with the encoding UTF-8"
        ) from None
    source = Source(text, path.name)
    composed = compose(source)
    if composed.faults or composed.root is None:
        raise unreadable(composed.faults)
    try:
        look = Look.model_validate(plain(composed.root))
    except ValidationError as error:
        raise unreadable(_located(error, composed.root, source)) from None
    fonts = _font_folder(look, path)
    if fonts is None:
        raise StoryboardUnreadable(
            f"{path.name}: type, folder — there is no font folder {look.type.folder!r} beside the look file or among "
            "the shipped ones — write the name of a folder that holds the fonts"
        )
    return look.model_copy(update={"type": look.type.model_copy(update={"folder": str(fonts)})})


def _font_folder(look: Look, path: Path) -> Path | None:
    wanted = look.type.folder
    places = (path.parent / wanted, templates_folder() / "fonts" / wanted)
    return next((place.resolve() for place in places if place.is_dir()), None)


def _located(error: ValidationError, root: Node, source: Source) -> list[Fault]:
    faults = []
    for entry in error.errors():
        node, where = root, []
        start, end = root.start, root.start + 1
        message = entry["msg"].removeprefix("Value error, ")
        for step in entry["loc"]:
            where.append(str(step))
            if isinstance(node, Mapping) and step in node.entries:
                key, node = node.entries[str(step)].key, node.entries[str(step)].value
                start, end = (key.start, key.end) if entry["type"] == "extra_forbidden" else (node.start, node.end)
            elif isinstance(node, Listing) and isinstance(step, int) and step < len(node.items):
                node = node.items[step]
                start, end = node.start, node.end
        match entry["type"]:
            case "extra_forbidden":
                message = "is not a key of a look — delete it, or correct its name"
            case "missing":
                message = "is missing — write it; the shipped look shows all keys"
            case "string_pattern_mismatch":
                message = "must be solid, dashed or dotted"
            case "model_type" | "model_attributes_type":
                message = "must be a block of keys"
            case _:
                pass
        faults.append(source.fault(start, end, message, ", ".join(where)))
    return faults

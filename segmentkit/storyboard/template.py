"""Templates: storyboards with named blanks. `load_template`, then `fill`; values come from files, tables, submissions.

A template says what it asks for (`blanks`), then holds an ordinary storyboard in which places such as `<viewer.shown>`
stand (`places`). Values are read by their kind (`blank_values`) and put in as data (`filling`); what comes out is
checked like any storyboard and written as one that a person goes on editing (`writing`).
"""

from __future__ import annotations

import re
from collections.abc import Mapping as Mappings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from segmentkit.errors import StoryboardUnreadable
from segmentkit.resources import templates_folder
from segmentkit.storyboard.atlas import Atlas
from segmentkit.storyboard.blank_values import BlankReader, Filled
from segmentkit.storyboard.blanks import Blank, BlankKind, TemplateFile
from segmentkit.storyboard.compose import Entry, Mapping, Node, Scalar, compose, plain
from segmentkit.storyboard.cut_faults import cut_faults, delivery_faults
from segmentkit.storyboard.expand import with_presets
from segmentkit.storyboard.explain import explain
from segmentkit.storyboard.faults import Fault, Source, listed, suggestion, unreadable
from segmentkit.storyboard.filling import Filler
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.places import place_faults
from segmentkit.storyboard.reading import read_model, read_text
from segmentkit.storyboard.references import located, reference_faults
from segmentkit.storyboard.scalars import NAME
from segmentkit.storyboard.submission_values import Record, read_records, values_from
from segmentkit.storyboard.values import Values, merged, read_values, values_of, values_of_text
from segmentkit.storyboard.writing import write_yaml

FOLDER = "segments"


@dataclass(frozen=True, slots=True, kw_only=True)
class Template:
    """A storyboard with blanks.

    Attributes:
        name: as it is called; of a file elsewhere, its name without the ending.
        about: what it is for.
        length: the slot as written; empty where a blank decides it.
        blanks: what it asks for, by name, in order.
        file: as faults show it.
    """

    name: str
    about: str
    length: str
    blanks: dict[str, Blank]
    file: str
    source: Source = field(repr=False)
    tree: Mapping = field(repr=False)

    @property
    def needed(self) -> tuple[str, ...]:
        """Blanks that somebody has to fill in."""
        return tuple(name for name, blank in self.blanks.items() if blank.must)


def template_names() -> tuple[str, ...]:
    """Names of the templates that travel with segmentkit."""
    return tuple(sorted(path.stem for path in (templates_folder() / FOLDER).glob("*.yaml")))


def load_template(name_or_path: str | Path) -> Template:
    """Reads a template: a shipped one by its name, or a file by its path.

    Raises:
        StoryboardUnreadable: when there is none of that name, or with every fault of its text.
    """
    text = str(name_or_path)
    if re.fullmatch(NAME, text):
        path = templates_folder() / FOLDER / f"{text}.yaml"
        if path.is_file():
            return loads_template(read_text(path), f"{FOLDER}/{path.name}", text)
        if not Path(text).is_file():
            raise StoryboardUnreadable(f"there is no template `{text}` — {suggestion(text, list(template_names()))}")
    path = Path(name_or_path)
    return loads_template(read_text(path), str(path), path.stem)


def loads_template(text: str, file: str = "template.yaml", name: str = "template") -> Template:
    """Reads a template's text.

    Raises:
        StoryboardUnreadable: with every fault.
    """
    source = Source(text, file)
    read = read_model(TemplateFile, source)
    faults = list(read.faults)
    blanks = read.model.blanks if read.model is not None else {}
    root = read.tree
    body = root.entries["storyboard"].value if isinstance(root, Mapping) and "storyboard" in root.entries else None
    if read.model is None or not isinstance(root, Mapping) or not isinstance(body, Mapping):
        raise unreadable(faults)
    faults += _blank_faults(blanks, root, source)
    if not faults:
        faults += place_faults(body, blanks, source)
        faults += _default_faults(blanks, root, source)
    if faults:
        raise unreadable(faults)
    return Template(
        name=name, about=read.model.about, length=_slot(body), blanks=blanks, file=file, source=source, tree=root
    )


def fill(template: Template, values: Mappings[str, Any], folder: Path) -> str:
    """The storyboard that a template and values give, as text for a person to go on editing.

    Args:
        template: the template.
        values: by the names of blanks: `Values` of a file, or plain data such as a row of a table, in which a key
            `viewer.shown` is a part of `viewer` and empty texts count as not given.
        folder: of the storyboard to be, where its paths start and its own fault presets lie.

    Raises:
        StoryboardUnreadable: with every fault at once, each at its spot in the template or in the values.
    """
    atlas = Atlas()
    root = atlas.add(template.source, template.tree)
    assert isinstance(root, Mapping)
    given = values_of(values)
    tree = merged([_mapping(atlas.add(source, one)) for source, one in given.layers])
    filled, faults = _read_all(template, root, tree, given, folder, atlas)
    if faults:
        raise unreadable(faults)
    filler = Filler(filled, atlas)
    made = filler.node(root.entries["storyboard"].value)
    faults = list(filler.faults)
    if not isinstance(made, Mapping):
        start = root.entries["storyboard"].key
        faults.append(atlas.fault(start.start, start.end, "nothing is left of the storyboard with these values"))
    if faults or not isinstance(made, Mapping):
        raise unreadable(faults)
    _set_straight(made)
    faults = _storyboard_faults(made, folder, atlas)
    if faults:
        raise unreadable(faults)
    return _written(made, template, atlas)


def _read_all(
    template: Template, root: Mapping, tree: Mapping, given: Values, folder: Path, atlas: Atlas
) -> tuple[dict[str, Filled], list[Fault]]:
    """Every blank's value, and all that is wrong with them."""
    blanks = template.blanks
    reader = BlankReader(blanks, folder, atlas)
    for name, entry in tree.entries.items():
        if name not in blanks:
            hint = suggestion(name, list(blanks), "blank")
            reader.note(entry.key, f"template {template.name} has no blank `{name}` — {hint}", "")
    filled: dict[str, Filled] = {}
    lacking = []
    heads = _mapping(root.entries["blanks"].value) if "blanks" in root.entries else Mapping(0, 0, False)
    for name in _in_need(blanks):
        given_here = tree.entries.get(name)
        node = given_here.value if given_here is not None and not _is_nothing(given_here.value) else None
        if node is None and blanks[name].default is not None and (blanks[name].counts_from or name) in {name, *filled}:
            node = _mapping(heads.entries[name].value).entries["default"].value
        if node is None:
            if blanks[name].must:
                lacking.append(name)
            continue
        read = reader.read(name, node, filled)
        if read is not None:
            filled[name] = read
    faults = reader.faults
    if lacking:
        told = ", ".join(f"`{name}`" for name in blanks if name in lacking)
        written = [source for source, _ in given.layers if source.text.strip() not in {"", "{}"}]
        source = written[-1] if written else template.source
        are, them = ("is", "it") if len(lacking) == 1 else ("s are", "them")
        count = f"{len(lacking)} blank{' ' if len(lacking) == 1 else ''}{are}"
        faults = [
            *faults,
            source.fault(
                0,
                1,
                f"{count} not filled in: {told} — fill {them} in; "
                f"`segmentkit new {template.name} --list` explains what each takes",
            ),
        ]
    return filled, faults


def _in_need(blanks: Mappings[str, Blank]) -> list[str]:
    """Blanks in an order in which each comes after those it depends on."""

    def step(blank: Blank) -> int:
        return 2 if blank.in_ else 1 if blank.person or blank.counts_from else 0

    return sorted(blanks, key=lambda name: step(blanks[name]))


def _blank_faults(blanks: Mappings[str, Blank], root: Mapping, source: Source) -> list[Fault]:
    """Blanks that name others which are not there, or are of the wrong kind."""
    faults = []
    for name, blank in blanks.items():
        heads = _mapping(_mapping(root.entries["blanks"].value).entries[name].value)
        for key, other, kind in (
            ("person", blank.person, BlankKind.PERSON),
            ("in", blank.in_, BlankKind.CLIP),
            ("default", blank.counts_from, BlankKind.DATE),
        ):
            known = [n for n, b in blanks.items() if b.kind is kind and n != name]
            if other is not None and other not in known:
                node = heads.entries[key].value
                hint = suggestion(other, known, f"blank of kind {kind.value}")
                faults.append(source.fault(node.start, node.end, f"`{other}` is no blank of kind {kind.value} — {hint}",
                                           f"blank {name}"))  # fmt: skip
            elif key == "default" and other is not None and blanks[other].counts_from:
                node = heads.entries[key].value
                faults.append(source.fault(node.start, node.end, f"`{other}` counts from another date itself — count "
                                           "from a date that is filled in", f"blank {name}"))  # fmt: skip
    return faults


def _default_faults(blanks: Mappings[str, Blank], root: Mapping, source: Source) -> list[Fault]:
    """Defaults that would not do as values."""
    atlas = Atlas()
    tree = atlas.add(source, root)
    reader = BlankReader(blanks, Path(), atlas)
    for name, blank in blanks.items():
        if blank.default is not None and not blank.counts_from:
            heads = _mapping(_mapping(_mapping(tree).entries["blanks"].value).entries[name].value)
            reader.read(name, heads.entries["default"].value, {})
    return reader.faults


def _storyboard_faults(tree: Mapping, folder: Path, atlas: Atlas) -> list[Fault]:
    """What keeps a filled tree from being a storyboard, as for one that was written by hand."""
    try:
        board = Storyboard.model_validate(plain(tree))
    except ValidationError as error:
        return explain(error, Storyboard, tree, atlas)
    board, refused, _ = with_presets(board, folder)
    if refused:
        return located(refused, tree, atlas)
    return reference_faults(board, tree, atlas) + located(
        (*cut_faults(board, folder), *delivery_faults(board, folder)), tree, atlas
    )


def _written(tree: Mapping, template: Template, atlas: Atlas) -> str:
    head = f"# From the template `{template.name}`. An ordinary storyboard now: change whatever you like.\n"
    text = head + write_yaml(tree, lambda one: _comments(one, template, atlas))
    again = compose(Source(text, "storyboard.yaml"))
    if again.faults or again.root is None or _straight(plain(again.root)) != _straight(plain(tree)):
        raise StoryboardUnreadable(
            f"{template.file} — a value has characters that cannot be written as YAML — leave them out"
        )
    return text


def _comments(one: Entry | Node, template: Template, atlas: Atlas) -> list[str]:
    """Comments that stand in the template right above a key or an item, in full lines."""
    start = one.key.start if isinstance(one, Entry) else one.start
    source, offset = atlas.at(start)
    if source is not template.source:
        return []
    line = source.line_of(start - offset)
    lines = source.text.splitlines()
    column = (start - offset) - source.line_start(start - offset)
    found: list[str] = []
    while line and (above := lines[line - 1]).lstrip().startswith("#") and len(above) - len(above.lstrip()) <= column:
        found.insert(0, above.strip())
        line -= 1
    return found


def _set_straight(node: Node) -> None:
    """Line ends and repeated spaces in texts become single spaces, as a storyboard reads them anyway."""
    match node:
        case Scalar():
            node.text = None if node.text is None else " ".join(node.text.split())
        case Mapping(entries=entries):
            for entry in entries.values():
                _set_straight(entry.value)
        case _:
            for item in node.items:
                _set_straight(item)


def _straight(data: Any) -> Any:
    match data:
        case str():
            return " ".join(data.split())
        case dict():
            return {key: _straight(value) for key, value in data.items()}
        case list():
            return [_straight(value) for value in data]
        case _:
            return data


def _mapping(node: Node) -> Mapping:
    return node if isinstance(node, Mapping) else Mapping(node.start, node.end, False)


def _is_nothing(node: Node) -> bool:
    """Whether a value says nothing: no text, or keys none of which has any."""
    match node:
        case Scalar(text=text):
            return not (text or "").strip()
        case Mapping(entries=entries):
            return all(_is_nothing(entry.value) for entry in entries.values())
        case _:
            return not node.items


def _slot(body: Mapping) -> str:
    segment = body.entries.get("segment")
    slot = segment.value.entries.get("slot") if segment and isinstance(segment.value, Mapping) else None
    text = slot.value.text if slot is not None and isinstance(slot.value, Scalar) else None
    return text if text and "<" not in text else ""


__all__ = [
    "Record", "Template", "Values", "fill", "listed", "load_template", "loads_template", "read_records",
    "read_values", "template_names", "values_from", "values_of", "values_of_text",
]  # fmt: skip

"""Reads what was filled into each blank: right kind, within limits, every fault at its spot.

The outcome is a tree again, ready to stand in the storyboard, with the texts that its parts give within words.
"""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator
from collections.abc import Mapping as Mappings
from dataclasses import dataclass
from pathlib import Path

from pydantic import BaseModel, ValidationError

from segmentkit.storyboard import scalars
from segmentkit.storyboard.atlas import Atlas
from segmentkit.storyboard.blank_cells import cell, in_order, points_in_cells, split_cells
from segmentkit.storyboard.blanks import DAYS_AFTER, Blank, BlankKind
from segmentkit.storyboard.compose import Entry, Listing, Mapping, Node, Scalar, plain
from segmentkit.storyboard.explain import explain
from segmentkit.storyboard.faults import Fault, listed, suggestion
from segmentkit.storyboard.paths import leaves_folder
from segmentkit.storyboard.people import Clip, Licence, Person, Still
from segmentkit.storyboard.presets import load_preset, preset_file, preset_names
from segmentkit.storyboard.references import ALWAYS_THERE
from segmentkit.storyboard.values import EARLIER, SHORT
from segmentkit.storyboard.words import read_line

MODELS: dict[BlankKind, type[BaseModel]] = {
    BlankKind.PERSON: Person, BlankKind.CLIP: Clip, BlankKind.STILL: Still, BlankKind.LICENCE: Licence,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Filled:
    """What a blank holds.

    Attributes:
        node: as it stands in the storyboard; spans lead to where it was written.
        text: as it stands within words; None for what is no text.
        key: what conditions compare with.
        parts: texts of its parts, by their dotted names.
    """

    node: Node
    text: str | None
    key: str
    parts: Mappings[str, str]


class BlankReader:
    """Reads blanks one by one and gathers faults."""

    def __init__(self, blanks: Mappings[str, Blank], folder: Path, atlas: Atlas) -> None:
        self.blanks = blanks
        self.folder = folder
        self.atlas = atlas
        self.faults: list[Fault] = []

    def read(self, name: str, node: Node, before: Mappings[str, Filled]) -> Filled | None:
        """What a blank holds; None, with faults noted, when it cannot be read.

        Args:
            name: of the blank.
            node: what was filled in.
            before: blanks that were read already, for those that depend on others.
        """
        blank = self.blanks[name]
        match blank.kind:
            case BlankKind.PERSON | BlankKind.LICENCE:
                return (self._person if blank.kind is BlankKind.PERSON else self._licence)(name, node)
            case BlankKind.CLIP | BlankKind.STILL:
                return self._picture(name, blank, node, before)
            case BlankKind.POINT:
                return self._point(name, node)
            case BlankKind.POINTS:
                return self._points(name, node)
            case BlankKind.POSITIONS:
                return self._positions(name, blank, node, before)
            case _:
                return self._scalar(name, blank, node, before)

    def note(self, node: Node, message: str, where: str) -> None:
        """Notes a fault at what was filled in."""
        self.faults.append(self.atlas.fault(node.start, max(node.end, node.start + 1), message, where))

    def _scalar(self, name: str, blank: Blank, node: Node, before: Mappings[str, Filled]) -> Filled | None:
        if not isinstance(node, Scalar) or node.text is None:
            what = "a list" if isinstance(node, Listing) else "a mapping" if isinstance(node, Mapping) else "nothing"
            self.note(node, f"{what} stands here — this blank takes {blank.kind.value}", name)
            return None
        try:
            return self._read_text(name, blank, node, before)
        except ValueError as error:
            self.note(node, str(error), name)
            return None

    def _read_text(self, name: str, blank: Blank, node: Scalar, before: Mappings[str, Filled]) -> Filled:
        text = scalars.read_sentence(node.text)
        match blank.kind:
            case BlankKind.TEXT | BlankKind.CLUB:
                _plain_words(text, blank)
            case BlankKind.WORDS:
                read_line(None, text, None, None)
                _within(text, blank)
            case BlankKind.NAME:
                scalars.read_name(text)
            case BlankKind.LENGTH:
                scalars.read_duration(text)
            case BlankKind.YES_NO:
                text = "yes" if scalars.read_yes_no(text) else "no"
            case BlankKind.DATE:
                return self._date(node, text, before)
            case BlankKind.FILE:
                self._path(text)
            case BlankKind.POSITION:
                scalars.read_name(text)
                self._of_clip(name, blank, node, text, before)
            case BlankKind.CHOICE:
                return _chosen(node, text, blank)
            case BlankKind.FAULT:
                return self._fault(node, text)
            case _:
                raise AssertionError(blank.kind)
        return Filled(Scalar(node.start, node.end, text), text, text, _said(text))

    def _date(self, node: Scalar, text: str, before: Mappings[str, Filled]) -> Filled:
        if match := DAYS_AFTER.fullmatch(text):
            first = before.get(match[2])
            if first is None:
                raise ValueError(f"'{text}' counts from `{match[2]}`, which is not filled in — write a date")
            date = datetime.date.fromisoformat(first.key) + datetime.timedelta(days=int(match[1]))
        else:
            date = scalars.read_date(text)
        day = f"{date.day} {_MONTHS[date.month - 1]}"
        return Filled(
            Scalar(node.start, node.end, date.isoformat()), date.isoformat(), date.isoformat(),
            {
                "day": day, "full": f"{day} {date.year}",
                "spoken": f"the {_ORDINALS[date.day - 1]} of {_MONTHS[date.month - 1]}",
            },
        )  # fmt: skip

    def _fault(self, node: Scalar, text: str) -> Filled:
        if preset_file(scalars.read_name(text), self.folder) is None:
            raise ValueError(f"there is no fault preset `{text}` — {suggestion(text, list(preset_names(self.folder)))}")
        preset = load_preset(text, self.folder)
        parts = {"name": preset.name, "what": preset.what, "feel": preset.feel}
        parts |= {f"drill.{key}": value for key, value in preset.drill.model_dump().items() if value}
        parts |= {f"say.{number}": sentence for number, sentence in enumerate(preset.say, 1)}
        parts["view"] = preset.view[0].value
        for which, (position, drawn) in zip(("first", "second"), preset.strokes.items(), strict=False):
            parts[f"{which}.at"] = position
            parts |= {f"{which}.{number}": id_ for number, id_ in enumerate(drawn, 1)}
        return Filled(Scalar(node.start, node.end, text), text, text, parts)

    def _path(self, text: str) -> None:
        if why := leaves_folder(text) or _leads_out(self.folder, text):
            raise ValueError(f"{why} — put the file into the project's folder and write its path from there")

    def _mapping(self, node: Node, short: str) -> Mapping | None:
        """The keys of a person or picture; a text alone is the one called `short`."""
        if isinstance(node, Scalar):
            key = Scalar(node.start, node.end, short)
            return Mapping(node.start, node.end, True, {short: Entry(key, node)})
        if not isinstance(node, Mapping):
            return None
        entries = dict(node.entries)
        early, late = entries.pop(EARLIER, None), entries.pop(SHORT, None)
        for alone in (late, early if short not in entries else None):
            if alone is not None:
                key = Scalar(alone.key.start, alone.key.end, short)
                entries[short] = Entry(key, alone.value)
        return Mapping(node.start, node.end, node.flow, entries)

    def _valid(self, name: str, kind: BlankKind, node: Mapping) -> BaseModel | None:
        try:
            return MODELS[kind].model_validate(plain(node))
        except ValidationError as error:
            found = explain(error, MODELS[kind], node, self.atlas)
            self.faults += [_renamed(fault, name) for fault in found]
            return None

    def _person(self, name: str, node: Node) -> Filled | None:
        keys = self._mapping(node, "shown")
        if keys is None:
            self.note(node, "a list stands here — write a person's keys, such as `shown: Maren`", name)
            return None
        own = keys.entries.pop("id", None)
        id_ = own.value.text if own is not None and isinstance(own.value, Scalar) and own.value.text else name
        if not re.fullmatch(scalars.NAME, id_):
            self.note(
                own.value if own else node, f"'{id_[:40]}' is not a name — write one such as maren", f"{name}, id"
            )
            return None
        split_cells(keys, ("release", "for"))
        if self._valid(name, BlankKind.PERSON, keys) is None:
            return None
        parts = {**_texts(keys), "id": id_}
        return Filled(in_order(keys), parts["shown"], id_, parts)

    def _licence(self, name: str, node: Node) -> Filled | None:
        keys = self._mapping(node, "by")
        if keys is None:
            self.note(node, "a list stands here — write a licence's keys, such as `for: [broadcast]`", name)
            return None
        covers = keys.entries.get("for")
        if covers is not None and isinstance(covers.value, Scalar) and covers.value.text:
            keys.entries["for"] = Entry(covers.key, cell(covers.value, r"[\s,;]+"))
        if self._valid(name, BlankKind.LICENCE, keys) is None:
            return None
        parts = _texts(keys)
        return Filled(Mapping(keys.start, keys.end, True, keys.entries), None, parts.get("by", name), parts)

    def _picture(self, name: str, blank: Blank, node: Node, before: Mappings[str, Filled]) -> Filled | None:
        keys = self._mapping(node, "file")
        if keys is None:
            self.note(node, "a list stands here — write a path, or keys such as `file: clips/swing.mp4`", name)
            return None
        points_in_cells(keys)
        if blank.person is not None and (who := before.get(blank.person)) is not None:
            self._whose(name, blank, keys, who)
        if len(blank.view) == 1 and "view" not in keys.entries:
            view = Scalar(node.start, node.end, blank.view[0].value)
            keys.entries["view"] = Entry(Scalar(node.start, node.end, "view"), view)
        model = self._valid(name, blank.kind, keys)
        if model is None:
            return None
        good = len(self.faults)
        if isinstance(model, Clip):
            self._fits(name, blank, keys, model)
        file = keys.entries["file"].value
        if isinstance(model, Clip | Still) and (
            why := leaves_folder(model.file) or _leads_out(self.folder, model.file)
        ):
            self.note(file, f"{why} — put the file into the project's folder and write its path from there", name)
        if len(self.faults) > good:
            return None
        parts = _texts(keys)
        return Filled(in_order(keys), None, parts["file"], parts)

    def _whose(self, name: str, blank: Blank, keys: Mapping, who: Filled) -> None:
        written = keys.entries.get("person")
        if written is None:
            file = keys.entries.get("file")
            at = file.value if file else keys
            keys.entries["person"] = Entry(Scalar(at.start, at.end, "person"), Scalar(at.start, at.end, who.key))
        elif plain(written.value) != who.key:
            self.note(
                written.value,
                f"this clip shows {blank.person}, who is called `{who.key}` — delete person, or give that name", name,
            )  # fmt: skip

    def _fits(self, name: str, blank: Blank, keys: Mapping, clip: Clip) -> None:
        """The view, the positions and the points that the template counts on."""
        if blank.view and clip.view not in blank.view:
            wanted = listed([view.value for view in blank.view])
            self.note(keys.entries["view"].value if "view" in keys.entries else keys,
                      f"the clip is filmed {clip.view.value} — this blank takes {wanted}", name)  # fmt: skip
        lacking = [p for p in blank.positions if p not in clip.positions and p not in ALWAYS_THERE]
        if lacking:
            place = keys.entries["positions"].key if "positions" in keys.entries else keys.entries["file"].value
            self.note(place, f"{_counted(lacking, 'position')} missing: {', '.join(lacking)} — add them to its "
                      "positions, each with its time or frame", name)  # fmt: skip
        spots = [f"{position}.{p}" for position, wanted in blank.points.items() for p in wanted
                 if p not in clip.points.get(position, {})]  # fmt: skip
        if spots:
            place = keys.entries["points"].key if "points" in keys.entries else keys.entries["file"].value
            self.note(place, f"{_counted(spots, 'point')} missing: {', '.join(spots)} — add them to its points", name)

    def _point(self, name: str, node: Node) -> Filled | None:
        made = cell(node, r"[\s,;]+") if isinstance(node, Scalar) and not _is_name(node.text or "") else node
        try:
            scalars.read_point(plain(made))
        except ValueError as error:
            self.note(node, str(error), name)
            return None
        return Filled(made, None, str(plain(made)), {})

    def _points(self, name: str, node: Node) -> Filled | None:
        made = cell(node, r"\s*;\s*") if isinstance(node, Scalar) else node
        if not isinstance(made, Listing):
            self.note(node, "a mapping stands here — write a list of points", name)
            return None
        read = [self._point(name, item) for item in made.items]
        points = [one.node for one in read if one is not None]
        return Filled(Listing(node.start, node.end, True, points), None, "", {}) if len(points) == len(read) else None

    def _positions(self, name: str, blank: Blank, node: Node, before: Mappings[str, Filled]) -> Filled | None:
        made = cell(node, r"[\s,;]+") if isinstance(node, Scalar) else node
        if not isinstance(made, Listing):
            self.note(node, "a mapping stands here — write a list of positions", name)
            return None
        good = len(self.faults)
        for item in made.items:
            try:
                text = scalars.read_name(plain(item))
                self._of_clip(name, blank, item, text, before)
            except ValueError as error:
                self.note(item, str(error), name)
        return Filled(made, None, "", {}) if len(self.faults) == good else None

    def _of_clip(self, name: str, blank: Blank, node: Node, text: str, before: Mappings[str, Filled]) -> None:
        clip = before.get(blank.in_ or "")
        if clip is None or text in ALWAYS_THERE:
            return
        known = [part.split(".")[1] for part in clip.parts if part.startswith("positions.")]
        if text not in known:
            hint = suggestion(text, known, "position")
            self.note(node, f"the clip of {blank.in_} has no position `{text}` — {hint}", name)


def _renamed(fault: Fault, name: str) -> Fault:
    where = f"{name}, {fault.where}" if fault.where else name
    return Fault(place=fault.place, message=fault.message, where=where, source=fault.source, first=fault.first,
                 length=fault.length)  # fmt: skip


def _counted(things: list[str], what: str) -> str:
    return f"{len(things)} {what}{'s are' if len(things) > 1 else ' is'}"


def _plain_words(text: str, blank: Blank) -> None:
    if found := re.search(r"[\[\]{}]", text):
        raise ValueError(f"'{found[0]}' has a meaning among spoken words — write round brackets, or leave it out")
    _within(text, blank)


def _within(text: str, blank: Blank) -> None:
    words = len(text.split())
    if blank.most_words is not None and words > blank.most_words:
        raise ValueError(f"this has {words} words — at most {blank.most_words} find room — shorten it")
    if blank.most_letters is not None and len(text) > blank.most_letters:
        raise ValueError(f"this has {len(text)} characters — at most {blank.most_letters} find room — shorten it")


def _chosen(node: Scalar, text: str, blank: Blank) -> Filled:
    known = blank.of or {}
    key = text.lower().replace(" ", "_")
    if key in known:
        made = known[key]
        return Filled(Scalar(node.start, node.end, made), made, key, _said(made))
    if not blank.own:
        raise ValueError(f"'{text[:40]}' is not among the alternatives — {suggestion(text, list(known))}")
    read_line(None, text, None, None)
    _within(text, blank)
    return Filled(Scalar(node.start, node.end, text), text, "own", _said(text))


def _said(text: str) -> dict[str, str]:
    """A text as it goes on within a sentence, and as it starts one."""
    first, rest = text[:1], text[1:]
    # A capital that is followed by another one, or stands alone, is not one of a sentence's start: TV, I.
    keep = rest[:1].isupper() or not rest[:1].isalpha()
    return {"said": text if keep else first.lower() + rest, "start": first.upper() + rest}


def _texts(node: Node, before: str = "") -> dict[str, str]:
    """All texts of a tree by their dotted names."""
    if isinstance(node, Scalar):
        return {before: " ".join(node.text.split())} if node.text else {}
    children: Iterator[tuple[str, Node]] = (
        ((str(n), item) for n, item in enumerate(node.items, 1))
        if isinstance(node, Listing)
        else ((name, entry.value) for name, entry in node.entries.items())
    )
    made: dict[str, str] = {}
    for name, child in children:
        made |= _texts(child, f"{before}.{name}" if before else name)
    return made


def _is_name(text: str) -> bool:
    return bool(re.fullmatch(rf"(?:{scalars.NAME}\.)?{scalars.NAME}", text.strip()))


def _leads_out(folder: Path, file: str) -> str | None:
    """Why a path that looks harmless may not be followed: a link in it leads out of the folder."""
    try:
        home, target = folder.resolve(), (folder / file).resolve()
    except (OSError, RuntimeError, ValueError):
        return "the path cannot be followed"
    return None if target.is_relative_to(home) else "a link leads out of the folder"


_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
           "November", "December")  # fmt: skip
_ORDINALS = (
    "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
    "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth",
    "twentieth", "twenty-first", "twenty-second", "twenty-third", "twenty-fourth", "twenty-fifth", "twenty-sixth",
    "twenty-seventh", "twenty-eighth", "twenty-ninth", "thirtieth", "thirty-first",
)  # fmt: skip

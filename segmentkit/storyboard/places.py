"""Places in a template's storyboard, and what decides between alternatives; checked before anything is filled in.

`<viewer.shown>` stands for a blank or a part of one. `when: miss is slice` beside the keys of a mapping keeps it or
drops it. A mapping `{choose: miss, slice: …, otherwise: …}` becomes one of its values, `{join: [...]}` the texts of its
list in a row. Nothing is computed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from collections.abc import Mapping as Mappings
from dataclasses import dataclass

from segmentkit.storyboard.blanks import Blank, BlankKind
from segmentkit.storyboard.compose import Listing, Mapping, Node, Scalar
from segmentkit.storyboard.explain import keys_of
from segmentkit.storyboard.faults import Fault, Source, listed, suggestion
from segmentkit.storyboard.people import Clip, Licence, Person, Still
from segmentkit.storyboard.scalars import NAME

WHEN, CHOOSE, JOIN, OTHERWISE, GIVEN = "when", "choose", "join", "otherwise", "given"
PART = rf"{NAME}(?:\.[a-z0-9_-]{{1,48}})*"
PLACE = re.compile(rf"<({PART})>")
_CONDITION = re.compile(rf"({PART}) is (not )?([a-z0-9_/-]+)")
_SAID = ("said", "start")
_PARTS: dict[BlankKind, tuple[str, ...]] = {
    BlankKind.TEXT: _SAID,
    BlankKind.WORDS: _SAID,
    BlankKind.CLUB: _SAID,
    BlankKind.CHOICE: _SAID,
    BlankKind.PERSON: ("id", *keys_of(Person)),
    BlankKind.CLIP: tuple(keys_of(Clip)),
    BlankKind.STILL: tuple(keys_of(Still)),
    BlankKind.LICENCE: tuple(keys_of(Licence)),
    BlankKind.DATE: ("day", "full", "spoken"),
    BlankKind.FAULT: ("name", "what", "feel", "drill", "say", "view", "first", "second"),
}
_ALWAYS: dict[BlankKind, tuple[str, ...]] = {
    BlankKind.TEXT: _SAID, BlankKind.WORDS: _SAID, BlankKind.CLUB: _SAID, BlankKind.CHOICE: _SAID,
    BlankKind.PERSON: ("id", "shown"),
    BlankKind.CLIP: ("file",),
    BlankKind.STILL: ("file",),
    BlankKind.DATE: ("day", "full", "spoken"),
    BlankKind.FAULT: ("name", "what", "feel", "drill.name", "drill.count", "drill.safety", "say.1", "say.2", "view",
                      "first.at", "first.1"),
}  # fmt: skip
_NO_TEXT = frozenset({
    BlankKind.CLIP, BlankKind.STILL, BlankKind.LICENCE, BlankKind.POSITIONS, BlankKind.POINT, BlankKind.POINTS,
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Condition:
    """`part is [not] value`; the value `given` asks whether the part is filled in."""

    part: str
    negated: bool
    value: str


def read_condition(text: str) -> Condition | None:
    """A condition as written, or None."""
    match = _CONDITION.fullmatch(" ".join(text.split()))
    return Condition(match[1], match[2] is not None, match[3]) if match else None


def place_faults(body: Node, blanks: Mappings[str, Blank], source: Source) -> list[Fault]:
    """Everything wrong with a template's places: what they name, and whether it is sure to be filled in."""
    return list(_Scan(blanks, source).node(body, frozenset()))


class _Scan:
    def __init__(self, blanks: Mappings[str, Blank], source: Source) -> None:
        self.blanks = blanks
        self.source = source

    def node(self, node: Node, sure: frozenset[str]) -> Iterator[Fault]:
        match node:
            case Scalar(text=text):
                yield from self._text(node, text or "", sure)
            case Listing(items=items):
                for item in items:
                    yield from self.node(item, sure)
            case Mapping(entries=entries) if CHOOSE in entries:
                yield from self._choose(node, sure)
            case Mapping(entries=entries) if JOIN in entries:
                yield from self._join(node, sure)
            case Mapping(entries=entries):
                if WHEN in entries:
                    condition = entries[WHEN].value
                    yield from self._when(condition)
                    sure |= _assured(condition)
                for name, entry in entries.items():
                    if name != WHEN:
                        yield from self._text(entry.key, name, sure)
                        yield from self.node(entry.value, sure)

    def _fault(self, node: Node, message: str, literal: str = "") -> Fault:
        start, end = self.source.narrowed((node.start, max(node.end, node.start + 1)), literal)
        return self.source.fault(start, end, message)

    def _text(self, node: Scalar, text: str, sure: frozenset[str]) -> Iterator[Fault]:
        alone = PLACE.fullmatch(text.strip()) is not None
        for match in PLACE.finditer(text):
            part = match[1]
            if why := self._unknown(part):
                yield self._fault(node, why, match[0])
            elif not alone and self._no_text(part):
                yield self._fault(node, f"{match[0]} is no text — name a part of it, or let it stand alone", match[0])
            elif not alone and not self._sure(part, sure):
                yield self._fault(
                    node,
                    f"{match[0]} may be left out, and then these words have a hole — put `when: {part} is given` "
                    "beside them, or give the blank a default", match[0],
                )  # fmt: skip

    def _unknown(self, part: str) -> str | None:
        name, *steps = part.split(".")
        blank = self.blanks.get(name)
        if blank is None:
            return f"there is no blank `{name}` — {suggestion(name, list(self.blanks), 'blank')}"
        if not steps:
            return None
        known = _PARTS.get(blank.kind, ())
        if not known:
            return f"`{name}` is {blank.kind.value} and has no parts — write <{name}>"
        if steps[0] not in known:
            return f"`{name}` has no part `{steps[0]}` — {suggestion(steps[0], list(known))}"
        return None

    def _no_text(self, part: str) -> bool:
        name, *steps = part.split(".")
        return not steps and self.blanks[name].kind in _NO_TEXT

    def _sure(self, part: str, sure: frozenset[str]) -> bool:
        """Whether a part is filled in wherever this is reached."""
        name, _, rest = part.partition(".")
        blank = self.blanks[name]
        if part in sure or (rest == "second.1" and f"{name}.second.at" in sure):
            return True
        first = self.blanks[blank.counts_from] if blank.counts_from else blank
        if name not in sure and not (blank.always_given and first.always_given):
            return False
        return not rest or rest in _ALWAYS.get(blank.kind, ()) or (rest == "view" and len(blank.view) == 1)

    def _when(self, node: Node) -> Iterator[Fault]:
        condition = read_condition(node.text or "") if isinstance(node, Scalar) else None
        if condition is None:
            yield self._fault(node, "this is no condition — write `when: miss is slice`, `is not`, or `is given`")
            return
        yield from self._comparable(node, condition.part, [condition.value])

    def _comparable(self, node: Node, part: str, values: list[str]) -> Iterator[Fault]:
        if why := self._unknown(part):
            yield self._fault(node, why, part)
            return
        known = self._alternatives(part)
        for value in values:
            if known is not None and value not in {*known, GIVEN}:
                yield self._fault(
                    node, f"`{value}` is no alternative of `{part}` — {suggestion(value, [*known, GIVEN])}", value
                )

    def _alternatives(self, part: str) -> list[str] | None:
        blank = self.blanks[part.partition(".")[0]]
        if "." in part:
            return None
        match blank.kind:
            case BlankKind.CHOICE:
                return [*(blank.of or {}), *(["own"] if blank.own else [])]
            case BlankKind.YES_NO:
                return ["yes", "no"]
            case _:
                return None

    def _choose(self, node: Mapping, sure: frozenset[str]) -> Iterator[Fault]:
        asked = node.entries[CHOOSE].value
        part = (asked.text or "").strip() if isinstance(asked, Scalar) else ""
        if not re.fullmatch(PART, part):
            yield self._fault(asked, "what decides here? — write the name of a blank, such as `choose: miss`")
            return
        branches = {name: entry for name, entry in node.entries.items() if name not in {CHOOSE, WHEN}}
        if WHEN in node.entries:
            yield self._fault(node.entries[WHEN].key, "`when` and `choose` do not go together — put `when` around it")
        if why := self._unknown(part):
            yield self._fault(asked, why, part)
            return
        known = self._alternatives(part)
        for name, entry in branches.items():
            if known is not None and name not in {*known, GIVEN, OTHERWISE}:
                hint = suggestion(name, [*known, GIVEN, OTHERWISE])
                yield self._fault(entry.key, f"`{name}` is no alternative of `{part}` — {hint}")
            given = frozenset({part, part.split(".")[0]}) if name != OTHERWISE else frozenset()
            yield from self.node(entry.value, sure | given)
        covered = GIVEN in branches or (known is not None and set(known) <= set(branches))
        if OTHERWISE not in branches and not (covered and self._sure(part, sure)):
            missing = [name for name in known or [] if name not in branches]
            told = f"{listed(missing)} would leave a hole here" if missing else "some values would leave a hole here"
            key = node.entries[CHOOSE].key
            yield self._fault(key, f"{told} — add `{OTHERWISE}:`; with nothing after it, it is empty")

    def _join(self, node: Mapping, sure: frozenset[str]) -> Iterator[Fault]:
        extra = [name for name in node.entries if name not in {JOIN, WHEN}]
        if extra:
            yield self._fault(node.entries[extra[0]].key, f"`{extra[0]}` cannot stand beside `join` — delete it")
        if WHEN in node.entries:
            condition = node.entries[WHEN].value
            yield from self._when(condition)
            sure |= _assured(condition)
        parts = node.entries[JOIN].value
        if not isinstance(parts, Listing):
            yield self._fault(parts, "`join` takes a list of texts — write `- text` for each")
            return
        yield from self.node(parts, sure)


def _assured(node: Node) -> frozenset[str]:
    """What is sure to be filled in where a condition holds."""
    condition = read_condition(node.text or "") if isinstance(node, Scalar) else None
    if condition is None or condition.negated:
        return frozenset()
    return frozenset({condition.part, condition.part.split(".")[0]})

"""Letters to viewers, filled from the verdict: plain, kind, three actions at most, no blame, no contact data."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from segmentkit.intake.consent import shown_name, shown_place
from segmentkit.intake.words import filled, limit_fields
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.people import Person
from segmentkit.storyboard.reading import read_text
from segmentkit.storyboard.submission import VerdictWord
from segmentkit.storyboard.wording_file import actions, wording_path

KINDS = ("received", "reshoot", "not-this-time", "selected", "aired", "follow-up")
MOST_ACTIONS = 3
_WIDTH = 76
_FORMAL = {"no-release", "release-ended", "release-not-yet", "age-unknown", "minor-unsigned"}
"""Reasons that the person can put right with a signature or a word."""
_SAID = {"pain", "same-file", "same-pictures"}
"""Reasons that may be told to somebody whose clip is not used; the others would only hurt."""


def kind_for(entry: Mapping[str, Any]) -> str | None:
    """The letter that fits a verdict; None where none is sent: after a withdrawal."""
    ids = {reason["id"] for reason in entry["reasons"]}
    if "withdrawn" in ids:
        return None
    match VerdictWord(entry["verdict"]):
        case VerdictWord.RESHOOT:
            return "reshoot"
        case VerdictWord.NOT_USED:
            return "received" if ids & _FORMAL and not entry["decided"] else "not-this-time"
        case VerdictWord.USE | VerdictWord.LIMITED:
            return "received"


def letter(
    kind: str,
    entry: Mapping[str, Any],
    person: Person,
    limits: IntakeLimits,
    own: Path | None = None,
    given: Mapping[str, str] | None = None,
) -> str:
    """One letter.

    Args:
        kind: one of `KINDS`.
        entry: the submission as `record.as_data` gives it.
        person: who it is to.
        limits: the limits whose numbers it names.
        own: folder of the house's own words.
        given: values for fields that only a person knows, such as `day`.

    Raises:
        StoryboardUnreadable: when a template has faults or a field without a value.
    """
    known = actions(own)
    path = wording_path(f"letters/{kind}.txt", own)
    fields = limit_fields(limits)
    name = shown_name(person)
    greeting = f"Dear parent or guardian of {name}," if person.adult is False else f"Dear {name},"
    listed = [filled(known[id_], fields, "actions.yaml") for id_ in _failed(entry, known)]
    question = str(entry["question"])
    fields |= {
        "id": str(entry["submission"]), "name": name, "greeting": greeting,
        "shown_as": ", ".join(filter(None, (name, shown_place(person)))),
        "uses": ", ".join(entry["uses"]) or "nothing at the moment",
        "question": f'Your question was: "{question}" We answer it as well as one camera allows.\n' if question else "",
        "actions": "\n".join(_bullet(text) for text in _without_doubles(listed)[:MOST_ACTIONS]),
        "needed": _paragraph(known, _ids(entry["reasons"]) & _FORMAL, fields),
        "advice": _paragraph(known, (_ids(entry["reasons"]) | _part_ids(entry)) & _SAID, fields),
        "again": "",
    } | dict(given or {})  # fmt: skip
    text = filled(read_text(path), fields, path.name)
    return "\n".join(_wrapped(line) for line in text.splitlines()).replace("\n\n\n", "\n\n") + "\n"


def has_actions(entry: Mapping[str, Any], own: Path | None = None) -> bool:
    """Whether the report holds anything that a viewer could do better."""
    return bool(_failed(entry, actions(own)))


def _failed(entry: Mapping[str, Any], known: Mapping[str, str]) -> list[str]:
    """Reasons to film again that have an action, in the order of the file of actions."""
    reasons = [*entry["reasons"], *(reason for part in entry["parts"] for reason in part["reasons"])]
    failed = {reason["id"] for reason in reasons if reason["verdict"] == VerdictWord.RESHOOT.value}
    return [id_ for id_ in known if id_ in failed]


def _ids(reasons: Sequence[Mapping[str, Any]]) -> set[str]:
    return {str(reason["id"]) for reason in reasons}


def _part_ids(entry: Mapping[str, Any]) -> set[str]:
    return {id_ for part in entry["parts"] for id_ in _ids(part["reasons"])}


def _paragraph(known: Mapping[str, str], wanted: set[str], fields: Mapping[str, str]) -> str:
    texts = _without_doubles([filled(text, fields, "actions.yaml") for id_, text in known.items() if id_ in wanted])
    return " ".join(texts) + "\n" if texts else ""


def _without_doubles(texts: Sequence[str]) -> list[str]:
    return list(dict.fromkeys(texts))


def _bullet(text: str) -> str:
    return f"  - {text}"


def _wrapped(line: str) -> str:
    indent = "    " if line.startswith("  - ") else ""
    if line.startswith("Subject:") or len(line) <= _WIDTH:
        return line
    return textwrap.fill(line, _WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)

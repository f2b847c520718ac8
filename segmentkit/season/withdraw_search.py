"""Searches texts, and the names of files, for a person: by every name under which the records know them."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from segmentkit.errors import StoryboardUnreadable
from segmentkit.intake.erase import said_name
from segmentkit.season.everyone import batches
from segmentkit.storyboard.submission import CONTACTS, WITHDRAWN, load_contacts

_LARGEST_TEXT = 20_000_000
_LEAST = 5
"""Letters below which a name is not looked for in bytes that are no text: chance would find it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """What a person is searched by.

    Attributes:
        patterns: find a name in a text.
        plain: names as bytes, for files that are no text.
        words: names as they may stand in the name of a file, folded.
    """

    patterns: tuple[re.Pattern[str], ...]
    plain: tuple[bytes, ...]
    words: tuple[str, ...]


def names_of(who: str, folder: Path) -> Names:
    """All names of a person below a folder: among people, as shown, and in the contacts.

    Raises:
        StoryboardUnreadable: when a record has faults.
    """
    found = {who}
    patterns = [_whole(who)]
    for record in batches(folder):
        if who in record.batch.people:
            shown = record.batch.people[who].shown
            found.add(shown)
            patterns.append(said_name(shown))
            ids = [id_ for id_, one in record.batch.submissions.items() if one.person == who]
            patterns += [_whole(id_) for id_ in ids]
    for path in sorted(folder.rglob(CONTACTS)):
        with contextlib.suppress(StoryboardUnreadable):
            contact = load_contacts(path).get(who)
            if contact is not None:
                told = [value for value in (contact.name, contact.email, contact.post, contact.telephone) if value]
                found.update(told)
                patterns += [_whole(value) for value in told]
    return Names(
        patterns=tuple(dict.fromkeys(patterns)),
        plain=tuple(sorted(name.encode() for name in found if len(name) >= _LEAST)),
        words=tuple(sorted({_folded(name) for name in found})),
    )


def _whole(text: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w-]){re.escape(text)}(?![\w-])")


def _folded(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.casefold()).strip("-")


def mentions(path: Path, names: Names) -> tuple[int, ...] | None:
    """The lines on which a person is named, counted from 1; none but not None where only the bytes or the file's own
    name say so; None where nothing does. The list of withdrawals is passed over.
    """  # noqa: D205
    if path.name == WITHDRAWN:
        return None
    try:
        data = path.read_bytes() if path.stat().st_size <= _LARGEST_TEXT else b""
    except OSError:
        return ()
    try:
        lines = _lines(data.decode("utf-8"), names.patterns)
    except UnicodeDecodeError:
        lines = ()
        if any(name in data for name in names.plain):
            return ()
    if lines:
        return lines
    called = f"-{_folded(path.name)}-"
    return () if any(word and f"-{word}-" in called for word in names.words) else None


def _lines(text: str, patterns: Iterable[re.Pattern[str]]) -> tuple[int, ...]:
    patterns = tuple(patterns)
    return tuple(
        number for number, line in enumerate(text.splitlines(), 1) if any(pattern.search(line) for pattern in patterns)
    )

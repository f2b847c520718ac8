"""Shorter forms of a person's name, for plates with no room for all of it."""

from __future__ import annotations

import re
from collections.abc import Iterator

_PARTICLE = 4
"""Words within a name that begin small are at most so long: de, von, della."""


def shorter_names(name: str) -> Iterator[str]:
    """Forms of a name from long to short: given name with the others' initials, given name alone, initials alone.

    What is not plainly the name of a person (one word, words that begin small at either end, scripts without capitals)
    has none: "Our demonstrator" is not shortened to "Our d.".
    """
    words = name.split()
    if len(words) < 2 or not _begins(words[0]) or not _begins(words[-1]):
        return
    if any(not _begins(word) and (not word.isalpha() or len(word) > _PARTICLE) for word in words):
        return
    yield " ".join((words[0], *(_initials(word) for word in words[1:] if _begins(word))))
    yield words[0]
    yield "\u00a0".join(_initials(word) for word in words if _begins(word))


def _begins(word: str) -> bool:
    return word[0].isupper()


def _initials(word: str) -> str:
    """The initial of a word, of each part of a double one: A.C. for Anna-Clara, which no line break parts."""
    return "".join(f"{part[0].upper()}." for part in re.split("-", word) if part)

"""Words as a voice that reads letters should see them: by the storyboard's notes on how they are said."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

_PARTS = re.compile(r"^(\W*)(.*?)((?:['’]s)?\W*)$", re.DOTALL)


def respelled(words: Sequence[str], pronounce: Mapping[str, str]) -> tuple[str, ...]:
    """As many words as were given, noted ones respelled; marks around them and a possessive s stay.

    An entry of several words is said word by word when it has as many parts, else its first parts go to the first words
    and all that is left to the last one; with fewer parts than words it is left alone. The longest entry wins. Capitals
    that mark a stressed syllable are made small, or a voice would spell them.
    """
    keys = sorted(
        ((tuple(_plain(w) for w in key.split()), how.split()) for key, how in pronounce.items()),
        key=lambda entry: -len(entry[0]),
    )
    found = list(words)
    index = 0
    while index < len(words):
        size = 1
        for key, how in keys:
            here = tuple(_plain(word) for word in words[index : index + len(key)])
            if key and here == key and len(how) >= len(key):
                size = len(key)
                said = [*how[: size - 1], "-".join(how[size - 1 :])]
                found[index : index + size] = [_dressed(w, h) for w, h in zip(words[index:], said, strict=False)]
                break
        index += size
    return tuple(found)


def _plain(word: str) -> str:
    return _split(word)[1].casefold()


def _dressed(word: str, how: str) -> str:
    before, _, after = _split(word)
    return f"{before}{how.lower()}{after}"


def _split(word: str) -> tuple[str, str, str]:
    match = _PARTS.match(word)
    return (match[1], match[2], match[3]) if match else ("", word, "")

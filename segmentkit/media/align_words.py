"""Script words as a recogniser wants them: spoken words of its dictionary, each with the script word it belongs to."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache

from segmentkit.resources import templates_folder

_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_ORDINALS = {
    "one": "first", "two": "second", "three": "third", "five": "fifth", "eight": "eighth", "nine": "ninth",
    "twelve": "twelfth",
}  # fmt: skip
_SIGNS = {"%": "percent", "°": "degrees", "&": "and", "+": "plus", "=": "equals", "@": "at"}
_TOKEN = re.compile(r"\d+(?:,\d{3})*(?:\.\d+)?(?:st|nd|rd|th)?|[^\W\d_]+(?:'[^\W\d_]+)*'?|[%°&+=@]")
_LEAST = 3  # letters of either half of a compound

# Sounds as the guide voice's library names them in American English, and the recogniser's names for them.
_ARPABET = {
    "a": "AE", "aa": "AE", "A": "AA", "A:": "AA", "A@": "AA R", "0": "AA", "E": "EH", "e@": "EH R", "3:": "ER",
    "3": "ER", "@": "AH", "@L": "AH L", "V": "AH", "I": "IH", "i": "IY", "i:": "IY", "i@": "IH R", "O": "AO",
    "O:": "AO", "O@": "AO R", "o@": "AO R", "U": "UH", "u": "UW", "u:": "UW", "U@": "UH R", "aI": "AY", "aI@": "AY ER",
    "aI3": "AY ER", "aU": "AW", "aU@": "AW ER", "eI": "EY", "oU": "OW", "OI": "OY", "p": "P", "b": "B", "t": "T",
    "d": "D", "k": "K", "g": "G", "f": "F", "v": "V", "T": "TH", "D": "DH", "s": "S", "z": "Z", "S": "SH", "Z": "ZH",
    "tS": "CH", "dZ": "JH", "m": "M", "n": "N", "N": "NG", "l": "L", "r": "R", "w": "W", "j": "Y", "h": "HH",
    "x": "K", "?": "", ";": "", "_": "", "_:": "", "_|": "", "-": "",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SpokenForm:
    """The words to look for, the index of the script word that each belongs to, and what had to be left out.

    Attributes:
        words: of the dictionary.
        owners: for each, the index of its word in the script.
        sounds: for words that must be added to the dictionary, their sounds.
        unknown: script words that nobody can say.
    """

    words: tuple[str, ...]
    owners: tuple[int, ...]
    sounds: dict[str, str]
    unknown: tuple[str, ...]


def spoken_form(
    script: Sequence[str], known: Callable[[str], bool], say: Callable[[str], Sequence[str] | None]
) -> SpokenForm:
    """Turns a script into dictionary words.

    A word that the dictionary lacks is looked up in the trade's own list, then split where both halves are words, then
    said by the guide voice and taken down by its sounds.

    Args:
        script: words as written, with punctuation.
        known: whether the dictionary has a word.
        say: sounds of a word as the guide voice names them; None when it cannot.
    """
    words: list[str] = []
    owners: list[int] = []
    sounds: dict[str, str] = {}
    unknown: list[str] = []
    for index, written in enumerate(script):
        for word in tokens(written):
            found = _pronounced(word, known, say, sounds)
            if not found:
                unknown.append(word)
            words += found
            owners += [index] * len(found)
    return SpokenForm(tuple(words), tuple(owners), sounds, tuple(unknown))


def tokens(written: str) -> list[str]:
    """A written word as it is spoken: lower case, numbers in words, hyphens taken apart, punctuation gone."""
    text = unicodedata.normalize("NFKC", written).lower().replace("’", "'").replace("‘", "'")
    spoken: list[str] = []
    for token in _TOKEN.findall(text):
        if token in _SIGNS:
            spoken.append(_SIGNS[token])
        elif token[0].isdigit():
            spoken += number_words(token)
        else:
            spoken.append(token.rstrip("'") if not token.endswith("s'") else token[:-1])
    return spoken


def number_words(token: str) -> list[str]:
    """Digits as an English speaker says them: `120` one hundred twenty, `7th` seventh, `1.5` one point five."""
    ordinal = token[-2:] in {"st", "nd", "rd", "th"}
    whole, _, decimals = token.rstrip("stndrh").replace(",", "").partition(".")
    words = _whole(int(whole)) if len(whole) <= 9 else [_ONES[int(d)] for d in whole]
    if decimals:
        words += ["point", *[_ONES[int(d)] for d in decimals]]
    if ordinal:
        last = words[-1]
        words[-1] = _ORDINALS.get(last) or (last[:-1] + "ieth" if last.endswith("y") else last + "th")
    return words


def _whole(number: int) -> list[str]:
    if number < 20:
        return [_ONES[number]]
    if number < 100:
        return [_TENS[number // 10], *([_ONES[number % 10]] if number % 10 else [])]
    for size, name in ((1_000_000, "million"), (1000, "thousand"), (100, "hundred")):
        if number >= size:
            rest = number % size
            return [*_whole(number // size), name, *(_whole(rest) if rest else [])]
    return []


def _pronounced(
    word: str, known: Callable[[str], bool], say: Callable[[str], Sequence[str] | None], sounds: dict[str, str]
) -> list[str]:
    """One dictionary word, two where it is a compound, or none; `sounds` takes what must be added."""
    own = trade_words()
    if word in own:
        sounds[word] = own[word]
        return [word]
    if known(word) or word in sounds:
        return [word]
    for cut in range(_LEAST, len(word) - _LEAST + 1):
        if known(word[:cut]) and known(word[cut:]):
            return [word[:cut], word[cut:]]
    said = arpabet(say(word) or ())
    if not said:
        return []
    sounds[word] = said
    return [word]


def arpabet(names: Sequence[str]) -> str:
    """The recogniser's names for the guide voice's sounds; empty when one has no counterpart."""
    result: list[str] = []
    for name in names:
        bare = name.lstrip("',%=")
        base = bare if bare in _ARPABET else bare.rstrip('#0123456789-~^"')
        if base not in _ARPABET:
            return ""
        result += _ARPABET[base].split()
    return " ".join(result)


@cache
def trade_words() -> dict[str, str]:
    """The trade's own words and their sounds, from `templates/words/en.dict`."""
    path = templates_folder() / "words" / "en.dict"
    words = {}
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.strip() and not line.startswith("#"):
            word, *said = line.split()
            words[word] = " ".join(said)
    return words

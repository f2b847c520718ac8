"""The words of a beat: who says what, with the marks on which strokes and cards start.

`[hip_gap] daylight` means that `hip_gap` starts on the word "daylight". A mark is not spoken. Words in braces,
`{And don't mind the lines.}`, are spoken like all others, but may be left out when time is short.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from segmentkit.storyboard.fields import NAME, MisreadError
from segmentkit.timebase import Seconds, TimeNotationError, parse_time

_PIECE = re.compile(r"\[(?P<mark>[^\[\]]*)\]|(?P<brace>[{}])|(?P<words>[^\[\]{}]+)|(?P<stray>[\[\]])")
_MARK_NAME = re.compile(NAME)


@dataclass(frozen=True, slots=True)
class Mark:
    """A cue in the words: `id` starts on word number `word` (0 is the first word of its line)."""

    id: str
    word: int


@dataclass(frozen=True, slots=True)
class Spare:
    """Words that may be left out when time is short: from number `first` up to but not including `last`."""

    first: int
    last: int

    def __contains__(self, word: int) -> bool:
        return self.first <= word < self.last


@dataclass(frozen=True, slots=True)
class Line:
    """What one speaker says without a break.

    Attributes:
        speaker: id of the speaker; None for the segment's first one.
        text: the words as spoken, without marks.
        words: the words one by one, punctuation kept.
        marks: the cues in them.
        after: seconds between the end of the line before and the start of this one; negative when they
            overlap; None for the usual gap.
        item: index of the line's item in the storyboard's list; None when `say` is plain text.
        spare: the stretches of words in braces, in order.
    """

    speaker: str | None
    text: str
    words: tuple[str, ...]
    marks: tuple[Mark, ...]
    after: Fraction | None
    item: int | None
    spare: tuple[Spare, ...] = ()


def read_line(speaker: str | None, raw: str, after: Fraction | None, item: int | None) -> Line:
    """Splits marked-up words.

    Raises:
        ValueError: for an empty line, a mark that is no name, stands twice, or has no word after it, and for braces
            that hold nothing or do not pair.
    """
    words: list[str] = []
    marks: list[Mark] = []
    spare: list[Spare] = []
    opened: int | None = None
    before = ""
    for piece in _PIECE.finditer(raw):
        match piece.lastgroup:
            case "mark":
                marks.append(_mark(piece, words, marks))
            case "brace":
                opened = _brace(piece[0], opened, words, spare)
            case "words":
                _take(piece[0], words, glued=before[-1:] in {"}", "]"})
            case _:
                raise MisreadError(
                    f"a {piece[0]} stands alone in the words — write [id] before a word, or leave it out",
                    literal=raw[piece.start() :].split(maxsplit=1)[0],
                )
        before = piece[0]
    if opened is not None:
        raise MisreadError(
            "the { in the words is never closed — write } after the words that may be left out", literal="{"
        )
    # A dash or an ellipsis that stands alone is kept with the words, but nobody speaks it, so no cue starts on it.
    spoken = [index for index, word in enumerate(words) if any(c.isalnum() for c in word)]
    if not spoken:
        raise MisreadError("the line has no words — write them, or delete the key")
    if late := next((mark for mark in marks if mark.word > spoken[-1]), None):
        raise MisreadError(
            f"[{late.id}] has no word after it — put it before the word on which it starts", literal=f"[{late.id}]"
        )
    placed = tuple(Mark(mark.id, next(index for index in spoken if index >= mark.word)) for mark in marks)
    return Line(speaker, " ".join(words), tuple(words), placed, after, item, tuple(spare))


def _mark(piece: re.Match[str], words: list[str], marks: list[Mark]) -> Mark:
    name = piece["mark"].strip()
    if not _MARK_NAME.fullmatch(name):
        raise MisreadError(
            f"{piece[0]} is not a name — write the id of a stroke or of a card's cue, such as [hip_gap]",
            literal=piece[0],
        )
    if any(mark.id == name for mark in marks):
        raise MisreadError(f"[{name}] stands twice in the words — a cue starts on one word", literal=piece[0])
    return Mark(name, len(words))


def _brace(brace: str, opened: int | None, words: list[str], spare: list[Spare]) -> int | None:
    """Opens or closes a stretch that may be left out; returns the word on which the open one starts."""
    if brace == "{":
        if opened is not None:
            raise MisreadError("a { stands inside braces — close the first with } before it", literal="{")
        return len(words)
    if opened is None:
        raise MisreadError(
            "a } stands in the words without its { — write { before the words that may be left out", literal="}"
        )
    if opened == len(words):
        raise MisreadError("the braces hold no words — put words between { and }, or delete both", literal="{")
    spare.append(Spare(opened, len(words)))
    return None


def _take(text: str, words: list[str], *, glued: bool) -> None:
    """Adds words; a full stop right after a mark or a closing brace belongs to the word before it."""
    parts = text.split()
    if glued and words and parts and not text[0].isspace() and not any(c.isalnum() for c in parts[0]):
        words[-1] += parts.pop(0)
    words.extend(parts)


def read_say(value: object) -> tuple[Line, ...]:
    """Reads `say`: plain text, or a list of one-key mappings `speaker: text`, `pause: 0.5s`, `overlap: 0.3s`.

    Raises:
        ValueError: with what is wrong and what is allowed.
    """
    match value:
        case None:
            return ()
        case str():
            return (read_line(None, value, None, None),) if value.strip() else ()
        case list():
            return _read_list(value)
        case tuple() if all(isinstance(line, Line) for line in value):
            return value
        case _:
            raise ValueError(
                "a mapping stands here — write words, or a list of `- speaker: words`; words that start with { stand "
                "below a `>`"
            )


def _read_list(entries: list[object]) -> tuple[Line, ...]:
    lines: list[Line] = []
    after: Fraction | None = None
    for item, entry in enumerate(entries):
        key, content = _pair(entry, item)
        if key in {"pause", "overlap"}:
            if after is not None:
                raise MisreadError("two pauses in a row — write one", (item, key))
            if key == "overlap" and not lines:
                raise MisreadError("an overlap needs a line before it", (item, key))
            after = _seconds(content, (item, key)) * (1 if key == "pause" else -1)
            continue
        try:
            line = read_line(key, content, after, item)
        except MisreadError as problem:
            raise MisreadError(str(problem), (item, key), problem.literal) from None
        earlier = {mark.id for before in lines for mark in before.marks}
        if twice := next((mark.id for mark in line.marks if mark.id in earlier), None):
            raise MisreadError(
                f"[{twice}] stands twice in the beat — a cue starts on one word", (item, key), f"[{twice}]"
            )
        lines.append(line)
        after = None
    if after is not None:
        raise MisreadError(
            "the words end with a pause — lengthen the picture's hold, or the voice's tail, instead",
            (len(entries) - 1,),
        )
    return tuple(lines)


def _pair(entry: object, item: int) -> tuple[str, str]:
    """The one key of an entry, with its text."""
    if not isinstance(entry, dict) or len(entry) != 1:
        raise MisreadError("this is not `speaker: words`, `pause: 0.5s` or `overlap: 0.3s`", (item,))
    ((key, content),) = entry.items()
    if not isinstance(content, str):
        raise MisreadError(f"`{key}` needs text after it", (item, key))
    if not re.fullmatch(NAME, key):
        raise MisreadError(
            f"`{key}` is not the name of a speaker — use a lower-case letter, then letters, digits, '_' or '-'", (item,)
        )
    return key, content


def _seconds(text: str, path: tuple[int, str]) -> Fraction:
    try:
        time = parse_time(text)
    except TimeNotationError:
        raise MisreadError(f"'{text}' is not a length — write seconds such as 0.5s", path) from None
    if not isinstance(time, Seconds):
        raise MisreadError(f"'{text}' is not a length — write seconds such as 0.5s", path)
    return time.value

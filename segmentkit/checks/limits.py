"""The numbers that a house may choose for itself. Published floors and consent are not among them: they are fixed."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from fractions import Fraction

from segmentkit.checks.phrases import Phrase


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """One named number: what it is counted in, what it limits, and between what bounds a house may set it."""

    name: str
    default: Fraction
    unit: str
    says: str
    lowest: Fraction
    highest: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a house has chosen. Common practice, no source, unless the entry names one."""

    strokes_at_once: Fraction = field(
        default=Fraction(4), metadata={"unit": "strokes", "says": "Most strokes on screen at once.", "in": (1, 12)}
    )
    stroke_look: Fraction = field(
        default=Fraction(3, 2),
        metadata={"unit": "s", "says": "Least time to look at a stroke once it is drawn.", "in": (0, 10)},
    )
    sentence_words: Fraction = field(
        default=Fraction(18), metadata={"unit": "words", "says": "A longer sentence gets a note.", "in": (5, 60)}
    )
    sentence_words_most: Fraction = field(
        default=Fraction(24), metadata={"unit": "words", "says": "A longer sentence gets a warning.", "in": (5, 80)}
    )
    wpm_least: Fraction = field(
        default=Fraction(110),
        metadata={"unit": "words a minute", "says": "Slower reading gets a note.", "in": (40, 200)},
    )
    wpm_most: Fraction = field(
        default=Fraction(180),
        metadata={
            "unit": "words a minute",
            "says": "Faster reading gets a warning (160 to 180 is recommended for news: Rodero, Text & Talk 32:391, "
            "2012).",
            "in": (100, 300),
        },
    )
    wpm_never: Fraction = field(
        default=Fraction(200),
        metadata={"unit": "words a minute", "says": "A take read faster than this is an error.", "in": (120, 400)},
    )
    frames_held: Fraction = field(
        default=Fraction(4),
        metadata={"unit": "output frames", "says": "Longest hold of one source frame in slow motion.", "in": (1, 50)},
    )
    title_least: Fraction = field(default=Fraction(3), metadata={"unit": "s", "says": "Shortest title.", "in": (0, 30)})
    title_most: Fraction = field(default=Fraction(6), metadata={"unit": "s", "says": "Longest title.", "in": (1, 60)})
    name_in_least: Fraction = field(
        default=Fraction(1),
        metadata={"unit": "s", "says": "A lower third comes in no sooner after its picture.", "in": (0, 10)},
    )
    name_in_most: Fraction = field(
        default=Fraction(5, 2),
        metadata={"unit": "s", "says": "A lower third comes in no later after its picture.", "in": (0, 30)},
    )
    name_least: Fraction = field(
        default=Fraction(3), metadata={"unit": "s", "says": "Shortest lower third.", "in": (0, 30)}
    )
    name_most: Fraction = field(
        default=Fraction(8), metadata={"unit": "s", "says": "Longest lower third.", "in": (1, 60)}
    )
    wordless: Fraction = field(
        default=Fraction(8), metadata={"unit": "s", "says": "Longest beat without words.", "in": (1, 120)}
    )
    last_word: Fraction = field(
        default=Fraction(1),
        metadata={"unit": "s", "says": "Least time after the last word of the segment.", "in": (0, 10)},
    )
    hook: Fraction = field(
        default=Fraction(2),
        metadata={"unit": "s", "says": "A short says or shows within this time what it is about.", "in": (0, 10)},
    )
    short_shot: Fraction = field(
        default=Fraction(1, 5),
        metadata={"unit": "s", "says": "A shorter shot looks like a wrong frame at a cut.", "in": (0, 2)},
    )
    cap_height: Fraction = field(
        default=Fraction(45),
        metadata={
            "unit": "px at a picture height of 1080",
            "says": "Smaller capitals get a warning; 45 px are 24 lines of standard definition, the least for "
            "text on television by tiresias.org.",
            "in": (10, 200),
        },
    )
    cap_height_second: Fraction = field(
        default=Fraction(75, 2),
        metadata={
            "unit": "px at a picture height of 1080",
            "says": "The same for second lines (under a name, a note, a second caution, a stroke's label); 37.5 px are "
            "20 lines of standard definition, the least for subtitles by tiresias.org.",
            "in": (10, 200),
        },
    )
    drills_short: Fraction = field(
        default=Fraction(1),
        metadata={"unit": "drills", "says": "Most drills in a segment of a minute or less.", "in": (0, 10)},
    )
    drills_long: Fraction = field(
        default=Fraction(2), metadata={"unit": "drills", "says": "Most drills in a longer segment.", "in": (0, 20)}
    )
    fault_beats: Fraction = field(
        default=Fraction(2),
        metadata={"unit": "beats", "says": "Most beats that draw new fault strokes.", "in": (0, 20)},
    )
    word_error: Fraction = field(
        default=Fraction(1, 2),
        metadata={"unit": "s", "says": "A word may be this far off before its strokes get a warning.", "in": (0, 5)},
    )
    release_ends: Fraction = field(
        default=Fraction(30),
        metadata={"unit": "days", "says": "A release or licence that ends sooner gets a note.", "in": (0, 1000)},
    )
    forbidden: tuple[Phrase, ...] = ()
    """The house's own wordings, beside the shipped ones."""


LIMITS: tuple[Limit, ...] = tuple(
    Limit(
        name=f.name,
        default=getattr(Limits(), f.name),
        unit=f.metadata["unit"],
        says=f.metadata["says"],
        lowest=Fraction(f.metadata["in"][0]),
        highest=Fraction(f.metadata["in"][1]),
    )
    for f in fields(Limits)
    if "unit" in f.metadata
)
"""Every number, for the documentation and for reading house rules."""

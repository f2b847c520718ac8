"""Rules for captions: how long a line, how fast, where on the picture. Read from `templates/captions`."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from typing import Annotated

from pydantic import Field

from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Size
from segmentkit.resources import templates_folder
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import Duration, Node, Sentence, WordsPerMinute, number_within
from segmentkit.storyboard.reading import read_as, read_text
from segmentkit.timebase import Rate, seconds_of

BREAKS = "breaks"
_TALL, _WIDE = 1.5, 1.3
"""Height against width of an upright picture, and width against height of a wide one; the layout parts them alike."""
_PLAIN = Rate(Fraction(25))  # lengths in rule files are seconds; no label is counted


class CaptionRules(Node):
    """A rule file."""

    what: Sentence = Field(description="What the captions are for, in one line.")
    characters: Annotated[float, *number_within("", 8, 80)] = Field(
        description="Longest line, in characters; a wide character of East Asia counts as two."
    )
    lines: Annotated[float, *number_within("", 1, 3)] = Field(description="Most lines of a caption.")
    words_per_minute: WordsPerMinute = Field(description="Faster captions get a finding.")
    per_word: Duration = Field(description="A caption stands at least this long for each word.")
    least: Duration = Field(description="No caption stands less long.")
    gap: Duration = Field(description="Two captions follow at once, or leave at least this gap.")
    hang: Duration = Field(description="A caption stays at most this long after its last word.")
    line_height: Annotated[float, *number_within("", 2, 15)] = Field(
        description="Height of a line in per cent of the picture's height."
    )
    width: Annotated[float, *number_within("", 20, 100)] = Field(
        description="Width of the longest line in per cent of the picture's width."
    )
    margin_top: Annotated[float, *number_within("", 0, 40)] = Field(description="Per cent kept free above.")
    margin_bottom: Annotated[float, *number_within("", 0, 40)] = Field(description="Per cent kept free below.")

    def seconds(self, name: str) -> Fraction:
        """One of the lengths, in seconds."""
        length: Duration = getattr(self, name)
        return seconds_of(length, _PLAIN)


class BreakHints(Node):
    """Words of one language that tell where its lines may end; lower case, parted by spaces."""

    joined: Sentence = Field(description="A line does not end after one of these.")
    opens: Sentence = Field(description="A line likes to begin with one of these.")


class _Breaks(Node):
    """The file of hints."""

    languages: dict[str, BreakHints] = Field(description="By the first part of the language tag.")


@cache
def caption_rule_names() -> tuple[str, ...]:
    """Names of the rule sets that travel with segmentkit."""
    folder = templates_folder() / "captions"
    return tuple(sorted(path.stem for path in folder.glob("*.yaml") if path.stem != BREAKS))


@cache
def caption_rules(name: str) -> CaptionRules:
    """A rule set by its name.

    Raises:
        StoryboardUnreadable: when there is no such set, or its file has faults.
    """
    if name not in caption_rule_names():
        raise StoryboardUnreadable(
            f"captions — `{name}` is not a set of caption rules — "
            f"{suggestion(name, caption_rule_names(), 'set of rules')}"
        )
    path = templates_folder() / "captions" / f"{name}.yaml"
    return read_as(CaptionRules, read_text(path), path.name)


def rules_for(scope: str, size: Size) -> str:
    """The rule set that suits a use and a picture: narrow pictures have their own, then broadcasters, then the web.

    Square ones are all that are neither upright, where players lay their controls over the foot, nor wide.
    """
    if size.height >= _TALL * size.width:
        return "tall"
    if size.width < _WIDE * size.height:
        return "square"
    return "broadcast" if scope == "broadcast" else "web"


@cache
def break_hints(language: str) -> tuple[frozenset[str], frozenset[str]]:
    """Words after which a line does not end, and words with which it likes to begin; both empty where none are known.

    Args:
        language: an IETF tag; its first part counts.
    """
    path = templates_folder() / "captions" / f"{BREAKS}.yaml"
    hints = read_as(_Breaks, read_text(path), path.name).languages.get(language.lower().split("-")[0])
    if hints is None:
        return frozenset(), frozenset()
    return frozenset(hints.joined.split()), frozenset(hints.opens.split())

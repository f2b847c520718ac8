"""Which spare words would bring a segment that is over back into its slot.

The method: beats do not lean on one another, so what leaving words out gains is worked out beat by beat, by planning
the beat with and without them at its least length. Over the beats these gains add up. Of all sets that gain enough,
those with the fewest stretches of words are taken, the ones from later beats first, and each is proved by planning the
whole segment without its words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice

from segmentkit.facts import Facts
from segmentkit.plan.build import build_plan
from segmentkit.plan.model import Plan
from segmentkit.plan.spare import SpareWords, spare_words, without
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.model import Beat

Stays = Callable[[Beat, str], str | None]
"""Told a beat and some of its words; says why they must stay, or None."""
MOST_IN_A_BEAT = 8
MOST_OPTIONS = 4
_MOST_TRIED = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Spared:
    """Words in braces with what leaving them out would gain.

    Attributes:
        words: which ones.
        gain: frames by which their beat could then be shorter; 0 where its pictures hold it up.
        stays: why they are never offered; None when they may go.
    """

    words: SpareWords
    gain: int
    stays: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Option:
    """Words that together are enough, in the order of the story, and the frames they gain."""

    words: tuple[SpareWords, ...]
    gain: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Advice:
    """What spare words can do.

    Attributes:
        over: frames by which the segment is over; 0 when it is not.
        spared: all words in braces.
        options: sets that restore the slot, best first; empty when it is not over, or when nothing is enough.
        most: frames gained by leaving out all that may go.
    """

    over: int
    spared: tuple[Spared, ...]
    options: tuple[Option, ...]
    most: int


@dataclass(frozen=True, slots=True)
class _Choice:
    """Some of the spare words of one beat, and what that gains."""

    words: tuple[SpareWords, ...]
    gain: int


def advise(loaded: LoadedStoryboard, facts: Facts, plan: Plan, stays: Stays) -> Advice:
    """Looks for the fewest spare words whose absence brings the plan into its slot.

    Args:
        loaded: the storyboard.
        facts: what was measured, as the plan was made from.
        plan: its plan.
        stays: the judge of words that are never offered.
    """
    over = max(0, plan.frames - plan.slot)
    everything = spare_words(loaded.board, facts)
    reasons = {words: stays(loaded.board.beats[words.index], words.text) for words in everything}
    free = [words for words in everything if reasons[words] is None]
    choices = [
        _choices(loaded, facts, [words for words in free if words.index == index])
        for index in sorted({words.index for words in free}, reverse=True)
    ]
    alone = {
        words: choice.gain for beat in choices for choice in beat if len(choice.words) == 1 for words in choice.words
    }
    spared = tuple(Spared(words=words, gain=alone.get(words, 0), stays=reasons[words]) for words in everything)
    most = sum(max((choice.gain for choice in beat), default=0) for beat in choices)
    options = _options(loaded, facts, choices, over, plan.slot) if over else ()
    return Advice(over=over, spared=spared, options=options, most=most)


def _choices(loaded: LoadedStoryboard, facts: Facts, words: Sequence[SpareWords]) -> list[_Choice]:
    """Every way to leave out some words of one beat, fewest first, and of as many the most gainful first."""
    words = words[-MOST_IN_A_BEAT:]  # 256 ways; further spare words of one beat are not weighed
    whole = _least(loaded, facts, words[0].index)
    found = []
    for count in range(1, len(words) + 1):
        some = [
            _Choice(pick, whole - _least(*without(loaded, facts, pick), words[0].index))
            for pick in combinations(words, count)
        ]
        found += sorted(some, key=lambda choice: -choice.gain)
    return found


def _least(loaded: LoadedStoryboard, facts: Facts, index: int) -> int:
    """The least length of a beat, planned on its own."""
    board = loaded.board.model_copy(update={"beats": loaded.board.beats[index : index + 1], "music": ()})
    plan, _ = build_plan(replace(loaded, board=board), facts, slot=1)
    return plan.beats[0].least


def _options(
    loaded: LoadedStoryboard, facts: Facts, choices: Sequence[Sequence[_Choice]], over: int, slot: int
) -> tuple[Option, ...]:
    count = sum(max((len(choice.words) for choice in beat), default=0) for beat in choices)
    for size in range(1, count + 1):
        proved = islice(
            (
                option
                for option in islice(_sets(choices, size, over), _MOST_TRIED)
                if build_plan(*without(loaded, facts, option.words), slot=slot)[0].frames == slot
            ),
            MOST_OPTIONS,
        )
        if options := tuple(proved):
            return options
    return ()


def _sets(choices: Sequence[Sequence[_Choice]], size: int, gain: int) -> Iterator[Option]:
    """Sets of `size` stretches that gain at least `gain` frames; `choices` holds the latest beat first."""
    if not choices:
        return
    best = _best_gains(choices)

    def walk(beat: int, left: int, missing: int) -> Iterator[tuple[_Choice, ...]]:
        if left == 0 and missing <= 0:
            yield ()
        if left == 0 or beat == len(choices) or best[beat][min(left, len(best[beat]) - 1)] < missing:
            return
        for choice in sorted(choices[beat], key=lambda choice: -len(choice.words)):
            if len(choice.words) <= left:
                for rest in walk(beat + 1, left - len(choice.words), missing - choice.gain):
                    yield (choice, *rest)
        yield from walk(beat + 1, left, missing)

    for picked in walk(0, size, gain):
        words = sorted((w for choice in picked for w in choice.words), key=lambda w: (w.index, w.line, w.first))
        yield Option(words=tuple(words), gain=sum(choice.gain for choice in picked))


def _best_gains(choices: Sequence[Sequence[_Choice]]) -> list[list[int]]:
    """For each beat, the most that it and those after it in the list gain with 0, 1, 2 ... stretches at most."""
    best = [[0]]
    for beat in reversed(choices):
        later = best[0]
        size = len(later) + max((len(choice.words) for choice in beat), default=0)
        row = [later[min(count, len(later) - 1)] for count in range(size)]
        for choice in beat:
            for count in range(len(choice.words), size):
                rest = later[min(count - len(choice.words), len(later) - 1)]
                row[count] = max(row[count], choice.gain + rest)
        best.insert(0, row)
    return best

"""Captions from the words and when they are spoken: parted at sense, timed to be read, laid where nothing is hidden.

Reading speed, least duration, gaps and how long a caption may hang are those of the rule set (see
`templates/captions`, where each figure has its source).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf, lcm

from segmentkit.delivery import Delivery
from segmentkit.facts import TakenArea
from segmentkit.geometry import Size
from segmentkit.plan.caption_model import Caption
from segmentkit.plan.caption_places import Ground, placed, usual_place
from segmentkit.plan.caption_text import (
    SENTENCE_END,
    Hints,
    Unit,
    break_cost,
    joined,
    lay,
    lines_of,
    units_of,
    words_to_read,
)
from segmentkit.plan.model import Plan, Speech
from segmentkit.storyboard.caption_rules import CaptionRules, break_hints, caption_rules, rules_for
from segmentkit.timebase import Rate, Span, frames_covering

NARROW = (Fraction(1), Fraction(76, 100), Fraction(6, 10))
"""Line lengths to try, as parts of the longest: shorter ones find room beside a card."""
_LATE = Fraction(1)
"""Seconds by which a caption may come after its first word; the BBC Subtitle Guidelines (5.4) allow 2 s at most."""
_PAUSE = Fraction(1)
"""From one word to the next: longer than this a caption ends there if it can. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CaptionSet:
    """All captions of a segment by one set of rules; `name` is that of the rules."""

    name: str
    rules: CaptionRules
    captions: tuple[Caption, ...]


def caption_sets(
    plan: Plan, deliveries: Sequence[Delivery], language: str, taken: Sequence[TakenArea] = ()
) -> tuple[CaptionSet, ...]:
    """The captions for each of the rule sets that some profiles need, each set once."""
    return captions_by(plan, [rules_of(one, plan.size) for one in deliveries], language, taken)


def rules_of(to: Delivery, size: Size) -> str:
    """The caption rules that a delivery keeps: its own, or those that suit its use and shape."""
    return to.captions or rules_for(to.scope, size)


def captions_by(
    plan: Plan, names: Sequence[str], language: str, taken: Sequence[TakenArea] = ()
) -> tuple[CaptionSet, ...]:
    """The captions by some rule sets, each set once.

    Raises:
        StoryboardUnreadable: when there is no set of that name.
    """
    return tuple(
        CaptionSet(name=name, rules=rules, captions=captions_of(plan, rules, language, taken))
        for name, rules in ((name, caption_rules(name)) for name in dict.fromkeys(names))
    )


def captions_of(plan: Plan, rules: CaptionRules, language: str, taken: Sequence[TakenArea] = ()) -> tuple[Caption, ...]:
    """The captions of a segment, in the order in which they are read; none overlap, none outlast the segment.

    Args:
        plan: who says what and when.
        rules: line length, speed, room.
        language: IETF tag of the words; steers where lines like to break, nothing else.
        taken: what must stay visible.
    """
    hints = Hints(*break_hints(language))
    ground = Ground(size=plan.size, rules=rules, taken=tuple(taken))
    spoken = sorted((line for line in plan.speech if line.words), key=lambda line: (line.span.start, line.line))
    labels = _labels(spoken)
    made: list[Caption] = []
    for index, (line, label) in enumerate(zip(spoken, labels, strict=True)):
        until = spoken[index + 1].span.start if index + 1 < len(spoken) else plan.frames
        until = max(until, line.span.end)  # who is spoken over has the whole of their time until both are put in order
        made.extend(_line(line, label, min(until, plan.frames), plan.rate, ground, hints))
    return tuple(_unfolded(made, plan, rules))


def _labels(spoken: Sequence[Speech]) -> list[str | None]:
    """The name to be told at each line: none where one person speaks throughout, else at each change."""
    if len({line.speaker for line in spoken}) < 2:
        return [None] * len(spoken)
    before: str | None = None
    labels: list[str | None] = []
    for line in spoken:
        labels.append(line.shown if line.speaker != before else None)
        before = line.speaker
    return labels


def _line(line: Speech, label: str | None, until: int, rate: Rate, ground: Ground, hints: Hints) -> tuple[Caption, ...]:
    """The captions of one spoken line; narrower ones where the wide ones would hide something."""
    units = units_of([(word.text, word.frame) for word in line.words], line.span.end, label)
    least: tuple[Caption, ...] = ()
    for part in NARROW:
        most = int(round(ground.rules.characters) * part)
        cues = _cues(units, _last_moment(line, until, rate, ground.rules), most, rate, ground.rules, hints)
        tried = placed(_timed(cues, line, until, rate, ground), ground)
        hidden = sum(bool(caption.hits) for caption in tried)
        if not hidden:
            return tried
        if not least or hidden < sum(bool(caption.hits) for caption in least):
            least = tried
    return least


def _last_moment(line: Speech, until: int, rate: Rate, rules: CaptionRules) -> int:
    """How long the last caption of a line may stand."""
    return max(line.words[-1].frame + 1, min(until, line.span.end + frames_covering(rules.seconds("hang"), rate)))


Cue = tuple[int, tuple[str, ...], Fraction]
"""First frame, lines, words to read."""


def _cues(units: Sequence[Unit], end: int, most: int, rate: Rate, rules: CaptionRules, hints: Hints) -> list[Cue]:
    """Parts a line into captions; the least total cost over all ways (dynamic programming)."""
    count, lines = len(units), round(rules.lines)
    costs = _Costs(units, [*(unit.frame for unit in units), end], rate, rules, hints)
    best = [0.0] + [inf] * count
    back = [0] * (count + 1)
    for first in range(count):
        if best[first] == inf:
            continue
        for last in range(first + 1, count + 1):
            part = units[first:last]
            laid = lay(part, most, lines, hints)
            if laid is None:
                break
            cost = best[first] + laid.cost + costs.of(first, last)
            if cost < best[last]:
                best[last], back[last] = cost, first
    cuts = [count]
    while cuts[-1]:
        cuts.append(back[cuts[-1]])
    cuts.reverse()
    cues: list[Cue] = []
    for first, last in itertools.pairwise(cuts):
        part = units[first:last]
        laid = lay(part, most, lines, hints)
        assert laid is not None
        cues.append((part[0].frame, lines_of(part, laid), words_to_read(joined(part))))
    return cues


class _Costs:
    """How bad it is to make one caption of some neighbouring units of a line.

    Each pair of first and last is asked for, so all that can be is counted once, from the line's start.
    """

    def __init__(
        self, units: Sequence[Unit], starts: Sequence[int], rate: Rate, rules: CaptionRules, hints: Hints
    ) -> None:
        """`starts` is each unit's first frame, and the frame at which the line's last caption goes at the latest."""
        count = len(units)
        self._starts = starts
        self._breaks = [2.0 * break_cost(units[k - 1], units[k], hints) if k else 0.0 for k in range(count)]
        self._closes = [SENTENCE_END.search(unit.text) is not None for unit in units]
        self._ends = _sums(self._closes)
        pause = frames_covering(_PAUSE, rate)
        self._pauses = _sums(starts[k] - starts[k - 1] > pause for k in range(1, count))
        # Frames to read the units up to each, all with one denominator: whole numbers are quick to compare.
        words = list(itertools.accumulate((words_to_read(unit.text) for unit in units), initial=Fraction(0)))
        frames = [number * _per_word(rules) * rate.fps for number in words]
        self._whole = lcm(*(part.denominator for part in frames))
        self._reading = [part.numerator * (self._whole // part.denominator) for part in frames]
        self._least = frames_covering(rules.seconds("least"), rate)

    def of(self, first: int, last: int) -> float:
        """The cost of the units from the first up to, but not including, the last."""
        cost = 5.0  # each caption costs, so that there are few
        if last < len(self._breaks):
            cost += self._breaks[last]
        ends = self._ends[last - 1] - self._ends[first]
        if ends and not self._closes[last - 1]:
            cost += 9.0  # the end of one sentence and the start of the next
        cost += 1.0 * ends
        if last - first == 1 and len(self._breaks) > 1:
            cost += 8.0
        cost += 6.0 * (self._pauses[last - 1] - self._pauses[first])
        lasts = self._starts[last] - self._starts[first]
        needed = -((self._reading[first] - self._reading[last]) // self._whole)  # rounded up
        short = max(self._least, needed) - lasts
        if short > 0:
            cost += 4.0 + 0.6 * short
        if lasts < self._least:
            cost += 6.0
        return cost


def _sums(parts: Iterable[int]) -> list[int]:
    """The sum of none, of the first, of the first two ... of some numbers."""
    return list(itertools.accumulate(parts, initial=0))


def _per_word(rules: CaptionRules) -> Fraction:
    """Seconds for which a caption must stand for each of its words."""
    return max(rules.seconds("per_word"), 60 / Fraction(rules.words_per_minute))


def least_frames(words: Fraction, rules: CaptionRules, rate: Rate) -> int:
    """Frames for which a caption of so many words must stand, to be read no faster than the rules allow."""
    return frames_covering(max(rules.seconds("least"), words * _per_word(rules)), rate)


def _timed(cues: Sequence[Cue], line: Speech, until: int, rate: Rate, ground: Ground) -> tuple[Caption, ...]:
    """Captions that start on their first word and stay until the next one, or long enough to be read."""
    rules = ground.rules
    made = []
    starts = _starts(cues, line.span.end, rules, rate)
    for index, (_, lines, words) in enumerate(cues):
        inner = index + 1 < len(cues)
        start, following = starts[index], starts[index + 1] if inner else until
        spoken = following if inner else min(line.span.end, following)
        end = max(min(spoken, following), start + 1)
        if not inner:
            end = _hung(start, end, max(following, start + 1), words, rules, rate)
        made.append(
            Caption(
                span=Span(start, end),
                lines=lines,
                speaker=line.shown,
                place=usual_place(rules),
                beat=line.beat,
                line=line.line,
            )
        )
    return tuple(made)


def _starts(cues: Sequence[Cue], end: int, rules: CaptionRules, rate: Rate) -> list[int]:
    """When captions come: on their first words, or a little later where the one before needs and they can spare it."""
    starts = [cue[0] for cue in cues]
    for index in range(1, len(starts)):
        after = starts[index + 1] if index + 1 < len(starts) else end
        lacks = starts[index - 1] + least_frames(cues[index - 1][2], rules, rate) - starts[index]
        spare = after - starts[index] - least_frames(cues[index][2], rules, rate)
        starts[index] += max(0, min(lacks, spare, frames_covering(_LATE, rate)))
    return starts


def _hung(start: int, spoken: int, following: int, words: Fraction, rules: CaptionRules, rate: Rate) -> int:
    """Where a line's last caption ends: read in time, and either at the next one's start or clear of it."""
    hang, gap = frames_covering(rules.seconds("hang"), rate), frames_covering(rules.seconds("gap"), rate)
    end = min(following, max(spoken, min(start + least_frames(words, rules, rate), spoken + hang)))
    if following - end < gap:
        end = following if following - spoken <= hang else max(spoken, following - gap)
    return end


def _unfolded(captions: Sequence[Caption], plan: Plan, rules: CaptionRules) -> list[Caption]:
    """Captions one after the other: people who speak at once share a caption if it holds both, else cut one short."""
    made: list[Caption] = []
    for caption in sorted(captions, key=lambda one: (one.span.start, one.line)):
        before = made[-1] if made else None
        start = max(caption.span.start, before.span.start) if before else caption.span.start
        if before is not None and start < before.span.end:
            both = (*before.lines, *caption.lines)
            if start - before.span.start < least_frames(before.words, rules, plan.rate) and len(both) <= rules.lines:
                end = max(before.span.end, caption.span.end)
                speakers = (
                    before.speaker if before.speaker == caption.speaker else f"{before.speaker}, {caption.speaker}"
                )
                hits = tuple(dict.fromkeys((*before.hits, *caption.hits)))
                made[-1] = replace(before, span=Span(before.span.start, end), lines=both, speaker=speakers, hits=hits)
                continue
            start = max(start, before.span.start + 1)
            made[-1] = replace(before, span=Span(before.span.start, start))
        end = min(max(caption.span.end, start + 1), plan.frames)
        if start < end:
            made.append(replace(caption, span=Span(start, end)))
    gap = frames_covering(rules.seconds("gap"), plan.rate)
    for index, (one, after) in enumerate(itertools.pairwise(made)):
        if 0 < after.span.start - one.span.end < gap:
            made[index] = replace(one, span=Span(one.span.start, after.span.start))
    return made

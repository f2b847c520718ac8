"""A time line on paper: cut into staves at the starts of beats, and labels packed so that none collide."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

from segmentkit.plan.model import Plan
from segmentkit.timebase import Span

LEAST_SCALE = 13.0
"""Units of paper a second, at least: below that the words of a beat no longer find room under it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stave:
    """A stretch of the segment on one line of the paper.

    Attributes:
        span: its frames; whole beats.
        left: where its first frame lies; `right` is where the paper ends.
        per_frame: units of paper a frame.
    """

    span: Span
    left: float
    right: float
    per_frame: float

    def x(self, frame: int) -> float:
        """Where a frame lies; what is outside the stave lies at its ends."""
        inside = min(max(frame, self.span.start), self.span.end)
        return self.left + (inside - self.span.start) * self.per_frame

    @property
    def end(self) -> float:
        """Where its last frame ends."""
        return self.x(self.span.end)


def staves(plan: Plan, left: float, right: float) -> tuple[Stave, ...]:
    """As few staves as leave room for words, all at one scale, cut between beats so that the longest is shortest."""
    seconds = plan.frames / plan.rate.fps
    bounds = [0, *(beat.span.end for beat in plan.beats)]
    count = min(len(plan.beats), max(1, math.ceil(float(seconds) * LEAST_SCALE / (right - left))))
    inner = bounds[1:-1]
    if math.comb(len(inner), count - 1) > 20_000:  # a long segment of many beats: cut by the clock
        cuts = tuple(min(inner, key=lambda b, k=k: abs(b - plan.frames * k / count)) for k in range(1, count))  # type: ignore[misc]
        cuts = tuple(sorted(set(cuts)))
    else:
        cuts = min(
            combinations(inner, count - 1),
            key=lambda cuts: max(b - a for a, b in pairwise([0, *cuts, plan.frames])),
        )
    spans = [Span(a, b) for a, b in pairwise([0, *cuts, plan.frames])]
    scale = (right - left) / max(span.frames for span in spans)
    return tuple(Stave(span=span, left=left, right=right, per_frame=scale) for span in spans)


def pack(intervals: Sequence[tuple[float, float]], gap: float = 3.0) -> tuple[int, ...]:
    """A row for each interval, so that those in one row keep `gap` between them; the first free row is taken."""
    ends: list[float] = []
    rows = [0] * len(intervals)
    for index in sorted(range(len(intervals)), key=lambda k: intervals[k]):
        start, end = intervals[index]
        row = next((k for k, last in enumerate(ends) if last + gap <= start), len(ends))
        if row == len(ends):
            ends.append(end)
        ends[row] = end
        rows[index] = row
    return tuple(rows)

"""Meets the slot to the frame by changing elastic lengths only.

The method: each beat has a least, a nominal and a most length in whole frames. When the nominal lengths miss the slot,
the change is shared out so that the sum over beats of (change squared / room) is as small as whole frames allow. When
time must be given, beats with a lower `gives` are used up before the next ones are touched. The cost is separable and
convex, so handing out one frame at a time to the cheapest beat reaches the true optimum (greedy marginal allocation:
Federgruen and Groenevelt, Operations Research 34:909, 1986; source from memory, held against brute force in the tests).
"""

from __future__ import annotations

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A length in frames that may change between `least` and `most`."""

    least: int
    nominal: int
    most: int
    gives: int = 5

    def __post_init__(self) -> None:
        if not 0 <= self.least <= self.nominal <= self.most:
            raise ValueError(f"lengths do not rise: {self.least}, {self.nominal}, {self.most}")


def fit(stretches: Sequence[Stretch], slot: int) -> tuple[int, ...]:
    """Lengths that add up to `slot`, or come as near to it as the limits allow.

    Args:
        stretches: the beats, or the shots of a beat.
        slot: wanted sum in frames.

    Returns:
        One length for each stretch, in order.
    """
    lengths = [s.nominal for s in stretches]
    missing = slot - sum(lengths)
    if missing > 0:
        _share(missing, [s.most - s.nominal for s in stretches], lengths, sign=1)
    elif missing < 0:
        for level in sorted({s.gives for s in stretches}):
            rooms = [s.nominal - s.least if s.gives == level else 0 for s in stretches]
            given = _share(-missing, rooms, lengths, sign=-1)
            missing += given
            if not missing:
                break
    return tuple(lengths)


def _share(frames: int, rooms: Sequence[int], lengths: list[int], *, sign: int) -> int:
    """Shares `frames` over `rooms`, changing `lengths` in place; returns how many were placed."""
    frames = min(frames, sum(rooms))
    taken = [0] * len(rooms)
    queue = [(Fraction(1, room), index) for index, room in enumerate(rooms) if room]
    heapq.heapify(queue)
    for _ in range(frames):
        _, index = heapq.heappop(queue)
        taken[index] += 1
        lengths[index] += sign
        if taken[index] < rooms[index]:
            heapq.heappush(queue, (Fraction(2 * taken[index] + 1, rooms[index]), index))
    return frames


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A shot within a beat: its own limits, and where its end should fall, counted from the start of the beat.

    Attributes:
        stretch: own least, nominal and most length.
        end_from: its end should not come before this frame (a stroke still needs looking at).
        end_until: its end should not come after this frame (a stroke of the next shot starts there).
    """

    stretch: Stretch
    end_from: int = 0
    end_until: int | None = None


def reach(parts: Sequence[Part]) -> list[tuple[int, int]]:
    """For each part, the earliest and latest frame at which it can end.

    Wishes (`end_from`, `end_until`) that the parts' own limits do not allow are met as nearly as can be, so there is
    always an answer; what a wish leaves unmet, the checks name.
    """
    ends: list[tuple[int, int]] = []
    low, high = 0, 0
    for part in parts:
        low, high = low + part.stretch.least, high + part.stretch.most
        wanted_low = max(low, min(part.end_from, high))
        wanted_high = high if part.end_until is None else min(high, max(part.end_until, low))
        low, high = wanted_low, max(wanted_low, wanted_high)
        ends.append((low, high))
    return ends


def divide(parts: Sequence[Part], total: int) -> tuple[int, ...]:
    """Divides a beat's frames among its shots, keeping to `reach`.

    Args:
        parts: the shots, in order.
        total: frames of the beat, within the reach of the last part.

    Returns:
        One length for each part; their sum is `total`.
    """
    ends = reach(parts)
    lengths = [0] * len(parts)
    end = total
    for index in range(len(parts) - 1, -1, -1):
        if index == 0:
            lengths[0] = end
            break
        ideal = sum(fit([part.stretch for part in parts[: index + 1]], end)[:index])
        low = max(ends[index - 1][0], end - parts[index].stretch.most)
        high = min(ends[index - 1][1], end - parts[index].stretch.least)
        before = max(low, min(ideal, high))
        lengths[index] = end - before
        end = before
    return tuple(lengths)

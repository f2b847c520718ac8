"""Back-timing: counted from the hard end, when each beat must start and what is still to go.

A programme leaves on the frame, so a running order is read from its end: a beat must start at the slot less all that
still comes, itself included. Where nothing is over or under, that is when it starts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from segmentkit.timebase import Rate, label_of_frame


@dataclass(frozen=True, slots=True, kw_only=True)
class BackTime:
    """A beat seen from the end; all in frames.

    Attributes:
        start: when it starts as the beats run.
        must_start: when it has to start for the last beat to end with the slot; below 0 when there is no room left.
        to_go: from its start to the end of the last beat.
    """

    start: int
    must_start: int
    to_go: int


def back_times(lengths: Sequence[int], slot: int) -> tuple[BackTime, ...]:
    """Back-times of beats that follow one another.

    Args:
        lengths: their lengths, in order.
        slot: when the last one has to end.

    Returns:
        One for each beat, in order.
    """
    starts = [0, *accumulate(lengths)]
    total = starts.pop()
    return tuple(
        BackTime(start=start, must_start=slot - (total - start), to_go=total - start)
        for start in starts[: len(lengths)]
    )


def over_text(frames: int, rate: Rate) -> str:
    """Over or under as a running order writes it, hours, minutes, seconds and frames: `+0:00:04:06`.

    Counted as labels are, in drop-frame where the rate has it.
    """
    label = str(label_of_frame(abs(frames), rate))
    return f"{'-' if frames < 0 else '+' if frames else ''}{label.removeprefix('0')}"


def over_meaning(frames: int) -> str:
    """What the figure of `over_text` means."""
    return "on the frame" if not frames else "over the slot" if frames > 0 else "under the slot"

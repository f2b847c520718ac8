"""The fit as a producer reads it: who gave what to whom, who could still give or take, and why it does not fit.

The numbers come from the plan, whose beats were fitted by the method stated in `fit`; nothing is solved here.
"""

from __future__ import annotations

from dataclasses import dataclass

from segmentkit.plan.backtime import BackTime, back_times, over_text
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import Rate, label_of_frame, seconds_of_frame, seconds_text


@dataclass(frozen=True, slots=True, kw_only=True)
class BeatFit:
    """A beat before and after the fit, in frames.

    Attributes:
        least, nominal, most: what it may and would like to be.
        before: what it was before: its nominal length, or its length in the plan that is compared with.
        given: its length now.
        gives: who gives first when time is short: 1 first, 9 last.
        rigid: whether it has one length only.
        time: its back-time.
    """

    id: str
    least: int
    nominal: int
    most: int
    before: int
    given: int
    gives: int
    rigid: bool
    time: BackTime

    @property
    def change(self) -> int:
        """Frames it gained, negative when it gave."""
        return self.given - self.before

    @property
    def can_give(self) -> int:
        """Frames it could still give."""
        return self.given - self.least

    @property
    def can_take(self) -> int:
        """Frames it could still take."""
        return self.most - self.given


@dataclass(frozen=True, slots=True, kw_only=True)
class FitReport:
    """A fit, beat by beat; `before_slot` is the slot of the plan that it is compared with, if it is with one."""

    title: str
    rate: Rate
    slot: int
    frames: int
    beats: tuple[BeatFit, ...]
    before_slot: int | None

    @property
    def over(self) -> int:
        """Frames over the slot, negative when it is under."""
        return self.frames - self.slot

    @property
    def givers(self) -> tuple[BeatFit, ...]:
        """Beats that could still give time, in the order in which they would be asked."""
        able = [beat for beat in self.beats if beat.can_give > 0]
        return tuple(sorted(able, key=lambda beat: (beat.gives, -beat.can_give)))

    @property
    def takers(self) -> tuple[BeatFit, ...]:
        """Beats that could still take time, the roomiest first."""
        return tuple(sorted((beat for beat in self.beats if beat.can_take > 0), key=lambda beat: -beat.can_take))


def fit_report(plan: Plan, board: Storyboard, before: Plan | None = None) -> FitReport:
    """What the fit did.

    Args:
        plan: the plan.
        board: its storyboard.
        before: a plan of the same storyboard at another slot to compare with; else the nominal lengths are.
    """
    times = back_times([beat.span.frames for beat in plan.beats], plan.slot)
    was = {beat.id: beat.span.frames for beat in before.beats} if before is not None else {}
    beats = tuple(
        BeatFit(
            id=beat.id,
            least=beat.least,
            nominal=beat.nominal,
            most=beat.most,
            before=was.get(beat.id, beat.nominal),
            given=beat.span.frames,
            gives=spec.gives,
            rigid=beat.rigid,
            time=time,
        )
        for beat, spec, time in zip(plan.beats, board.beats, times, strict=True)
    )
    return FitReport(
        title=plan.title,
        rate=plan.rate,
        slot=plan.slot,
        frames=plan.frames,
        beats=beats,
        before_slot=before.slot if before is not None else None,
    )


def verdict(report: FitReport) -> str:
    """Whether it fits, and if not, why: a sentence whose numbers add up."""
    rate, over = report.rate, report.over
    slot = f"{label_of_frame(report.slot, rate)} ({report.slot} frames at {rate})"
    if not over:
        return f"fits {slot} to the frame"
    limit, sums = ("least", [b.least for b in report.beats]) if over > 0 else ("most", [b.most for b in report.beats])
    return (
        f"{'over' if over > 0 else 'under'} by {over_text(over, rate)}, "
        f"{seconds_text(seconds_of_frame(abs(over), rate), 2)} ({abs(over)} frames): with every beat at its {limit} "
        f"the beats add up to {sum(sums)} frames, {label_of_frame(sum(sums), rate)}; the slot is {slot}"
    )

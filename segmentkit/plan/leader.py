"""A leader on whole frames: parts that begin on full seconds of the label, the pop, and the programme's first frame."""

from __future__ import annotations

from dataclasses import dataclass

from segmentkit.storyboard.leaders import Leader
from segmentkit.timebase import Rate, Span, Timecode, frame_of_label, label_of_frame

POP_SECONDS = 2
"""The pop sounds on one frame, two seconds of the label before the programme; then nothing more is seen or heard."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaderPart:
    """A stretch before or after the programme.

    Attributes:
        kind: bars, slate, countdown or black.
        span: frames of the file, counted from its first.
    """

    kind: str
    span: Span


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaderPlan:
    """What stands around a programme of a known length, in frames of the file.

    Attributes:
        before: parts in order; they tile the time up to the programme.
        programme: frames of the programme. Its length is the running time; the leader never counts.
        after: the black tail.
        start: label of the file's first frame.
        pop: the frame on which the pop sounds; None without a countdown.
        bars: which colour bars; `tone` is the peak of the line-up tone in dBFS.
        rate: frames a second of the file.
    """

    before: tuple[LeaderPart, ...]
    programme: Span
    after: LeaderPart
    start: Timecode
    pop: int | None
    bars: str
    tone: float
    rate: Rate

    @property
    def frames(self) -> int:
        """Of the whole file."""
        return self.after.span.end

    def label(self, frame: int) -> Timecode:
        """The label of a frame of the file; drop-frame where the rate has such."""
        return label_of_frame(frame_of_label(self.start, self.rate) + frame, self.rate)

    def second_left(self, frame: int) -> int:
        """Which second of the label before the programme a frame lies in: 10 for the first of the last ten."""
        return -(-(self.programme.start - frame) // self.rate.nominal)


def leader_plan(leader: Leader, frames: int, rate: Rate) -> LeaderPlan:
    """Lays a leader around a programme.

    Parts begin on full seconds of the label, so the programme lies at its hour exactly, whatever labels drop-frame
    counting leaves out on the way (SMPTE ST 12-1).

    Args:
        leader: what comes before and after.
        frames: of the programme, at the file's rate.
        rate: frames a second of the file; one that has labels.

    Raises:
        ValueError: for a rate whose frames cannot be labelled.
    """
    if not rate.has_labels:
        raise ValueError(f"at {rate} frames a second there is no timecode, so no leader can count to it")
    hour = leader.programme_at.hours * 3600
    at = hour - leader.seconds_before
    first = _frame_at(at, rate)
    before = []
    for part in leader.parts:
        begin, at = at, at + int(part.seconds)
        before.append(
            LeaderPart(kind=part.kind, span=Span(_frame_at(begin, rate) - first, _frame_at(at, rate) - first))
        )
    start = _frame_at(hour, rate) - first
    programme = Span(start, start + frames)
    return LeaderPlan(
        before=tuple(before),
        programme=programme,
        after=LeaderPart(kind="black", span=Span(programme.end, programme.end + leader.tail_seconds * rate.nominal)),
        start=label_of_frame(first, rate),
        pop=start - POP_SECONDS * rate.nominal if before[-1].kind == "countdown" else None,
        bars=leader.bars,
        tone=leader.tone,
        rate=rate,
    )


def _frame_at(second: int, rate: Rate) -> int:
    """Number of the frame that a full second of the label begins with, counted from the label's zero."""
    hours, rest = divmod(second, 3600)
    minutes, seconds = divmod(rest, 60)
    drop = rate.counts_drop_frame
    # Where drop-frame counting leaves out the first labels of a minute, the first one that exists is the beginning.
    skipped = rate.nominal // 15 if drop and not seconds and minutes % 10 else 0
    return frame_of_label(Timecode(hours, minutes, seconds, skipped, drop=drop), rate)

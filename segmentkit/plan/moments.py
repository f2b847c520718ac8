"""Moments of a clip: from what a producer wrote to the source frame that is meant, and from motion to frames shown."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from segmentkit.facts import ClipFacts
from segmentkit.storyboard.people import Clip
from segmentkit.timebase import Rate, Seconds, SourceFrame, Timecode, frame_of_label, nearest_frame, seconds_text

_LABELLED_RATES = tuple(
    Rate(Fraction(*pair)) for pair in ((24000, 1001), (24, 1), (25, 1), (30000, 1001), (30, 1), (50, 1), (60000, 1001),
                                       (60, 1), (100, 1), (120, 1), (240, 1))
)  # fmt: skip


class MomentMissing(ValueError):
    """A moment lies outside its clip, or a position has no moment; the message says which."""


@dataclass(frozen=True, slots=True)
class Footage:
    """A clip with what was measured of it: all that is needed to find moments."""

    id: str
    spec: Clip
    facts: ClipFacts

    @property
    def last(self) -> int:
        """Index of the last frame."""
        return self.facts.frames - 1

    def real_moment(self, frame: int) -> Fraction:
        """When a frame was filmed, in seconds of real time from the first frame.

        A stated capture rate wins over the file's timestamps: the file was slowed down afterwards.
        """
        if self.spec.captured is not None:
            return frame / self.spec.captured.fps
        return self.facts.times[frame]

    def frame_filmed_at(self, moment: Fraction) -> int:
        """The frame on screen at a moment of real time; the ends of the clip hold."""
        if self.spec.captured is not None:
            index = moment * self.spec.captured.fps // 1
        else:
            index = bisect_right(self.facts.times, moment) - 1
        return max(0, min(self.last, int(index)))

    def frame_of(self, when: Seconds | Timecode | SourceFrame | str) -> int:
        """The source frame meant by a position name, a time of the file, a label or a frame number.

        Raises:
            MomentMissing: when there is no such position or the moment lies outside the clip.
        """
        match when:
            case "start":
                return 0
            case "end":
                return self.last
            case str():
                if when not in self.spec.positions:
                    known = ", ".join(self.spec.positions) or "none is named"
                    raise MomentMissing(f"clip {self.id} has no position {when!r} — its positions are: {known}")
                return self.frame_of(self.spec.positions[when])
            case SourceFrame(index):
                if index > self.last:
                    raise MomentMissing(
                        f"frame {index} is past the end of clip {self.id}, whose frames are 0 to {self.last}"
                    )
                return index
            case Seconds(value):
                return self._nearest(value)
            case Timecode():
                return self.frame_of(SourceFrame(frame_of_label(when, self._label_rate())))

    def _nearest(self, seconds: Fraction) -> int:
        if seconds > self.facts.duration:
            raise MomentMissing(
                f"{seconds_text(seconds)} is past the end of clip {self.id}, "
                f"which is {seconds_text(self.facts.duration)} long"
            )
        times = self.facts.times
        after = min(bisect_right(times, seconds), self.last)
        before = max(0, after - 1)
        return before if seconds - times[before] < times[after] - seconds else after

    def _label_rate(self) -> Rate:
        mean = self.facts.mean_rate
        near = min(_LABELLED_RATES, key=lambda rate: abs(rate.fps - mean))
        if abs(near.fps - mean) > mean / 500:
            raise MomentMissing(
                f"clip {self.id} has no constant rate, so labels cannot be counted in it — write seconds or a frame"
            )
        return near

    def position_name(self, when: Seconds | Timecode | SourceFrame | str) -> str | None:
        """The position's name, if the moment was given by one."""
        return when if isinstance(when, str) and when not in {"start", "end"} else None


def motion(footage: Footage, first: int, last: int, speed: Fraction, rate: Rate) -> tuple[int, ...]:
    """The source frame for each output frame of a clip in motion, both ends shown.

    Output frame j shows what was on screen at real time `moment(first) + j * speed / rate`; the length follows from
    the arithmetic, so 0.25 s at 1/8 is 2 s and the frame that closes it.

    Args:
        footage: the clip.
        first: source frame on which it starts.
        last: source frame on which it stops; not before `first`.
        speed: against real time.
        rate: frames a second of the output.

    Raises:
        MomentMissing: when `last` comes before `first`.
    """
    if last < first:
        raise MomentMissing(f"clip {footage.id} would run backwards, from frame {first} to frame {last}")
    start = footage.real_moment(first)
    frames = nearest_frame((footage.real_moment(last) - start) / speed, rate)
    step = speed / rate.fps
    shown = [min(last, footage.frame_filmed_at(start + j * step)) for j in range(frames)]
    return (*shown, last)


@dataclass(frozen=True, slots=True)
class MotionClock:
    """How fast a side runs, against real time, and how many frames a second the output has."""

    speed: Fraction
    rate: Rate


def meetings(lead: Footage, others: Sequence[Footage], first: int, last: int) -> tuple[str, ...]:
    """Positions that all clips name and that the leading one passes between two of its frames, in its order.

    A position that another clip reaches out of order is left out; the checks say that its positions are wrong.
    """
    shared = [name for name in lead.spec.positions if all(name in other.spec.positions for other in others)]
    found: list[tuple[tuple[int, ...], str]] = []
    for name in shared:
        try:
            frames = tuple(clip.frame_of(clip.spec.positions[name]) for clip in (lead, *others))
        except (MomentMissing, ValueError):
            continue  # reported where the position is used
        if first <= frames[0] <= last:
            found.append((frames, name))
    found.sort()
    kept: list[tuple[tuple[int, ...], str]] = []
    for frames, name in found:
        if not kept or all(later > earlier for earlier, later in zip(kept[-1][0], frames, strict=True)):
            kept.append((frames, name))
    return tuple(name for _, name in kept)


def followed_motion(
    footage: Footage,
    lead: Footage,
    ends: tuple[int, int],
    shown: tuple[int, int],
    clock: MotionClock,
    names: Sequence[str],
) -> tuple[int, ...]:
    """The source frame of a following side for each output frame: at each position that both share, both are there.

    Between two positions the side runs at one steady speed, whatever it takes to arrive together. It shows its own
    frames only; none is blended or made up.

    Args:
        footage: the clip that follows.
        lead: the clip that leads.
        ends: first and last source frame of the leading side.
        shown: first and last source frame of the following side.
        clock: speed of the leading side and rate of the output.
        names: positions at which they meet, in order.

    Raises:
        MomentMissing: when the following side would run backwards.
    """
    if shown[1] < shown[0]:
        raise MomentMissing(f"clip {footage.id} would run backwards, from frame {shown[0]} to frame {shown[1]}")
    knots = [(ends[0], shown[0])]
    for name in names:
        pair = (lead.frame_of(lead.spec.positions[name]), footage.frame_of(footage.spec.positions[name]))
        if pair[0] > knots[-1][0] and knots[-1][1] <= pair[1] <= shown[1] and pair[0] < ends[1]:
            knots.append(pair)
    knots.append((ends[1], shown[1]))
    times = [(lead.real_moment(a), footage.real_moment(b)) for a, b in knots]
    start, step = times[0][0], clock.speed / clock.rate.fps
    frames = nearest_frame((times[-1][0] - start) / clock.speed, clock.rate)
    made = []
    piece = 0
    for j in range(frames):
        moment = start + j * step
        while piece < len(times) - 2 and moment >= times[piece + 1][0]:
            piece += 1
        (a0, b0), (a1, b1) = times[piece], times[piece + 1]
        part = (moment - a0) / (a1 - a0) if a1 > a0 else Fraction(1)
        made.append(min(shown[1], footage.frame_filmed_at(b0 + part * (b1 - b0))))
    return (*made, shown[1])

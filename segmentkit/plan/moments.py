"""Moments of a clip: from what a producer wrote to the source frame that is meant, and from motion to frames shown."""

from __future__ import annotations

from bisect import bisect_right
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

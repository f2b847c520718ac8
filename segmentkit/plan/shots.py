"""Shots of a beat before the fit: what each shows and how long it may be."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from segmentkit.plan.defaults import HOLDS, SWEEP, SWEEP_AT
from segmentkit.plan.fit import Stretch
from segmentkit.plan.moments import Footage, MomentMissing, MotionClock, followed_motion, meetings, motion
from segmentkit.storyboard.fields import Hold
from segmentkit.storyboard.shots import (
    Comparison,
    EndBoard,
    Freeze,
    Inset,
    Match,
    Run,
    ShotSpec,
    Side,
    StillShot,
    Title,
    Wipe,
)
from segmentkit.timebase import Rate, nearest_frame, seconds_of

Problem = Callable[[str, tuple[str | int, ...]], None]
"""Called with what is wrong with a moment and the path of the key within the shot."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draft:
    """A shot that does not know its length yet.

    Attributes:
        kind: the shot's kind.
        stretch: least, nominal and most frames.
        moving: source frames of each pane that moves, by pane index.
        frozen: source frame of each pane that does not, by pane index.
        speed: against real time, for a shot in motion.
        clips: id of each pane's clip; None for a still.
        positions: name of each pane's frozen position, if it was given by name.
        events: positions at which running sides meet.
    """

    kind: str
    spec: ShotSpec
    stretch: Stretch
    moving: Mapping[int, tuple[int, ...]]
    frozen: Mapping[int, int]
    speed: Fraction | None
    clips: tuple[str | None, ...]
    positions: tuple[str | None, ...]
    events: tuple[str, ...] = ()

    def takes(self, on: str | None) -> bool:
        """Whether it has the picture that a stroke belongs to."""
        return on is None or on in self.spec.pane_names

    def is_moving(self, on: str | None = None) -> bool:
        """Whether that picture is a run, on which strokes do not start unless told to."""
        return self.kind == "run" and self.pane_index(on) in self.moving

    def pane_index(self, on: str | None) -> int:
        """Index of the pane that a stroke belongs to; the first one unless it is named."""
        names = self.spec.pane_names
        return names.index(on) if on in names else 0


def _stretch(hold: Hold | None, kind: str, rate: Rate, at_least: int = 1) -> Stretch:
    hold = hold or HOLDS[kind]
    least = max(at_least, nearest_frame(hold.least, rate))
    most = max(least, nearest_frame(hold.most, rate))
    nominal = least if hold.nominal is None else min(most, max(least, nearest_frame(hold.nominal, rate)))
    return Stretch(least=least, nominal=nominal, most=most)


def draft(spec: ShotSpec, footage: Mapping[str, Footage], rate: Rate, problem: Problem, to_read: int = 0) -> Draft:
    """Works out what a shot shows; a moment that does not exist is reported and stood in for, so that all are found.

    Args:
        spec: the shot.
        footage: the clips.
        rate: of the output.
        problem: told of moments that do not exist.
        to_read: frames that a title or end board is held at least when no hold is written.
    """
    match getattr(spec, spec.kind):
        case Run() as run:
            frames = _motion_of(footage[run.clip], run, rate, problem, ("run",))
            exact = Stretch(least=len(frames), nominal=len(frames), most=len(frames))
            made = Draft(kind="run", spec=spec, stretch=exact, moving={0: frames}, frozen={}, speed=run.speed,
                         clips=(run.clip,), positions=(None,))  # fmt: skip
            return _with_inset(made, run.inset, footage, rate, problem)
        case Freeze() as freeze:
            clip = footage[freeze.clip]
            frame = _frame_of(clip, freeze.at, problem, ("freeze", "at"))
            made = Draft(kind="freeze", spec=spec, stretch=_stretch(freeze.hold, "freeze", rate), moving={},
                         frozen={0: frame}, speed=None, clips=(freeze.clip,),
                         positions=(clip.position_name(freeze.at),))  # fmt: skip
            return _with_inset(made, freeze.inset, footage, rate, problem)
        case Comparison() as comparison:
            return _draft_comparison(spec, comparison, footage, rate, problem)
        case StillShot() as still:
            return Draft(kind="still", spec=spec, stretch=_stretch(still.hold, "still", rate), moving={}, frozen={},
                         speed=None, clips=(None,), positions=(None,))  # fmt: skip
        case Title() | EndBoard() as board:
            kind = spec.kind
            over = board.over
            frozen: dict[int, int] = {}
            clips: tuple[str | None, ...] = ()
            if over is not None:
                clips = (over.clip,)
                if over.clip is not None and over.at is not None:
                    frozen = {0: _frame_of(footage[over.clip], over.at, problem, (kind, "over", "at"))}
            held = _stretch(board.hold, kind, rate, at_least=to_read if board.hold is None else 1)
            return Draft(kind=kind, spec=spec, stretch=held, moving={}, frozen=frozen,
                         speed=None, clips=clips, positions=(None,) * len(clips))  # fmt: skip
        case unknown:
            raise AssertionError(f"no shot of kind {unknown!r}")


def _with_inset(
    wide: Draft, inset: Inset | None, footage: Mapping[str, Footage], rate: Rate, problem: Problem
) -> Draft:
    """The draft with its close-up as a second pane; the wide picture alone decides how long the shot may be."""
    if inset is None:
        return wide
    path = (wide.kind, "inset")
    moving, frozen, position = dict(wide.moving), dict(wide.frozen), None
    if inset.clip is not None and inset.at is not None:
        frozen[1] = _frame_of(footage[inset.clip], inset.at, problem, (*path, "at"))
        position = footage[inset.clip].position_name(inset.at)
    elif inset.clip is not None:
        moving[1] = _motion_of(footage[inset.clip], inset, rate, problem, path)
    return Draft(kind=wide.kind, spec=wide.spec, stretch=wide.stretch, moving=moving, frozen=frozen, speed=wide.speed,
                 clips=(*wide.clips, inset.clip), positions=(*wide.positions, position))  # fmt: skip


def _draft_comparison(
    spec: ShotSpec, comparison: Comparison, footage: Mapping[str, Footage], rate: Rate, problem: Problem
) -> Draft:
    moving: dict[int, tuple[int, ...]] = {}
    frozen: dict[int, int] = {}
    events: tuple[str, ...] = ()
    sides = comparison.sides
    if Match.EVENTS in comparison.match:
        moving, events = _meeting_motions(spec.kind, sides, footage, rate, problem)
    else:
        for index, (name, side) in enumerate(sides):
            if side.at is not None:
                frozen[index] = _frame_of(footage[side.clip], side.at, problem, (spec.kind, name, "at"))
            else:
                moving[index] = _motion_of(footage[side.clip], side, rate, problem, (spec.kind, name))
    longest = max((len(frames) for frames in moving.values()), default=1)
    if isinstance(comparison, Wipe):
        # The edge must have crossed, and both pictures stay a second to be looked at.
        start, way = (
            nearest_frame(default if given is None else seconds_of(given, rate), rate)
            for given, default in ((comparison.at, SWEEP_AT), (comparison.over, SWEEP))
        )
        longest = max(longest, start + way + nearest_frame(Fraction(1), rate))
    if comparison.hold is None and moving:
        stretch = Stretch(least=longest, nominal=longest, most=longest)
    else:
        stretch = _stretch(comparison.hold, spec.kind, rate, at_least=longest)
    return Draft(
        kind=spec.kind,
        spec=spec,
        stretch=stretch,
        moving=moving,
        frozen=frozen,
        speed=next((side.speed for _, side in sides if side.speed is not None), None),
        clips=tuple(side.clip for _, side in sides),
        positions=tuple(footage[s.clip].position_name(s.at) if s.at is not None else None for _, s in sides),
        events=events,
    )


def _meeting_motions(
    kind: str, sides: Sequence[tuple[str, Side]], footage: Mapping[str, Footage], rate: Rate, problem: Problem
) -> tuple[dict[int, tuple[int, ...]], tuple[str, ...]]:
    """Source frames of sides that reach each position together: the one with a speed leads, the others keep step."""
    ends = {
        index: _ends_of(footage[side.clip], side, problem, (kind, name)) for index, (name, side) in enumerate(sides)
    }
    leader = next(index for index, (_, side) in enumerate(sides) if side.speed is not None)
    lead, led = footage[sides[leader][1].clip], ends[leader]
    if led is None or any(found is None for found in ends.values()):
        return dict.fromkeys(ends, (0,)), ()
    followers = [footage[side.clip] for index, (_, side) in enumerate(sides) if index != leader]
    names = meetings(lead, followers, *led)
    clock = MotionClock(sides[leader][1].speed or Fraction(1), rate)
    moving: dict[int, tuple[int, ...]] = {}
    for index, (name, side) in enumerate(sides):
        own = ends[index] or (0, 0)
        try:
            if index == leader:
                moving[index] = motion(lead, *own, clock.speed, rate)
            else:
                moving[index] = followed_motion(footage[side.clip], lead, led, own, clock, names)
        except MomentMissing as error:
            problem(str(error), (kind, name))
            moving[index] = (own[0],)
    return moving, names


def _frame_of(clip: Footage, when: object, problem: Problem, path: tuple[str | int, ...]) -> int:
    try:
        return clip.frame_of(when)  # type: ignore[arg-type]  # the storyboard's own union, checked by its model
    except (MomentMissing, ValueError) as error:
        problem(str(error), path)
        return 0


def _ends_of(
    clip: Footage, run: Run | Side | Inset, problem: Problem, path: tuple[str | int, ...]
) -> tuple[int, int] | None:
    """First and last source frame of a motion; None when one of them does not exist, which is reported."""
    missing: list[str] = []

    def note(what: str, where: tuple[str | int, ...]) -> None:
        missing.append(what)
        problem(what, where)

    first = _frame_of(clip, run.from_ if run.from_ is not None else "start", note, (*path, "from"))
    last = _frame_of(clip, run.to if run.to is not None else "end", note, (*path, "to"))
    return None if missing else (first, last)


def _motion_of(
    clip: Footage, run: Run | Side | Inset, rate: Rate, problem: Problem, path: tuple[str | int, ...]
) -> tuple[int, ...]:
    ends = _ends_of(clip, run, problem, path)
    if ends is None:  # one missing end is one fault, not also a motion that runs backwards
        return (0,)
    try:
        return motion(clip, *ends, run.speed or Fraction(1), rate)
    except MomentMissing as error:
        problem(str(error), path)
        return (ends[0],)

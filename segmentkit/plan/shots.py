"""Shots of a beat before the fit: what each shows and how long it may be; and after the fit, on the canvas."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import assert_never

from segmentkit.facts import Facts
from segmentkit.geometry import Rect, Size
from segmentkit.plan.defaults import HOLDS
from segmentkit.plan.fit import Stretch
from segmentkit.plan.layout import Half, full_frame, split_placements, still_placement
from segmentkit.plan.model import ClipPicture, Pane, StillPicture
from segmentkit.plan.moments import Footage, MomentMissing, motion
from segmentkit.storyboard.fields import Hold
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.shots import EndBoard, Freeze, Ground, Match, Run, ShotSpec, Side, Split, StillShot, Title
from segmentkit.timebase import Rate, nearest_frame

MIRRORED = "mirrored"
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
    """

    kind: str
    spec: ShotSpec
    stretch: Stretch
    moving: Mapping[int, tuple[int, ...]]
    frozen: Mapping[int, int]
    speed: Fraction | None
    clips: tuple[str | None, ...]
    positions: tuple[str | None, ...]

    @property
    def is_moving(self) -> bool:
        """Whether its picture is a clip in motion, on which strokes do not start unless told to."""
        return self.kind == "run"


def _stretch(hold: Hold | None, kind: str, rate: Rate, at_least: int = 1) -> Stretch:
    hold = hold or HOLDS[kind]
    least = max(at_least, nearest_frame(hold.least, rate))
    most = max(least, nearest_frame(hold.most, rate))
    nominal = least if hold.nominal is None else min(most, max(least, nearest_frame(hold.nominal, rate)))
    return Stretch(least=least, nominal=nominal, most=most)


def draft(spec: ShotSpec, footage: Mapping[str, Footage], rate: Rate, problem: Problem) -> Draft:
    """Works out what a shot shows; a moment that does not exist is reported and stood in for, so that all are found."""
    match spec.run or spec.freeze or spec.split or spec.still or spec.title or spec.end_board:
        case Run() as run:
            frames = _motion_of(footage[run.clip], run, rate, problem, ("run",))
            exact = Stretch(least=len(frames), nominal=len(frames), most=len(frames))
            return Draft(kind="run", spec=spec, stretch=exact, moving={0: frames}, frozen={}, speed=run.speed,
                         clips=(run.clip,), positions=(None,))  # fmt: skip
        case Freeze() as freeze:
            clip = footage[freeze.clip]
            frame = _frame_of(clip, freeze.at, problem, ("freeze", "at"))
            return Draft(kind="freeze", spec=spec, stretch=_stretch(freeze.hold, "freeze", rate), moving={},
                         frozen={0: frame}, speed=None, clips=(freeze.clip,),
                         positions=(clip.position_name(freeze.at),))  # fmt: skip
        case Split() as split:
            return _draft_split(spec, split, footage, rate, problem)
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
            return Draft(kind=kind, spec=spec, stretch=_stretch(board.hold, kind, rate), moving={}, frozen=frozen,
                         speed=None, clips=clips, positions=(None,) * len(clips))  # fmt: skip
        case None:
            raise AssertionError("a shot has exactly one kind")
        case unknown:
            assert_never(unknown)


def _draft_split(spec: ShotSpec, split: Split, footage: Mapping[str, Footage], rate: Rate, problem: Problem) -> Draft:
    moving: dict[int, tuple[int, ...]] = {}
    frozen: dict[int, int] = {}
    sides = (("left", split.left), ("right", split.right))
    for index, (name, side) in enumerate(sides):
        clip = footage[side.clip]
        if side.at is not None:
            frozen[index] = _frame_of(clip, side.at, problem, ("split", name, "at"))
        else:
            moving[index] = _motion_of(clip, side, rate, problem, ("split", name))
    longest = max((len(frames) for frames in moving.values()), default=1)
    if split.hold is None and moving:
        stretch = Stretch(least=longest, nominal=longest, most=longest)
    else:
        stretch = _stretch(split.hold, "split", rate, at_least=longest)
    return Draft(
        kind="split",
        spec=spec,
        stretch=stretch,
        moving=moving,
        frozen=frozen,
        speed=next((side.speed for _, side in sides if side.speed is not None), None),
        clips=(split.left.clip, split.right.clip),
        positions=tuple(footage[s.clip].position_name(s.at) if s.at is not None else None for _, s in sides),
    )


def _frame_of(clip: Footage, when: object, problem: Problem, path: tuple[str | int, ...]) -> int:
    try:
        return clip.frame_of(when)  # type: ignore[arg-type]  # the storyboard's own union, checked by its model
    except (MomentMissing, ValueError) as error:
        problem(str(error), path)
        return 0


def _motion_of(
    clip: Footage, run: Run | Side, rate: Rate, problem: Problem, path: tuple[str | int, ...]
) -> tuple[int, ...]:
    missing: list[str] = []

    def note(what: str, where: tuple[str | int, ...]) -> None:
        missing.append(what)
        problem(what, where)

    first = _frame_of(clip, run.from_ if run.from_ is not None else "start", note, (*path, "from"))
    last = _frame_of(clip, run.to if run.to is not None else "end", note, (*path, "to"))
    if missing:  # one missing end is one fault, not also a motion that runs backwards
        return (first,)
    try:
        return motion(clip, first, last, run.speed or Fraction(1), rate)
    except MomentMissing as error:
        problem(str(error), path)
        return (first,)


def panes(
    draft: Draft, frames: int, board: Storyboard, footage: Mapping[str, Footage], facts: Facts, canvas: Size
) -> tuple[Pane, ...]:
    """The pictures of a shot of known length, in their places."""
    whole = Rect(0, 0, canvas.width, canvas.height)
    match (
        draft.spec.run
        or draft.spec.freeze
        or draft.spec.split
        or draft.spec.still
        or draft.spec.title
        or draft.spec.end_board
    ):
        case Run() | Freeze() as shot:
            clip = footage[shot.clip]
            placement = full_frame(clip, whole, mirrored=shot.mirror, zoom=shot.zoom, focus=shot.focus)
            return (
                Pane(
                    picture=_clip_picture(draft, 0, frames),
                    placement=placement,
                    soften=isinstance(shot, Freeze) and shot.soften,
                    label=_person(board, shot.clip) if shot.mirror else None,
                    note=MIRRORED if shot.mirror else None,
                ),
            )
        case Split() as split:
            halves = [Half(footage=footage[side.clip], mirrored=side.mirror) for side in (split.left, split.right)]
            placements = split_placements(
                halves[0],
                halves[1],
                whole,
                ground=Match.GROUND in split.match,
                belt=Match.BELT in split.match,
                zoom=split.zoom,
            )
            return tuple(
                Pane(
                    picture=_clip_picture(draft, index, frames),
                    placement=placement,
                    label=(side.label or _person(board, side.clip)) if split.labels else None,
                    note=MIRRORED if side.mirror else None,
                )
                for index, (side, placement) in enumerate(zip((split.left, split.right), placements, strict=True))
            )
        case StillShot() as still:
            placement = still_placement(facts.stills[still.still].size, whole)
            return (Pane(picture=StillPicture(still=still.still), placement=placement, soften=still.soften),)
        case Title() | EndBoard() as card:
            return () if card.over is None else (_ground_pane(draft, card.over, frames, footage, facts, whole),)
        case None:
            raise AssertionError("a shot has exactly one kind")
        case unknown:
            assert_never(unknown)


def _ground_pane(
    draft: Draft, over: Ground, frames: int, footage: Mapping[str, Footage], facts: Facts, whole: Rect
) -> Pane:
    if over.clip is not None:
        placement = full_frame(footage[over.clip], whole, mirrored=False, zoom=None, focus=None)
        return Pane(picture=_clip_picture(draft, 0, frames), placement=placement, soften=over.soften)
    assert over.still is not None
    placement = still_placement(facts.stills[over.still].size, whole)
    return Pane(picture=StillPicture(still=over.still), placement=placement, soften=over.soften)


def _clip_picture(draft: Draft, pane: int, frames: int) -> ClipPicture:
    clip = draft.clips[pane]
    assert clip is not None
    if pane in draft.frozen:
        shown: tuple[int, ...] = (draft.frozen[pane],) * frames
    else:
        moving = draft.moving[pane][:frames]
        shown = moving + (moving[-1],) * (frames - len(moving))
    return ClipPicture(clip=clip, frames=shown, position=draft.positions[pane])


def _person(board: Storyboard, clip: str) -> str | None:
    person = board.clips[clip].person
    return board.people[person].shown if person and person in board.people else None

"""Strokes on the frame grid: each belongs to a word, lives in one shot, and may be kept through later ones."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from segmentkit.facts import TrackFacts
from segmentkit.geometry import Point
from segmentkit.plan.angles import angle_text
from segmentkit.plan.defaults import DRAW, LOOK, UNCUED, WIPE, Grid
from segmentkit.plan.fit import Part
from segmentkit.plan.follow import following
from segmentkit.plan.model import ClipPicture, Pane, Shot, Stroke
from segmentkit.plan.shots import Draft, Problem
from segmentkit.plan.speech import BeatSpeech
from segmentkit.storyboard.fields import NamedPoint
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.shots import Follow, StrokeSpec
from segmentkit.timebase import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class StrokeTiming:
    """When a stroke wants to start, in frames from the beat's start, and in which of the beat's shots it lives."""

    id: str
    spec: StrokeSpec
    start: int | None
    cue: str | None
    shot: int
    draw: int


def stroke_timings(beat: Beat, drafts: Sequence[Draft], speech: BeatSpeech, grid: Grid) -> tuple[StrokeTiming, ...]:
    """Where each stroke of a beat belongs, judged by the shots' nominal lengths.

    A stroke lives in a frozen picture. When its word falls while the picture still moves, it waits for the next frozen
    one (and the checks say that the word comes too early), unless it is marked as `moving`.
    """
    timings = []
    for id_, spec in beat.strokes.items():
        cued = speech.cues.get(id_)
        start = cued[0] if cued else (grid.frames(spec.at) if spec.at is not None else None)
        timings.append(
            StrokeTiming(
                id=id_,
                spec=spec,
                start=start,
                cue=cued[1] if cued else None,
                shot=_home(drafts, start, spec),
                draw=max(1, grid.frames(spec.draw, DRAW)),
            )
        )
    return tuple(timings)


def _home(drafts: Sequence[Draft], start: int | None, spec: StrokeSpec) -> int:
    there = [index for index, draft in enumerate(drafts) if draft.takes(spec.on)]
    held = [index for index in there if spec.moving or not drafts[index].is_moving(spec.on)]
    if not held:
        return there[-1] if there else len(drafts) - 1
    if start is None:
        return held[0]
    end = 0
    ends = []
    for index, draft in enumerate(drafts):
        last = index == len(drafts) - 1
        end += draft.stretch.most if last else draft.stretch.nominal
        ends.append(end)
    return next((index for index in held if start < ends[index]), held[-1])


def parts_with_strokes(drafts: Sequence[Draft], timings: Sequence[StrokeTiming], grid: Grid) -> list[Part]:
    """The shots of a beat with what their strokes ask of them: begin before the word, and stay to be looked at."""
    parts = [Part(stretch=draft.stretch) for draft in drafts]
    for timing in timings:
        if timing.start is None:
            continue
        if timing.spec.hold is None:
            need = timing.start + timing.draw + grid.frames(LOOK)
            parts[timing.shot] = replace(parts[timing.shot], end_from=max(parts[timing.shot].end_from, need))
        if timing.shot:
            before = parts[timing.shot - 1]
            until = timing.start if before.end_until is None else min(before.end_until, timing.start)
            parts[timing.shot - 1] = replace(before, end_until=until)
    return parts


def placed_strokes(
    beat: Beat,
    timings: Sequence[StrokeTiming],
    shots: Sequence[Shot],
    board: Storyboard,
    grid: Grid,
    problem: Problem,
    tracks: Mapping[str, TrackFacts],
) -> list[Stroke]:
    """The strokes of a beat whose shots have their frames."""
    placed = []
    waits = _in_turn(timings, shots, grid)
    for timing in timings:
        shot = shots[timing.shot]
        beat_start = shots[0].span.start
        wanted = None if timing.start is None else beat_start + timing.start
        start = shot.span.start + grid.frames(UNCUED) + waits.get(timing.id, 0) if wanted is None else wanted
        start = min(max(start, shot.span.start), shot.span.end - 1)
        end, wipe = shot.span.end, 0
        if timing.spec.hold is not None:
            wipe = grid.frames(WIPE)
            end = min(shot.span.end, start + timing.draw + grid.frames(timing.spec.hold) + wipe)
        pane = next((k for k, one in enumerate(shot.panes) if one.name == timing.spec.on), 0)
        if not shot.panes:
            continue
        points = _points(timing, shot, pane, board, problem)
        stroke = Stroke(
            id=timing.id,
            beat=beat.beat,
            shot=shot.id,
            pane=pane,
            kind=timing.spec.kind,
            points=points,
            radius=_radius(timing.spec),
            role=timing.spec.role.value,
            label=_label(timing.spec, points, shot.panes[pane], board),
            span=Span(start, end),
            draw_start=start,
            draw_frames=timing.draw,
            wipe_frames=wipe,
            cue=timing.cue,
            cue_frame=wanted if timing.cue else None,
            kept=False,
            source_frame=_source_frame(shot, pane, start),
        )
        placed.append(following(stroke, shot, tracks) if timing.spec.follow is Follow.BACKGROUND else stroke)
    return placed


def _in_turn(timings: Sequence[StrokeTiming], shots: Sequence[Shot], grid: Grid) -> dict[str, int]:
    """Frames that strokes without a word wait for those of the sides before: a viewer looks at one side, then the next.

    Where the picture does not stay long enough for the last of them to be looked at, all are drawn at once.
    """
    waits: dict[str, int] = {}
    for number, shot in enumerate(shots):
        uncued = [one for one in timings if one.shot == number and one.start is None]
        wait = 0
        turns: dict[str, int] = {}
        for pane in shot.panes:
            own = [one for one in uncued if one.spec.on == pane.name] if len(shot.panes) > 1 else []
            turns |= dict.fromkeys((one.id for one in own), wait)
            wait += max((one.draw for one in own), default=0)
        if grid.frames(UNCUED) + wait + grid.frames(LOOK) <= shot.span.frames:
            waits |= turns
    return waits


def _label(spec: StrokeSpec, points: tuple[Point, ...], pane: Pane, board: Storyboard) -> str | None:
    """The label as written, and the degrees of an angle where they are asked for and may be said."""
    picture = pane.picture
    if not spec.show_degrees or not isinstance(picture, ClipPicture):
        return spec.label
    text = angle_text(points, pane.placement.source, board.clips[picture.clip].camera)
    return ": ".join(part for part in (spec.label, text) if part) or None


def _source_frame(shot: Shot, pane: int, frame: int) -> int | None:
    picture = shot.panes[pane].picture
    return picture.frames[frame - shot.span.start] if isinstance(picture, ClipPicture) else None


def _radius(spec: StrokeSpec) -> float | None:
    disc = spec.ring or spec.shade
    return disc.radius if disc is not None else None


def _points(timing: StrokeTiming, shot: Shot, pane: int, board: Storyboard, problem: Problem) -> tuple[Point, ...]:
    spec = timing.spec
    disc = spec.ring or spec.shade
    given: Sequence[Point | NamedPoint]
    if disc is not None:
        given = (disc.centre,)
    elif spec.dot is not None:
        given = (spec.dot,)
    else:
        given = getattr(spec, spec.kind)
    return tuple(_point(point, timing.id, shot.panes[pane].picture, board, problem) for point in given)


def _point(point: Point | NamedPoint, stroke: str, picture: object, board: Storyboard, problem: Problem) -> Point:
    if isinstance(point, Point):
        return point
    path = ("strokes", stroke)
    if not isinstance(picture, ClipPicture):
        problem(f"stroke {stroke} names the point {point}, but a still has no named points — write [x, y]", path)
        return Point(0.5, 0.5)
    position = point.position or picture.position
    known = board.clips[picture.clip].points.get(position or "", {})
    if point.name not in known:
        names = ", ".join(
            f"{where}.{name}" for where, spots in board.clips[picture.clip].points.items() for name in spots
        )
        problem(
            f"stroke {stroke} names the point {point}, which clip {picture.clip} does not have — "
            f"its points are: {names or 'none'}",
            path,
        )
        return Point(0.5, 0.5)
    return known[point.name]


@dataclass(frozen=True, slots=True)
class Origin:
    """A stroke's first appearance, the clip it lies on, and whether it moves with that clip's background."""

    stroke: Stroke
    clip: str
    follows: bool


def kept_strokes(
    beat: Beat, shots: Sequence[Shot], origins: Mapping[str, Origin], tracks: Mapping[str, TrackFacts]
) -> list[Stroke]:
    """The appearances of strokes that stay where they were drawn, in all shots of a beat that show their clip.

    Args:
        beat: the beat that keeps them.
        shots: its shots.
        origins: each stroke drawn so far.
        tracks: how backgrounds move, by clip.
    """
    kept = []
    for id_ in beat.keep:
        if id_ not in origins:
            continue
        origin = origins[id_]
        for shot in shots:
            if shot.id == origin.stroke.shot or shot.span.start < origin.stroke.draw_start:
                continue
            for index, pane in enumerate(shot.panes):
                if isinstance(pane.picture, ClipPicture) and pane.picture.clip == origin.clip:
                    stroke = replace(origin.stroke, beat=beat.beat, shot=shot.id, pane=index, span=shot.span,
                                     label=None, wipe_frames=0, cue=None, cue_frame=None, kept=True,
                                     followed=())  # fmt: skip
                    kept.append(following(stroke, shot, tracks) if origin.follows else stroke)
    return kept

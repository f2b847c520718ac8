"""Drawn marks: each starts on its word, over a frozen picture, and stays long enough to be looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import shots_of
from segmentkit.checks.say import clock, counted, lasting, listed, quoted
from segmentkit.findings import Severity
from segmentkit.geometry import Point
from segmentkit.plan.angles import MOST, tolerance_degrees
from segmentkit.plan.model import ClipPicture, Shot, Stroke
from segmentkit.storyboard.shots import StrokeSpec
from segmentkit.timebase import nearest_frame, seconds_of


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A stroke from its drawing to the end of its last appearance that follows without a gap."""

    first: Stroke
    sight_ends: int


def _drawn(context: CheckContext) -> list[_Drawn]:
    ordered = sorted(context.plan.strokes, key=lambda stroke: stroke.span.start)
    found: list[_Drawn] = []
    for first in (stroke for stroke in ordered if not stroke.kept):
        end = first.span.end - first.wipe_frames
        if not first.wipe_frames:
            for later in ordered:
                if (
                    later.kept
                    and later.id == first.id
                    and later.draw_start == first.draw_start
                    and later.span.start == end
                ):
                    end = later.span.end - later.wipe_frames
        found.append(_Drawn(first, end))
    return found


def _spec(context: CheckContext, stroke: Stroke) -> tuple[tuple[Step, ...], StrokeSpec | None]:
    index = context.index_of(stroke.beat)
    return ("beats", index, "strokes", stroke.id), context.board.beats[index].strokes.get(stroke.id)


def _shot(context: CheckContext, stroke: Stroke) -> Shot:
    return next(shot for shot in context.plan.shots if shot.id == stroke.shot)


def _moves(shot: Shot, stroke: Stroke) -> bool:
    """Whether the picture under a stroke still moves after the stroke has begun."""
    picture = shot.panes[stroke.pane].picture
    return isinstance(picture, ClipPicture) and len(set(picture.frames[stroke.span.start - shot.span.start :])) > 1


def _where(stroke: Stroke) -> str:
    return f"beat {stroke.beat}, stroke {stroke.id}"


@check("stroke-before-freeze", Severity.ERROR)
def stroke_before_freeze(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke lands on its word.

    When the word is spoken while the picture still moves, the stroke has to wait, and the viewer looks for something
    that is not there yet; drawn over motion, it would lie on nothing.
    """
    del limits
    rate = context.plan.rate
    for stroke in (s for s in context.plan.strokes if not s.kept):
        path, spec = _spec(context, stroke)
        shot = _shot(context, stroke)
        if spec is not None and spec.moving:
            continue
        if _moves(shot, stroke):
            yield Remark(
                where=_where(stroke),
                what=f"it is drawn at {clock(stroke.span.start, rate)} over a clip in motion — strokes start on a "
                "frozen picture",
                remedy="add a freeze after the run, or write moving: yes",
                path=path,
                numbers=(("frame", stroke.span.start),),
            )
            continue
        wanted = stroke.cue_frame
        if wanted is None and spec is not None and spec.at is not None:
            wanted = shots_of(context, stroke.beat)[0].span.start + nearest_frame(seconds_of(spec.at, rate), rate)
        if wanted is None or wanted >= shot.span.start:
            continue
        early = shot.span.start - wanted
        said = f"its word {quoted(stroke.cue)} is spoken" if stroke.cue else "its time falls"
        spoken = [
            word.text.strip(".,;:!?…")
            for line in context.plan.speech
            if line.beat == stroke.beat
            for word in line.words
            if word.frame >= shot.span.start
        ]
        later = next((word for word in spoken if len(word) > 3), next(iter(spoken), None))
        move = (
            f"move [{stroke.id}] to a later word, such as {quoted(later)}"
            if stroke.cue and later
            else "let it start later"
        )
        yield Remark(
            where=_where(stroke),
            what=f"{said} at {clock(wanted, rate)}, {lasting(early, rate)} before its picture is there at "
            f"{clock(shot.span.start, rate)} — the picture must stand first",
            remedy=f"start the freeze {lasting(early, rate)} earlier (shorten what runs before it, or raise lead), "
            f"{move}, or write moving: yes",
            path=path,
            numbers=(("early_frames", early), ("cue_frame", wanted), ("freeze_frame", shot.span.start)),
        )


@check("stroke-short-hold", Severity.ERROR)
def stroke_short_hold(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke is drawn so that someone looks at it; under a second and a half after the drawing nobody has found it.

    The time is counted over all pictures that keep the stroke. Common practice of the trade, no source.
    """
    rate = context.plan.rate
    wanted = nearest_frame(limits.stroke_look, rate)
    for drawn in _drawn(context):
        stroke = drawn.first
        held = drawn.sight_ends - stroke.draw_start - stroke.draw_frames
        if held < 0 or held >= wanted:
            continue
        missing = wanted - held
        path, _ = _spec(context, stroke)
        move = f", or move [{stroke.id}] to an earlier word" if stroke.cue else ", or start it earlier"
        yield Remark(
            where=_where(stroke),
            what=f"it can be looked at for {lasting(held, rate)} after it is drawn — at least "
            f"{lasting(wanted, rate)} is wanted, {lasting(missing, rate)} is missing",
            remedy=f"hold its picture {lasting(missing, rate)} longer{move}, or keep it in the next beat",
            path=path,
            numbers=(("held_frames", held), ("wanted_frames", wanted), ("missing_frames", missing)),
        )


@check("stroke-outlives-shot", Severity.ERROR)
def stroke_outlives_shot(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke belongs to a picture.

    One that is still being drawn when the picture goes, or is asked to stay longer than the picture does, is cut off.
    """
    del limits
    rate = context.plan.rate
    for drawn in _drawn(context):
        stroke = drawn.first
        path, spec = _spec(context, stroke)
        picture = _shot(context, stroke)
        end = max(picture.span.end, drawn.sight_ends)
        needs = stroke.draw_start + stroke.draw_frames
        doing = "its drawing ends"
        if spec is not None and spec.hold is not None and needs <= end:
            needs += nearest_frame(seconds_of(spec.hold, rate), rate)
            doing = "it should stay until"
        over = needs - end
        if over > 0 or stroke.span.end > picture.span.end:
            over = max(over, stroke.span.end - picture.span.end)
            yield Remark(
                where=_where(stroke),
                what=f"{doing} {clock(end + over, rate)}, but its picture ends at {clock(end, rate)} — "
                f"{lasting(over, rate)} is missing",
                remedy=f"hold the picture {lasting(over, rate)} longer, start the stroke earlier, or shorten its "
                "draw or hold",
                path=path,
                numbers=(("over_frames", over), ("picture_end", end)),
            )


@check("strokes-too-many", Severity.WARNING)
def strokes_too_many(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Nobody follows five marks at once. Strokes that have done their work are wiped off before the next idea.

    Strokes of both halves of a split screen count together. Common practice, no source.
    """
    most = int(limits.strokes_at_once)
    rate = context.plan.rate
    said: set[str] = set()
    for frame in sorted({stroke.span.start for stroke in context.plan.strokes}):
        seen = [stroke for stroke in context.plan.strokes if frame in stroke.span]
        if len(seen) <= most or seen[-1].shot in said:
            continue
        said.add(seen[-1].shot)
        beat = next(shot.beat for shot in context.plan.shots if frame in shot.span)
        names = list(dict.fromkeys(stroke.id for stroke in seen))
        yield Remark(
            where=f"beat {beat}",
            what=f"{len(seen)} strokes are on screen at {clock(frame, rate)} ({', '.join(names)}) — at most {most} "
            "can be followed",
            remedy=f"give {counted(len(seen) - most, 'of them a hold', 'of them a hold')} so that it is wiped off "
            "earlier, or keep fewer",
            path=("beats", context.index_of(beat), "strokes"),
            numbers=(("strokes", len(seen)), ("most", most), ("frame", frame)),
        )


@check("cue-missing", Severity.WARNING)
def cue_missing(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke that hangs on a word follows it through every re-reading.

    One without a word or a time starts half a second after its picture, whatever is being said then.
    """
    del limits
    for index, beat, _ in context.beats():
        marks = {mark.id for line in beat.say for mark in line.marks}
        if not beat.say:
            continue
        for id_, spec in beat.strokes.items():
            if id_ in marks or spec.at is not None:
                continue
            yield Remark(
                where=f"beat {beat.beat}, stroke {id_}",
                what="no word starts it and no time is written — a stroke starts on a word, or at a time",
                remedy=f"write [{id_}] before the word on which it should start, or at: 2s",
                path=("beats", index, "strokes", id_),
            )


@check("stroke-off-picture", Severity.ERROR)
def stroke_off_picture(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Points are fractions of the clip's upright picture.

    One beyond its edge, or in a part that the crop cuts off, draws a mark that nobody sees, or half of one.
    """
    del limits
    said: set[tuple[str, str, int]] = set()
    for stroke in context.plan.strokes:
        shot = _shot(context, stroke)
        # Where a frame comes closer later on, the stroke must have been seen whole once.
        drawn = min(max(stroke.draw_start + stroke.draw_frames, stroke.span.start), stroke.span.end - 1)
        placement, window = shot.placement(stroke.pane, drawn), shot.panes[stroke.pane].whole_window
        key = (stroke.id, stroke.beat, stroke.pane)
        if key in said:
            continue
        off = [p for p in stroke.points if not (0 <= p.x <= 1 and 0 <= p.y <= 1)]
        cut = [p for p in stroke.points if p not in off and not window.inset(-0.5).contains(placement.to_canvas(p))]
        path, _ = _spec(context, stroke)
        if off or cut:
            said.add(key)
            what = (
                f"{_points(off)} {'lies' if len(off) == 1 else 'lie'} outside the picture — points go from 0 to 1"
                if off
                else f"{_points(cut)} {'is' if len(cut) == 1 else 'are'} cut off by the layout of this shot — "
                "strokes must lie in the part that is seen"
            )
            yield Remark(
                where=_where(stroke),
                what=what,
                remedy="move the point into the picture"
                if off
                else "move the point, set the clip's focus nearer to it, or zoom less",
                path=path,
                numbers=tuple(
                    (f"point_{axis}", round(value, 4))
                    for p in (off or cut)[:1]
                    for axis, value in (("x", p.x), ("y", p.y))
                ),
            )
        elif stroke.kind == "ring" and stroke.radius is not None:
            centre = placement.to_canvas(stroke.points[0])
            radius = stroke.radius * placement.source.height * placement.scale
            past = max(
                window.x - centre.x + radius,
                centre.x + radius - window.right,
                window.y - centre.y + radius,
                centre.y + radius - window.bottom,
            )
            if past > 0.5:
                said.add(key)
                yield Remark(
                    where=_where(stroke),
                    what=f"the ring reaches {past:.0f} px over the edge of its picture — all of it should be seen",
                    remedy=f"make its radius smaller by {past / (placement.source.height * placement.scale):.3f}, "
                    "or move its centre",
                    path=path,
                    numbers=(("past_px", round(past, 1)), ("radius", stroke.radius)),
                    severity=Severity.WARNING,
                )


def _points(points: list[Point]) -> str:
    return listed([f"[{p.x:g}, {p.y:g}]" for p in points])


@check("reference-line-refitted", Severity.ERROR)
def reference_line_refitted(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A line drawn at address is evidence only if it does not move.

    Drawn a second time to suit the later picture, it says what the picture maker wanted it to say.

    A stroke named in `keep` that the same beat draws again is an error, as is a kept stroke whose points changed; the
    same reference line drawn anew on the same clip in a later beat is a warning.
    """
    del limits
    drawn: dict[tuple[str, str], tuple[str, tuple[Point, ...]]] = {}
    origins: dict[tuple[str, int], Stroke] = {(s.id, s.draw_start): s for s in context.plan.strokes if not s.kept}
    for index, beat, _ in context.beats():
        for id_ in beat.keep:
            if id_ in beat.strokes:
                yield Remark(
                    where=f"beat {beat.beat}, stroke {id_}",
                    what="it is kept and drawn again in 1 beat — a kept line stays where it was drawn",
                    remedy=f"take {id_} out of strokes, or draw the new one under another id",
                    path=("beats", index, "strokes", id_),
                    numbers=(("times", 2),),
                )
        for stroke in (s for s in context.plan.strokes if s.beat == beat.beat and s.role == "reference"):
            path, _ = _spec(context, stroke)
            if stroke.kept:
                origin = origins.get((stroke.id, stroke.draw_start))
                if origin is not None and origin.points != stroke.points:
                    yield Remark(
                        where=_where(stroke),
                        what=f"it was moved by {_moved(origin.points, stroke.points):.3f} of the picture since beat "
                        f"{origin.beat} — a kept line does not move",
                        remedy="draw it once and keep it",
                        path=("beats", index, "keep"),
                        numbers=(("moved", round(_moved(origin.points, stroke.points), 4)),),
                    )
                continue
            clip = getattr(_shot(context, stroke).panes[stroke.pane].picture, "clip", "")
            before = drawn.get((stroke.id, clip))
            if (
                before is not None
                and before[0] != stroke.beat
                and before[1] != stroke.points
                and stroke.id not in beat.keep
            ):
                yield Remark(
                    where=_where(stroke),
                    what=f"it was drawn in beat {before[0]} and is drawn anew, "
                    f"{_moved(before[1], stroke.points):.3f} of the picture away — a reference line does not move",
                    remedy=f"write keep: [{stroke.id}] instead of drawing it again",
                    path=path,
                    numbers=(("moved", round(_moved(before[1], stroke.points), 4)),),
                    severity=Severity.WARNING,
                )
            drawn.setdefault((stroke.id, clip), (stroke.beat, stroke.points))


def _moved(before: tuple[Point, ...], after: tuple[Point, ...]) -> float:
    return max((a.distance(b) for a, b in zip(before, after, strict=False)), default=0.0)


@check("stroke-not-shown", Severity.ERROR)
def stroke_not_shown(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke that is written but appears in no picture, or kept where its clip is not shown, was meant to be seen."""
    del limits
    seen = {(stroke.id, stroke.beat, stroke.kept) for stroke in context.plan.strokes}
    for index, beat, _ in context.beats():
        for id_ in beat.strokes:
            if (id_, beat.beat, False) not in seen:
                yield Remark(
                    where=f"beat {beat.beat}, stroke {id_}",
                    what="it appears in none of the beat's pictures — a stroke needs a picture to lie on",
                    remedy="name the side it belongs to (on: left or right) only where there is a split, or take it "
                    "out",
                    path=("beats", index, "strokes", id_),
                    numbers=(("appearances", 0),),
                )
        for number, id_ in enumerate(beat.keep):
            if (id_, beat.beat, True) not in seen and id_ not in beat.strokes:
                yield Remark(
                    where=f"beat {beat.beat}, keep",
                    what=f"{id_} is kept but appears in none of the beat's pictures — a kept stroke stays on the "
                    "clip it was drawn on",
                    remedy=f"show that clip in this beat, or take {id_} out of keep",
                    path=("beats", index, "keep", number),
                    numbers=(("appearances", 0),),
                    severity=Severity.WARNING,
                )


@check("angle-without-tolerance", Severity.ERROR)
def angle_without_tolerance(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A number on screen has a tolerance, or it is not there.

    How far an angle may be off follows from how the camera stood: tan(seen) = tan(true) / cos(yaw). Where nobody said
    so, or where the tolerance is so large that the number says nothing, the degrees are left out.
    """
    del limits
    shots = {shot.id: shot for shot in context.plan.shots}
    for stroke in (stroke for stroke in context.plan.strokes if not stroke.kept):
        path, spec = _spec(context, stroke)
        pane = shots[stroke.shot].panes[stroke.pane]
        if spec is None or not spec.show_degrees or not isinstance(pane.picture, ClipPicture):
            continue
        clip = pane.picture.clip
        camera = context.board.clips[clip].camera
        where = f"beat {stroke.beat}, stroke {stroke.id}"
        if camera is None:
            yield Remark(
                where=where,
                what=f"degrees are asked for, and nothing says how the camera of clip {clip} stood — 1 statement is "
                "needed for a tolerance",
                remedy=f"write camera: {{yaw: ...}} for clip {clip}, or delete show_degrees",
                path=(*path, "show_degrees"),
                numbers=(("statements", 0),),
            )
            continue
        off = tolerance_degrees(stroke.points, pane.placement.source, camera)
        if off > MOST:
            yield Remark(
                where=where,
                what=f"the angle may be off by {off} degrees, with the camera {abs(camera.yaw):g} degrees aside and "
                f"its points as near as they are — at most {MOST} degrees are shown",
                remedy="delete show_degrees, or name points that lie farther apart",
                path=(*path, "show_degrees"),
                numbers=(("tolerance_degrees", off), ("most_degrees", MOST)),
            )

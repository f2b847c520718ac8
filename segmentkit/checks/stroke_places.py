"""Where marks lie: in the picture, where they were drawn, on something that is shown, with a tolerance."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import listed
from segmentkit.checks.strokes import stroke_shot, stroke_spec, stroke_where
from segmentkit.findings import Severity
from segmentkit.geometry import Point
from segmentkit.plan.angles import MOST, tolerance_degrees
from segmentkit.plan.model import ClipPicture, Stroke


@check("stroke-off-picture", Severity.ERROR)
def stroke_off_picture(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Points are fractions of the clip's upright picture.

    One beyond its edge, or in a part that the crop cuts off, draws a mark that nobody sees, or half of one.
    """
    del limits
    said: set[tuple[str, str, int]] = set()
    for stroke in context.plan.strokes:
        shot = stroke_shot(context, stroke)
        # Where a frame comes closer later on, the stroke must have been seen whole once.
        drawn = min(max(stroke.draw_start + stroke.draw_frames, stroke.span.start), stroke.span.end - 1)
        placement, window = shot.placement(stroke.pane, drawn), shot.panes[stroke.pane].whole_window
        key = (stroke.id, stroke.beat, stroke.pane)
        if key in said:
            continue
        off = [p for p in stroke.points if not (0 <= p.x <= 1 and 0 <= p.y <= 1)]
        cut = [p for p in stroke.points if p not in off and not window.inset(-0.5).contains(placement.to_canvas(p))]
        path, _ = stroke_spec(context, stroke)
        if off or cut:
            said.add(key)
            what = (
                f"{_points(off)} {'lies' if len(off) == 1 else 'lie'} outside the picture — points go from 0 to 1"
                if off
                else f"{_points(cut)} {'is' if len(cut) == 1 else 'are'} cut off by the layout of this shot — "
                "strokes must lie in the part that is seen"
            )
            yield Remark(
                where=stroke_where(stroke),
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
                    where=stroke_where(stroke),
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
            path, _ = stroke_spec(context, stroke)
            if stroke.kept:
                origin = origins.get((stroke.id, stroke.draw_start))
                if origin is not None and origin.points != stroke.points:
                    yield Remark(
                        where=stroke_where(stroke),
                        what=f"it was moved by {_moved(origin.points, stroke.points):.3f} of the picture since beat "
                        f"{origin.beat} — a kept line does not move",
                        remedy="draw it once and keep it",
                        path=("beats", index, "keep"),
                        numbers=(("moved", round(_moved(origin.points, stroke.points), 4)),),
                    )
                continue
            clip = getattr(stroke_shot(context, stroke).panes[stroke.pane].picture, "clip", "")
            before = drawn.get((stroke.id, clip))
            if (
                before is not None
                and before[0] != stroke.beat
                and before[1] != stroke.points
                and stroke.id not in beat.keep
            ):
                yield Remark(
                    where=stroke_where(stroke),
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
        path, spec = stroke_spec(context, stroke)
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

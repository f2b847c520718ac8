"""Strokes that outlive their picture: the camera stood still, or they follow the background closely enough."""

from __future__ import annotations

import math
from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import number
from segmentkit.findings import Severity
from segmentkit.geometry import Point
from segmentkit.plan.follow import between_frames
from segmentkit.plan.model import ClipPicture, Stroke
from segmentkit.storyboard.shots import Follow

STILL = 1.0
"""Pixels at a picture height of 1080 by which a background may seem to move from a camera that stands still."""
MOST_OFF = 2.0
"""The same for a stroke that follows, or that stays although the camera moved; common practice, no source."""


def _shown(context: CheckContext, stroke: Stroke) -> tuple[str, list[int], float] | None:
    """Clip, source frames on which a stroke is seen, and the picture's width against its height."""
    shot = next(one for one in context.plan.shots if one.id == stroke.shot)
    pane = shot.panes[stroke.pane]
    if not isinstance(pane.picture, ClipPicture) or stroke.source_frame is None:
        return None
    start = shot.span.start
    frames = pane.picture.frames[stroke.span.start - start : stroke.span.end - start]
    return pane.picture.clip, sorted(set(frames)), pane.placement.source.width / pane.placement.source.height


def _follows(context: CheckContext, stroke: Stroke) -> bool:
    for beat in reversed(context.board.beats[: context.index_of(stroke.beat) + 1]):
        if stroke.id in beat.strokes:
            return beat.strokes[stroke.id].follow is Follow.BACKGROUND
    return False


@check("camera-moves", Severity.WARNING)
def camera_moves(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A line drawn at address proves something at impact only if the camera has not moved between the two.

    How the background moves under each kept stroke is measured. Over 1 px at a picture height of 1080 is a warning,
    over 2 px an error: the line then no longer marks the place it was drawn at.
    """
    del limits
    worst: dict[tuple[str, str], tuple[float, int, Stroke]] = {}
    for stroke in context.plan.strokes:
        shown = _shown(context, stroke)
        if shown is None or stroke.source_frame is None or _follows(context, stroke):
            continue
        clip, frames, aspect = shown
        for frame in frames:
            found = between_frames(context.facts.tracks.get(clip), stroke.source_frame, frame)
            if found is None:
                continue
            moved = max(_distance(point, found.of(point), aspect) for point in stroke.points)
            if moved > worst.get((stroke.id, clip), (STILL, 0, stroke))[0]:
                worst[stroke.id, clip] = (moved, frame, stroke)
    for (id_, clip), (moved, frame, stroke) in worst.items():
        yield Remark(
            where=f"beat {stroke.beat}, stroke {id_}",
            what=f"the background of clip {clip} has moved by {number(round(moved, 1))} px at frame f{frame} since "
            f"f{stroke.source_frame}, where it was drawn — a line that stays needs a camera that stays, to "
            f"{number(STILL)} px",
            remedy="write follow: background on the stroke, or have the clip filmed from a tripod",
            path=("beats", context.index_of(stroke.beat), "keep") if stroke.kept else _path(context, stroke),
            numbers=(("moved_px", round(moved, 2)), ("frame", frame)),
            severity=Severity.ERROR if moved > MOST_OFF else Severity.WARNING,
        )


@check("follow-off", Severity.ERROR)
def follow_off(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke that follows the background is as good as the background was found.

    How far the tracked spots miss the common motion is stated, from the frame of the drawing to the worst frame shown.
    Over 2 px at a picture height of 1080, or where the background was lost, the stroke proves nothing.
    """
    del limits
    worst: dict[tuple[str, str], tuple[float, int, Stroke]] = {}
    for stroke in context.plan.strokes:
        shown = _shown(context, stroke)
        if shown is None or stroke.source_frame is None or not _follows(context, stroke):
            continue
        clip, frames, _ = shown
        track = context.facts.tracks.get(clip)
        for frame in (f for f in frames if f != stroke.source_frame):
            ends = [track.measured(f) for f in (stroke.source_frame, frame)] if track is not None else [None]
            off = math.hypot(*(math.inf if end is None else end[1] for end in ends))
            if off > worst.get((stroke.id, clip), (MOST_OFF, 0, stroke))[0]:
                worst[stroke.id, clip] = (off, frame, stroke)
    for (id_, clip), (off, frame, stroke) in worst.items():
        said = f"is {number(round(off, 1))} px off" if math.isfinite(off) else "was not found"
        yield Remark(
            where=f"beat {stroke.beat}, stroke {id_}",
            what=f"the background of clip {clip} {said} at frame f{frame}, which it should follow — up to "
            f"{number(MOST_OFF)} px",
            remedy="keep it in fewer shots, or have the clip filmed from a tripod",
            path=("beats", context.index_of(stroke.beat), "keep") if stroke.kept else _path(context, stroke),
            numbers=(("off_px", round(off, 2) if math.isfinite(off) else "unknown"), ("frame", frame)),
        )


def _path(context: CheckContext, stroke: Stroke) -> tuple[str | int, ...]:
    return ("beats", context.index_of(stroke.beat), "strokes", stroke.id)


def _distance(first: Point, second: Point, aspect: float) -> float:
    """Distance of two spots given in fractions, in pixels at a picture height of 1080."""
    return 1080 * math.hypot((first.x - second.x) * aspect, first.y - second.y)

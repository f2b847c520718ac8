"""Strokes that move with the background: where a stroke drawn on one frame lies in the frames that keep it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from segmentkit.facts import TrackFacts
from segmentkit.geometry import Point, Projection, Size
from segmentkit.plan.model import ClipPicture, Shot, Spot, Stroke


def between_frames(track: TrackFacts | None, origin: int, frame: int) -> Projection | None:
    """Where spots of one frame's picture lie in another's, by the background; None where that was not measured."""
    if track is None:
        return None
    start, end = track.measured(origin), track.measured(frame)
    return None if start is None or end is None else end[0].after(start[0].inverse)


def following(stroke: Stroke, shot: Shot, tracks: Mapping[str, TrackFacts]) -> Stroke:
    """The stroke with its place on each frame it is seen; unchanged where the background stays, or was not measured.

    Args:
        stroke: one appearance; it was drawn on its `source_frame`.
        shot: where it appears.
        tracks: how backgrounds move, by clip.
    """
    pane = shot.panes[stroke.pane]
    picture = pane.picture
    if not isinstance(picture, ClipPicture) or stroke.source_frame is None:
        return stroke
    here = Spot(points=stroke.points, radius=stroke.radius)
    made: dict[int, Spot] = {stroke.source_frame: here}
    spots = []
    for frame in range(stroke.span.start, stroke.span.end):
        shown = picture.frames[frame - shot.span.start]
        if shown not in made:
            found = between_frames(tracks.get(picture.clip), stroke.source_frame, shown)
            made[shown] = here if found is None else _moved(here, found, pane.placement.source)
        spots.append(made[shown])
    return stroke if all(spot is here for spot in spots) else replace(stroke, followed=tuple(spots))


def _moved(spot: Spot, by: Projection, size: Size) -> Spot:
    points = tuple(by.of(point) for point in spot.points)
    radius = spot.radius
    if radius is not None:
        # A disc stays a disc; it grows as the picture does around its centre.
        centre = spot.points[0]
        aspect = size.width / size.height
        rim = Point(centre.x, centre.y + radius), Point(centre.x + radius / aspect, centre.y)
        grown = [by.of(point) - points[0] for point in rim]
        reach = [((at.x * aspect) ** 2 + at.y**2) ** 0.5 for at in grown]
        radius = sum(reach) / len(reach)
    return Spot(points=points, radius=radius)

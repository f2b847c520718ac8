"""Faces as rectangles of the canvas, for labels to keep off."""

from __future__ import annotations

from segmentkit.geometry import Rect
from segmentkit.plan.model import Shot


def face_areas(shot: Shot) -> list[Rect]:
    """The square around each face that a shot shows, where its pane rests."""
    areas = []
    for index, pane in enumerate(shot.panes):
        placement = shot.resting(index)
        for face in pane.faces:
            middle = placement.to_canvas(face.centre)
            reach = face.radius * placement.source.height * placement.scale
            areas.append(Rect(middle.x - reach, middle.y - reach, 2 * reach, 2 * reach))
    return areas

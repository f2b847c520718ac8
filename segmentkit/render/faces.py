"""Faces and bodies as rectangles of the canvas, for labels to keep off."""

from __future__ import annotations

from segmentkit.geometry import Rect, box_of
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


def body_areas(shot: Shot) -> list[Rect]:
    """The boxes around each player that a shot shows, club and ball with them, where its pane rests."""
    return [
        box_of(map(shot.resting(index).to_canvas, part.corners))
        for index, pane in enumerate(shot.panes)
        for part in (() if pane.soften else pane.body)
    ]


def trunk_areas(shot: Shot) -> list[Rect]:
    """The box around each player's trunk that a shot shows, where its pane rests."""
    areas = []
    for index, pane in enumerate(shot.panes):
        if pane.figure is not None:
            areas.append(box_of(map(shot.resting(index).to_canvas, pane.figure.corners)))
    return areas

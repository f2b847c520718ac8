"""Where faces are, so that labels keep off them: from the points named `head` or `face` in a clip."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from segmentkit.geometry import Point
from segmentkit.plan.model import ClipPicture, Face, Pane, Shot
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Clip

NAMES = ("head", "face")
OF_LEGS = 0.14
"""Radius of a head with its hair or hat against heel to belt, which is a little over half of a standing height."""
USUAL = 0.06
"""The same as a part of the picture's height where heel and belt are not named. Both common practice, no source."""


def with_faces(shots: Sequence[Shot], board: Storyboard) -> list[Shot]:
    """The shots, their panes knowing where faces are in them."""
    return [replace(shot, panes=tuple(_with(pane, board) for pane in shot.panes)) for shot in shots]


def _with(pane: Pane, board: Storyboard) -> Pane:
    picture = pane.picture
    if not isinstance(picture, ClipPicture):
        return pane
    clip = board.clips[picture.clip]
    here = clip.points.get(picture.position or "", {})
    found = [here[name] for name in NAMES if name in here]
    if not found:
        # A picture in motion, or a position without that point: the head is near where it was.
        found = [spots[name] for spots in clip.points.values() for name in NAMES if name in spots]
    return replace(pane, faces=tuple(Face(point, _radius(clip)) for point in found)) if found else pane


def _radius(clip: Clip) -> float:
    for spots in clip.points.values():
        heel, belt = spots.get("heel"), spots.get("belt")
        if isinstance(heel, Point) and isinstance(belt, Point) and heel.y > belt.y:
            return OF_LEGS * (heel.y - belt.y)
    return USUAL

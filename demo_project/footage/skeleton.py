"""Bones from a handful of turns: frames, the two-bone chain, and the pose that the other files read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

TOWARD_BALL = np.array([1.0, 0.0, 0.0])
TOWARD_TARGET = np.array([0.0, 1.0, 0.0])
UP = np.array([0.0, 0.0, 1.0])


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """One moment of a figure.

    Attributes:
        joints: name to place, float64 (3,), metres (x toward the ball, y toward the target, z up).
        pelvis, chest, head: rows forward, lead side, up; float64 (3, 3).
        feet: per side (`lead`, `trail`) rows along the foot, across, up.
        club: unit vector from the butt to the head, or zeros without a club.
        toe: unit vector from heel to toe of the club head.
        face: unit vector the club face looks along.
    """

    joints: dict[str, Array]
    pelvis: Array
    chest: Array
    head: Array
    feet: dict[str, Array]
    club: Array
    toe: Array
    face: Array


def unit(vector: Array) -> Array:
    """The vector at length 1."""
    return np.asarray(vector / max(float(np.linalg.norm(vector)), 1e-9))


def axis(bend: float, side: float) -> Array:
    """Spine direction for a forward bend and a side bend toward the trail side, degrees from upright."""
    b, s = np.radians(bend), np.radians(side)
    return unit(np.array([np.tan(b), -np.tan(s), 1.0]))


def frame(spine: Array, turn: float) -> Array:
    """Rows forward, lead side, up of a body part that is turned about its own spine.

    Args:
        spine: unit vector, shape (3,).
        turn: degrees, positive toward the target, 0 facing the ball line.
    """
    turned = np.radians(turn)
    ahead, lead = np.array([np.cos(turned), np.sin(turned), 0.0]), np.array([-np.sin(turned), np.cos(turned), 0.0])
    tilt = shortest(UP, spine)
    return np.stack([tilt @ ahead, tilt @ lead, spine])


def shortest(start: Array, end: Array) -> Array:
    """Rotation that takes one unit vector to another the shortest way (Rodrigues' formula)."""
    v, c = np.cross(start, end), float(start @ end)
    k = np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])
    return np.asarray(np.eye(3) + k + k @ k / (1 + c + 1e-12))


def plane_direction(angle: float, incline: float) -> Array:
    """Direction inside a plane that holds the target line.

    Args:
        angle: degrees; 0 points down the plane to the ball, 90 straight away from the target, 180 up the plane.
        incline: degrees of the plane from the ground.
    """
    a, i = np.radians(angle), np.radians(incline)
    down = np.array([np.cos(i), 0.0, -np.sin(i)])
    return np.asarray(np.cos(a) * down - np.sin(a) * TOWARD_TARGET)


def bend_joint(root: Array, tip: Array, first: float, second: float, hint: Array) -> Array:
    """Elbow or knee between two ends by the law of cosines.

    A target out of reach gives a straight limb toward it; the caller keeps targets in reach.

    Args:
        root: hip or shoulder, metres, shape (3,).
        tip: ankle or wrist.
        first: length of the bone at the root, metres.
        second: length of the other.
        hint: direction to which the joint points.
    """
    reach = tip - root
    length = min(float(np.linalg.norm(reach)), (first + second) * 0.9995)
    along = unit(reach)
    share = (first**2 - second**2 + length**2) / (2 * length)
    height = np.sqrt(max(first**2 - share**2, 0.0))
    side = unit(hint - along * (hint @ along))
    return np.asarray(root + along * share + side * height)

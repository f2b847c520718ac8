"""How differently two clips were filmed, as far as one camera each can tell, and with what tolerance.

What is far behind the player hardly moves when a camera is carried a step aside; the player does. So the far parts of
both pictures are laid over one another, and what is then left between the player's feet is how far the camera, or the
player, has moved. Which of the two it was cannot be told from pictures, and the lens is known roughly at best: both are
in the tolerance. Where the backgrounds do not meet, nothing is said about the angle.

Sources: a point at infinity does not move with the camera's place (R. Hartley and A. Zisserman, Multiple View Geometry,
2nd ed., 2004, 2.2.2); features as D. Lowe, IJCV 60, 2004.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point, Rect

Luma = NDArray[np.uint8]

LENS = (26 / 36, 26 / 36 / 0.75)
"""Focal length in long sides of the picture: the main lens of a phone, as 26 mm to 36 mm of film, without and with a
quarter of the picture cropped for steadiness (common practice, no source)."""
ASIDE = 0.2
"""Metres by which somebody stands elsewhere who means to stand on the same spot (common practice, no source)."""
LONG_SIDE = 960
_LEAST_SPOTS = 24
_AGREE = 3.0  # pixels at LONG_SIDE
_ALIKE = 0.75  # Lowe's ratio
_FAR = 0.36
"""Part of a swing's height above its lowest point at which the horizon lies: a camera as high as the hands sees it
there, so that what is higher in the picture stands on no ground nearby."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What of a clip tells where its camera stood.

    Attributes:
        picture: luma of the background, or of a picture at rest; uint8, shape (height, width).
        player: the box that a swing sweeps over, in fractions of the upright picture.
        foot: the spot on the ground under the player: the heel line where a person has named it.
        rise: how high the player stands in the picture, in its heights: heel to belt where named, else the swing.
        named: whether foot and rise come from points that a person has named.
        yaw: degrees beside the line of the view, and by how much that may be off, where a person has found it out.
    """

    picture: Luma
    player: Rect
    foot: Point
    rise: float
    named: bool = False
    yaw: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Within:
    """A number with its tolerance; both in one unit."""

    value: float
    off: float

    def __str__(self) -> str:
        return f"{self.value:+.1f} ± {self.off:.1f}"


@dataclass(frozen=True, slots=True, kw_only=True)
class CameraDifference:
    """The later clip against the earlier one; None where it cannot be known.

    Attributes:
        spots: spots of the background that were found in both and agree; 0 where the backgrounds do not meet.
        zoom: how much larger the background is.
        roll: degrees by which the picture is turned clockwise.
        size: how much larger the player is in the picture.
        ground: how much lower the player's feet are in the picture, in parts of its height.
        nearer: how many times closer the camera stood; the lens does not matter to it.
        angle: degrees by which the camera stood elsewhere around the player, positive to its right.
        higher: how much higher it stood, in metres.
        stated: whether the angle comes from what people found out about both cameras.
    """

    spots: int
    zoom: float | None
    roll: float | None
    size: Within
    ground: Within
    nearer: Within | None
    angle: Within | None
    higher: Within | None
    stated: bool = False


def camera_difference(
    then: Standing, now: Standing, distance: float = 4.5, height: float = 0.9
) -> CameraDifference:  # fmt: skip
    """Compares how two clips were filmed.

    Args:
        then: the earlier clip.
        now: the later one.
        distance: metres from camera to player that the shooting sheet asks for.
        height: metres of the camera above the ground that it asks for.
    """
    sharp = 0.006 if then.named and now.named else 0.04  # of the height: a named spot, or the edge of what moves
    by = 0.02 if then.named and now.named else 0.06  # of the size
    size = float(now.rise / then.rise)
    grown = Within(value=size, off=size * by)
    lower = Within(value=now.foot.y - then.foot.y, off=sharp)
    stated = _stated(then, now)
    found = _laid_over(then, now)
    if found is None:
        return CameraDifference(
            spots=0, zoom=None, roll=None, size=grown, ground=lower, nearer=None, angle=stated, higher=None,
            stated=stated is not None,
        )  # fmt: skip
    matrix, spots = found
    high, width = now.picture.shape
    zoom = float(math.hypot(matrix[0, 0], matrix[1, 0]))
    foot = matrix @ np.array([then.foot.x * then.picture.shape[1], then.foot.y * then.picture.shape[0], 1.0])
    long = max(high, width)
    across = (now.foot.x * width - foot[0]) / long
    down = float(now.foot.y * high - foot[1]) / long
    lens = sum(LENS) / 2
    loose = (LENS[1] - LENS[0]) / 2 / lens
    aside = math.degrees(math.atan(ASIDE / distance))
    # A camera carried to the right sees the player further left before what is far away.
    angle = -math.degrees(math.atan(float(across) / lens))
    off = math.hypot(aside, abs(angle) * loose, math.degrees(sharp * high / long / lens))
    nearer = size * (high / then.picture.shape[0]) / zoom
    # The feet lie below the horizon by lens x height / distance, so coming closer lowers them as well.
    rise = (height + down / lens * distance) / nearer - height
    rise_off = math.hypot(abs(down) / lens * distance * loose, sharp * high / long / lens * distance, height * by)
    return CameraDifference(
        spots=spots, zoom=zoom, roll=math.degrees(math.atan2(matrix[1, 0], matrix[0, 0])), size=grown, ground=lower,
        nearer=Within(value=nearer, off=nearer * math.hypot(by, 0.01)),
        angle=stated or Within(value=angle, off=off), higher=Within(value=rise, off=rise_off),
        stated=stated is not None,
    )  # fmt: skip


def _stated(then: Standing, now: Standing) -> Within | None:
    if then.yaw is None or now.yaw is None:
        return None
    return Within(value=now.yaw[0] - then.yaw[0], off=then.yaw[1] + now.yaw[1])


def _laid_over(then: Standing, now: Standing) -> tuple[NDArray[np.float64], int] | None:
    """Maps far spots of the earlier picture onto the later one: turn, size and shift; float64, shape (2, 3), pixels.

    The spots that agree must lie apart: a single sign found again would give a size and a turn of its own.
    """
    first, second = _features(then), _features(now)
    if first is None or second is None:
        return None
    pairs = cv2.BFMatcher(cv2.NORM_L2).knnMatch(first[1], second[1], k=2)
    good = [p[0] for p in pairs if len(p) == 2 and p[0].distance < _ALIKE * p[1].distance]
    if len(good) < _LEAST_SPOTS:
        return None
    start = np.array([first[0][m.queryIdx] for m in good], np.float64)
    end = np.array([second[0][m.trainIdx] for m in good], np.float64)
    matrix, inside = cv2.estimateAffinePartial2D(
        start, end, method=cv2.RANSAC, ransacReprojThreshold=_AGREE, maxIters=4000, confidence=0.999
    )
    if matrix is None or inside is None:
        return None
    held = inside.ravel() > 0
    width = now.picture.shape[1] * _shrunk(now.picture)
    if held.sum() < _LEAST_SPOTS or held.mean() < 0.3 or np.ptp(end[held][:, 0]) < 0.35 * width:
        return None
    matrix = np.asarray(matrix, np.float64)
    # From small pictures back to the sizes of both.
    small, large = _shrunk(then.picture), 1 / _shrunk(now.picture)
    matrix = matrix @ np.diag([small, small, 1.0])
    return np.asarray(matrix * large, np.float64), int(held.sum())


def _shrunk(picture: Luma) -> float:
    return LONG_SIDE / float(max(picture.shape))


def _features(of: Standing) -> tuple[NDArray[np.float32], NDArray[np.float32]] | None:
    """Spots above the horizon and beside the player, with what they look like; at LONG_SIDE."""
    by = _shrunk(of.picture)
    method = cv2.INTER_AREA if by < 1 else cv2.INTER_LINEAR
    small = np.asarray(cv2.resize(of.picture, None, fx=by, fy=by, interpolation=method), np.uint8)
    height, width = small.shape
    mask = np.zeros_like(small)
    horizon = round((of.player.y + of.player.height * (1 - _FAR)) * height)
    mask[: max(0, horizon)] = 255
    left, right = of.player.x - 0.02, of.player.x + of.player.width + 0.02
    mask[max(0, round((of.player.y - 0.02) * height)) :, max(0, round(left * width)) : round(right * width)] = 0
    # Evened out, because a sky on another day would else give all the contrast.
    even = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(8, 8)).apply(small)
    spots, looks = cv2.SIFT_create(nfeatures=3000).detectAndCompute(even, mask)  # type: ignore[attr-defined]
    if looks is None or len(spots) < _LEAST_SPOTS:
        return None
    return np.array([spot.pt for spot in spots], np.float32), looks

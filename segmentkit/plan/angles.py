"""Angles in the picture, and how far they may be off: what a camera that stands aside does, and what pointing does.

A plane that is seen from `yaw` degrees beside its normal keeps heights and loses widths: tan(seen) = tan(true) /
cos(yaw), angles from the horizontal (plane geometry of a parallel projection; 45 degrees at a yaw of 10 are seen as
45.439). What lies out of that plane is not known to one camera; the number is therefore always one "in the picture".
"""

from __future__ import annotations

import math

from segmentkit.geometry import Point, Size
from segmentkit.storyboard.people import Camera

POINTED = 0.003
"""How far a named point may lie beside its spot, as a part of the picture's height; common practice, no source."""
LEAST = 2
MOST = 10
"""Least tolerance that is ever claimed, and the largest with which a number is still worth showing, in degrees; common
practice, no source."""


def seen_degrees(points: tuple[Point, ...], size: Size, yaw: float = 0.0) -> float:
    """The angle at the second of three points, 0 to 180 degrees, widened back to what a straight camera would see.

    Args:
        points: arm, corner, arm; fractions of the upright picture.
        size: of that picture in pixels.
        yaw: degrees that the camera stood aside; 0 leaves the angle as it is seen.
    """
    stretch = size.width / math.cos(math.radians(yaw))
    first, corner, last = (point.scaled(stretch, size.height) for point in points)
    ways = [math.atan2(arm.y - corner.y, arm.x - corner.x) for arm in (first, last)]
    turn = abs(math.degrees(ways[1] - ways[0])) % 360
    return min(turn, 360 - turn)


def tolerance_degrees(points: tuple[Point, ...], size: Size, camera: Camera) -> int:
    """Whole degrees by which the angle may be off: the camera at its worst, and all three points beside their spots."""
    seen = seen_degrees(points, size)
    worst = abs(camera.yaw) + camera.within
    aside = abs(seen_degrees(points, size, worst) - seen)
    first, corner, last = (point.scaled(size.width, size.height) for point in points)
    slip = 2 * POINTED * size.height
    pointing = sum(math.degrees(math.atan2(slip, max(1.0, arm.distance(corner)))) for arm in (first, last))
    return max(LEAST, math.ceil(aside + pointing))


def angle_text(points: tuple[Point, ...], size: Size, camera: Camera | None) -> str | None:
    """What is written beside an angle; None when it may not be written.

    That is so when nobody said how the camera stood, or when the tolerance exceeds `MOST`.
    """
    if camera is None:
        return None
    off = tolerance_degrees(points, size, camera)
    # The number and its tolerance stay on one line.
    number = f"{round(seen_degrees(points, size))}° ± {off}°".replace(" ", "\N{NO-BREAK SPACE}")
    return None if off > MOST else f"about {number}, in the picture"

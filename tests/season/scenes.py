"""Pictures of a simple scene from a camera whose place is known: far textures, a near figure, a pinhole between.

The projection is the pinhole's own (R. Hartley and A. Zisserman, Multiple View Geometry, 2nd ed., 2004, 6.1), written
here from the book and not taken from the program that is tested.
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from segmentkit.geometry import Point, Rect
from segmentkit.season.follow_camera import Standing

WIDE, HIGH = 960, 540
FOCAL = 0.8 * WIDE
FAR = 400.0
"""Metres to what is painted as the background."""


@cache
def scene(
    aside: float = 0.0, up: float = 0.0, back: float = 0.0, turned: float = 0.0, rolled: float = 0.0, zoom: float = 1.0,
    seed: int = 1, stands: float = 0.0,
) -> Standing:  # fmt: skip
    """A picture with what is needed of it; shared, so not to be changed.

    Args:
        aside: metres the camera stands to the right of its usual place, 4.5 m behind the player.
        up: metres it stands higher than 0.9.
        back: metres it stands farther off.
        turned: degrees by which it looks to the right.
        rolled: degrees by which it is turned about its own axis.
        zoom: how much longer its lens is.
        seed: another number, another place.
        stands: metres the player stands to the right.
    """
    texture = _texture(seed)
    angle = np.radians(turned)
    spin = np.radians(rolled)
    focal = FOCAL * zoom

    def project(x, y, z):
        """World metres to pixels: x right, y up, z away from the usual camera; float64."""
        dx, dy, dz = x - aside, 0.9 + up - y, z + back
        across, deep = dx * np.cos(angle) - dz * np.sin(angle), dx * np.sin(angle) + dz * np.cos(angle)
        px, py = focal * across / deep, focal * dy / deep
        return WIDE / 2 + px * np.cos(spin) - py * np.sin(spin), HIGH * 0.57 + px * np.sin(spin) + py * np.cos(spin)

    half = FAR * 1.1
    corners = [(-half, half * 0.9), (half, half * 0.9), (half, 0.0), (-half, 0.0)]
    seen = np.array([project(x, y, FAR) for x, y in corners], np.float32)
    high, wide = texture.shape
    flat = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    picture = cv2.warpPerspective(texture, cv2.getPerspectiveTransform(flat, seen), (WIDE, HIGH), borderValue=90)
    foot, belt = project(stands, 0.0, 4.5), project(stands, 0.95, 4.5)
    top = project(stands, 1.75, 4.5)
    cv2.line(picture, (round(foot[0]), round(foot[1])), (round(top[0]), round(top[1])), 20, 24)
    return Standing(
        picture=picture, player=Rect(foot[0] / WIDE - 0.12, 0.02, 0.24, foot[1] / HIGH - 0.02),
        foot=Point(foot[0] / WIDE, foot[1] / HIGH), rise=(foot[1] - belt[1]) / HIGH, named=True,
    )  # fmt: skip


@cache
def _texture(seed):
    random = np.random.default_rng(seed)
    rough = np.zeros((700, 1400), np.float32)
    for size, weight in ((20, 40), (50, 30), (120, 25)):
        small = random.normal(0, 1, (size, 2 * size)).astype(np.float32)
        rough += weight * cv2.resize(small, (1400, 700), interpolation=cv2.INTER_CUBIC)
    return np.clip(rough + 120, 0, 255).astype(np.uint8)

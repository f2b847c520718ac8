"""A level pinhole camera on a tripod."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """Where the camera stands and what it sees.

    World axes in metres: x toward the ball, y toward the target, z up. The camera is level: `heading` has no height.
    `focal`, `centre_x` and `centre_y` are in pixels of a picture `width` x `height`.
    """

    place: tuple[float, float, float]
    heading: tuple[float, float]
    focal: float
    width: int
    height: int
    centre_x: float
    centre_y: float

    def axes(self) -> Array:
        """Rows: right, down, forward; float64, shape (3, 3), unit length."""
        fx, fy = self.heading / np.hypot(*self.heading)
        return np.array([[fy, -fx, 0.0], [0.0, 0.0, -1.0], [fx, fy, 0.0]])

    def project(self, points: Array) -> Array:
        """Pixels (x right, y down) of world points; float64, shape (..., 3) to (..., 2)."""
        seen = (np.asarray(points, dtype=float) - np.array(self.place)) @ self.axes().T
        deep = np.maximum(seen[..., 2], 1e-3)
        return np.stack(
            [self.centre_x + self.focal * seen[..., 0] / deep, self.centre_y + self.focal * seen[..., 1] / deep],
            axis=-1,
        )

    def depth(self, points: Array) -> Array:
        """Distance along the optical axis, metres; shape (..., 3) to (...)."""
        return np.asarray((np.asarray(points, dtype=float) - np.array(self.place)) @ self.axes()[2])

    def scaled(self, factor: float) -> Camera:
        """The same view in a smaller or larger picture (both sides rounded to even numbers)."""
        return Camera(
            place=self.place,
            heading=self.heading,
            focal=self.focal * factor,
            width=2 * round(self.width * factor / 2),
            height=2 * round(self.height * factor / 2),
            centre_x=self.centre_x * factor,
            centre_y=self.centre_y * factor,
        )

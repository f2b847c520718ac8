"""The hour of the day: where the sun stands and what colour things are. All values invented."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Light:
    """Sun direction (toward it) and the colours of sun, sky, bounce and haze, linear light."""

    toward: tuple[float, float, float]
    sun: tuple[float, float, float]
    sky: tuple[float, float, float]
    bounce: tuple[float, float, float]
    zenith: tuple[float, float, float]
    horizon: tuple[float, float, float]
    cloud: tuple[float, float, float]

    def table(self) -> Array:
        """Rows direction, sun, sky, bounce; float64 (4, 3)."""
        toward = np.array(self.toward) / np.linalg.norm(self.toward)
        return np.stack([toward, np.array(self.sun), np.array(self.sky), np.array(self.bounce)])


DAY = Light(
    toward=(0.70, -0.44, 0.60),
    sun=(1.95, 1.76, 1.46),
    sky=(0.50, 0.60, 0.78),
    bounce=(0.20, 0.24, 0.10),
    zenith=(0.20, 0.38, 0.74),
    horizon=(0.66, 0.78, 0.90),
    cloud=(1.02, 1.0, 0.98),
)
GOLDEN = Light(
    toward=(0.85, 0.50, 0.26),
    sun=(2.5, 1.45, 0.62),
    sky=(0.36, 0.40, 0.56),
    bounce=(0.20, 0.20, 0.08),
    zenith=(0.20, 0.33, 0.62),
    horizon=(1.05, 0.72, 0.42),
    cloud=(1.25, 0.86, 0.58),
)

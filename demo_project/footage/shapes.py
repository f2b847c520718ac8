"""The list of soft shapes that the tracer draws: tapered, flattened capsules, blended inside a group."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

SKIN, SHIRT, TROUSERS, SHOES, SOLES, HAIR, CAP, BELT, GLOVE, DARK, LIPS, COLLAR, SHADOW = range(13)
"""Groups: shapes of one group melt together; SHADOW casts a shadow and is not seen."""

BLEND = np.array([0.016, 0.052, 0.055, 0.014, 0.004, 0.026, 0.012, 0.006, 0.010, 0.003, 0.006, 0.012, 0.001])
"""Width of the blend inside each group, metres; float64 (13,)."""

WIDTH = 20
"""Columns of a shape row: a (3), b (3), radii (2), flat axis (3), flatness, group, fold height, fold rate, fold phase
(99: cut ends), bound centre (3), bound radius."""


@dataclass(slots=True)
class Shapes:
    """Collects shape rows; `table()` gives them in the tracer's order."""

    rows: list[Array] = field(default_factory=list)

    def add(
        self,
        group: int,
        a: Array,
        b: Array,
        radii: tuple[float, float],
        *,
        flat: Array | None = None,
        flatness: float = 1.0,
        fold: tuple[float, float] = (0.0, 0.0),
        cut: bool = False,
    ) -> None:
        """Add a capsule from `a` to `b`.

        Args:
            group: one of the group numbers above.
            a: one end, metres, shape (3,).
            b: the other end; the same place twice gives a ball.
            radii: at either end, metres, measured across the flat axis.
            flat: unit vector along which the shape is thinner.
            flatness: thickness along `flat` over the thickness across it, 0 to 1.
            fold: height in metres and rate (waves in a radian-metre) of the cloth folds or strands.
            cut: flat ends in place of round ones, as of a belt.
        """
        axis = np.array([0.0, 0.0, 1.0]) if flat is None else flat
        middle = (a + b) / 2
        bound = float(np.linalg.norm(b - a)) / 2 + max(radii) + fold[0]
        phase = 99.0 if cut else float(len(self.rows) * 1.7 % 6.28)
        self.rows.append(
            np.concatenate([a, b, radii, axis, [flatness, group, fold[0], fold[1], phase], middle, [bound]])
        )

    def table(self) -> tuple[Array, int]:
        """All rows sorted by group, float64 (n, WIDTH), and the number that are seen (the rest only cast shadows)."""
        rows = np.array(sorted(self.rows, key=lambda row: row[12]))
        return rows, int(np.sum(rows[:, 12] < SHADOW))

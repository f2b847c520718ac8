"""A part of a card that moves on its own."""

from __future__ import annotations

from dataclasses import dataclass

from segmentkit.render.paint import Painting


@dataclass(frozen=True, slots=True)
class Layer:
    """A part of a card that moves on its own.

    Attributes:
        painting: what it shows, where it rests.
        slide: from how far it comes in, in canvas pixels (x, y), where the look's character slides at all.
        delay: when it starts, as a part of the time of coming in.
    """

    painting: Painting
    slide: tuple[float, float] = (0.0, 0.0)
    delay: float = 0.0

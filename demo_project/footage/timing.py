"""When each position of the swing falls, in whole frames."""

from __future__ import annotations

from dataclasses import dataclass

POSITIONS = (
    "address",
    "takeaway",
    "lead_arm_parallel_back",
    "top",
    "lead_arm_parallel_down",
    "impact",
    "shaft_parallel_through",
    "lead_arm_parallel_through",
    "finish",
)
"""Names of the positions in the order of the swing."""

PUBLISHED_FRACTIONS = {
    "address": 0.0,
    "takeaway": 0.395,
    "lead_arm_parallel_back": 0.541,
    "top": 0.774,
    "lead_arm_parallel_down": 0.902,
    "impact": 1.0,
    "shaft_parallel_through": 1.062,
    "finish": 1.567,
}
"""Share of the time from address to impact: medians over the 758 real-time swings annotated for GolfDB (McNally et al.,
CVPR Workshops 2019, arXiv:1903.06528). The set has no event for the lead arm parallel after impact."""

THROUGH_FRACTION = 1.115
"""Lead arm parallel after impact, same unit. Invented: between the published neighbours, near the first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Timing:
    """Frame of each position in a clip.

    Attributes:
        fps: frames a second of the clip.
        frames: position name to frame index, strictly rising.
        total: number of frames of the clip.
    """

    fps: int
    frames: dict[str, int]
    total: int

    def seconds(self, position: str) -> float:
        """Moment of a position on the clip's own clock, seconds."""
        return self.frames[position] / self.fps


def timing(fps: int, address: int, to_impact: int, total: int, top_share: float = PUBLISHED_FRACTIONS["top"]) -> Timing:
    """Lay the positions out from the published fractions.

    Args:
        fps: frames a second.
        address: frame of address.
        to_impact: frames from address to impact.
        total: frames of the clip.
        top_share: the player's own share of the top; the median unless said otherwise.
    """
    shares = {**PUBLISHED_FRACTIONS, "top": top_share, "lead_arm_parallel_through": THROUGH_FRACTION}
    return Timing(fps=fps, frames={name: address + round(shares[name] * to_impact) for name in POSITIONS}, total=total)

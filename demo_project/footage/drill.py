"""The wall drill without a club, and the slow half swings after it. Times and angles are invented."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .curves import Curve, curve, smoothstep
from .players import Player
from .skeleton import UP, Pose, bend_joint, unit
from .swing import Swing
from .timing import Timing

Array = NDArray[np.float64]

GAP = 0.075
"""A hand's width between the hips and the wall when she stands in the middle, metres."""

TURNS_BACK = ((8.2, 9.9, 10.5, 11.8), (11.9, 13.4, 13.9, 14.9))
TURNS_THROUGH = ((15.2, 16.9, 17.5, 18.6), (18.7, 20.2, 20.7, 21.7))
"""Per repetition, seconds: leaves the middle, hip on the wall, leaves the wall, back in the middle."""

CUT = 22.0
"""Seconds at which the clip cuts from the wall to the half swings."""


def _reps(back: float, through: float, middle: float, start: list[tuple[float, float]]) -> Curve:
    points, turns = list(start), []
    for group, value in ((TURNS_BACK, back), (TURNS_THROUGH, through)):
        for leave, touch, part, home in group:
            points += [(leave, middle), (touch, value), (part, value), (home, middle)]
            turns += [leave, touch, part, home]
    return curve(points, turns)


class WallDrill(Swing):
    """Arms crossed, a hand's width before the wall, turning until one hip and then the other brushes it."""

    def __init__(self, player: Player, when: Timing) -> None:
        super().__init__(player, when)
        self.line -= GAP
        flat = curve([(0.0, 0.0), (30.0, 0.0)])
        zero = [(0.0, 0.0), (6.0, 0.0)]
        self.channels |= {
            "chest_turn": _reps(-72.0, 68.0, 0.0, zero),
            "pelvis_turn": _reps(-43.0, 46.0, 0.0, zero),
            "bend": curve([(0.0, 7.0), (2.2, 7.0), (5.0, 33.0), (30.0, 33.0)], [2.2, 5.0]),
            "side": _reps(0.0, 9.0, 1.0, [(0.0, 0.0), (6.0, 1.0)]),
            "off": _reps(0.001, 0.001, GAP, [(0.0, GAP + 0.085), (2.2, GAP + 0.085), (5.0, GAP)]),
            "shift": _reps(-0.016, 0.058, 0.0, zero),
            "height": curve([(0.0, 0.047), (2.2, 0.047), (5.0, 0.0), (30.0, 0.0)], [2.2, 5.0]),
            "gaze": flat,
            "heel": _reps(0.0, 9.0, 0.0, zero),
            "foot_turn": _reps(0.0, 6.0, 0.0, zero),
            "arm": flat,
        }

    def _sway(self, t: float) -> tuple[float, float]:
        return 0.003 * float(np.sin(2 * np.pi * 0.31 * t)), 0.0

    def pose(self, t: float) -> Pose:
        """The figure at `t` seconds, forearms folded over the chest."""
        b, s = self.build, self.build.scale
        joints, pelvis, chest = self.trunk(t)
        ahead, lead, up = chest
        breath = 0.003 * np.sin(2 * np.pi * 0.27 * t)
        for name, sign, out, high in (("lead", 1.0, 0.150, 0.030), ("trail", -1.0, 0.182, -0.028)):
            hand = joints["chest"] + s * ((out + breath) * ahead - 0.118 * sign * lead + (high + 0.012) * up)
            wrist = joints["chest"] + s * ((out + 0.012 + breath) * ahead - 0.040 * sign * lead + high * up)
            joints[f"{name}_wrist"], joints[f"{name}_hand"] = wrist, wrist + unit(hand - wrist) * s * 0.062
            hint = unit(0.55 * sign * lead - 0.75 * UP + 0.25 * ahead)
            joints[f"{name}_elbow"] = bend_joint(
                joints[f"{name}_shoulder"], wrist, s * b.upper_arm, s * b.forearm, hint
            )
        feet = self._legs(joints, pelvis, t)
        head = self._head(joints, chest, t)
        none = np.zeros(3)
        return Pose(joints=joints, pelvis=pelvis, chest=chest, head=head, feet=feet, club=none, toe=none, face=none)


class HalfSwing(Swing):
    """Slow half swings: the full swing's curves, read at a crawl, with the top cut out.

    From lead arm parallel going back the values melt into those of lead arm parallel coming down: the hips start first.
    """

    PERIOD = 4.0
    """Seconds from one address to the next."""

    def _value(self, name: str, t: float) -> float:
        if not hasattr(self, "ball"):
            return super()._value(name, t)
        channel, when = self.channels[name], self.when
        u = t % self.PERIOD
        start, back = when.seconds("address"), when.seconds("lead_arm_parallel_back")
        down, through = when.seconds("lead_arm_parallel_down"), when.seconds("lead_arm_parallel_through")
        if u < 2.0:
            melt = smoothstep(u, 1.30, 1.95)
            going = channel(start + (back - start) * smoothstep(u, 0.15, 1.55))
            return (1 - melt) * going + melt * channel(down + (through - down) * smoothstep(u, 1.45, 2.95))
        home = smoothstep(u, 3.05, 3.95)
        return (1 - home) * channel(down + (through - down) * smoothstep(u, 1.45, 2.95)) + home * channel(start)

    def _sway(self, t: float) -> tuple[float, float]:  # noqa: ARG002 - she keeps still between the slow swings
        return 0.0, 0.0

"""The swing as kinematics: key values at the positions, smooth curves between, limbs solved to hold grip and ground.

The times are published medians (see `timing.py`); every angle and length in this file is invented to look like a sound
7-iron swing.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .curves import Curve, curve, smoothstep
from .players import Player
from .skeleton import TOWARD_BALL, TOWARD_TARGET, UP, Pose, axis, bend_joint, frame, plane_direction, unit
from .timing import Timing

Array = NDArray[np.float64]

HEAD_HEIGHT = 0.018
"""Height of the reference point of the club head over the ground at address and impact, metres."""
BALL_RADIUS = 0.02135
LEAD_HAND, TRAIL_HAND = 0.055, 0.135
"""Distance of the middle of each hand from the butt of the club, metres."""
STANCE = 0.205
"""Half the distance between the ankles, metres."""
GLUTE = (-0.046, 0.070, -0.040, 0.096)
"""Seat of the hips in the pelvis frame: forward, to the side, up, radius; metres."""


class Swing:
    """One player's swing on one clip's clock."""

    def __init__(self, player: Player, when: Timing) -> None:
        self.player, self.when, self.build = player, when, player.build
        self.start = when.seconds("address")
        self.impact = when.seconds("impact")
        self.channels = self._body_channels()
        self.line = -0.285 * self.build.scale
        self.channels |= self._club_channels(solved=(0.0, 75.0, 8.0, 62.0), incline=58.0)
        self.ball, incline = self._address_ball()
        self.channels |= self._club_channels(solved=self._solve_impact(), incline=incline)

    def _curve(self, values: dict[str, float], turns: tuple[str, ...] = ()) -> Curve:
        return curve(
            [(self._time(name), value) for name, value in values.items()], [self._time(name) for name in turns]
        )

    def _time(self, name: str) -> float:
        base, _, shift = name.partition("@")
        return self.when.seconds(base) + (float(shift) if shift else 0.0)

    def _body_channels(self) -> dict[str, Curve]:
        habit = self.player.habit
        k = habit.turn
        early = "top@-0.035"
        return {
            "chest_turn": self._curve(
                {
                    "address": 0,
                    "takeaway": -38 * k,
                    "lead_arm_parallel_back": -66 * k,
                    "top": -91 * k,
                    "lead_arm_parallel_down": -42,
                    "impact": 28,
                    "shaft_parallel_through": 63,
                    "lead_arm_parallel_through": 90,
                    "impact@0.30": 112,
                    "finish": 119,
                },
                ("top",),
            ),
            "pelvis_turn": self._curve(
                {
                    "address": 0,
                    "takeaway": -15 * k,
                    "lead_arm_parallel_back": -32 * k,
                    early: -44 * k,
                    "lead_arm_parallel_down": 3,
                    "impact": 38,
                    "shaft_parallel_through": 55,
                    "lead_arm_parallel_through": 68,
                    "impact@0.30": 95,
                    "finish": 101,
                },
                (early,),
            ),
            "bend": self._curve(dict(habit.bend)),
            "side": self._curve(
                {
                    "address": 9,
                    "takeaway": 5,
                    "lead_arm_parallel_back": 0,
                    "top": -3,
                    "lead_arm_parallel_down": 7,
                    "impact": 13,
                    "shaft_parallel_through": 17,
                    "lead_arm_parallel_through": 12,
                    "impact@0.32": 8,
                    "finish": 3,
                }
            ),
            "off": self._curve({"address": 0.0, **habit.hips_off}),
            "shift": self._curve(
                {
                    "address": 0.0,
                    "takeaway": -0.012,
                    "lead_arm_parallel_back": -0.018,
                    early: -0.010,
                    "lead_arm_parallel_down": 0.045,
                    "impact": 0.075,
                    "impact@0.25": 0.135,
                    "finish": 0.150,
                }
            ),
            "height": self._curve({"address": 0.0, **habit.dip}),
            "reach": self._curve(
                {
                    "address": 0.960,
                    "takeaway": 0.978,
                    "top": 0.978,
                    "lead_arm_parallel_down": 0.988,
                    "impact": 0.990,
                    "shaft_parallel_through": 0.94,
                    "lead_arm_parallel_through": 0.85,
                    "impact@0.36": 0.60,
                    "finish": 0.52,
                }
            ),
            "gaze": self._curve({"impact@0.03": 0.0, "impact@0.40": 1.0}),
            "heel": self._curve(
                {
                    f"impact@-{habit.heel_start}": 0.0,
                    "impact": 7.0 if habit.heel_start < 0.05 else 16.0,
                    "impact@0.30": 58.0,
                    "finish": 66.0,
                }
            ),
            "foot_turn": self._curve({"impact@-0.02": 0.0, "impact@0.32": 58.0, "finish": 66.0}),
        }

    def _club_channels(self, solved: tuple[float, float, float, float], incline: float) -> dict[str, Curve]:
        arm, arm_plane, shaft, shaft_plane = solved
        return {
            "arm": self._curve(
                {
                    "address": 12,
                    "takeaway": 44,
                    "lead_arm_parallel_back": 90,
                    "top": 142,
                    "lead_arm_parallel_down": 90,
                    "impact": arm,
                    "shaft_parallel_through": -50,
                    "lead_arm_parallel_through": -90,
                    "impact@0.36": -152,
                    "finish": -162,
                },
                ("top",),
            ),
            "arm_plane": self._curve(
                {
                    "address": 84,
                    "takeaway": 74,
                    "lead_arm_parallel_back": 60,
                    "top": 49,
                    "lead_arm_parallel_down": 56,
                    "impact": arm_plane,
                    "shaft_parallel_through": 66,
                    "lead_arm_parallel_through": 66,
                    "impact@0.36": 74,
                    "finish": 76,
                }
            ),
            "shaft": self._curve(
                {
                    "address": 3,
                    "takeaway": 90,
                    "lead_arm_parallel_back": 164,
                    "top": 250,
                    "lead_arm_parallel_down": 180,
                    "impact@-0.05": 106,
                    "impact": shaft,
                    "shaft_parallel_through": -90,
                    "lead_arm_parallel_through": -147,
                    "impact@0.36": -316,
                    "finish": -333,
                },
                ("top",),
            ),
            "shaft_plane": self._curve(
                {
                    "address": incline,
                    "takeaway": 58,
                    "lead_arm_parallel_back": 60,
                    "top": 63,
                    "lead_arm_parallel_down": 55,
                    "impact": shaft_plane,
                    "shaft_parallel_through": 57,
                    "lead_arm_parallel_through": 58,
                    "impact@0.36": 42,
                    "finish": 38,
                }
            ),
            "roll": self._curve(
                {
                    "address": 0,
                    "takeaway": 52,
                    "top": 84,
                    "lead_arm_parallel_down": 78,
                    "impact": 0,
                    "shaft_parallel_through": -58,
                    "lead_arm_parallel_through": -80,
                    "finish": -85,
                },
                ("top",),
            ),
        }

    def _value(self, name: str, t: float) -> float:
        return self.channels[name](t)

    def _sway(self, t: float) -> tuple[float, float]:
        """Nobody stands like a post: metres of sway and degrees of waggle, both gone when the swing begins."""
        calm = 1 - smoothstep(t, self.start - 0.22, self.start)
        return 0.004 * calm * float(np.sin(2 * np.pi * 1.1 * t)), 3.2 * calm * float(np.sin(2 * np.pi * 1.9 * t) ** 2)

    def trunk(self, t: float) -> tuple[dict[str, Array], Array, Array]:
        """Pelvis, spine and shoulders at `t` seconds: joints, pelvis frame, chest frame."""
        s = self.build.scale
        sway, _ = self._sway(t)
        bend, side = self._value("bend", t), self._value("side", t)
        pelvis = frame(axis(bend * 0.62, side * 0.30), self._value("pelvis_turn", t))
        chest = frame(axis(bend, side), self._value("chest_turn", t))
        rears = [
            float((s * (pelvis[0] * GLUTE[0] + pelvis[1] * GLUTE[1] * sign + pelvis[2] * GLUTE[2]))[0]) - s * GLUTE[3]
            for sign in (-1, 1)
        ]
        # A soft minimum keeps the path of the hips C2 where the rearmost side changes from one to the other.
        rear = -float(np.logaddexp(-120 * rears[0], -120 * rears[1])) / 120
        middle = np.array(
            [
                self.line + s * self._value("off", t) - rear,
                s * self._value("shift", t) + sway,
                s * (0.852 + self._value("height", t)),
            ]
        )
        lumbar = unit(pelvis[2] + chest[2])
        joints: dict[str, Array] = {"pelvis": middle, "belt": middle + s * 0.105 * pelvis[2]}
        joints["ribs"] = joints["belt"] + s * 0.125 * lumbar
        joints["chest"] = joints["ribs"] + s * 0.135 * chest[2]
        joints["neck"] = joints["chest"] + s * 0.150 * chest[2] - s * 0.005 * chest[0]
        for name, sign in (("lead", 1.0), ("trail", -1.0)):
            joints[f"{name}_hip"] = middle + s * self.build.hip_half * sign * pelvis[1]
            joints[f"{name}_shoulder"] = joints["chest"] + s * (
                0.088 * chest[2] + self.build.shoulder_half * sign * chest[1] + 0.012 * chest[0]
            )
        # The blades slide: the lead shoulder comes round with the arm going back, the trail one in the follow-through.
        arm = self._value("arm", t)
        joints["lead_shoulder"] = joints["lead_shoulder"] + s * chest[0] * 0.045 * smoothstep(arm, 10, 130)
        joints["trail_shoulder"] = joints["trail_shoulder"] + s * (
            chest[0] * 0.065 * smoothstep(-arm, -40, 40) - chest[2] * 0.02 * smoothstep(-arm, -60, 0)
        )
        return joints, pelvis, chest

    def _lead_hand(self, shoulder: Array, arm: Array, club: Array, reach: float) -> tuple[Array, Array]:
        """Lead wrist, and the middle of the lead hand on the shaft."""
        s = self.build.scale
        wrist = shoulder + arm * reach * s * (self.build.upper_arm + self.build.forearm)
        return wrist, wrist + unit(arm + 0.35 * club) * s * self.build.palm

    def _address_ball(self) -> tuple[Array, float]:
        """Place of the ball, and the incline in degrees that lets the club rest on the ground behind it."""
        t = self.start
        joints, _, _ = self.trunk(t)
        arm = plane_direction(self._value("arm", t), self._value("arm_plane", t))
        length = self.build.club - LEAD_HAND
        incline, hand = 58.0, joints["lead_shoulder"]
        for _ in range(30):
            club = plane_direction(self._value("shaft", t), incline)
            _, hand = self._lead_hand(joints["lead_shoulder"], arm, club, self._value("reach", t))
            down = (hand[2] - HEAD_HEIGHT) / (length * np.cos(np.radians(self._value("shaft", t))))
            incline = float(np.degrees(np.arcsin(min(1.0, down))))
        head = hand + length * plane_direction(self._value("shaft", t), incline)
        return np.array([head[0], head[1] + 0.012 + BALL_RADIUS, BALL_RADIUS]), incline

    def _solve_impact(self) -> tuple[float, float, float, float]:
        """Arm and shaft angles that bring the head to the ball with the hands a little ahead (Newton)."""
        joints, _, _ = self.trunk(self.impact)
        head = np.array([self.ball[0], self.ball[1] - BALL_RADIUS - 0.004, HEAD_HEIGHT])
        reach = self._value("reach", self.impact)

        def solve(x: Array) -> tuple[Array, Array]:
            hand = joints["lead_shoulder"]
            arm, club = plane_direction(x[0], x[1]), unit(head - hand)
            for _ in range(12):
                _, hand = self._lead_hand(joints["lead_shoulder"], arm, club, reach)
                club = unit(head - hand)
            miss = np.array([np.linalg.norm(head - hand) - (self.build.club - LEAD_HAND), hand[1] - head[1] - 0.085])
            return miss, club

        x = np.array([2.0, 68.0])
        for _ in range(40):
            miss, _ = solve(x)
            slopes = np.stack(
                [(solve(x + step)[0] - miss) / 0.01 for step in (np.array([0.01, 0.0]), np.array([0.0, 0.01]))], axis=1
            )
            x = x - np.clip(np.linalg.solve(slopes, miss), -6, 6)
        miss, club = solve(x)
        if np.linalg.norm(miss) > 1e-4:
            raise ValueError(
                f"{self.player.name} impact — the club misses the ball by {np.linalg.norm(miss):.3f} m"
                " — 0.0001 m at most — change the key values of the body"
            )
        shaft = float(np.degrees(np.arcsin(-club[1])))
        return float(x[0]), float(x[1]), shaft, float(np.degrees(np.arctan2(-club[2], club[0])))

    def pose(self, t: float) -> Pose:
        """The whole figure at `t` seconds of the clip."""
        b, s = self.build, self.build.scale
        joints, pelvis, chest = self.trunk(t)
        _, waggle = self._sway(t)
        arm = plane_direction(self._value("arm", t), self._value("arm_plane", t))
        angle, incline = self._value("shaft", t) + waggle, self._value("shaft_plane", t)
        club = plane_direction(angle, incline)
        wrist, hand = self._lead_hand(joints["lead_shoulder"], arm, club, self._value("reach", t))
        joints |= {"lead_wrist": wrist, "lead_hand": hand, "grip_end": hand - club * LEAD_HAND}
        joints["club_head"] = joints["grip_end"] + club * b.club
        joints["trail_hand"] = joints["grip_end"] + club * TRAIL_HAND
        side = smoothstep(self._value("arm", t), -150, -60)
        lead_hint = unit(
            -0.35 * chest[0] + 0.75 * chest[1] * side - 0.8 * UP + 0.5 * (1 - side) * (TOWARD_TARGET - chest[1] * 0.4)
        )
        joints["lead_elbow"] = bend_joint(joints["lead_shoulder"], wrist, s * b.upper_arm, s * b.forearm, lead_hint)
        trail_hint = unit(-0.55 * chest[0] - 0.35 * chest[1] - 0.9 * UP)
        # What the trail arm lacks in length the shoulder blade gives, as it does in life; tests hold it under 6 cm.
        gap = joints["trail_hand"] - joints["trail_shoulder"]
        lack = float(np.linalg.norm(gap)) - s * (b.upper_arm + b.forearm + 0.93 * b.palm) * 0.985
        joints["trail_shoulder"] = joints["trail_shoulder"] + unit(gap) * float(np.logaddexp(0.0, lack * 90)) / 90
        forearm = unit(joints["trail_hand"] - joints["trail_shoulder"])
        for _ in range(6):
            joints["trail_wrist"] = joints["trail_hand"] - unit(forearm + 0.35 * club) * s * b.palm
            joints["trail_elbow"] = bend_joint(
                joints["trail_shoulder"], joints["trail_wrist"], s * b.upper_arm, s * b.forearm, trail_hint
            )
            forearm = unit(unit(joints["trail_wrist"] - joints["trail_elbow"]) + forearm)
        feet = self._legs(joints, pelvis, t)
        normal = unit(np.cross(plane_direction(0, incline), -TOWARD_TARGET)) * -1.0
        normal = normal if normal[2] > 0 else -normal
        roll = np.radians(self._value("roll", t))
        across = np.cross(club, normal)
        # Toe up at both shaft-parallel positions: the forearms turn the face about the shaft.
        toe = unit(np.cos(roll) * normal + np.sin(roll) * across)
        lie = np.radians(28.0)
        toe = unit(np.cos(lie) * toe + np.sin(lie) * club)
        face = unit(np.cross(toe, club))
        return Pose(
            joints=joints,
            pelvis=pelvis,
            chest=chest,
            head=self._head(joints, chest, t),
            feet=feet,
            club=club,
            toe=toe,
            face=face,
        )

    def _head(self, joints: dict[str, Array], chest: Array, t: float) -> Array:
        """Eyes on the ball until after impact, then toward the target; returns rows forward, lead side, up."""
        s, gaze = self.build.scale, self._value("gaze", t)
        stalk = unit(chest[2] + 0.30 * chest[0] * (1 - 0.6 * gaze) + 0.35 * gaze * UP)
        joints["head"] = joints["neck"] + s * 0.150 * stalk + s * 0.02 * chest[0]
        look = unit(self.ball - joints["head"])
        turn = self._value("chest_turn", t)
        back = min(0.0, turn) / 90
        look = unit(look + 0.42 * TOWARD_BALL * (1 - 0.1 * abs(back)) + 0.16 * TOWARD_TARGET * back)
        away = unit(TOWARD_TARGET + 0.10 * TOWARD_BALL + 0.06 * UP)
        mid = unit(TOWARD_BALL * 0.7 + TOWARD_TARGET * 0.8 - 0.35 * UP)
        g = gaze
        look = unit((1 - g) ** 2 * look + 2 * g * (1 - g) * mid + g * g * away)
        up = unit(stalk - look * (stalk @ look))
        return np.stack([look, np.cross(up, look), up])

    def _legs(self, joints: dict[str, Array], pelvis: Array, t: float) -> dict[str, Array]:
        b, s = self.build, self.build.scale
        feet: dict[str, Array] = {}
        for name, sign, flare in (("lead", 1.0, 22.0), ("trail", -1.0, -6.0)):
            turn, lift = np.radians(flare), 0.0
            if name == "trail":
                turn += np.radians(self._value("foot_turn", t))
                lift = np.radians(self._value("heel", t))
            home = np.array([np.cos(np.radians(flare)), np.sin(np.radians(flare)), 0.0])
            toe = np.array([0.0, sign * STANCE, 0.0]) * s + home * s * b.foot * 0.86 + np.array([0.0, 0.0, 0.018 * s])
            flat = np.array([np.cos(turn), np.sin(turn), 0.0])
            along = np.cos(lift) * flat - np.sin(lift) * UP
            up = np.cos(lift) * UP + np.sin(lift) * flat
            joints[f"{name}_toe"] = toe
            joints[f"{name}_tip"] = toe + s * 0.052 * flat
            joints[f"{name}_ankle"] = toe - along * s * b.foot * 0.86 + up * s * (b.ankle - 0.018)
            joints[f"{name}_heel"] = toe - along * s * (b.foot * 0.86 + 0.055)
            feet[name] = np.stack([along, np.cross(up, along), up])
            hint = unit(0.55 * flat + 0.45 * pelvis[0] + (0.10 * sign) * TOWARD_TARGET * (1 - self._value("gaze", t)))
            joints[f"{name}_knee"] = bend_joint(
                joints[f"{name}_hip"], joints[f"{name}_ankle"], s * b.thigh, s * b.shin, hint
            )
        return feet

    def ball_at(self, t: float) -> Array:
        """Where the ball is: at rest until impact, then away at an invented 45 m/s and 18 degrees."""
        gone = max(0.0, t - self.impact)
        return np.asarray(self.ball + gone * np.array([0.0, 42.8, 13.9]) + np.array([0.0, 0.0, -4.9 * gone * gone]))

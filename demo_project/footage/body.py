"""A clothed body around the bones. All sizes are invented and in metres at scale 1."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from .players import Player
from .shapes import BELT, CAP, COLLAR, DARK, GLOVE, HAIR, LIPS, SHADOW, SHIRT, SHOES, SKIN, SOLES, TROUSERS, Shapes
from .skeleton import UP, Pose, unit
from .swing import GLUTE

Array = NDArray[np.float64]


def figure(player: Player, pose: Pose, ball: Array | None, *, club: bool = True) -> tuple[Array, int]:
    """Shapes of the whole figure at one moment; see `shapes.Shapes.table` for the result."""
    shapes = Shapes()
    _torso(shapes, player, pose)
    _legs(shapes, player, pose)
    _arms(shapes, player, pose)
    _head(shapes, player, pose)
    if club:
        _grip(shapes, player, pose)
        j = pose.joints
        # In short pieces, so that only the tiles its thin shadow crosses have to look closely.
        pieces = [_mix(j["grip_end"], j["club_head"], share) for share in np.linspace(0, 1, 8)]
        for start, end in pairwise(pieces):
            shapes.add(SHADOW, start, end, (0.008, 0.007))
        shapes.add(SHADOW, j["club_head"] + pose.toe * 0.005, j["club_head"] + pose.toe * 0.055, (0.018, 0.022))
    else:
        _open_hands(shapes, player, pose)
    if ball is not None:
        shapes.add(SHADOW, ball, ball, (0.0213, 0.0213))
    return shapes.table()


def _mix(a: Array, b: Array, share: float) -> Array:
    return np.asarray(a + (b - a) * share)


def _torso(shapes: Shapes, player: Player, pose: Pose) -> None:
    s, j, b = player.build.scale, pose.joints, player.build
    ahead, lead, up = pose.chest
    mid = unit(pose.chest[0] + pose.pelvis[0])
    cloth = (0.0034, 50.0)
    shapes.add(
        SHIRT,
        j["belt"] + 0.002 * s * pose.pelvis[2],
        j["ribs"] + 0.02 * s * up,
        (0.136 * b.waist * s, 0.080 * b.waist * s),
        flat=pose.pelvis[0],
        flatness=0.735,
        cut=True,
    )
    bulk = _mix(j["belt"], j["ribs"], 0.62)
    shapes.add(
        SHIRT, bulk, j["ribs"], (0.116 * b.waist * s, 0.126 * b.waist * s), flat=mid, flatness=0.76, fold=(0.0050, 52.0)
    )
    shapes.add(SHIRT, j["ribs"], j["chest"], (0.131 * s, 0.143 * s), flat=ahead, flatness=0.74, fold=cloth)
    shapes.add(
        SHIRT,
        j["chest"],
        _mix(j["chest"], j["neck"], 0.85),
        (0.132 * s, 0.068 * s),
        flat=ahead,
        flatness=0.66,
        fold=(0.002, 50.0),
    )
    inner = [j[f"{n}_shoulder"] - sign * lead * 0.02 * s for n, sign in (("trail", -1), ("lead", 1))]
    shapes.add(SHIRT, inner[0], _mix(j["chest"], j["neck"], 0.5), (0.056 * s, 0.070 * s), flat=ahead, flatness=0.9)
    shapes.add(SHIRT, inner[1], _mix(j["chest"], j["neck"], 0.5), (0.056 * s, 0.070 * s), flat=ahead, flatness=0.9)
    for name, sign in (("lead", 1.0), ("trail", -1.0)):
        bust = j["chest"] + s * (0.052 * ahead + 0.064 * sign * lead - 0.035 * up)
        shapes.add(SHIRT, bust, bust, (0.062 * s, 0.062 * s))
        shoulder, elbow = j[f"{name}_shoulder"], j[f"{name}_elbow"]
        shapes.add(SHIRT, shoulder, _mix(shoulder, elbow, 0.44), (0.058 * s, 0.056 * s), fold=(0.0018, 52.0))
        cuff = _mix(shoulder, elbow, 0.58)
        shapes.add(COLLAR, cuff, cuff + unit(elbow - shoulder) * 0.016 * s, (0.0560 * s, 0.0555 * s), cut=True)
        side = j["ribs"] + s * (0.06 * sign * lead + 0.05 * up)
        shapes.add(
            SHIRT,
            _mix(shoulder, j["chest"], 0.15) - 0.02 * s * up,
            side,
            (0.056 * s, 0.07 * s),
            flat=ahead,
            flatness=0.85,
            fold=cloth,
        )
    shapes.add(
        COLLAR,
        j["neck"] - 0.016 * s * up,
        j["neck"] + 0.020 * s * up + 0.010 * s * ahead,
        (0.073 * s, 0.064 * s),
        flat=ahead,
        flatness=0.95,
        cut=True,
    )
    low, high = j["belt"] - 0.020 * s * pose.pelvis[2], j["belt"] + 0.012 * s * pose.pelvis[2]
    shapes.add(
        BELT, low, high, (0.1405 * b.waist * s, 0.1385 * b.waist * s), flat=pose.pelvis[0], flatness=0.755, cut=True
    )
    buckle = j["belt"] - 0.004 * s * pose.pelvis[2] + pose.pelvis[0] * 0.105 * b.waist * s
    shapes.add(
        SOLES,
        buckle - pose.pelvis[1] * 0.012 * s,
        buckle + pose.pelvis[1] * 0.012 * s,
        (0.013 * s, 0.013 * s),
        flat=pose.pelvis[0],
        flatness=0.45,
    )


def _legs(shapes: Shapes, player: Player, pose: Pose) -> None:
    s, j, b = player.build.scale, pose.joints, player.build
    ahead, lead, up = pose.pelvis
    shapes.add(
        TROUSERS,
        j["belt"] - 0.006 * s * up,
        j["pelvis"],
        (0.133 * b.waist * s, 0.126 * b.hips * s),
        flat=ahead,
        flatness=0.72,
        cut=True,
    )
    shapes.add(TROUSERS, j["trail_hip"], j["lead_hip"], (0.092 * b.hips * s, 0.092 * b.hips * s))
    for name, sign in (("lead", 1.0), ("trail", -1.0)):
        seat = j["pelvis"] + s * (ahead * GLUTE[0] + lead * GLUTE[1] * sign + up * GLUTE[2])
        shapes.add(TROUSERS, seat, seat, (GLUTE[3] * s, GLUTE[3] * s), fold=(0.0015, 60.0))
        hip, knee, ankle = j[f"{name}_hip"], j[f"{name}_knee"], j[f"{name}_ankle"]
        foot, across, foot_up = pose.feet[name]
        shin = unit(ankle - knee)
        shapes.add(TROUSERS, hip - 0.03 * s * up, knee, (0.098 * b.hips * s, 0.066 * s), fold=(0.0032, 44.0))
        shapes.add(TROUSERS, knee, ankle - shin * 0.08 * s, (0.064 * s, 0.060 * s), fold=(0.0028, 46.0))
        shapes.add(
            TROUSERS,
            ankle - shin * 0.11 * s,
            ankle + shin * 0.032 * s + foot * 0.006 * s,
            (0.022 * s, 0.066 * s),
            flat=across,
            flatness=0.90,
            cut=True,
        )
        back = _mix(knee, ankle, 0.33) - 0.016 * s * unit(foot - shin * (foot @ shin))
        shapes.add(TROUSERS, back, _mix(knee, ankle, 0.5), (0.062 * s, 0.058 * s))
        toe, tip, heel = j[f"{name}_toe"], j[f"{name}_tip"], j[f"{name}_heel"]
        flat = unit(tip - toe)
        shapes.add(
            SHOES,
            heel + foot * 0.045 * s + foot_up * 0.034 * s,
            toe - foot * 0.02 * s + foot_up * 0.022 * s,
            (0.040 * s, 0.041 * s),
            flat=across,
            flatness=0.92,
        )
        shapes.add(
            SHOES,
            toe - flat * 0.01 * s + UP * 0.014 * s,
            tip + UP * 0.006 * s,
            (0.040 * s, 0.030 * s),
            flat=UP,
            flatness=0.78,
        )
        shapes.add(SHOES, ankle, ankle - foot_up * 0.03 * s - foot * 0.012 * s, (0.041 * s, 0.044 * s))
        shapes.add(
            SOLES,
            heel + foot * 0.045 * s + foot_up * 0.008 * s,
            toe,
            (0.043 * s, 0.047 * s),
            flat=foot_up,
            flatness=0.30,
        )
        shapes.add(SOLES, toe - UP * 0.003 * s, tip - UP * 0.004 * s, (0.047 * s, 0.035 * s), flat=UP, flatness=0.30)


def _arms(shapes: Shapes, player: Player, pose: Pose) -> None:
    s, j = player.build.scale, pose.joints
    for name in ("lead", "trail"):
        shoulder, elbow, wrist = j[f"{name}_shoulder"], j[f"{name}_elbow"], j[f"{name}_wrist"]
        shapes.add(SKIN, shoulder, elbow, (0.046 * s, 0.036 * s))
        shapes.add(SKIN, elbow, _mix(elbow, wrist, 0.28), (0.036 * s, 0.039 * s))
        shapes.add(SKIN, _mix(elbow, wrist, 0.28), wrist, (0.039 * s, 0.025 * s))


def _grip(shapes: Shapes, player: Player, pose: Pose) -> None:
    s, j, shaft = player.build.scale, pose.joints, pose.club
    for name, group, start in (("lead", GLOVE, 0.018), ("trail", SKIN, 0.098)):
        wrist, hand = j[f"{name}_wrist"], j[f"{name}_hand"]
        out = unit((hand - wrist) - shaft * ((hand - wrist) @ shaft))
        side = np.cross(shaft, out)
        shapes.add(
            group, wrist, _mix(wrist, hand, 0.72) - out * 0.004, (0.025 * s, 0.031 * s), flat=side, flatness=0.82
        )
        shapes.add(group, hand - shaft * 0.026, hand + shaft * 0.028, (0.026 * s, 0.024 * s))
        for i in range(4):
            knuckle = j["grip_end"] + shaft * (start + 0.020 * i)
            for one, two in (
                (side * 0.024 - out * 0.004, out * 0.023 + side * 0.010),
                (out * 0.023 + side * 0.010, out * 0.012 - side * 0.023),
            ):
                shapes.add(group, knuckle + one * s, knuckle + two * s, (0.0105 * s, 0.0098 * s))
        thumb = hand - side * 0.014 * s
        shapes.add(group, thumb - shaft * 0.01 - out * 0.02 * s, thumb + shaft * 0.048, (0.014 * s, 0.010 * s))


def _open_hands(shapes: Shapes, player: Player, pose: Pose) -> None:
    """Hands laid flat on the opposite upper arms, for the arms crossed on the chest."""
    s, j = player.build.scale, pose.joints
    for name in ("lead", "trail"):
        wrist, hand = j[f"{name}_wrist"], j[f"{name}_hand"]
        along = unit(hand - wrist)
        side = unit(np.cross(along, pose.chest[0]))
        shapes.add(SKIN, wrist, hand, (0.024 * s, 0.036 * s), flat=pose.chest[0], flatness=0.62)
        for i in range(4):
            root = hand + side * (0.027 - 0.018 * i) * s
            shapes.add(SKIN, root, root + (along * 0.072 - pose.chest[0] * 0.022) * s, (0.011 * s, 0.0085 * s))
        shapes.add(SKIN, _mix(wrist, hand, 0.5), hand + (along * 0.012 + side * 0.055) * s, (0.016 * s, 0.010 * s))


def _head(shapes: Shapes, player: Player, pose: Pose) -> None:
    s, j, dress = player.build.scale, pose.joints, player.dress
    ahead, lead, up = pose.head
    centre = j["head"]

    def at(forward: float, side: float, high: float) -> Array:
        return np.asarray(centre + s * (ahead * forward + lead * side + up * high))

    shapes.add(SKIN, j["neck"] - 0.03 * s * pose.chest[2], _mix(j["neck"], centre, 0.75), (0.054 * s, 0.049 * s))
    shapes.add(SKIN, at(-0.006, 0, 0.020), at(0.010, 0, 0.008), (0.090 * s, 0.084 * s), flat=lead, flatness=0.86)
    shapes.add(SKIN, at(0.030, 0, -0.045), at(0.054, 0, -0.088), (0.058 * s, 0.031 * s), flat=lead, flatness=0.96)
    shapes.add(SKIN, at(0.086, 0, 0.006), at(0.106, 0, -0.028), (0.008 * s, 0.0125 * s))
    shapes.add(SKIN, at(0.074, -0.030, 0.020), at(0.074, 0.030, 0.020), (0.017 * s, 0.017 * s))
    shapes.add(
        LIPS, at(0.082, -0.012, -0.060), at(0.082, 0.012, -0.060), (0.0068 * s, 0.0068 * s), flat=up, flatness=0.8
    )
    for sign in (-1.0, 1.0):
        shapes.add(SKIN, at(0.056, 0.036 * sign, -0.026), at(0.056, 0.036 * sign, -0.026), (0.030 * s, 0.030 * s))
        shapes.add(
            DARK,
            at(0.0795, 0.024 * sign, -0.001),
            at(0.075, 0.038 * sign, -0.001),
            (0.0065 * s, 0.006 * s),
            flat=up,
            flatness=0.6,
        )
        shapes.add(
            SKIN,
            at(-0.004, 0.078 * sign, -0.005),
            at(-0.010, 0.081 * sign, -0.030),
            (0.020 * s, 0.012 * s),
            flat=lead,
            flatness=0.45,
        )
    shapes.add(CAP, at(-0.010, 0, 0.036), at(0.000, 0, 0.034), (0.0935 * s, 0.0925 * s), flat=lead, flatness=0.89)
    shapes.add(
        CAP,
        at(0.070, 0, 0.040),
        at(0.132, 0, 0.026),
        (0.066 * s, 0.052 * s),
        flat=unit(up + 0.22 * ahead),
        flatness=0.13,
    )
    strands = (0.0007, 260.0)
    if dress.hair == "bob":
        shapes.add(
            HAIR,
            at(-0.026, 0, 0.010),
            at(-0.036, 0, -0.030),
            (0.092 * s, 0.080 * s),
            flat=lead,
            flatness=0.95,
            fold=strands,
        )
        for sign in (-1.0, 1.0):
            shapes.add(
                HAIR,
                at(-0.012, 0.066 * sign, 0.006),
                at(-0.022, 0.062 * sign, -0.078),
                (0.034 * s, 0.029 * s),
                fold=strands,
            )
        shapes.add(
            HAIR,
            at(-0.060, 0, -0.030),
            at(-0.058, 0, -0.090),
            (0.055 * s, 0.040 * s),
            flat=ahead,
            flatness=0.8,
            fold=strands,
        )
    else:
        shapes.add(
            HAIR,
            at(-0.022, 0, 0.012),
            at(-0.030, 0, -0.012),
            (0.091 * s, 0.078 * s),
            flat=lead,
            flatness=0.92,
            fold=strands,
        )
        root = at(-0.100, 0, 0.020)
        droop = unit(-0.9 * ahead - 0.6 * UP)
        bend = root + 0.055 * s * droop
        tip = bend + s * (0.17 * unit(-UP * 0.9 - 0.35 * ahead - 0.25 * up))
        shapes.add(HAIR, root, bend, (0.018 * s, 0.029 * s), fold=strands)
        shapes.add(HAIR, bend, tip, (0.030 * s, 0.013 * s), fold=strands)

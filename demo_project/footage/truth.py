"""The truth beside a clip: camera, positions, and where every joint is in every frame."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .camera import Camera
from .skeleton import Pose
from .swing import GLUTE

Array = NDArray[np.float64]

SIDED = ("ankle", "heel", "knee", "hip", "shoulder", "elbow", "wrist")
BODY = (
    *(f"{side}_{name}" for side in ("lead", "trail") for name in SIDED),
    "belt_back",
    "belt",
    "chest",
    "neck",
    "head",
)
CLUB = ("grip_end", "club_head", "ball")


def belt_back(pose: Pose, scale: float) -> Array:
    """The rearmost place of the hips, away from the ball; float64 (3,), metres."""
    seats = [
        pose.joints["pelvis"]
        + scale * (pose.pelvis[0] * GLUTE[0] + pose.pelvis[1] * GLUTE[1] * sign + pose.pelvis[2] * GLUTE[2])
        for sign in (-1, 1)
    ]
    rear = min(seats, key=lambda seat: float(seat[0]))
    return np.asarray(rear - np.array([GLUTE[3] * scale, 0.0, 0.0]))


def places(pose: Pose, scale: float, ball: Array | None, *, club: bool) -> dict[str, Array]:
    """Every joint that the truth file names; metres."""
    out = {name: belt_back(pose, scale) if name == "belt_back" else pose.joints[name] for name in BODY}
    if club:
        out |= {"grip_end": pose.joints["grip_end"], "club_head": pose.joints["club_head"]}
    if ball is not None:
        out["ball"] = ball
    return out


def camera_record(camera: Camera) -> dict[str, Any]:
    """The camera in words and numbers."""
    ahead = np.array(camera.place) + camera.axes()[2]
    return {
        "position_m": list(camera.place),
        "target_m": [round(float(v), 4) for v in ahead],
        "focal_px": camera.focal,
        "principal_point_px": [camera.centre_x, camera.centre_y],
    }


def save(path: Path, record: dict[str, Any]) -> None:
    """Write the record compactly, under a temporary name until it is whole."""
    partial = path.with_name(f".{path.name}.{os.getpid()}.partial")
    partial.write_text(json.dumps(record, separators=(",", ":")) + "\n", encoding="utf-8")
    partial.replace(path)


def pixels(camera: Camera, spots: dict[str, Array], names: tuple[str, ...]) -> list[float | None]:
    """x, y of each name in turn, to a tenth of a pixel; None where there is no such joint or it is behind."""
    row: list[float | None] = []
    for name in names:
        if name in spots and camera.depth(spots[name]) > 0.2:
            x, y = camera.project(spots[name])
            row += [round(float(x), 1), round(float(y), 1)]
        else:
            row += [None, None]
    return row

"""What is shot: the list of clips, their cameras and times, and the truth about the swings. Needs numpy alone."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .camera import Camera
from .drill import HalfSwing, WallDrill
from .players import MODEL, VIEWER, Player
from .swing import Swing
from .timing import POSITIONS, Timing, timing
from .truth import BODY, CLUB, camera_record, pixels, places, save

Array = NDArray[np.float64]

WIDTH, HEIGHT = 1920, 1080


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """One clip to shoot; `seed` chooses clouds and trees."""

    name: str
    player: Player
    camera: Camera
    when: Timing
    seed: int
    quality: int = 19


def _camera(place: tuple[float, float, float], heading: tuple[float, float]) -> Camera:
    # The picture is the lower part of a taller sensor, so a level camera still holds the feet and the club at the top.
    return Camera(
        place=place, heading=heading, focal=1600.0, width=WIDTH, height=HEIGHT, centre_x=960.0, centre_y=615.0
    )


VIEWER_TIMES = timing(120, 72, 135, 360)
MODEL_TIMES = timing(120, 74, 132, 360)

SWINGS = (
    Clip(name="viewer-dtl", player=VIEWER, camera=_camera((0.21, -4.50, 0.90), (0.0, 1.0)), when=VIEWER_TIMES, seed=3),
    Clip(name="model-dtl", player=MODEL, camera=_camera((0.22, -4.25, 0.935), (0.0, 1.0)), when=MODEL_TIMES, seed=21),
    Clip(
        name="viewer-face-on", player=VIEWER, camera=_camera((4.85, 0.0, 0.95), (-1.0, 0.0)), when=VIEWER_TIMES, seed=8
    ),
    Clip(
        name="model-face-on", player=MODEL, camera=_camera((4.70, 0.01, 0.93), (-1.0, 0.0)), when=MODEL_TIMES, seed=30
    ),
)

DRILL = "drill-wall"
DRILL_FPS, DRILL_FRAMES = 25, 750
TEE = "practice-tee"


def swing_of(clip: Clip) -> Swing:
    """The kinematics of a swing clip."""
    return Swing(clip.player, clip.when)


def save_swing_truth(clip: Clip, swing: Swing, camera: Camera, folder: Path) -> None:
    """Write the truth file of a swing clip."""
    scale, fps, names = clip.player.build.scale, clip.when.fps, BODY + CLUB
    spots = [places(swing.pose(i / fps), scale, swing.ball_at(i / fps), club=True) for i in range(clip.when.total)]
    save(
        folder / f"{clip.name}.truth.json",
        {
            **head_record(fps, clip.when.total, camera),
            "player": clip.player.name,
            "events": {name: clip.when.frames[name] for name in POSITIONS},
            "impact_rule": "the frame whose exposure straddles contact; the ball is at rest in every frame before it",
            "joints": names,
            "frames": [pixels(camera, spot, names) for spot in spots],
            "joints_3d_m": {
                name: {
                    joint: [round(float(v), 4) for v in place] for joint, place in spots[clip.when.frames[name]].items()
                }
                for name in POSITIONS
            },
        },
    )


def head_record(fps: int, frames: int, camera: Camera) -> dict[str, Any]:
    """What every truth file begins with."""
    return {
        "made_by": "a kinematic model of an invented person; no motion was recorded",
        "fps": fps,
        "frame_count": frames,
        "width": camera.width,
        "height": camera.height,
        "axes": "x toward the ball, y toward the target, z up, metres",
        "camera": camera_record(camera),
    }


def drill_cameras() -> tuple[Camera, Camera]:
    """Cameras of the two shots of the drill: along the wall, and the half swings clear of it."""
    return _camera((0.16, -4.30, 0.92), (0.0, 1.0)), _camera((2.55, -4.15, 1.0), (-0.50, 0.8660254))


def drill_players() -> tuple[WallDrill, HalfSwing]:
    """Kinematics of the two shots of the drill."""
    return WallDrill(MODEL, MODEL_TIMES), HalfSwing(MODEL, MODEL_TIMES)

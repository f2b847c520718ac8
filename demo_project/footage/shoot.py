"""Shooting: set, frames, sound and file of each clip."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from .clips import (
    DRILL,
    DRILL_FPS,
    DRILL_FRAMES,
    Clip,
    drill_cameras,
    drill_players,
    head_record,
    save_swing_truth,
    swing_of,
)
from .drill import CUT, GAP
from .film import write
from .light import DAY
from .picture import Stage, draw
from .players import MODEL
from .scene import Wall, backdrop
from .sound import RATE, ambience, click, whoosh
from .swing import Swing
from .truth import BODY, CLUB, camera_record, pixels, places, save

Bytes = NDArray[np.uint8]
DrillShot = tuple[Swing, Stage, bool, int]

SHUTTER = 1 / 1000
"""Exposure of a frame in seconds: a phone in bright daylight."""


def moments(t: float, shutter: float, count: int) -> list[float]:
    """Instants inside one exposure centred on `t` seconds."""
    return [t + shutter * ((i + 0.5) / count - 0.5) for i in range(count)]


def stage_of(clip: Clip, scale: float) -> Stage:
    """Set, light and camera of a swing clip."""
    camera = clip.camera.scaled(scale)
    ball = swing_of(clip).ball
    return Stage(
        camera=camera,
        light=DAY,
        backdrop=backdrop(camera, DAY, seed=clip.seed, stick=(float(ball[0]) + 0.16, -0.95, 0.75)),
    )


def swing_frame(clip: Clip, swing: Swing, stage: Stage, frame: int) -> Bytes:
    """One frame of a swing clip, uint8 (h, w, 3), display RGB."""
    t = frame / clip.when.fps
    # The head may travel about 2 mm between two instants; more and the smear falls apart into single shafts.
    ends = [swing.pose(t + side * SHUTTER / 2).joints["club_head"] for side in (-1, 1)]
    count = 3 + 2 * int(np.linalg.norm(ends[1] - ends[0]) / 0.004)
    times = moments(t, SHUTTER, count)
    return draw(stage, clip.player, [swing.pose(t) for t in times], [swing.ball_at(t) for t in times], frame)


def shoot_swing(clip: Clip, folder: Path, scale: float) -> None:
    """Render, encode and describe a swing clip in `folder`."""
    swing, stage, fps = swing_of(clip), stage_of(clip, scale), clip.when.fps
    save_swing_truth(clip, swing, stage.camera, folder)
    samples = round(clip.when.total * RATE / fps)
    heads = np.array([swing.pose(i / 480).joints["club_head"] for i in range(clip.when.total * 480 // fps + 1)])
    speeds = np.concatenate([[0.0], np.linalg.norm(np.diff(heads, axis=0), axis=1) * 480])
    sound = (
        ambience(samples, clip.seed)
        + whoosh(speeds, 1 / 480, samples, clip.seed + 1)
        + click(swing.impact, samples, clip.seed + 2)
    )
    frames = (swing_frame(clip, swing, stage, frame) for frame in range(clip.when.total))
    write(
        folder / f"{clip.name}.mp4",
        frames,
        sound,
        fps=fps,
        size=(stage.camera.width, stage.camera.height),
        quality=clip.quality,
    )


def drill_shots(scale: float) -> list[DrillShot]:
    """Both shots of the drill: kinematics, set, whether she holds a club, first frame."""
    wall_drill, half = drill_players()
    out: list[DrillShot] = []
    for swing, camera, club, start, aside in (
        (wall_drill, drill_cameras()[0], False, 0, 0.0),
        (half, drill_cameras()[1], True, round(CUT * DRILL_FPS), 0.95),
    ):
        small = camera.scaled(scale)
        wall = Wall(face=wall_drill.line - aside)
        set_up = backdrop(small, DAY, seed=14 + start % 7, wall=wall)
        out.append((swing, Stage(camera=small, light=DAY, backdrop=set_up), club, start))
    return out


def drill_frame(shots: list[DrillShot], frame: int) -> Bytes:
    """One frame of the drill, uint8 (h, w, 3), display RGB."""
    swing, stage, club, start = [shot for shot in shots if shot[3] <= frame][-1]
    poses = [swing.pose(t) for t in moments((frame - start) / DRILL_FPS, 1 / 250, 5)]
    return draw(stage, MODEL, poses, [], frame, club=club)


def shoot_drill(folder: Path, scale: float) -> None:
    """Render, encode and describe the drill in `folder`."""
    shots = drill_shots(scale)
    names = BODY + CLUB[:2]
    rows = []
    for frame in range(DRILL_FRAMES):
        swing, stage, club, start = [shot for shot in shots if shot[3] <= frame][-1]
        rows.append(
            pixels(
                stage.camera, places(swing.pose((frame - start) / DRILL_FPS), MODEL.build.scale, None, club=club), names
            )
        )
    first, second = (shot[1].camera for shot in shots)
    touches = {"trail_hip_touches": [9.9, 13.4], "lead_hip_touches": [16.9, 20.2]}
    save(
        folder / f"{DRILL}.truth.json",
        {
            **head_record(DRILL_FPS, DRILL_FRAMES, first),
            "player": MODEL.name,
            "second_shot": {"start_frame": shots[1][3], "camera": camera_record(second)},
            "gap_m": GAP,
            "events": {name: [round(t * DRILL_FPS) for t in times] for name, times in touches.items()},
            "joints": names,
            "frames": rows,
        },
    )
    sound = ambience(DRILL_FRAMES * RATE // DRILL_FPS, 77)
    frames = (drill_frame(shots, frame) for frame in range(DRILL_FRAMES))
    write(folder / f"{DRILL}.mp4", frames, sound, fps=DRILL_FPS, size=(first.width, first.height), quality=26)

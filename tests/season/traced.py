"""The demonstration's own scene, filmed from cameras that stand more and more aside; kept as small grey pictures.

The pictures and the spots in them are the work of the demonstration's tracer (grass, trees, a player; its camera is
stated in metres), which is another program than the one that is tested. `python3 -m tests.season.traced` films them
anew; that wants the extra `footage`.
"""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import cv2
import numpy as np

from segmentkit.geometry import Point, Rect
from segmentkit.season.follow_camera import Standing

FOLDER = Path(__file__).parent / "traced"
DEGREES = (0, 2, 6, 9)
_DISTANCE, _FRAME, _WIDTH = 4.5, 72, 960


def shot(degrees: int) -> Standing:
    """The scene from a camera that stands so many degrees aside, as it was kept."""
    spots = json.loads((FOLDER / "spots.json").read_text())[str(degrees)]
    picture = cv2.imread(str(FOLDER / f"aside-{degrees}.jpg"), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    return Standing(
        picture=np.asarray(picture, np.uint8), player=Rect(0.3, 0.05, 0.35, 0.82), foot=Point(*spots["foot"]),
        rise=spots["rise"], named=True,
    )  # fmt: skip


def film() -> None:
    """Films all of them."""
    from demo_project.footage import clips, shoot

    FOLDER.mkdir(exist_ok=True)
    clip = next(one for one in clips.SWINGS if one.name == "viewer-dtl")
    spots = {}
    for degrees in DEGREES:
        x, y, z = clip.camera.place
        aside = _DISTANCE * math.tan(math.radians(degrees))
        moved = dataclasses.replace(clip, camera=dataclasses.replace(clip.camera, place=(x + aside, y, z)))
        swing, stage = clips.swing_of(moved), shoot.stage_of(moved, 0.4)
        picture = cv2.cvtColor(shoot.swing_frame(moved, swing, stage, _FRAME), cv2.COLOR_RGB2GRAY)
        joints = swing.pose(_FRAME / 120).joints
        heels = np.mean([joints[name] for name in joints if "heel" in name], axis=0)
        foot = stage.camera.project(np.array([heels[0], heels[1], 0.0]))
        belt = stage.camera.project(np.array([heels[0], heels[1], 0.95]))
        high, wide = picture.shape
        spots[degrees] = {"foot": [foot[0] / wide, foot[1] / high], "rise": float(foot[1] - belt[1]) / high}
        small = cv2.resize(picture, (_WIDTH, round(_WIDTH * high / wide)), interpolation=cv2.INTER_AREA)
        cv2.imwrite(str(FOLDER / f"aside-{degrees}.jpg"), small, [cv2.IMWRITE_JPEG_QUALITY, 88])
    (FOLDER / "spots.json").write_text(json.dumps(spots, indent=1) + "\n")


if __name__ == "__main__":
    film()

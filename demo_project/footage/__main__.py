"""`python -m demo_project.footage`: shoot the clips, or stills of them to look at."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

NAMES = ("viewer-dtl", "model-dtl", "viewer-face-on", "model-face-on", "drill-wall", "practice-tee")


def main() -> None:
    """Read the command line and shoot."""
    parser = argparse.ArgumentParser(
        prog="python -m demo_project.footage", description="Make the demonstration clips from a kinematic model."
    )
    parser.add_argument(
        "clips", nargs="*", metavar="CLIP", help=f"which to shoot: {', '.join(NAMES)} (all unless named)"
    )
    parser.add_argument(
        "--folder", type=Path, default=Path(__file__).resolve().parent.parent / "clips", help="where the clips go"
    )
    parser.add_argument("--scale", type=float, default=1.0, help="size of the picture, 1 is 1920 x 1080")
    parser.add_argument(
        "--still",
        action="append",
        default=[],
        metavar="MOMENT",
        help="write a PNG of this position or frame and no clip; may be repeated",
    )
    parser.add_argument("--truth-only", action="store_true", help="write the truth files of the swings and no clip")
    parser.add_argument("--threads", type=int, default=2, help="threads of the tracer")
    given = parser.parse_args()
    unknown = [name for name in given.clips if name not in NAMES]
    if unknown:
        parser.error(f"{unknown[0]} — no such clip — {', '.join(NAMES)} — name one of these")
    os.environ.setdefault("NUMBA_NUM_THREADS", str(given.threads))
    # The tracer is compiled on import, so it comes after the thread count is set.
    from . import clips, shoot  # noqa: PLC0415
    from .stills import swing_stills  # noqa: PLC0415
    from .tee import shoot_tee  # noqa: PLC0415

    given.folder.mkdir(parents=True, exist_ok=True)
    for name in given.clips or NAMES:
        if name == clips.TEE:
            shoot_tee(given.folder / f"{name}.png", given.scale)
        elif given.still:
            swing_stills(name, given.still, given.folder, given.scale)
        elif name == clips.DRILL:
            shoot.shoot_drill(given.folder, given.scale)
        else:
            clip = next(clip for clip in clips.SWINGS if clip.name == name)
            if given.truth_only:
                clips.save_swing_truth(clip, clips.swing_of(clip), clip.camera.scaled(given.scale), given.folder)
            else:
                shoot.shoot_swing(clip, given.folder, given.scale)


if __name__ == "__main__":
    main()

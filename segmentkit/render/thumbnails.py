"""Small pictures of the shots, for sheets and charts."""

from __future__ import annotations

import cv2
import numpy as np

from segmentkit.facts import Facts
from segmentkit.media.stills import planes_to_rgb
from segmentkit.plan.model import Plan
from segmentkit.render.picture import Composer
from segmentkit.storyboard.look import Look

_QUALITY = 82


def shot_thumbnails(plan: Plan, facts: Facts, look: Look, height: int = 140) -> dict[str, bytes]:
    """A JPEG of each shot near its end, where its strokes are drawn, by shot id.

    Args:
        plan: whose shots.
        facts: what was measured of its clips and stills.
        look: how strokes and cards are drawn.
        height: of each picture, in pixels.
    """
    width = round(plan.size.width * height / plan.size.height)
    pictures = {}
    with Composer(plan, facts, look) as composer:
        for shot in plan.shots:
            frame = shot.span.start + shot.span.frames * 4 // 5
            rgb = planes_to_rgb(composer.still(min(frame, shot.span.end - 1)))
            small = cv2.resize(rgb, (width, height), interpolation=cv2.INTER_AREA)
            done, data = cv2.imencode(
                ".jpg", np.ascontiguousarray(small[..., ::-1]), [cv2.IMWRITE_JPEG_QUALITY, _QUALITY]
            )
            if done:
                pictures[shot.id] = data.tobytes()
    return pictures

"""A bridge for people who cut with moviepy: a planned segment, or a finished one, as a moviepy clip.

The clip's pictures are those of segmentkit's own renderer, frame by frame; its sound is the segment's mix.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from segmentkit.errors import MediaUnusable, NotFit
from segmentkit.media.stills import planes_to_rgb
from segmentkit.pipeline import Checked, check, refusal
from segmentkit.render.mix import mix
from segmentkit.render.picture import Composer
from segmentkit.storyboard.load import load
from segmentkit.timebase import SAMPLE_RATE

if TYPE_CHECKING:
    from moviepy import VideoClip


def as_moviepy(storyboard: Path, *, final: bool = True) -> VideoClip:
    """The segment of a storyboard as a moviepy clip, rendered as it is asked for.

    Frame k is what the finished segment shows in frame k, as uint8 RGB of shape (height, width, 3); the sound is the
    finished mix at 48 kHz. Close the clip to close the files it reads.

    Raises:
        NotFit: when the check finds errors.
        MediaUnusable: when moviepy is not installed.
    """
    try:
        from moviepy import AudioClip, VideoClip  # noqa: PLC0415  an extra
    except ImportError as error:
        raise MediaUnusable(
            "moviepy — is not installed — it is an extra — run: pip install 'segmentkit[moviepy]'"
        ) from error
    checked = check(storyboard, final=final, deliver=[load(storyboard).board.deliver[0]])
    if not checked.fits:
        raise NotFit(refusal(checked.findings), checked.findings)
    plan = checked.plan
    seconds = float(plan.frames / plan.rate.fps)
    frames = _Frames(checked)

    class _Segment(VideoClip):  # type: ignore[misc]  # moviepy carries no types
        def close(self) -> None:
            frames.close()
            super().close()

    clip = _Segment(frame_function=frames.at, duration=seconds)
    clip = clip.with_fps(float(plan.rate.fps))
    sounds = {id_: facts.sound for id_, facts in checked.facts.clips.items() if facts.sound is not None}
    samples, _ = mix(plan, sounds, checked.versions[0].deliveries[0])
    return clip.with_audio(AudioClip(_sound_of(samples), duration=seconds, fps=SAMPLE_RATE))


class _Frames:
    """Draws frames on demand; a frame asked for again and again is drawn once."""

    def __init__(self, checked: Checked) -> None:
        self._plan = checked.plan
        self._composer = Composer(checked.plan, checked.facts, checked.look)
        self._last: tuple[int, NDArray[np.uint8]] | None = None

    def at(self, t: float) -> NDArray[np.uint8]:
        """The picture at a time; moviepy asks for k / fps as a float, so the nearest frame is the one meant."""
        frame = min(self._plan.frames - 1, max(0, round(t * float(self._plan.rate.fps))))
        if self._last is None or self._last[0] != frame:
            self._last = (frame, planes_to_rgb(self._composer.still(frame)))
        return self._last[1]

    def close(self) -> None:
        """Closes the clips that were opened."""
        self._composer.__exit__(None, None, None)


def _sound_of(samples: NDArray[np.float32]) -> Any:
    def at(t: Any) -> NDArray[np.float32]:
        index = np.clip(np.rint(np.asarray(t) * SAMPLE_RATE).astype(np.int64), 0, len(samples) - 1)
        heard: NDArray[np.float32] = samples[index]
        return heard

    return at

"""The moviepy bridge shows, frame by frame, what our own renderer draws; moviepy itself is the outside reader."""

from pathlib import Path

import numpy as np
import pytest

from segmentkit.bridge import as_moviepy
from segmentkit.media.stills import planes_to_rgb
from segmentkit.pipeline import check
from segmentkit.render.picture import Composer
from tests.clips import Track, beep, beep_start, make_clip, read_number, steady

BOARD = """
segmentkit: 1
segment: {title: Bridge, slot: 3.5s, rate: 30000/1001, size: 320x180}
clips:
  coded: {file: coded.mp4, positions: {here: f40}}
beats:
  - beat: one
    show:
      - run: {clip: coded, from: f0, to: f60, speed: 1, sound: yes}
      - freeze: {clip: coded, at: here, hold: 0.2s..9s}
    strokes:
      mark: {line: [[0.1, 0.1], [0.9, 0.9]], at: 1.2s, draw: 0.2s}
"""


@pytest.fixture(scope="module")
def storyboard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bridge")
    make_clip(folder / "coded.mp4", steady(60, 2), tracks=[Track(samples=beep(2.0, [0.5]))])
    path = folder / "board.yaml"
    path.write_text(BOARD)
    return path


@pytest.mark.slow
def test_moviepy_sees_the_frames_of_our_own_renderer(storyboard: Path):
    checked = check(storyboard)
    clip = as_moviepy(storyboard)
    try:
        assert clip.size == (320, 180)
        assert round(clip.duration * clip.fps) == checked.plan.frames
        with Composer(checked.plan, checked.facts, checked.look) as composer:
            count = 0
            for frame, picture in enumerate(clip.iter_frames()):
                assert np.array_equal(picture, planes_to_rgb(composer.still(frame)))
                count += 1
        assert count == checked.plan.frames
        assert read_number(clip.get_frame(0)) == 0
    finally:
        clip.close()


@pytest.mark.slow
def test_moviepy_hears_the_mix(storyboard: Path):
    clip = as_moviepy(storyboard)
    try:
        sound = clip.audio.to_soundarray(fps=48_000)
        assert abs(beep_start(sound) - 0.5) < 0.02
    finally:
        clip.close()

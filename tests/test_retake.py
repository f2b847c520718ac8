"""Read a take again, ten per cent slower, change nothing else: strokes land on their words by themselves.

The takes are spoken by voices that are not the guide's; the truth is the speaking voice's own word times.
"""

from pathlib import Path

import numpy as np
import pytest

from segmentkit.media.guide import GuideVoice
from segmentkit.media.sound import read_sound, to_mono, write_wav
from segmentkit.media.store import Store
from segmentkit.pipeline import check
from tests.clips import make_clip, steady

SPOKEN = "Stop it at impact, and there's daylight between your hips and that line, and your chest has lifted."
BOARD = """
segmentkit: 1
segment: {title: Retake, slot: 12s, size: 320x180}
voice: {takes: takes, guide: en-us}
clips:
  coded: {file: coded.mp4, positions: {impact: f40}}
beats:
  - beat: impact
    say: >
      Stop it at impact, and there's [gap] daylight between your hips and that line, and your [chest] chest has lifted.
    show: [{freeze: {clip: coded, at: impact, hold: 2s..20s}}]
    strokes:
      gap: {double_arrow: [[0.4, 0.5], [0.6, 0.5]], role: fault}
      chest: {line: [[0.5, 0.5], [0.6, 0.3]], role: fault}
"""
HEAD = 24_000  # half a second of room before the first word, which trimming takes off again


def record(folder: Path, voice: GuideVoice, spoken_by: str, pace: float) -> dict[str, float]:
    """Puts a take into the folder; returns when its cue words truly start, in seconds of the file."""
    words = tuple(SPOKEN.split())
    reading = voice.speak(words, spoken_by, pace)
    sound = to_mono(read_sound(reading.path))
    room = np.zeros((HEAD, 1), np.float32)
    write_wav(folder / "takes" / "impact.wav", np.concatenate([room, sound, room]))
    return {word: HEAD / 48_000 + float(reading.words[words.index(word)]) for word in ("daylight", "chest")}


@pytest.mark.slow
@pytest.mark.parametrize("spoken_by", ["en-us+f3", "en-gb-scotland"])
def test_strokes_follow_a_slower_take_within_a_fifth_of_a_second(tmp_path: Path, spoken_by: str):
    make_clip(tmp_path / "coded.mp4", steady(60, 1))
    (tmp_path / "takes").mkdir()
    (tmp_path / "board.yaml").write_text(BOARD)
    landed: dict[float, float] = {}
    with GuideVoice(Store(tmp_path / "voice")) as voice:
        for pace in (165.0, 150.0):
            truth = record(tmp_path, voice, spoken_by, pace)
            checked = check(tmp_path / "board.yaml")
            plan = checked.plan
            line = plan.speech[0]
            for stroke in plan.strokes:
                seen = stroke.span.start / plan.rate.fps
                heard = float(line.span.start / plan.rate.fps) + truth[stroke.cue] - float(line.source_start)
                assert abs(float(seen) - heard) <= 0.2
            landed[pace] = float(next(s.span.start for s in plan.strokes if s.id == "chest") / plan.rate.fps)
    assert landed[150.0] > landed[165.0] + 0.1

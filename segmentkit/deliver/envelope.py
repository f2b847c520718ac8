"""How loud each line is, frame by frame: what a waveform is drawn from."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path

import numpy as np

from segmentkit.media.sound import Samples, read_sound, to_mono
from segmentkit.plan.model import Plan
from segmentkit.timebase import SAMPLE_RATE, nearest_sample, sample_of_frame

Envelope = tuple[float, ...]
"""The highest sample of each output frame of a line, against the loudest of all lines: 0 to 1."""


def envelopes(plan: Plan) -> Mapping[tuple[str, int], Envelope]:
    """The envelope of each line that a file speaks, by beat and line.

    Raises:
        MediaUnusable: when a file cannot be read.
    """
    sounds: dict[Path, Samples] = {}
    peaks: dict[tuple[str, int], list[float]] = {}
    for line in plan.speech:
        if line.path is None:
            continue
        if line.path not in sounds:
            sounds[line.path] = np.abs(to_mono(read_sound(line.path)))
        first = nearest_sample(line.source_start)
        last = min(len(sounds[line.path]), first + nearest_sample(line.length))
        gain = 10 ** (line.gain_db / 20)
        edges = [min(last, first + sample_of_frame(k, plan.rate, SAMPLE_RATE)) for k in range(line.span.frames + 1)]
        peaks[line.beat, line.line] = [
            gain * float(sounds[line.path][start:end].max(initial=0.0)) for start, end in pairwise(edges)
        ]
    loudest = max((peak for line in peaks.values() for peak in line), default=0.0) or 1.0
    return {key: tuple(peak / loudest for peak in line) for key, line in peaks.items()}

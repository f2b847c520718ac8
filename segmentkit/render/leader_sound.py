"""The sound of a leader: line-up tone under the bars, one pop, silence."""

from __future__ import annotations

import numpy as np

from segmentkit.media.sound import Samples
from segmentkit.plan.leader import LeaderPlan
from segmentkit.timebase import SAMPLE_RATE, Span, sample_of_frame

TONE_HZ = 1000
_SOFT = SAMPLE_RATE // 200  # samples over which the tone comes and goes, so that it does not click


def with_leader(programme: Samples, leader: LeaderPlan) -> Samples:
    """Lays the sound of a programme into a leader.

    Args:
        programme: float32 at 48 kHz, shape (n, 2); as long as the programme's frames.
        leader: what stands around it.

    Returns:
        float32 at 48 kHz, shape (n, 2), as long as the whole file.
    """
    whole = np.zeros((sample_of_frame(leader.frames, leader.rate), 2), np.float32)
    for part in leader.before:
        if part.kind == "bars":
            _lay(whole, part.span, leader)
    if leader.pop is not None:
        _lay(whole, Span(leader.pop, leader.pop + 1), leader, soft=False)
    start = sample_of_frame(leader.programme.start, leader.rate)
    room = sample_of_frame(leader.programme.end, leader.rate) - start
    whole[start : start + min(room, len(programme))] = programme[:room]
    return whole


def _lay(whole: Samples, span: Span, leader: LeaderPlan, *, soft: bool = True) -> None:
    """Tone on both channels, in phase with time so that it starts at zero."""
    first, end = sample_of_frame(span.start, leader.rate), sample_of_frame(span.end, leader.rate)
    count = end - first
    tone = np.sin(2 * np.pi * TONE_HZ / SAMPLE_RATE * np.arange(count)) * 10 ** (leader.tone / 20)
    if soft and count > 2 * _SOFT:
        edge = 0.5 - 0.5 * np.cos(np.pi * (np.arange(_SOFT) + 0.5) / _SOFT)
        tone[:_SOFT] *= edge
        tone[-_SOFT:] *= edge[::-1]
    whole[first:end] = tone.astype(np.float32)[:, None]

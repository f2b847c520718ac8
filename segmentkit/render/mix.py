"""The sound of a segment: voices, the sound of clips and music, brought together and to the delivery's loudness."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from segmentkit.delivery import Delivery
from segmentkit.errors import MediaUnusable
from segmentkit.facts import Loudness
from segmentkit.media.denoise import denoised
from segmentkit.media.loudness import bin_power, integrated, measure, true_peak
from segmentkit.media.sound import Samples, read_sound, to_mono, to_stereo
from segmentkit.plan.model import MusicCue, NaturalSound, Plan, Speech
from segmentkit.render.bed import bed, lowered
from segmentkit.render.dynamics import studio_voice, telephone_voice
from segmentkit.render.limiter import limit
from segmentkit.timebase import SAMPLE_RATE, Span, nearest_sample, sample_of_frame

DIALOGUE = -23.0
"""LUFS to which each reading is brought before its speaker's own level; the whole is moved to the delivery's later."""

TELEPHONE = -3.0
"""dB by which a voice on the telephone is softer than one in the studio."""

NATURAL, NATURAL_UNDER_SPEECH = -10.0, -17.0
"""dB of a clip's own sound against the voices. Under speech, ambience should be 15 LU down (JAES 67(12), 2019)."""

_MOST_GAIN = 30.0  # dB; a reading that needs more is noise by then
_MOST_NATURAL_GAIN = 12.0
_SOFT_START, _SOFT_END = 0.005, 0.03  # seconds, so that no cut clicks
_CODING_MARGIN = 0.5  # dB kept below the limit: a lossy coder moves peaks
_ACCURACY = 0.05  # LU
_MOST_LIMITING = 12.0  # dB of gain against the limiter: more would only flatten the sound
_MOST_TURNS = 12  # two or three are usual


@dataclass(frozen=True, slots=True)
class Stems:
    """The parts of a mix, each float32 at 48 kHz, shape (n, 2), at the levels they have against one another."""

    voices: Samples
    natural: Samples
    music: Samples


def mix(plan: Plan, clip_sounds: Mapping[str, Path], delivery: Delivery) -> tuple[Samples, Loudness]:
    """Makes the finished sound.

    Args:
        plan: what is heard when.
        clip_sounds: working copies of the clips' sound, by id of the clip.
        delivery: the loudness and the highest true peak.

    Returns:
        float32, 48 kHz, shape (n, 2), with exactly as many samples as the plan's frames last; and its loudness, which
        is `loudness.SILENCE` when nothing sounds.

    Raises:
        MediaUnusable: when a reading, a clip's sound or a music file cannot be read.
    """
    whole = _silence(plan)
    _lay(plan, clip_sounds, Stems(whole, whole, whole))
    return mastered(whole, delivery)


def stems(plan: Plan, clip_sounds: Mapping[str, Path]) -> Stems:
    """Voices, sound of clips, and music on the segment's time line, before the delivery's loudness."""
    parts = Stems(_silence(plan), _silence(plan), _silence(plan))
    _lay(plan, clip_sounds, parts)
    return parts


def _silence(plan: Plan) -> Samples:
    return np.zeros((sample_of_frame(plan.frames, plan.rate), 2), np.float32)


def _lay(plan: Plan, clip_sounds: Mapping[str, Path], onto: Stems) -> None:
    """Adds everything that is heard to the arrays given, which may be one and the same."""
    for line in plan.speech:
        if line.path is not None:
            _add(onto.voices, _voice(line), sample_of_frame(line.span.start, plan.rate))
    down = lowered(len(onto.voices), [_span(plan, line.span) for line in plan.speech if line.path is not None])
    for sound in plan.natural:
        begin, end = _span(plan, sound.span)
        if sound.clip in clip_sounds and begin < end:
            part = _natural(sound, clip_sounds[sound.clip], end - begin)
            _ride(part, NATURAL, NATURAL_UNDER_SPEECH, down[begin:end])
            _add(onto.natural, part, begin)
    for cue in plan.music:
        begin, end = _span(plan, cue.span)
        if begin < end:
            part = _music(cue, plan, end - begin)
            _ride(part, cue.level_db, cue.under_speech_db, down[begin:end])
            _add(onto.music, part, begin)


def mastered(whole: Samples, delivery: Delivery) -> tuple[Samples, Loudness]:
    """Brings a mix to its loudness with no true peak above the limit. `whole` is used up.

    Loudness is set by gain; the limiter takes what stands out, and what it takes from the loudness is given back.
    """
    if len(whole) < SAMPLE_RATE * 2 // 5:
        return whole, Loudness(integrated=-np.inf, range=0.0, true_peak=true_peak(whole))
    before = integrated(bin_power(whole))
    if not np.isfinite(before):
        return whole, measure(whole)
    gain, ceiling = delivery.loudness - before, delivery.true_peak - _CODING_MARGIN
    turn = 0
    while True:
        turn += 1
        result = whole * np.float32(10 ** (gain / 20))
        limited = limit(result, ceiling)
        found = measure(result)
        missing, above = delivery.loudness - found.integrated, found.true_peak - (delivery.true_peak - _CODING_MARGIN)
        there = above <= 0.01 and (abs(missing) <= _ACCURACY or not limited)
        if there or turn == _MOST_TURNS or gain > delivery.loudness - before + _MOST_LIMITING:
            return result, found
        gain += missing
        ceiling -= max(0.0, above)


def _voice(line: Speech) -> Samples:
    """One line on both sides, at the level of all lines plus its own."""
    assert line.path is not None
    # Before it is cut: the silence around the words tells the filter what is noise.
    source = denoised(to_mono(read_sound(line.path)), line.denoise)
    begin = nearest_sample(line.source_start)
    sound = source[begin : begin + nearest_sample(line.length)]
    if not len(sound):
        raise MediaUnusable(
            f"{line.path} — {len(source) / SAMPLE_RATE:.2f} s long, but its speech was found at"
            f" {float(line.source_start):.2f} s — the file must not change while it is used — check again"
        )
    treat = telephone_voice if line.telephone else studio_voice
    level = DIALOGUE + line.gain_db + (TELEPHONE if line.telephone else 0.0)
    sound = _brought_to(treat(_brought_to(sound, DIALOGUE, _MOST_GAIN)), level, _MOST_GAIN)
    return np.repeat(_softened(sound), 2, axis=1)


def _natural(sound: NaturalSound, path: Path, length: int) -> Samples:
    source = to_stereo(read_sound(path))
    begin = nearest_sample(sound.source_start)
    return _softened(_brought_to(source[begin : begin + length], DIALOGUE, _MOST_NATURAL_GAIN))


def _music(cue: MusicCue, plan: Plan, length: int) -> Samples:
    fades = (sample_of_frame(frames, plan.rate) for frames in (cue.fade_in, cue.fade_out))
    return _brought_to(bed(cue.path, length, *fades), DIALOGUE, _MOST_GAIN)


def _brought_to(sound: Samples, level: float, most: float) -> Samples:
    """Brings it, in place, to a loudness as heard on two loudspeakers; a sound too short for the gate by its mean."""
    power = bin_power(sound) * (2.0 if sound.shape[1] == 1 else 1.0)
    found = integrated(power)
    if not np.isfinite(found) and power.any():
        found = float(-0.691 + 10 * np.log10(power.mean()))
    if not np.isfinite(found) or found < -70:
        return sound
    sound *= np.float32(10 ** (min(level - found, most) / 20))
    return sound


def _softened(sound: Samples) -> Samples:
    """Comes in over 5 ms and goes over 30 ms, in place."""
    start, end = (min(int(seconds * SAMPLE_RATE), len(sound)) for seconds in (_SOFT_START, _SOFT_END))
    sound[:start] *= np.linspace(0, 1, start, endpoint=False, dtype=np.float32)[:, None]
    sound[len(sound) - end :] *= np.linspace(1, 0, end, dtype=np.float32)[:, None]
    return sound


def _ride(part: Samples, free: float, under_speech: float, down: NDArray[np.float32]) -> None:
    """Moves a part between two levels in dB, in place; a stretch at a time, to be easy on memory."""
    for begin in range(0, len(part), SAMPLE_RATE * 10):
        piece = part[begin : begin + SAMPLE_RATE * 10]
        level = free + down[begin : begin + len(piece)] * (under_speech - free)
        piece *= np.asarray(10 ** (level / 20), np.float32)[:, None]


def _span(plan: Plan, span: Span) -> tuple[int, int]:
    return sample_of_frame(span.start, plan.rate), sample_of_frame(span.end, plan.rate)


def _add(whole: Samples, part: Samples, at: int) -> None:
    """Adds a part at a sample; what would lie outside is left out."""
    begin, end = max(0, at), min(len(whole), at + len(part))
    if begin < end:
        whole[begin:end] += part[begin - at : end - at]

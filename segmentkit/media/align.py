"""Finds each word of the script in a take: by a recogniser that knows the language, else against the guide voice."""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

import numpy as np

from segmentkit.facts import SpeechRequest, WordSource
from segmentkit.media.activity import Speech, find_speech
from segmentkit.media.align_warp import warp
from segmentkit.media.align_words import SpokenForm, spoken_form
from segmentkit.media.guide import GuideFailed, GuideMissing, GuideVoice
from segmentkit.media.sound import Samples, read_sound, to_mono
from segmentkit.timebase import SAMPLE_RATE

RECOGNISED_ERROR = Fraction(1, 10)
WARPED_ERROR = Fraction(1, 4)
DOUBTFUL_ERROR = Fraction(1)
"""Errors that 95 % of words stay within, on voices other than the guide's with pauses and noise (see tests); and what
is said when the take may hold other words."""

_HERTZ = 16_000
_LEAST_AGREEMENT = 0.7
_LAST_BREATH = 8 * SAMPLE_RATE // 100
_SOFT_ONSET = 12 * SAMPLE_RATE // 100
_LONG_PAUSE = 4 * SAMPLE_RATE // 10
_AROUND = 3 * SAMPLE_RATE // 10  # quiet that the recogniser wants before and after


@dataclass(frozen=True, slots=True, kw_only=True)
class WordTimes:
    """When each word starts, in seconds from the start of the file, and how that is known."""

    starts: tuple[Fraction, ...]
    source: WordSource
    error: Fraction
    notes: tuple[str, ...] = ()


def tools() -> tuple[bool, bool]:
    """Which ways are open here: the recogniser, the guide voice. What was found without one is found anew with it."""
    recogniser, guide = (importlib.util.find_spec(name) for name in ("pocketsphinx", "espeakng_loader"))
    return recogniser is not None, guide is not None


def aligned(request: SpeechRequest, take: Samples, speech: Speech, guide: GuideVoice) -> WordTimes | None:
    """Finds the words in a take; None when neither way is open.

    Args:
        request: the line and its language.
        take: float32, 48 kHz, shape (n, 1).
        speech: where someone speaks in it.
        guide: for the sounds of unknown words, and to compare with.
    """
    found: list[int] | None = None
    notes: tuple[str, ...] = ()
    if request.language.lower().partition("-")[0] == "en" and importlib.util.find_spec("pocketsphinx"):
        found, why = recognised(request.words, take, speech, guide)
        if found is None:
            notes = (
                f"words could not be recognised in the take ({why}), so they were timed by comparing it with the guide"
                " voice — check that this take says what the script says",
            )
    against = _against_guide(request, take, speech, guide)
    if found is None:
        return _times(against, WARPED_ERROR, notes) if against is not None else None
    if against is None or agreement(found, against) >= _LEAST_AGREEMENT:
        return _times(found, RECOGNISED_ERROR, ())
    doubt = (
        f"two ways of finding the words agree on only {agreement(found, against):.0%} of them — 70 % and more are usual"
        " — check that this take says what the script says",
    )
    return _times(found, DOUBTFUL_ERROR, doubt)


def agreement(one: Sequence[int], other: Sequence[int]) -> float:
    """Share of words that two ways place within 0.15 s of one another.

    On 14 takes of another synthetic voice it was 0.86 to 1 for their own words, and for the words of other takes of
    about the same length at most 0.53 in 16 of 17 cases (the recogniser itself had refused the rest).
    """
    return float(np.mean(np.abs(np.subtract(one, other)) <= 15 * SAMPLE_RATE // 100))


def recognised(script: Sequence[str], take: Samples, speech: Speech, guide: GuideVoice) -> tuple[list[int] | None, str]:
    """Forced alignment: the recogniser must hear the script from its first to its last word, and nothing else.

    Returns:
        the sample at which each word starts, or None and the reason.
    """
    decoder = _decoder()

    def sounds(word: str) -> Sequence[str] | None:
        try:
            return guide.sounds(word, "en-us")
        except (GuideMissing, GuideFailed):
            return None

    form = spoken_form(script, lambda word: decoder.lookup_word(word) is not None, sounds)
    if form.unknown:
        return None, f"nobody knows how to say {', '.join(form.unknown[:3])}"
    if not form.words:
        return None, "the line has no words"
    for word, said in form.sounds.items():
        if decoder.lookup_word(word) is None:
            decoder.add_word(word, said, True)
    begin = max(0, speech.begin - _AROUND)
    sound = lower_rate(take[begin : speech.end + _AROUND, 0])
    sound = sound * (0.3 / max(float(np.abs(sound).max()), 1e-6))
    data = np.rint(sound * 32767).astype("<i2").tobytes()
    decoder.set_align_text(" ".join(form.words))
    decoder.start_utt()
    decoder.process_raw(data, full_utt=True)
    decoder.end_utt()
    if decoder.hyp() is None:
        return None, "it does not seem to hold just these words"
    heard = [(s.word.partition("(")[0], s.start_frame) for s in decoder.seg() if s.word[0] not in "<[+"]
    if tuple(word for word, _ in heard) != form.words:
        return None, "it does not seem to hold just these words"
    starts = [begin + frame * SAMPLE_RATE // 100 for _, frame in heard]
    return _by_script(len(script), form, [after_pause(at, speech, 0, _LONG_PAUSE) for at in starts]), ""


def lower_rate(sound: Any) -> Any:
    """48 kHz to 16 kHz through the spectrum; what lies above 8 kHz goes. float32, shape (n,) to (n / 3,)."""
    padded = np.concatenate([sound, np.zeros(-len(sound) % 3, np.float32)])
    spectrum = np.fft.rfft(padded)[: len(padded) // 6 + 1]
    return (np.fft.irfft(spectrum, len(padded) // 3) / 3).astype(np.float32)


def _by_script(count: int, form: SpokenForm, starts: Sequence[int]) -> list[int]:
    """The first spoken word of each script word; a dash that nobody speaks goes with the word after it."""
    result: list[int | None] = [None] * count
    for owner, start in zip(form.owners, starts, strict=True):
        if result[owner] is None:
            result[owner] = start
    filled, after = [], starts[-1]
    for found in reversed(result):
        after = after if found is None else found
        filled.append(after)
    return filled[::-1]


def _against_guide(request: SpeechRequest, take: Samples, speech: Speech, guide: GuideVoice) -> list[int] | None:
    for voice in dict.fromkeys(filter(None, (request.guide, request.language))):
        try:
            reading = guide.speak(request.respelled or request.words, voice, request.pace)
        except (GuideMissing, GuideFailed):
            continue
        model = to_mono(read_sound(reading.path))
        spoken = find_speech(model)
        if spoken is not None:
            return [after_pause(at, speech) for at in warp(model, spoken, reading.words, take, speech)]
    return None


def _times(starts: Sequence[int], error: Fraction, notes: tuple[str, ...]) -> WordTimes:
    rising = np.maximum.accumulate(np.asarray(starts)).tolist()
    return WordTimes(
        starts=tuple(Fraction(start, SAMPLE_RATE) for start in rising),
        source=WordSource.ALIGNED,
        error=error,
        notes=notes,
    )


def after_pause(start: int, speech: Speech, breath: int = _LAST_BREATH, least: int = 0) -> int:
    """Moves a word that was found in a pause, or in the last breath before one, to where the voice comes back.

    A word found shortly before the pause ends stays: its first consonant may be too soft for the level.

    Args:
        start: where the word was found, in samples.
        speech: the take's voice and pauses.
        breath: samples before a pause in which no word begins.
        least: samples of a pause that counts.
    """
    for begin, end in speech.pauses:
        if end - begin >= least and begin - breath <= start < end - _SOFT_ONSET:
            return end
    return start


@lru_cache(maxsize=1)
def _decoder() -> Any:
    """The recogniser with its US English sounds and dictionary; loading takes most of a second."""
    from pocketsphinx import Decoder  # noqa: PLC0415

    return Decoder(samprate=_HERTZ, lm=None, bestpath=False, loglevel="FATAL")

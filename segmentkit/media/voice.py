"""How each line is spoken: by its recorded take, else by the guide voice, else by nobody, at a stated pace."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from segmentkit.errors import MediaUnusable
from segmentkit.facts import ReadingFacts, SpeechRequest, SpokenWord, WordSource
from segmentkit.media.activity import Speech, faults, find_speech
from segmentkit.media.align import WordTimes, aligned, tools
from segmentkit.media.guide import GuideMissing, GuideVoice
from segmentkit.media.sound import Samples, read_sound, to_mono
from segmentkit.media.store import Store
from segmentkit.media.takes import find_takes
from segmentkit.timebase import SAMPLE_RATE

HANDLE_BEFORE = Fraction(1, 10)
HANDLE_AFTER = Fraction(1, 4)
"""Kept around the voice in a take: a level gate starts up to 74 ms late and cuts soft endings by up to 177 ms."""

GUIDE_ERROR = Fraction(3, 100)
PACE_ERROR = Fraction(1, 2)

_RECIPE = 2
_CREDIBLE = (80, 260)  # words a minute; outside, the wrong file was probably named
_VOWELS = re.compile(r"[aeiouyàâäáåæèéêëìíîïòóôöøùúûüœ]+", re.IGNORECASE)
_STOP = {",": 0.25, ";": 0.35, ":": 0.35, "—": 0.35, "–": 0.35, ".": 0.55, "!": 0.55, "?": 0.55, "…": 0.55}

Progress = Callable[[int, int], None]
"""Called with how many lines are done and how many there are."""


def readings(
    requests: Sequence[SpeechRequest], takes_folder: Path | None, store: Store, progress: Progress | None = None
) -> tuple[ReadingFacts, ...]:
    """Finds out how each line is spoken and when its words start, in the order of the requests.

    Raises:
        MediaUnusable: when a take cannot be read or has no voice in it, or there is no such guide voice.
        OutputFailed: when the store cannot be written to.
    """
    takes = find_takes(takes_folder, requests) if takes_folder is not None else {}
    found = []
    with GuideVoice(store) as guide:
        for done, request in enumerate(requests):
            take = takes.get((request.beat, request.line))
            found.append(_spoken(request, guide) if take is None else _recorded(request, take, store, guide))
            if progress is not None:
                progress(done + 1, len(requests))
    return tuple(found)


def _recorded(request: SpeechRequest, path: Path, store: Store, guide: GuideVoice) -> ReadingFacts:
    """A take: trimmed to its voice, with handles; from the store when neither it nor its words changed."""
    said = () if request.respelled is None else (request.respelled,)
    inputs = (store.content_of(path), request.words, request.language, request.guide, tools(), *said)
    entry = store.path_for("take", _RECIPE, *inputs, suffix=".json")

    def read(partial: Path) -> ReadingFacts:
        kept = json.loads(partial.read_text(encoding="utf-8"))
        start = Fraction(kept["start"])
        return ReadingFacts(
            beat=request.beat, line=request.line, path=path, start=start, length=Fraction(kept["length"]),
            words=tuple(
                SpokenWord(text=text, start=max(Fraction(0), Fraction(at) - start))
                for text, at in zip(request.words, kept["words"], strict=True)
            ),
            word_source=WordSource[kept["source"]], expected_error=Fraction(kept["error"]), is_guide=False,
            notes=tuple(kept["notes"]),
        )  # fmt: skip

    def write(partial: Path) -> None:
        samples = to_mono(read_sound(path))
        speech = find_speech(samples)
        if speech is None:
            raise MediaUnusable(
                f"{path} — {len(samples) / SAMPLE_RATE:.1f} s in which no voice stands out — a take must hold its line"
                " — record it again, or take the file away to hear the guide voice"
            )
        start = max(Fraction(0), Fraction(speech.begin, SAMPLE_RATE) - HANDLE_BEFORE)
        end = min(Fraction(len(samples), SAMPLE_RATE), Fraction(speech.end, SAMPLE_RATE) + HANDLE_AFTER)
        times = _word_times(request, samples, speech, guide)
        notes = (*faults(samples, speech), *_pace_note(request, speech), *times.notes)
        kept = {
            "start": str(start), "length": str(end - start), "words": [str(at) for at in times.starts],
            "source": times.source.name, "error": str(times.error), "notes": notes, "of": inputs[0],
        }  # fmt: skip
        partial.write_text(json.dumps(kept, ensure_ascii=False), encoding="utf-8")

    return store.make(entry, read, write)


def _spoken(request: SpeechRequest, guide: GuideVoice) -> ReadingFacts:
    """A line without a take: the guide voice, or nobody."""
    notes: tuple[str, ...] = ()
    if request.guide is not None:
        try:
            reading = guide.speak(request.respelled or request.words, request.guide, request.pace)
        except GuideMissing as error:
            notes = (str(error),)
        else:
            words = tuple(SpokenWord(text=t, start=s) for t, s in zip(request.words, reading.words, strict=True))
            return ReadingFacts(
                beat=request.beat, line=request.line, path=reading.path, start=Fraction(0), length=reading.length,
                words=words, word_source=WordSource.GUIDE, expected_error=GUIDE_ERROR, is_guide=True,
            )  # fmt: skip
    length = Fraction(len(request.words) * 60) / Fraction(request.pace).limit_denominator(1000)
    starts = paced(request.words, length)
    return ReadingFacts(
        beat=request.beat, line=request.line, path=None, start=Fraction(0), length=length,
        words=tuple(SpokenWord(text=t, start=s) for t, s in zip(request.words, starts, strict=True)),
        word_source=WordSource.PACE, expected_error=PACE_ERROR, is_guide=False, notes=notes,
    )  # fmt: skip


def paced(words: Sequence[str], length: Fraction) -> tuple[Fraction, ...]:
    """Spreads words over a length by their syllables and by the rests that their punctuation asks for.

    A syllable counts 0.2 s, a comma a quarter of a second, a full stop half of one; common practice, no source.
    """
    weights = [0.2 * syllables(word) + 0.05 + _STOP.get(word.rstrip("\"'”’)")[-1:], 0.0) for word in words]
    weights[-1] -= _STOP.get(words[-1].rstrip("\"'”’)")[-1:], 0.0)
    total = sum(weights)
    at = np.concatenate([[0.0], np.cumsum(weights)[:-1]]) / total
    return tuple(Fraction(round(share * 10_000), 10_000) * length for share in at.tolist())


def syllables(word: str) -> int:
    """A rough count: groups of vowels, or for other scripts half the letters; at least 1, digits as words of two."""
    letters = [c for c in word if c.isalpha()]
    digits = sum(c.isdigit() for c in word)
    groups = len(_VOWELS.findall(word))
    if letters and not groups and max(map(ord, letters)) > 0x24F:
        groups = -(-len(letters) // 2)
    return max(1, groups + 2 * digits)


def _word_times(request: SpeechRequest, samples: Samples, speech: Speech, guide: GuideVoice) -> WordTimes:
    if times := aligned(request, samples, speech, guide):
        return times
    length = Fraction(_voiced(speech, speech.end), SAMPLE_RATE)
    starts = [_unvoiced(speech, int(at * SAMPLE_RATE)) for at in paced(request.words, length)]
    return WordTimes(starts=_snapped(request.words, starts, speech), source=WordSource.PACE, error=PACE_ERROR)


def _voiced(speech: Speech, sample: int) -> int:
    """How many samples of voice lie before a sample."""
    quiet = sum(max(0, min(end, sample) - begin) for begin, end in speech.pauses)
    return max(0, min(sample, speech.end) - speech.begin - quiet)


def _unvoiced(speech: Speech, voiced: int) -> int:
    """The sample before which so much voice lies; after a pause rather than before it."""
    sample = speech.begin + voiced
    for begin, end in speech.pauses:
        if sample < begin:
            break
        sample += end - begin
    return min(sample, speech.end)


def _snapped(words: Sequence[str], starts: Sequence[int], speech: Speech) -> tuple[Fraction, ...]:
    """Moves words that follow punctuation to the end of a pause nearby: that is where people breathe."""
    ends = [end for _, end in speech.pauses]
    placed = list(starts)
    placed[0] = speech.begin
    for k in range(1, len(words)):
        if words[k - 1].rstrip("\"'”’)")[-1:] in _STOP and ends:
            nearest = min(ends, key=lambda end, at=placed[k]: abs(end - at))  # type: ignore[misc]
            if abs(nearest - placed[k]) < 0.35 * SAMPLE_RATE:
                placed[k] = nearest
    return tuple(Fraction(max(placed[: k + 1]), SAMPLE_RATE) for k in range(len(placed)))


def _pace_note(request: SpeechRequest, speech: Speech) -> tuple[str, ...]:
    seconds = (speech.end - speech.begin) / SAMPLE_RATE
    pace = len(request.words) * 60 / seconds
    if len(request.words) < 4 or _CREDIBLE[0] <= pace <= _CREDIBLE[1]:
        return ()
    return (
        f"{len(request.words)} words in {seconds:.1f} s are {pace:.0f} words a minute — is this the right take?"
        f" {_CREDIBLE[0]} to {_CREDIBLE[1]} are usual",
    )

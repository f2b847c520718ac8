"""How the words are spoken: speed, overlaps, whose voice, and how sure their times are."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from math import ceil

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import clock, counted, lasting, listed, number, quoted, seconds
from segmentkit.facts import WordSource
from segmentkit.findings import Severity
from segmentkit.plan.model import Speech

_FEW_WORDS = 6


def _path(context: CheckContext, speech: Speech) -> tuple[Step, ...]:
    index = context.index_of(speech.beat)
    line = context.board.beats[index].say[speech.line]
    base: tuple[Step, ...] = ("beats", index, "say")
    return base if line.item is None or line.speaker is None else (*base, line.item, line.speaker)


def _where(context: CheckContext, speech: Speech) -> str:
    lines = context.board.beats[context.index_of(speech.beat)].say
    return (
        f"beat {speech.beat}, words"
        if len(lines) == 1
        else f"beat {speech.beat}, line {speech.line + 1} ({speech.speaker})"
    )


@check("words-per-minute", Severity.WARNING)
def words_per_minute(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Words that come too fast are not followed while there is something to look at.

    Listeners and readers of news are best served by 160 to 180 words a minute (E. Rodero, Text & Talk 32:391-411,
    2012), and teaching wants less. Slower than usual is a note, faster a warning, and a take that nobody can follow
    an error. Lines of fewer than six words are not judged: their pauses weigh too much.
    """
    stated: list[tuple[Speech, Fraction]] = []
    for speech in context.plan.speech:
        words = len(speech.words)
        if words < _FEW_WORDS or speech.length <= 0:
            continue
        wpm = words * 60 / speech.length
        if limits.wpm_least <= wpm <= limits.wpm_most:
            continue
        if speech.path is None or speech.is_guide:
            stated.append((speech, wpm))
            continue
        wanted = limits.wpm_least if wpm < limits.wpm_least else limits.wpm_most
        change = words * 60 / wanted - speech.length
        fewer = f", or cut {counted(ceil(words * (1 - wanted / wpm)), 'word')}" if change > 0 else ""
        yield Remark(
            where=_where(context, speech),
            what=f"{words} words in {seconds(speech.length)} are {round(wpm)} words a minute — "
            f"{number(limits.wpm_least)} to {number(limits.wpm_most)} is easy to follow",
            remedy=f"read again {seconds(abs(change))} {'slower' if change > 0 else 'faster'}{fewer}",
            path=_path(context, speech),
            numbers=(("wpm", round(float(wpm), 1)), ("words", words), ("seconds", speech.length)),
            severity=_pace_severity(wpm, limits, recorded=True),
        )
    if stated:
        worst, wpm = max(stated, key=lambda entry: abs(entry[1] - (limits.wpm_least + limits.wpm_most) / 2))
        yield Remark(
            where=_where(context, worst),
            what=f"{counted(len(stated), 'line that is', 'lines that are')} not recorded yet would be read at "
            f"{round(wpm)} words a minute — {number(limits.wpm_least)} to {number(limits.wpm_most)} is easy to follow",
            remedy="set pace under voice to what your reader speaks, or record the takes",
            path=_path(context, worst),
            numbers=(("wpm", round(float(wpm), 1)), ("lines", len(stated))),
            severity=_pace_severity(wpm, limits, recorded=False),
        )


def _pace_severity(wpm: Fraction, limits: Limits, *, recorded: bool) -> Severity:
    if wpm < limits.wpm_least or not recorded:
        return Severity.NOTE
    return Severity.ERROR if wpm > limits.wpm_never else Severity.WARNING


@check("speech-overlap-unplanned", Severity.ERROR)
def speech_overlap_unplanned(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Two voices at once are understood by nobody. Where it is meant, the words say so with `overlap`."""
    del limits
    rate = context.plan.rate
    lines = sorted(context.plan.speech, key=lambda line: line.span.start)
    for position, later in enumerate(lines):
        for earlier in lines[:position]:
            shared = earlier.span.overlap(later.span)
            if not shared:
                continue
            spec = context.board.beats[context.index_of(later.beat)].say[later.line]
            if earlier.beat == later.beat and spec.after is not None and spec.after < 0:
                continue
            other = f"line {earlier.line + 1} of beat {earlier.beat}"
            fix = (
                f"write `- overlap: {seconds(shared / rate.fps).replace(' ', '')}` before it if it is meant, or "
                if earlier.beat == later.beat
                else ""
            )
            yield Remark(
                where=_where(context, later),
                what=f"it starts at {clock(later.span.start, rate)}, {lasting(shared, rate)} before {other} has "
                "ended — two voices overlap only where that is written",
                remedy=f"{fix}make room for {lasting(shared, rate)} between them",
                path=_path(context, later),
                numbers=(("overlap_frames", shared), ("frame", later.span.start)),
            )


@check("guide-voice-in-final", Severity.ERROR)
def guide_voice_in_final(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The guide voice stands in while nothing is recorded.

    In a final it is heard as what it is, a machine, and a line that nobody speaks is a silence with moving captions.
    """
    del limits
    if not context.final:
        return
    allowed = context.board.voice.guide_in_final
    missing = [line for line in context.plan.speech if line.path is None or (line.is_guide and not allowed)]
    silent = [line for line in missing if line.path is None]
    guide = [line for line in missing if line.path is not None]
    for lines, who in ((guide, "by the guide voice"), (silent, "by nobody")):
        beats = list(dict.fromkeys(line.beat for line in lines))
        if not beats:
            continue
        files = listed([f"{beat}.wav" for beat in beats[:6]] + (["…"] if len(beats) > 6 else []))
        yield Remark(
            where=f"{'beat' if len(beats) == 1 else 'beats'} {listed(beats)}",
            what=f"{counted(len(lines), 'line is', 'lines are')} spoken {who} — a final needs a recorded take for "
            "each line",
            remedy=f"record {files} into the folder of takes"
            + (", or write guide_in_final: yes under voice" if lines is guide else ""),
            path=("beats", context.index_of(beats[0]), "say"),
            numbers=(("lines", len(lines)), ("beats", len(beats))),
        )


@check("word-times-guessed", Severity.NOTE)
def word_times_guessed(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Strokes land on words, so they are only as exact as the words' times are known.

    Where a take could not be aligned, or nothing is recorded yet, the times are an estimate; the finding gives its
    source and the error to expect, and becomes a warning where strokes could miss their word by more than the house
    allows.
    """
    for beat in context.board.beats:
        cued = [s for s in context.plan.strokes if s.beat == beat.beat and not s.kept and s.cue is not None]
        unsure = [
            line for line in context.plan.speech
            if line.beat == beat.beat and beat.say[line.line].marks
            and (line.word_source is WordSource.PACE or line.expected_error > limits.word_error)
        ]  # fmt: skip
        if not cued or not unsure:
            continue
        worst = max(unsure, key=lambda line: line.expected_error)
        names = list(dict.fromkeys(stroke.id for stroke in cued))
        late = worst.expected_error > limits.word_error
        yield Remark(
            where=f"beat {beat.beat}",
            what=f"word times come from {worst.word_source.value}, so {listed(names)} may be "
            f"{seconds(worst.expected_error)} off — {seconds(limits.word_error)} still reads as together",
            remedy="record the take"
            if worst.path is None
            else f"listen at {quoted(cued[0].cue or '')} and correct with at: where it is off",
            path=("beats", context.index_of(beat.beat), "say"),
            numbers=(("expected_error", worst.expected_error), ("allowed", limits.word_error)),
            severity=Severity.WARNING if late else None,
        )

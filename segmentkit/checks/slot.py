"""Does it fit: the slot, the beats, and the words within them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.cuts import Cut, best_cut, cuttable, enough_cuts
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import is_protected, shots_of, written_room
from segmentkit.checks.say import clock, lasting, listed, quoted, seconds, signed
from segmentkit.checks.spare import why_they_stay
from segmentkit.findings import Severity
from segmentkit.plan.advice import advise
from segmentkit.plan.defaults import HOLDS, TAIL
from segmentkit.plan.model import PlannedBeat
from segmentkit.storyboard.model import Beat
from segmentkit.timebase import frames_covering, nearest_frame, seconds_of

_SHOWN = 4
_CHOICES = 2
_WORTH_CUTTING = Fraction(1, 2)
"""Seconds that cutting a sentence must give to be offered."""


@check("slot-over", Severity.ERROR)
def slot_over(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A segment over its slot is cut off on air, in the middle of its last words.

    Every elastic beat is already as short as it is written to be. The finding says which beats hold longer than their
    words and strokes need, and which words would restore the time: those in braces where they are enough, proved by
    planning without them, else whole sentences. Cautions, disclosures, drills and rigid beats are never asked.
    """
    del limits
    plan = context.plan
    over = plan.frames - plan.slot
    if over <= 0:
        return
    givers = [
        (beat.gives, planned.id, spare)
        for _, beat, planned in context.beats()
        if not is_protected(beat) and planned.words_end is not None and (spare := _spare(context, planned)) > 0
    ]
    givers.sort(key=lambda giver: (giver[0], -giver[2]))
    options = [
        f"beat {name} holds {lasting(room, plan.rate)} more than its words and strokes need"
        for _, name, room in givers[:_SHOWN]
    ]
    marked = _marked(context)
    options += marked or [
        f"beat {cut.beat} could lose {cut.said(plan.rate)}" for cut in enough_cuts(_cuts(context), over)
    ]
    remedy = f"take {lasting(over, plan.rate)} out — "
    remedy += (
        "; ".join(options) if options else "no beat has time to spare, so a beat has to go or the slot must be longer"
    )
    yield Remark(
        where="segment, slot",
        what=f"the beats need at least {clock(plan.frames, plan.rate)} ({plan.frames} frames) — the slot is "
        f"{clock(plan.slot, plan.rate)} ({plan.slot} frames): over by {signed(over, plan.rate)}, "
        f"{lasting(over, plan.rate)}",
        remedy=remedy,
        path=("segment", "slot"),
        numbers=(
            ("over_frames", over),
            ("over_seconds", over / plan.rate.fps),
            ("frames", plan.frames),
            ("slot_frames", plan.slot),
            *((f"room_{name}", room) for _, name, room in givers),
        ),
    )


def _marked(context: CheckContext) -> list[str]:
    """What leaving out words in braces gives, where that is enough: the fewest, and one other choice."""
    if not any(line.spare for beat in context.board.beats for line in beat.say):
        return []
    advice = advise(context.loaded, context.facts, context.plan, why_they_stay)
    told = []
    for option in advice.options[:_CHOICES]:
        words = listed([f"{quoted(words.text)} in beat {words.beat}" for words in option.words])
        told.append(f"leave out the spare words {words}, which gives {lasting(option.gain, context.plan.rate)}")
    return ["; or ".join(told)] if told else []


def _cuts(context: CheckContext) -> list[Cut]:
    """Sentences that could go, with what the beat then really gives; the first words pose the question and stay."""
    plan = context.plan
    beats = [entry for entry in context.beats() if entry[2].words_end is not None][1:]
    found = []
    for _, beat, planned in reversed(beats):
        if is_protected(beat) or beat.length is not None:
            continue
        least, _ = written_room(context, beat)
        for cut in cuttable(context, beat):
            gives = planned.span.frames - max(least, planned.needs - cut.words.frames)
            if gives >= plan.rate.fps * _WORTH_CUTTING:
                found.append(replace(cut, gives=min(gives, cut.words.frames)))
    return found


def _spare(context: CheckContext, planned: PlannedBeat) -> int:
    """Frames that a beat holds a picture beyond what its words and strokes need; motion cannot be shortened."""
    held = sum(shot.span.frames - 1 for shot in shots_of(context, planned.id) if shot.kind != "run")
    return min(planned.span.frames - planned.needs, held)


@check("slot-under", Severity.ERROR)
def slot_under(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A segment under its slot leaves black, or a presenter who has to find words.

    Every elastic beat is already as long as it is written to be. The finding says which beats could be allowed more;
    the voice is never slowed down to fill time.
    """
    del limits
    plan = context.plan
    under = plan.slot - plan.frames
    if under <= 0:
        return
    takers = [
        planned
        for _, beat, planned in context.beats()
        if not is_protected(beat) and beat.length is None and any(spec.run is None for spec in beat.show)
    ]
    takers.sort(key=lambda planned: -(planned.most - planned.least))
    names = [f"{planned.id} (at most {lasting(planned.most, plan.rate)} now)" for planned in takers[:_SHOWN]]
    allow = f"allow longer holds in {'beat' if len(names) == 1 else 'beats'} {listed(names, 'or')}, " if names else ""
    yield Remark(
        where="segment, slot",
        what=f"the beats last at most {clock(plan.frames, plan.rate)} ({plan.frames} frames) — the slot is "
        f"{clock(plan.slot, plan.rate)} ({plan.slot} frames): under by {signed(-under, plan.rate)}, "
        f"{lasting(under, plan.rate)}",
        remedy=f"fill {lasting(under, plan.rate)} — {allow}add a replay, or write more words; never slow the voice",
        path=("segment", "slot"),
        numbers=(
            ("under_frames", under),
            ("under_seconds", under / plan.rate.fps),
            ("frames", plan.frames),
            ("slot_frames", plan.slot),
            *((f"most_{planned.id}", planned.most) for planned in takers),
        ),
    )


@check("beat-length-contradiction", Severity.ERROR)
def beat_length_contradiction(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A beat's written length and what it shows are two statements; where they differ, one of them is wrong.

    A `length` that its shots cannot fill, or that they overrun, would otherwise move everything after it in silence.
    """
    del limits
    rate = context.plan.rate
    for index, beat, planned in context.beats():
        if beat.length is None:
            continue
        wanted = nearest_frame(seconds_of(beat.length, rate), rate)
        least, most = written_room(context, beat.model_copy(update={"length": None}))
        if least <= wanted <= most and planned.span.frames == wanted:
            continue
        why = (
            f"its shots allow {lasting(least, rate)} to {lasting(most, rate)}"
            if not least <= wanted <= most
            else f"its words and strokes make it {lasting(planned.span.frames, rate)}"
        )
        yield Remark(
            where=f"beat {beat.beat}",
            what=f"the length is written as {lasting(wanted, rate)} — {why}",
            remedy=f"write length: {seconds(planned.span.frames / rate.fps, 3).replace(' ', '')}, or change the "
            "holds and words to fit",
            path=("beats", index, "length"),
            numbers=(
                ("written_frames", wanted),
                ("planned_frames", planned.span.frames),
                ("least_frames", least),
                ("most_frames", most),
            ),
        )


@check("take-longer-than-beat", Severity.ERROR)
def take_longer_than_beat(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Words that are longer than their beat run over the next picture, or are cut off at the end.

    There are three ways out and each is given with its amount: hold the picture longer, cut words, or read again
    faster. The voice is never sped up.
    """
    plan = context.plan
    for index, beat, planned in context.beats():
        if planned.words_end is None:
            continue
        words = planned.words_end - planned.span.start
        _, most = written_room(context, beat)
        over = words - most
        if over <= 0:
            continue
        ways = [
            _longer_hold(beat, over, most, context),
            _fewer_words(beat, over, context),
            _faster(planned, over, context, limits),
        ]
        yield Remark(
            where=f"beat {beat.beat}",
            what=f"its words end {lasting(words, plan.rate)} after its start — the beat can be at most "
            f"{lasting(most, plan.rate)}: over by {signed(over, plan.rate)}, {lasting(over, plan.rate)}",
            remedy="; or ".join(way for way in ways if way),
            path=("beats", index, "say"),
            numbers=(
                ("over_frames", over),
                ("over_seconds", over / plan.rate.fps),
                ("words_frames", words),
                ("most_frames", most),
            ),
        )


def _longer_hold(beat: Beat, over: int, most: int, context: CheckContext) -> str:
    rate = context.plan.rate
    if beat.length is not None:
        return f"lengthen the beat to {seconds((most + over) / rate.fps)} or more (length)"
    held = [(number, spec) for number, spec in enumerate(beat.show) if spec.run is None]
    if not held:
        return f"add a freeze of {seconds(over / rate.fps)} or more after the run"
    number, spec = held[-1]
    hold = getattr(spec, spec.kind).hold
    longest = seconds((hold or HOLDS[spec.kind]).most + over / rate.fps)
    return f"let shot {number + 1} ({spec.kind.replace('_', ' ')}) hold up to {longest}, {lasting(over, rate)} more"


def _fewer_words(beat: Beat, over: int, context: CheckContext) -> str:
    cut = best_cut(cuttable(context, beat), over)
    if cut is None:
        return f"cut words worth {lasting(over, context.plan.rate)}"
    left = over - cut.gives
    short = "" if left <= 0 else f", and still leaves {lasting(left, context.plan.rate)}"
    return f"cut {cut.said(context.plan.rate)}{short}"


def _faster(planned: PlannedBeat, over: int, context: CheckContext, limits: Limits) -> str:
    lines = [line for line in context.plan.speech if line.beat == planned.id]
    words = sum(len(line.words) for line in lines)
    spoken = sum((line.length for line in lines), start=over * 0 / context.plan.rate.fps)
    left = spoken - over / context.plan.rate.fps
    if left <= 0 or not words:
        return ""
    now, wanted = words * 60 / spoken, words * 60 / left
    if wanted > limits.wpm_never:
        most = f"{round(limits.wpm_never)} is the most"
        return f"reading again faster does not do it: it would take {round(wanted)} words a minute, and {most}"
    return f"read it again at {round(wanted)} words a minute instead of {round(now)}"


@check("words-after-beat", Severity.ERROR)
def words_after_beat(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Words belong to their picture; a last word on the next one, or on the cut itself, is heard as a mistake.

    Words past the end of a beat that could be longer are an error; a tail shorter than asked for is a warning.
    """
    del limits
    plan = context.plan
    tail = context.board.voice.tail
    wanted = nearest_frame(TAIL if tail is None else seconds_of(tail, plan.rate), plan.rate)
    for index, beat, planned in context.beats():
        if planned.words_end is None:
            continue
        left = planned.span.end - planned.words_end
        _, most = written_room(context, beat)
        if planned.words_end - planned.span.start > most or left >= wanted:
            continue
        late = left < 0
        yield Remark(
            where=f"beat {beat.beat}",
            what=f"its last word ends at {clock(planned.words_end, plan.rate)}, "
            + (f"{lasting(-left, plan.rate)} after the beat" if late else f"{lasting(left, plan.rate)} before the cut")
            + f" — at least {lasting(wanted, plan.rate)} should follow it",
            remedy=f"hold the last picture {lasting(wanted - left, plan.rate)} longer, or start the words earlier "
            "(lead)",
            path=("beats", index, "say"),
            numbers=(("left_frames", left), ("wanted_frames", wanted)),
            severity=None if late else Severity.WARNING,
        )


@check("beat-without-words-long", Severity.NOTE)
def beat_without_words_long(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A long stretch without words makes a viewer wonder whether the sound has gone; common practice, no source."""
    plan = context.plan
    most = frames_covering(limits.wordless, plan.rate)
    for index, beat, planned in context.beats():
        if planned.words_end is None and planned.span.frames > most:
            yield Remark(
                where=f"beat {beat.beat}",
                what=f"nobody speaks for {lasting(planned.span.frames, plan.rate)} — up to "
                f"{lasting(most, plan.rate)} is usual",
                remedy=f"shorten it by {lasting(planned.span.frames - most, plan.rate)}, or say something",
                path=("beats", index, "beat"),
                numbers=(("frames", planned.span.frames), ("most_frames", most)),
            )


@check("silent-end", Severity.WARNING)
def silent_end(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The out-word comes before the last second: the mixer cuts away on the frame, and a late word is lost."""
    plan = context.plan
    if not plan.speech:
        return
    last = max(plan.speech, key=lambda line: line.span.end)
    wanted = frames_covering(limits.last_word, plan.rate)
    left = plan.frames - last.span.end
    if left < wanted:
        yield Remark(
            where=f"beat {last.beat}",
            what=f"the last word of the segment ends {lasting(left, plan.rate)} before its end — at least "
            f"{lasting(wanted, plan.rate)} is wanted",
            remedy=f"end the words {lasting(wanted - left, plan.rate)} earlier, or let an end board follow them",
            path=("beats", context.index_of(last.beat), "say"),
            numbers=(("left_frames", left), ("wanted_frames", wanted)),
        )

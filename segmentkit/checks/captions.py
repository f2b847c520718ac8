"""Captions: there in time to be read, whole on their lines, and off whatever the words point at."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from fractions import Fraction

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import clock, counted, lasting, listed, number, quoted
from segmentkit.findings import Severity
from segmentkit.plan.caption_model import Caption
from segmentkit.plan.caption_text import cells
from segmentkit.plan.captions import CaptionSet, least_frames

TOO_FAST = Fraction(200)
"""Words a minute above which nobody keeps up; common practice, no source."""


def _path(context: CheckContext, caption: Caption) -> tuple[Step, ...]:
    """Where the words of a caption are written."""
    index = context.index_of(caption.beat)
    line = context.board.beats[index].say[caption.line]
    path: tuple[Step, ...] = ("beats", index, "say")
    return (*path, line.item, line.speaker) if line.item is not None and line.speaker is not None else path


def _where(made: CaptionSet, caption: Caption) -> str:
    return f"beat {caption.beat}, {made.name} captions"


Wrong = Callable[[CaptionSet, Caption], bool]


def _by_beat(context: CheckContext, wrong: Wrong) -> Iterator[tuple[CaptionSet, list[Caption]]]:
    """The captions of each beat that are wrong; what two rule sets have in common is said once."""
    seen: set[tuple[int, int, tuple[str, ...]]] = set()
    for made in context.captions:
        beats: dict[str, list[Caption]] = {}
        for caption in made.captions:
            key = (caption.span.start, caption.span.end, caption.lines)
            if wrong(made, caption) and key not in seen:
                beats.setdefault(caption.beat, []).append(caption)
                seen.add(key)
        yield from ((made, captions) for captions in beats.values())


def _others(count: int) -> str:
    return f", and {counted(count - 1, 'other caption')} of the beat with it" if count > 1 else ""


@check("caption-too-fast", Severity.WARNING)
def caption_too_fast(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Who reads slower than the voice speaks loses the picture, then the thread.

    160 to 180 words a minute are for most readers (BBC Subtitle Guidelines, section 4); the rule set says how many.
    Up to 200 it is a note. Labels count, because they are read as well. One finding a beat, for its fastest caption.
    """
    del limits
    rate = context.plan.rate

    def fast(made: CaptionSet, one: Caption) -> bool:
        return one.words > 1 and one.words_per_minute(rate) > Fraction(made.rules.words_per_minute)

    for made, captions in _by_beat(context, fast):
        most = Fraction(made.rules.words_per_minute)
        worst = max(captions, key=lambda one: one.words_per_minute(rate))
        speed = worst.words_per_minute(rate)
        missing = frames_missing(worst, most, context)
        yield Remark(
            where=_where(made, worst),
            what=f"{quoted(worst.text, 40)} at {clock(worst.span.start, rate)} must be read at {float(speed):.0f} "
            f"words a minute{_others(len(captions))} — {number(most)} is the most",
            remedy=f"speak {lasting(missing, rate)} slower there, pause after it, or use fewer words",
            path=_path(context, worst),
            numbers=(("wpm", round(float(speed), 1)), ("most_wpm", most), ("captions", len(captions))),
            severity=Severity.NOTE if speed <= TOO_FAST else None,
        )


def frames_missing(caption: Caption, most: Fraction, context: CheckContext) -> int:
    """Frames by which a caption is too short for a reading speed."""
    needs = -(-caption.words * 60 * context.plan.rate.fps // most)
    return max(1, int(needs) - caption.span.frames)


@check("caption-too-short", Severity.WARNING)
def caption_too_short(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A caption that flashes up is not read, however few its words are.

    At least one second, two for slow readers (DCMP Captioning Key: none under two seconds); shorter ones come from
    people who speak at once, or from a line that is cut off. One finding a beat, for its shortest caption.
    """
    del limits
    rate = context.plan.rate

    def short(made: CaptionSet, one: Caption) -> bool:
        return one.span.frames < least_frames(Fraction(0), made.rules, rate)

    for made, captions in _by_beat(context, short):
        least = least_frames(Fraction(0), made.rules, rate)
        worst = min(captions, key=lambda one: one.span.frames)
        yield Remark(
            where=_where(made, worst),
            what=f"{quoted(worst.text, 40)} at {clock(worst.span.start, rate)} stands for "
            f"{lasting(worst.span.frames, rate)}{_others(len(captions))} — at least {lasting(least, rate)} is needed",
            remedy="let one person finish before the next speaks, or pause between the two",
            path=_path(context, worst),
            numbers=(("frames", worst.span.frames), ("least_frames", least), ("captions", len(captions))),
        )


@check("caption-line-long", Severity.WARNING)
def caption_line_long(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A line that is too long is broken by the player wherever it likes, or runs out of the picture.

    It happens only when a single word is longer than a line, since words are never cut: write it so that it may break.
    """
    del limits
    for made in context.captions:
        most = round(made.rules.characters)
        for caption in made.captions:
            widest = max(caption.lines, key=cells)
            if cells(widest) > most:
                yield Remark(
                    where=_where(made, caption),
                    what=f"the line {quoted(widest, 50)} has {counted(cells(widest), 'character')} — {most} are the "
                    "most",
                    remedy="use a shorter word, or part it by a space or hyphen",
                    path=_path(context, caption),
                    numbers=(("characters", cells(widest)), ("most_characters", most)),
                )


@check("caption-over-picture", Severity.WARNING)
def caption_over_picture(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A caption over the very stroke that the words point at hides the lesson from those who need the caption.

    Captions stand at the foot of the picture; where a stroke, a name or a card is there they move to the top, then
    beside it, in shorter lines if need be. This finding says that there was no such place. Appropriate placement is
    asked for by 47 CFR 79.1(j)(2), which gives no numbers. One finding a beat.
    """
    del limits
    rate = context.plan.rate
    for made, captions in _by_beat(context, lambda _, one: bool(one.hits)):
        first = captions[0]
        names = list(dict.fromkeys(name for one in captions for name in one.hits))
        yield Remark(
            where=_where(made, first),
            what=f"{counted(len(captions), 'caption')} from {clock(first.span.start, rate)} "
            f"{'lies' if len(captions) == 1 else 'lie'} on {listed(names)} — neither foot nor top nor side of the "
            "picture is free",
            remedy="move or shorten what is drawn there, show the card at another time, or use fewer words",
            path=_path(context, first),
            numbers=(("captions", len(captions)), ("first_frame", first.span.start)),
        )

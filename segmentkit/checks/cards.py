"""Cards: read in time, and there at the right moment."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import shots_of
from segmentkit.checks.say import counted, lasting, seconds
from segmentkit.findings import Severity
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.defaults import reading_time
from segmentkit.plan.model import Card
from segmentkit.timebase import frames_covering, nearest_frame

__all__ = ["card_path", "card_where", "readable_frames", "reading_time", "too_short"]

LOCKED_KINDS = frozenset({"caution", "drill", "disclosure"})
"""Cards whose reading time is fixed; `cautions` looks at them."""


def readable_frames(card: Card) -> int:
    """Frames on which a card stands complete, between coming in and going."""
    return max(0, card.span.frames - card.enter_frames - card.leave_frames)


def card_path(context: CheckContext, card: Card) -> tuple[Step, ...]:
    """Where a planned card is written."""
    index = context.index_of(card.beat)
    if card.kind in {"title", "end_board"}:
        return ("beats", index, "show", card.index, card.kind)
    return ("beats", index, "cards", card.index, card.kind)


def card_where(card: Card) -> str:
    """What a person calls a card."""
    return f"beat {card.beat}, {card.kind.replace('_', ' ')}"


def too_short(context: CheckContext, card: Card, least: Fraction) -> Remark | None:
    """The remark for a card that stands for less than `least` seconds; None when it is long enough."""
    rate = context.plan.rate
    has, needs = readable_frames(card), frames_covering(least, rate)
    if has >= needs:
        return None
    missing = needs - has
    return Remark(
        where=card_where(card),
        what=f"its {counted(card.words, 'word')} can be read for {lasting(has, rate)} — at least "
        f"{lasting(needs, rate)} is needed, {lasting(missing, rate)} is missing",
        remedy=f"show it {lasting(missing, rate)} longer or earlier, or use fewer words",
        path=card_path(context, card),
        numbers=(("words", card.words), ("frames", has), ("needed_frames", needs), ("missing_frames", missing)),
    )


@check("card-too-short", Severity.ERROR)
def card_too_short(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A text that goes before it is read annoys more than none.

    The floor is 0.2 s a word and 2 s more (3 s from ten words on), from the British guidance for text in television
    advertising (BCAP guidance note 1). Only the time in which the card stands complete counts. Short labels get a
    warning.
    """
    del limits
    for card in context.plan.cards:
        if card.kind == GUIDE_MARK or card.kind in LOCKED_KINDS:
            continue
        if remark := too_short(context, card, reading_time(card.words)):
            severity = Severity.WARNING if card.kind in {"label", "key_words"} else None
            yield Remark(
                where=remark.where,
                what=remark.what,
                remedy=remark.remedy,
                path=remark.path,
                numbers=remark.numbers,
                severity=severity,
            )


@check("title-duration", Severity.NOTE)
def title_duration(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A title under three seconds is a flicker, one over six loses people. Common practice, no source."""
    rate = context.plan.rate
    least, most = frames_covering(limits.title_least, rate), frames_covering(limits.title_most, rate)
    for card in context.plan.cards:
        if card.kind == "title" and not least <= card.span.frames <= most:
            off = least - card.span.frames if card.span.frames < least else card.span.frames - most
            yield Remark(
                where=card_where(card),
                what=f"it stands for {lasting(card.span.frames, rate)} — {seconds(limits.title_least)} to "
                f"{seconds(limits.title_most)} is usual",
                remedy=f"hold it {lasting(off, rate)} {'longer' if card.span.frames < least else 'less'}",
                path=card_path(context, card),
                numbers=(("frames", card.span.frames), ("least_frames", least), ("most_frames", most)),
            )


@check("lower-third-timing", Severity.NOTE)
def lower_third_timing(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A name belongs to a face: it comes once the picture has been seen, and goes before the next idea.

    Measured from the start of the picture it lies on. Common practice, no source.
    """
    rate = context.plan.rate
    for card in (c for c in context.plan.cards if c.kind == "lower_third"):
        starts = [shot.span.start for shot in shots_of(context, card.beat) if shot.span.start <= card.span.start]
        frames = card.span.start - max(starts, default=card.span.start)
        after = frames / rate.fps
        lasts = card.span.frames / rate.fps
        wrong: list[str] = []
        fixes: list[str] = []
        if not nearest_frame(limits.name_in_least, rate) <= frames <= nearest_frame(limits.name_in_most, rate):
            wrong.append(
                f"it comes {seconds(after)} after its picture — {seconds(limits.name_in_least)} to "
                f"{seconds(limits.name_in_most)} is usual"
            )
            off = after - limits.name_in_most if after > limits.name_in_most else limits.name_in_least - after
            fixes.append(f"bring it in {seconds(off)} {'earlier' if after > limits.name_in_most else 'later'} (at)")
        if not nearest_frame(limits.name_least, rate) <= card.span.frames <= nearest_frame(limits.name_most, rate):
            wrong.append(
                f"it stands for {lasting(card.span.frames, rate)} — {seconds(limits.name_least)} to "
                f"{seconds(limits.name_most)} is usual"
            )
            off = lasts - limits.name_most if lasts > limits.name_most else limits.name_least - lasts
            fixes.append(f"hold it {seconds(off)} {'less' if lasts > limits.name_most else 'longer'} (hold)")
        if wrong:
            yield Remark(
                where=card_where(card),
                what="; ".join(wrong),
                remedy=" and ".join(fixes),
                path=card_path(context, card),
                numbers=(("after_seconds", after), ("frames", card.span.frames)),
            )

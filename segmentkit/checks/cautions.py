"""Cautions and disclosures: there when they are needed, and there long enough. House rules cannot switch these off."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from segmentkit.checks.cards import reading_time, too_short
from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import CAUTION_DOCTOR, CAUTION_STOP, DRILL, HEALTH, NO_SAFETY, PRIZE
from segmentkit.checks.room import is_caution
from segmentkit.checks.say import counted, quoted
from segmentkit.checks.texts import Text, is_english, spoken, texts, written
from segmentkit.findings import Severity
from segmentkit.storyboard.model import Storyboard

DISCLOSURE_LEAST = Fraction(4)


def _shows_caution(board: Storyboard) -> bool:
    """Whether a caution is shown: a caution card, a drill's safety line that says something, or any text that warns."""
    cards = [card for beat in board.beats for card in beat.cards]
    return (
        any(card.caution is not None for card in cards)
        or any(card.drill is not None and not NO_SAFETY.match(card.drill.safety) for card in cards)
        or any(CAUTION_STOP.search(text.text) or CAUTION_DOCTOR.search(text.text) for text in written(board))
    )


def _says(board: Storyboard, *, about_health: bool) -> bool:
    """Whether the spoken words warn."""
    if about_health:
        return any(CAUTION_STOP.search(text.text) or CAUTION_DOCTOR.search(text.text) for text in spoken(board))
    return any(is_caution(text.text) for text in spoken(board))


@check("health-without-caution", Severity.ERROR, locked=True)
def health_without_caution(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Whoever says that something hurts the back makes a statement about health.

    It needs a caution in the same segment: a caution card, a drill's safety line, or a text or words that say when to
    stop or whom to ask.

    Only listed English words are found, so a segment that says it in others passes unseen: someone has to read it.
    """
    del limits
    board = context.board
    if not is_english(board) or _shows_caution(board) or _says(board, about_health=True):
        return
    for text in texts(board):
        if found := HEALTH.search(text.text):
            yield Remark(
                where=text.where,
                what=f"{quoted(found[0])} speaks of health, and the segment has no caution — one is needed",
                remedy='add a caution card, such as "Warm up first. Stop if anything hurts.", or say it',
                path=text.path,
                numbers=(("cautions", 0),),
            )


@check("drill-without-caution", Severity.ERROR, locked=True)
def drill_without_caution(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A viewer does the drill alone, between a sofa and a window.

    It comes with a safety line that says something, on its card or in the words.
    """
    del limits
    board = context.board
    for index, beat in enumerate(board.beats):
        for number, spec in enumerate(beat.cards):
            if spec.drill is not None and NO_SAFETY.match(spec.drill.safety):
                yield Remark(
                    where=f"beat {beat.beat}, drill",
                    what=f"its safety line says {quoted(spec.drill.safety)} — a drill needs 1 line that says what "
                    "to look out for",
                    remedy='write one, such as "Check nobody is in front, beside or behind you"',
                    path=("beats", index, "cards", number, "drill", "safety"),
                    numbers=(("words", len(spec.drill.safety.split())),),
                )
    if not is_english(board) or _shows_caution(board) or _says(board, about_health=False):
        return
    first = next((text for text in spoken(board) if DRILL.search(text.text)), None)
    if first is not None and (found := DRILL.search(first.text)):
        yield Remark(
            where=first.where,
            what=f"{quoted(found[0])} asks viewers to do something, and the segment has no caution — one is needed",
            remedy="add a drill card with its safety line, or a caution card",
            path=first.path,
            numbers=(("cautions", 0),),
        )


@check("caution-too-short", Severity.ERROR, locked=True)
def caution_too_short(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A caution that cannot be read is not there.

    The floor is 0.2 s a word and 2 s more, 3 s from ten words on (BCAP guidance note 1), and no fit ever takes it
    away.
    """
    del limits
    for card in context.plan.cards:
        if card.kind in {"caution", "drill"} and (remark := too_short(context, card, reading_time(card.words))):
            yield remark


@check("sponsor-without-disclosure", Severity.ERROR, locked=True)
def sponsor_without_disclosure(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Who pays is said, at the time and so that it can be read.

    47 CFR 73.1212(a) asks for it: that matter is sponsored, and by whom.

    A disclosure card that does not name the sponsor is a warning: it may be a fixed formula of the house.
    """
    del limits
    sponsor = context.board.segment.sponsor
    if sponsor is None:
        return
    cards = [text for text in written(context.board) if text.kind == "disclosure"]
    if not cards:
        yield Remark(
            where="segment, sponsor",
            what=f"{quoted(sponsor)} pays or gives, and the segment has no disclosure card — one is needed",
            remedy=f"add a disclosure card, such as {quoted('Paid partnership with ' + sponsor)}",
            path=("segment", "sponsor"),
            numbers=(("disclosures", 0),),
        )
    elif not any(sponsor.casefold() in card.text.casefold() for card in cards):
        yield Remark(
            where=cards[0].where,
            what=f"{counted(len(cards), 'disclosure card')} and none names {quoted(sponsor)} — it should say who pays",
            remedy=f"write {quoted(sponsor)} on it as it is spelled under sponsor",
            path=cards[0].path,
            numbers=(("disclosures", len(cards)),),
            severity=Severity.WARNING,
        )


@check("prize-without-disclosure", Severity.ERROR, locked=True)
def prize_without_disclosure(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A prize, a voucher or a kind supplier is a commercial reference: viewers are told where it comes from.

    Only listed English words are found.
    """
    del limits
    board = context.board
    if not is_english(board) or any(card.disclosure is not None for beat in board.beats for card in beat.cards):
        return
    first: Text | None = next((text for text in texts(board) if PRIZE.search(text.text)), None)
    if first is not None and (found := PRIZE.search(first.text)):
        yield Remark(
            where=first.where,
            what=f"{quoted(found[0])} is a commercial reference, and the segment has no disclosure card — one is "
            "needed",
            remedy='add a disclosure card, such as "Prize provided by …", or take the words out',
            path=first.path,
            numbers=(("disclosures", 0),),
        )


@check("disclosure-too-short", Severity.ERROR, locked=True)
def disclosure_too_short(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A disclosure is read like any other card, and stands for at least four seconds.

    The four seconds are a cautious default for all disclosures, borrowed from the rule for candidates' advertisements
    in 47 CFR 73.1212, which does not bind here.
    """
    del limits
    for card in context.plan.cards:
        if card.kind == "disclosure" and (
            remark := too_short(context, card, max(DISCLOSURE_LEAST, reading_time(card.words)))
        ):
            yield remark

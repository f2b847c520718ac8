"""Names and labels that lie over the player because a picture left them no free spot."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import listed, quoted
from segmentkit.facts import TextFacts
from segmentkit.findings import Severity
from segmentkit.geometry import Rect
from segmentkit.plan.model import Card
from segmentkit.plan.moments import Footage
from segmentkit.plan.thirds import KIND, Seen, is_narrow, players
from segmentkit.timebase import Span

_SLACK = 16.0
"""Pixels at a shorter side of 1080 that a name may reach into a box whose edge is only roughly that of a body."""


@check("name-over-player", Severity.WARNING)
def name_over_player(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Feet and ball are what a viewer looks at; a name that hides them is in the way of the lesson.

    In a picture that is not wide a name stands low while the player is clear of it, else at the head of the picture,
    for which the clip makes room. This is said where neither is free. Over a club alone it is a note. In a wide picture
    a name over the legs for some seconds is usual. Common practice, no source.
    """
    del limits
    if not is_narrow(context.plan.canvas):
        return
    unit = min(context.plan.size.width, context.plan.size.height) / 1080
    footage = {
        id_: Footage(id_, context.board.clips[id_], facts)
        for id_, facts in context.facts.clips.items()
        if id_ in context.board.clips
    }
    known = Seen(footage=footage, scenes=context.facts.scenes)
    for card in (one for one in context.plan.cards if one.kind == KIND):
        covers = next((text.covers for text in context.texts if _is_of(text, card) and text.covers is not None), None)
        if covers is None:
            continue
        met = [
            player
            for shot in context.plan.shots
            if card.span.overlap(shot.span)
            for player in players(shot, Span(card.span.start, card.span.end), known)
        ]
        body = max(((_deep(covers, one.body), one.clip) for one in met), default=(0.0, ""))
        club = max(((_deep(covers, one.seen), one.clip) for one in met), default=(0.0, ""))
        deep, clip = body if body[0] > _SLACK * unit else club
        if deep <= _SLACK * unit:
            continue
        over = "the player" if body[0] > _SLACK * unit else "the player's club"
        yield Remark(
            where=f"beat {card.beat}, lower third",
            what=f"it lies {deep / unit:.0f} px deep over {over} of clip {clip} (at 1080), since neither foot nor head "
            "of the picture was free — feet, club and ball stay in sight",
            remedy="show it over a shot with room (another time: at, or less zoom), use fewer words, or leave it out "
            "where pictures have names of their own",
            path=("beats", context.index_of(card.beat), "cards", card.index, card.kind),
            numbers=(("deep_px", round(deep / unit, 1)),),
            severity=None if body[0] > _SLACK * unit else Severity.NOTE,
        )


def _is_of(text: TextFacts, card: Card) -> bool:
    return (text.beat, text.kind, text.index) == (card.beat, card.kind, card.index)


def _deep(name: Rect, part: Rect | None) -> float:
    """How far a name reaches into a part of a player."""
    if part is None or not name.overlaps(part):
        return 0.0
    return min(name.bottom - part.y, part.bottom - name.y, name.height)


@check("label-without-room", Severity.WARNING)
def label_without_room(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A label names a mark; laid over the player it hides what the mark shows.

    It looks for free air beside its stroke, then for free ground, in one row or more, then for a spot further off with
    a thin line to it. This is said where none of these was left.
    """
    del limits
    for text in context.texts:
        if text.kind != "stroke_label" or not text.over:
            continue
        index = context.index_of(text.beat)
        strokes = context.board.beats[index].strokes
        id_ = next((id_ for id_, stroke in strokes.items() if stroke.label == text.text), None)
        yield Remark(
            where=f"beat {text.beat}, label of {id_}" if id_ else f"beat {text.beat}, label",
            what=f"{quoted(text.text, 40)} lies over {listed(list(text.over))}, since no spot was free — labels lie "
            "beside what they name",
            remedy="label fewer strokes at once (hold), use fewer words, or zoom less",
            path=("beats", index) if id_ is None else ("beats", index, "strokes", id_, "label"),
            numbers=(("covered", len(text.over)),),
        )

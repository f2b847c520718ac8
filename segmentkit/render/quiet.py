"""On which frames a stretch stands still, so that the encoder need not look for what moved.

A plan knows this before anything is drawn; an encoder would find it out anew at each block of each frame.
"""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.plan.model import Card, ClipPicture, Pane, Plan, Shot
from segmentkit.timebase import Span

LEAST = 12
"""Frames below which a run of still ones is not worth telling."""


def quiet(plan: Plan, span: Span) -> tuple[Span, ...]:
    """Runs of frames that look like the one before but for strokes and small texts, counted from a stretch's start.

    A stroke that is drawn changes little of the picture. A cut, a transition, a move and a card that comes or goes may
    change all of it, so frames with one of these are in no run.
    """
    runs: list[Span] = []
    start = 0
    for frame, still in enumerate((*_still(plan, span), False)):
        if not still:
            if frame - start >= LEAST:
                runs.append(Span(start, frame))
            start = frame + 1
    return tuple(runs)


def _still(plan: Plan, span: Span) -> Iterator[bool]:
    for shot in plan.shots:
        cards = [card for card in plan.cards if card.span.overlap(shot.span)]
        for frame in range(max(shot.span.start, span.start), min(shot.span.end, span.end)):
            yield _rests(shot, frame - shot.span.start) and not any(_changes(card, frame) for card in cards)


def _rests(shot: Shot, offset: int) -> bool:
    """Whether a shot shows what it showed a frame before; never on its first frame."""
    coming = shot.enter.frames if shot.enter is not None else 0
    return offset > coming and all(_pane_rests(pane, offset) for pane in shot.panes)


def _pane_rests(pane: Pane, offset: int) -> bool:
    picture = pane.picture
    if isinstance(picture, ClipPicture) and picture.frames[offset] != picture.frames[offset - 1]:
        return False
    return pane.move is None or pane.move.part(offset) == pane.move.part(offset - 1)


def _changes(card: Card, frame: int) -> bool:
    """Whether a card is on its way in or out, or has just gone."""
    since, left = frame - card.span.start, card.span.end - frame
    return 0 <= since <= card.enter_frames or 0 <= left <= card.leave_frames

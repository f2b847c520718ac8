"""What a finished file should be, as far as anybody said: its plan, its delivery, its texts, its captions."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from segmentkit.delivery import Delivery
from segmentkit.facts import TextFacts
from segmentkit.plan.model import Card, ClipPicture, Plan, Shot
from segmentkit.screened import Screened, Sidecar
from segmentkit.timebase import Rate, Span, frame_at

NO_PLAN = "there is no storyboard to compare with"
NO_DELIVERY = "no delivery profile was named"
NO_SOUND = "the file has no sound"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is asked of a file; what nobody said is None, and what depends on it cannot be checked.

    Attributes:
        plan: the plan that was rendered; for a version, that version's.
        delivery: how it should be coded and how loud it should be.
        texts: all drawn texts, with areas on the plan's canvas.
        captions: whether a caption file belongs beside it.
        spoken: the frames of the captions that were planned, by the rules of each caption file.
        sidecars: the caption files that lie there.
        private: words that may stand in no header, with what each is.
        black: frames of the programme that are meant to be black.
    """

    plan: Plan | None = None
    delivery: Delivery | None = None
    texts: tuple[TextFacts, ...] | None = None
    captions: bool | None = None
    spoken: tuple[tuple[Span, ...], ...] = ()
    sidecars: tuple[Sidecar, ...] = ()
    private: tuple[tuple[str, str], ...] = field(default=(), repr=False)
    black: tuple[Span, ...] = ()


def planned_frame(measured: Screened, plan: Plan, frame: int) -> int:
    """The plan's frame that a frame of the file shows; outside 0 to the plan's frames beside the programme."""
    relative = frame - measured.programme.start
    if measured.coded.rate == plan.rate:
        return relative
    return frame_at(Fraction(relative) / measured.coded.rate.fps, plan.rate)


def file_span(measured: Screened, plan: Plan, span: Span) -> Span:
    """Frames of the plan as frames of the file."""
    start = measured.programme.start
    if measured.coded.rate == plan.rate:
        return Span(start + span.start, start + span.end)
    pace = measured.coded.rate.fps / plan.rate.fps
    return Span(start + round(span.start * pace), start + max(round(span.end * pace), round(span.start * pace)))


def wanted_frames(plan: Plan, rate: Rate) -> Fraction:
    """How many frames the plan lasts at a rate."""
    return plan.frames * rate.fps / plan.rate.fps


def moves(plan: Plan, frame: int) -> bool:
    """Whether the picture is meant to differ from the frame before: another source frame, or a move on its way.

    Strokes and cards are not asked: they only add to the movement, and what moves is no freeze.
    """
    if not 0 < frame < plan.frames:
        return False
    shot = _shot_at(plan, frame)
    if shot is None or frame == shot.span.start:
        return True
    offset = frame - shot.span.start
    for pane in shot.panes:
        picture = pane.picture
        if isinstance(picture, ClipPicture) and picture.frames[offset] != picture.frames[offset - 1]:
            return True
        if pane.move is not None and pane.move.part(offset) != pane.move.part(offset - 1):
            return True
    return False


def _shot_at(plan: Plan, frame: int) -> Shot | None:
    return next((shot for shot in plan.shots if frame in shot.span), None)


def card_of(plan: Plan, text: TextFacts) -> Card | None:
    """The card that a text stands on; None for names of panes and labels of strokes."""
    return next(
        (card for card in plan.cards if (card.beat, card.kind, card.index) == (text.beat, text.kind, text.index)),
        None,
    )

"""Shorts and other versions: how long they are, and how soon they say what they are about."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.say import clock, lasting, listed, seconds
from segmentkit.findings import Severity
from segmentkit.plan.captions import rules_of
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.storyboard.people import Scope
from segmentkit.timebase import frames_covering

_NO_HOOK = {"lower_third", "caution", "disclosure", GUIDE_MARK}
"""Cards that tell nobody what the short is about."""
_MUST_BE_READ = {"caution", "disclosure", "drill"}


@check("short-length", Severity.ERROR)
def short_length(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A short that is too long is cut off or refused where it is shown, and one of a few seconds teaches nothing.

    The profile says how short and how long its version may be.
    """
    del limits
    plan = context.plan
    lasts = plan.frames / plan.rate.fps
    for to in context.deliveries:
        least, most = to.shortest, to.longest
        if (least is None or lasts >= least) and (most is None or lasts <= most):
            continue
        over = most is not None and lasts > most
        bound = most if most is not None and over else least
        assert bound is not None
        off = abs(lasts - bound)
        yield Remark(
            where="segment, slot",
            what=f"it lasts {seconds(lasts)} — {to.name} takes at {'most' if over else 'least'} {seconds(bound)}",
            remedy=f"{'take' if over else 'add'} {seconds(off)} {'out of' if over else 'to'} its beats and its slot",
            path=("segment", "slot"),
            numbers=(("seconds", lasts), ("off_seconds", off), ("frames", plan.frames)),
        )


@check("hook-late", Severity.WARNING)
def hook_late(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Who scrolls decides within two seconds. A short says or shows first what it is about, then who it is and why.

    Looks for the first word that is spoken and the first title, list or label that has come in. Whether those words
    make anybody curious is for a person to say; two seconds are common practice, no source.
    """
    plan = context.plan
    if all(to.scope != Scope.SHORT.value for to in context.deliveries) or not plan.beats:
        return
    heard = [word.frame for line in plan.speech for word in line.words[:1]]
    shown = [card.span.start + card.enter_frames for card in plan.cards if card.kind not in _NO_HOOK]
    latest = frames_covering(Fraction(limits.hook), plan.rate)
    first = min((*heard, *shown), default=plan.frames)
    if first <= latest:
        return
    beat = context.board.beats[0]
    found = f"first at {clock(first, plan.rate)}" if heard or shown else "never"
    yield Remark(
        where=f"beat {beat.beat}",
        what=f"something is said or written {found} — within {lasting(latest, plan.rate)} it should be clear what this "
        "is about",
        remedy="start with the words, or show key words or a title from the first frame",
        path=("beats", 0, "say" if beat.say else "beat"),
        numbers=(("first_frames", first), ("latest_frames", latest)),
    )


@check("caption-over-caution", Severity.ERROR, locked=True)
def caption_over_caution(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A caution, a drill's safety line or a disclosure that captions cover has not been shown.

    Where captions are in the picture no player can move them, so what must be read may not lie under them. Beside a
    file, captions can be switched off, and the note about what they lie on is enough.
    """
    del limits
    rate = context.plan.rate
    burned = {rules_of(to, context.plan.size): to for to in context.deliveries if to.burned and not to.clean}
    for made in context.captions:
        to = burned.get(made.name)
        told: set[str] = set()
        for caption in made.captions if to is not None else ():
            under = [name for name in caption.hits if name in _MUST_BE_READ]
            if to is None or not under or caption.beat in told:
                continue
            told.add(caption.beat)
            yield Remark(
                where=f"beat {caption.beat}, captions",
                what=f"from {clock(caption.span.start, rate)} captions in the picture of {to.name} lie on the "
                f"{listed(under)} — all of it must be seen",
                remedy="show the card while nobody speaks, use fewer words, or write a cut with other cards",
                path=("beats", context.index_of(caption.beat), "say"),
                numbers=(("first_frame", caption.span.start), ("frames", caption.span.frames)),
            )

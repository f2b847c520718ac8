"""Where captions stand: below, unless a stroke, a name or a card is there; then above, then beside."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from segmentkit.facts import TakenArea
from segmentkit.geometry import Rect, Size
from segmentkit.plan.caption_model import Caption, CaptionPlace
from segmentkit.storyboard.caption_rules import CaptionRules
from segmentkit.timebase import Span

SIDE_MARGIN = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The picture that captions are laid on: its size, the rules, and what must stay visible."""

    size: Size
    rules: CaptionRules
    taken: tuple[TakenArea, ...]

    @property
    def line_height(self) -> Fraction:
        """In per cent of the picture's height."""
        return Fraction(self.rules.line_height)

    @property
    def character(self) -> Fraction:
        """Width of a character in per cent of the picture's width."""
        return Fraction(self.rules.width) / round(self.rules.characters)

    def in_use(self, span: Span) -> list[TakenArea]:
        """What is seen at some time of a span."""
        return [one for one in self.taken if one.span.overlap(span)]


def usual_place(rules: CaptionRules) -> CaptionPlace:
    """Where captions stand when nothing is in their way."""
    return CaptionPlace(
        top=False, edge=100 - round(rules.margin_bottom), centre=50, size=round(rules.width), usual=True
    )


def placed(captions: Sequence[Caption], ground: Ground) -> tuple[Caption, ...]:
    """Finds a place for the captions of one spoken line: one for all if there is one, else one for each.

    A caption without a free place keeps the one where it hides least, and names what it lies on.
    """
    for place in _places(captions, ground):
        tried = [replace(caption, place=place) for caption in captions]
        if not any(_hits(caption, ground) for caption in tried):
            return tuple(tried)
    return tuple(_best(caption, ground) for caption in captions)


def _best(caption: Caption, ground: Ground) -> Caption:
    best, least = caption, float("inf")
    for place in _places([caption], ground):
        tried = replace(caption, place=place)
        hits = _hits(tried, ground)
        hidden = sum(amount for amount, _ in hits)
        if hidden < least:
            names = dict.fromkeys(what for _, what in sorted(hits, reverse=True))
            best, least = replace(tried, hits=tuple(names)), hidden
        if not hits:
            break
    return best


def _hits(caption: Caption, ground: Ground) -> list[tuple[float, str]]:
    """Pixels hidden and of what."""
    area = caption.area(ground.size, ground.line_height, ground.character)
    return [(_shared(area, one.area), one.what) for one in ground.in_use(caption.span) if area.overlaps(one.area)]


def _shared(first: Rect, second: Rect) -> float:
    return (min(first.right, second.right) - max(first.x, second.x)) * (
        min(first.bottom, second.bottom) - max(first.y, second.y)
    )


def _places(captions: Sequence[Caption], ground: Ground) -> Iterator[CaptionPlace]:
    """Places to try, best first."""
    rules, size = ground.rules, ground.size
    usual = usual_place(rules)
    top = round(rules.margin_top)
    widths = [caption.area(size, ground.line_height, ground.character).width for caption in captions]
    wide = -(-100 * max(widths) // size.width)  # per cent, rounded up
    half = round(wide / 2 + 0.5)
    centres = (50, SIDE_MARGIN + half, 100 - SIDE_MARGIN - half)
    for centre in centres:
        across = usual.size if centre == 50 else round(wide)
        yield CaptionPlace(top=False, edge=usual.edge, centre=centre, size=across, usual=centre == 50)
        yield CaptionPlace(top=True, edge=top, centre=centre, size=across)
    # Between what stands at the foot of the picture and what stands above it.
    lowest = usual.edge / 100 * size.height
    feet = [one.area.y for caption in captions for one in ground.in_use(caption.span) if one.area.bottom > 0.6 * lowest]
    for foot in sorted({int(100 * y / size.height) - 1 for y in feet}, reverse=True):
        if top + 2 * float(ground.line_height) < foot < usual.edge:
            for centre in centres:
                across = usual.size if centre == 50 else round(wide)
                yield CaptionPlace(top=False, edge=foot, centre=centre, size=across)

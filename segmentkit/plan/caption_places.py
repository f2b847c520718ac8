"""Where captions stand: below, unless a stroke, a name or a card is there; then above, then beside."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
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
    _known: dict[Span, list[TakenArea]] = field(default_factory=dict, init=False, repr=False, compare=False)

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
        # Asked for at each place that is tried for one caption.
        if span not in self._known:
            self._known[span] = [one for one in self.taken if one.span.overlap(span)]
        return self._known[span]


def usual_place(rules: CaptionRules) -> CaptionPlace:
    """Where captions stand when nothing is in their way."""
    return CaptionPlace(
        top=False, edge=100 - round(rules.margin_bottom), centre=50, size=round(rules.width), usual=True
    )


def placed(captions: Sequence[Caption], ground: Ground) -> tuple[Caption, ...]:
    """Finds a place for the captions of one spoken line: one for all if there is a good one, else one for each.

    A caption without a free place keeps the one where it hides least, and names what it lies on.
    """
    for cost, place in _places(captions, ground):
        tried = [_tried(caption, place, cost, ground) for caption in captions]
        if all(not one.hidden and one.cost <= _GOOD for one in tried):
            return tuple(one.caption for one in tried)
    return tuple(_best(caption, ground) for caption in captions)


_GOOD = 2.0
_ABOVE = 0.35
"""Part of the picture's height in which something counts as standing at its top."""
_SOFT = 8.0
"""What it costs to lie wholly on what should be kept clear if it can be, against the costs of the places."""


@dataclass(frozen=True, slots=True)
class _Tried:
    """A caption at a place: how many pixels it hides of what must be seen, and how far the place is from the usual."""

    caption: Caption
    hidden: float
    cost: float


def _best(caption: Caption, ground: Ground) -> Caption:
    tried = (_tried(caption, place, cost, ground) for cost, place in _places([caption], ground))
    return min(tried, key=lambda one: (one.hidden, one.cost)).caption


def _tried(caption: Caption, place: CaptionPlace, cost: float, ground: Ground) -> _Tried:
    area = replace(caption, place=place).area(ground.size, ground.line_height, ground.character)
    met = [(_shared(area, one.area), one) for one in ground.in_use(caption.span) if area.overlaps(one.area)]
    hits = sorted(((amount, one.what) for amount, one in met if not one.soft), reverse=True)
    soft = max((amount for amount, one in met if one.soft), default=0.0) / (area.width * area.height)
    names = tuple(dict.fromkeys(what for _, what in hits))
    hidden = sum(amount for amount, _ in hits)
    return _Tried(replace(caption, place=place, hits=names), hidden, cost + _SOFT * soft)


def _shared(first: Rect, second: Rect) -> float:
    return (min(first.right, second.right) - max(first.x, second.x)) * (
        min(first.bottom, second.bottom) - max(first.y, second.y)
    )


def _places(captions: Sequence[Caption], ground: Ground) -> Iterator[tuple[float, CaptionPlace]]:
    """Places to try, with what each costs: the foot, the top, beside the middle, between what stands there."""
    rules, size = ground.rules, ground.size
    usual = usual_place(rules)
    top = round(rules.margin_top)
    widths = [caption.area(size, ground.line_height, ground.character).width for caption in captions]
    wide = -(-100 * max(widths) // size.width)  # per cent, rounded up
    half = round(wide / 2 + 0.5)
    # Above what stands at the foot of the picture, and below what stands at its top, such as names.
    lowest = usual.edge / 100 * size.height
    feet = [
        one.area.y
        for caption in captions
        for one in ground.in_use(caption.span)
        if not one.soft and one.area.bottom > 0.6 * lowest
    ]
    edges = [(0.0, False, usual.edge), (1.0, True, top)]
    heads = {
        math.ceil(100 * one.area.bottom / size.height)
        for caption in captions
        for one in ground.in_use(caption.span)
        if not one.soft and one.area.y < _ABOVE * size.height
    }
    edges += [(5.5, True, edge) for edge in sorted(heads) if top < edge < 100 * _ABOVE]
    for foot in sorted({int(100 * y / size.height) - 1 for y in feet}, reverse=True):
        if top + 2 * float(ground.line_height) < foot < usual.edge:
            edges.append((5.0, False, foot))
    for aside, centre in ((0.0, 50), (3.0, SIDE_MARGIN + half), (3.0, 100 - SIDE_MARGIN - half)):
        for cost, at_top, edge in edges:
            across = usual.size if centre == 50 else round(wide)
            is_usual = not aside and not at_top and edge == usual.edge
            yield cost + aside, CaptionPlace(top=at_top, edge=edge, centre=centre, size=across, usual=is_usual)

"""Captions as cards, for deliveries that have them in the picture."""

from __future__ import annotations

from dataclasses import replace

from segmentkit.plan.captions import CaptionSet
from segmentkit.plan.model import Card, Plan

CAPTION = "caption"


def burned(plan: Plan, made: CaptionSet) -> Plan:
    """The plan with its captions as cards over everything else.

    Their place travels as text in the field "place": top or foot, edge and centre in per cent, height of a line in per
    cent of the picture; `burned_place` reads it.
    """
    cards = tuple(
        Card(
            beat=caption.beat,
            kind=CAPTION,
            index=index,
            fields=(
                (
                    "place",
                    f"{'top' if caption.place.top else 'foot'} {caption.place.edge} {caption.place.centre} "
                    f"{made.rules.line_height:g}",
                ),
                *(("line", line) for line in caption.lines),
            ),
            span=caption.span,
            enter_frames=0,
            leave_frames=0,
        )
        for index, caption in enumerate(made.captions)
    )
    return replace(plan, cards=plan.cards + cards)


def burned_place(text: str) -> tuple[bool, float, float, float]:
    """Whether the edge is the upper one; edge, centre and height of a line, as parts of the picture."""
    edge, *numbers = text.split()
    at, centre, height = (float(number) / 100 for number in numbers)
    return edge == "top", at, centre, height

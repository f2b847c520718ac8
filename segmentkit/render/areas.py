"""What must stay visible, and when: strokes with their labels, cards, names of panes. Nothing is painted for it."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.facts import TakenArea
from segmentkit.geometry import Rect
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import Plan, Shot, Stroke
from segmentkit.render.cards import CardArtist, pane_label_report
from segmentkit.render.strokes import StrokeArtist
from segmentkit.storyboard.look import Look

_AROUND = 12.0  # pixels of the look kept free around a name


def taken_areas(plan: Plan, look: Look) -> tuple[TakenArea, ...]:
    """The areas that captions keep off, shot by shot.

    A guide voice's sign is left out: it is not in what goes on air.
    """
    cards = CardArtist(look, plan.size, plan)
    areas = [
        TakenArea(span=card.span, area=cards.area(card), what=card.kind.replace("_", " "), beat=card.beat)
        for card in plan.cards
        if card.kind != GUIDE_MARK
    ]
    artist = StrokeArtist(look, plan.size)
    for shot in plan.shots:
        areas.extend(_names(plan, shot, look, artist.unit))
        areas.extend(_strokes(plan, shot, artist, [area.area for area in areas if area.span.overlap(shot.span)]))
    return tuple(areas)


def _names(plan: Plan, shot: Shot, look: Look, unit: float) -> Iterator[TakenArea]:
    for index, pane in enumerate(shot.panes):
        if pane.label:
            window = pane.placement.window
            for text in pane_label_report(shot.beat, index, pane.label, pane.note, window, look, plan.size):
                area = text.area.inset(-_AROUND * unit)
                yield TakenArea(span=shot.span, area=area, what=f"name {text.text}", beat=shot.beat)


def _strokes(plan: Plan, shot: Shot, artist: StrokeArtist, used: list[Rect]) -> Iterator[TakenArea]:
    strokes = [stroke for stroke in plan.strokes if stroke.shot == shot.id]
    artist.settle([(stroke, shot.panes[stroke.pane].placement) for stroke in strokes], used)
    for stroke in strokes:
        what = f"stroke {stroke.id}"
        yield TakenArea(span=stroke.span, area=_box(stroke, shot, artist), what=what, beat=shot.beat)
        if stroke.label:
            tag = artist.tag(stroke, shot.panes[stroke.pane].placement)
            yield TakenArea(span=stroke.span, area=tag.rect, what=f"label of {what}", beat=shot.beat)


def _box(stroke: Stroke, shot: Shot, artist: StrokeArtist) -> Rect:
    """The rectangle around a stroke's ink, within its pane."""
    placement = shot.panes[stroke.pane].placement
    points, reach = artist.outline(stroke, placement), artist.width_of(stroke) / 2
    window = placement.window
    left, top = (max(low, float(value) - reach) for low, value in zip((window.x, window.y), points.min(0), strict=True))
    right, bottom = (
        min(high, float(value) + reach)
        for high, value in zip((window.right, window.bottom), points.max(0), strict=True)
    )
    return Rect(left, top, max(0.0, right - left), max(0.0, bottom - top))

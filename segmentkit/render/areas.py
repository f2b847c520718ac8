"""What must stay visible, and when: strokes with their labels, cards, names of panes. Nothing is painted for it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from segmentkit.facts import Facts, SceneFacts, TakenArea
from segmentkit.geometry import Placement, Point, Rect
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import ClipPicture, Plan, Shot, Stroke
from segmentkit.render.cards import CardArtist, pane_label_report
from segmentkit.render.faces import body_areas, face_areas
from segmentkit.render.strokes import StrokeArtist
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span

_AROUND = 12.0  # pixels of the look kept free around a name's plate
_HEAD = 0.22
"""Part of a standing player's height that head and neck take, from above; common practice, no source."""


def taken_areas(plan: Plan, look: Look, facts: Facts | None = None) -> tuple[TakenArea, ...]:
    """The areas that captions keep off, shot by shot.

    A guide voice's sign is left out: it is not in what goes on air. Where `facts` know where the player is, the upper
    part of them is kept clear too, if it can be.
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
    for shot in plan.shots if facts is not None else ():
        areas.extend(_heads(plan, shot, facts.scenes) if facts is not None else ())
    return tuple(areas)


def _heads(plan: Plan, shot: Shot, scenes: Mapping[str, SceneFacts]) -> Iterator[TakenArea]:
    """Where heads and hands are: the upper part of what moves in a clip, second by second."""
    for index, pane in enumerate(shot.panes):
        picture = pane.picture
        if not isinstance(picture, ClipPicture) or picture.clip not in scenes or pane.soften:
            continue
        step = shot.span.frames if picture.frozen else plan.rate.nominal
        for start in range(0, shot.span.frames, step):
            shown = picture.frames[start : start + step]
            box = scenes[picture.clip].box(min(shown), max(shown))
            if box is not None:
                span = Span(shot.span.start + start, min(shot.span.end, shot.span.start + start + step))
                area = _on_canvas(Rect(box.x, box.y, box.width, _HEAD * box.height), shot.placement(index, span.start))
                yield TakenArea(span=span, area=area, what="the player's head", beat=shot.beat, soft=True)


def _on_canvas(part: Rect, placement: Placement) -> Rect:
    """A rectangle of the picture on the canvas, within its pane."""
    corners = [placement.to_canvas(Point(x, y)) for x, y in ((part.x, part.y), (part.right, part.bottom))]
    window = placement.window
    left, right = sorted(min(max(corner.x, window.x), window.right) for corner in corners)
    top, bottom = (min(max(corner.y, window.y), window.bottom) for corner in corners)
    return Rect(left, top, right - left, bottom - top)


def _names(plan: Plan, shot: Shot, look: Look, unit: float) -> Iterator[TakenArea]:
    for index, pane in enumerate(shot.panes):
        if pane.label:
            window = pane.label_window
            for text in pane_label_report(
                shot.beat, index, pane.label, pane.note, window, look, plan.size, pane.label_at
            ):
                area = (text.covers or text.area).inset(-_AROUND * unit)
                yield TakenArea(span=shot.span, area=area, what=f"name {text.text}", beat=shot.beat)


def _strokes(plan: Plan, shot: Shot, artist: StrokeArtist, used: list[Rect]) -> Iterator[TakenArea]:
    strokes = [stroke for stroke in plan.strokes if stroke.shot == shot.id]
    artist.settle(
        [(stroke, shot.resting(stroke.pane)) for stroke in strokes], [*used, *face_areas(shot)], body_areas(shot)
    )
    for stroke in strokes:
        what = f"stroke {stroke.id}"
        yield TakenArea(span=stroke.span, area=_box(stroke, shot, artist), what=what, beat=shot.beat)
        if stroke.label:
            tag = artist.tag(stroke, shot.resting(stroke.pane))
            yield TakenArea(span=stroke.span, area=tag.rect, what=f"label of {what}", beat=shot.beat)


def _box(stroke: Stroke, shot: Shot, artist: StrokeArtist) -> Rect:
    """The rectangle around a stroke's ink where it is first and where it is last, within its pane."""
    boxes = [
        _box_at(stroke.at(frame), shot.placement(stroke.pane, frame), artist)
        for frame in (stroke.span.start, stroke.span.end - 1)
    ]
    return boxes[0].joined(boxes[1])


def _box_at(stroke: Stroke, placement: Placement, artist: StrokeArtist) -> Rect:
    points, reach = artist.outline(stroke, placement), artist.width_of(stroke) / 2
    window = placement.window
    left, top = (max(low, float(value) - reach) for low, value in zip((window.x, window.y), points.min(0), strict=True))
    right, bottom = (
        min(high, float(value) + reach)
        for high, value in zip((window.right, window.bottom), points.max(0), strict=True)
    )
    return Rect(left, top, max(0.0, right - left), max(0.0, bottom - top))

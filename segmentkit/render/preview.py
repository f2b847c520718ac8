"""A look at a part of a segment, small and soon: an excerpt of the plan, scaled, coded fast.

It goes the way of a finished movie, so its pieces are kept too: after a change only what was touched is made again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.facts import Facts, MovieFacts
from segmentkit.geometry import Placement, Rect, Size
from segmentkit.media.stills import write_png
from segmentkit.media.store import Store
from segmentkit.plan.model import ClipPicture, Move, NaturalSound, Pane, Plan, Shot, Speech
from segmentkit.render.beats import Stretch, stretches
from segmentkit.render.movie import Progress, make_movie
from segmentkit.render.picture import Composer
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span, seconds_of_frame

CODING = Delivery(
    name="preview",
    scope="web",
    loudness=-16.0,
    true_peak=-1.0,
    picture=PictureCoding(preset="ultrafast", quality=23),
    sound=SoundCoding(bit_rate=96_000),
)
LONGEST_SIDE = 640
"""Pixels of the longer side of a preview, unless told otherwise."""


def preview_size(size: Size, longest: int = LONGEST_SIDE) -> Size:
    """A size of the same shape with a longer side of at most so many pixels; both sides even."""
    part = min(Fraction(1), Fraction(longest, max(size.width, size.height)))
    return Size(*(max(2, 2 * round(side * part / 2)) for side in (size.width, size.height)))


def make_preview(
    plan: Plan, facts: Facts, look: Look, out: Path, *, span: Span, size: Size, store: Store, progress: Progress
) -> MovieFacts:
    """Makes a small movie of some frames of a plan, with their sound.

    Args:
        plan: of the whole segment.
        facts: working copies of clips and stills.
        look: how it is drawn.
        out: the finished file's name.
        span: the frames to show.
        size: of the preview; of the plan's shape.
        store: the working folder.
        progress: told what is going on.

    Raises:
        OutputFailed: when the file cannot be written or does not verify.
        MediaUnusable: when a working copy or a take cannot be read.
    """
    small = excerpt(scaled(plan, size), span)
    return make_movie(small, facts, look, CODING, out, store=store, progress=progress)


def first_picture(plan: Plan, facts: Facts, look: Look, out: Path, *, frame: int, size: Size) -> None:
    """Saves the picture of a frame of a plan as a small PNG, sooner than a movie can be there.

    Args:
        plan: of the whole segment.
        facts: working copies of clips and stills.
        look: how it is drawn.
        out: the PNG's name.
        frame: of the plan.
        size: of the picture; of the plan's shape.

    Raises:
        MediaUnusable: when a working copy cannot be read.
        OutputFailed: when it cannot be written.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    with Composer(scaled(plan, size), facts, look) as composer:
        write_png(out, composer.still(frame))


def telling_frame(plan: Plan, span: Span) -> int:
    """The last frame of the first shot in a span: all is drawn on it that the shot draws."""
    return next(min(shot.span.end, span.end) - 1 for shot in plan.shots if shot.span.overlap(span))


@dataclass(frozen=True, slots=True, kw_only=True)
class Prints:
    """What tells how a plan looks and sounds from how another one does.

    Attributes:
        stretches: of its pictures.
        beats: by id, what is seen and heard in each.
    """

    stretches: tuple[Stretch, ...]
    beats: dict[str, list[object]]


def prints(plan: Plan, facts: Facts, look: Look) -> Prints:
    """The prints of a plan.

    Args:
        plan: of the whole segment.
        facts: what was measured for it.
        look: how it is drawn.
    """
    parts = stretches(plan, facts, look, CODING)
    made: dict[str, list[object]] = {beat.id: [] for beat in plan.beats}
    for part in parts:
        made[part.beat].append(part.key)
    for line in plan.speech:
        # From the beat's start, so that a beat which only moves is not taken for another one.
        start = line.span.start - plan.beat(line.beat).span.start
        made[line.beat].append(
            (start, line.path, line.source_start, line.length, line.gain_db, line.telephone, line.denoise)
        )
    return Prints(stretches=parts, beats=made)


def touched(before: Prints, after: Prints) -> tuple[str, ...]:
    """The beats that look or sound otherwise than they did; all that are new."""
    return tuple(beat for beat, data in after.beats.items() if before.beats.get(beat) != data)


def first_otherwise(before: Prints, after: Prints) -> Span | None:
    """The first stretch that does not look like any that was there before."""
    known = {part.key for part in before.stretches}
    return next((part.span for part in after.stretches if part.key not in known), None)


def scaled(plan: Plan, size: Size) -> Plan:
    """The same plan on a canvas of another size and the same shape."""
    part = size.width / plan.size.width
    shots = tuple(replace(shot, panes=tuple(_scaled(pane, part) for pane in shot.panes)) for shot in plan.shots)
    return replace(plan, size=size, shots=shots)


def _scaled(pane: Pane, part: float) -> Pane:
    move = replace(pane.move, to=_placed(pane.move.to, part)) if pane.move is not None else None
    return replace(pane, placement=_placed(pane.placement, part), move=move)


def _placed(placement: Placement, part: float) -> Placement:
    # Chroma samples lie two pixels apart, so a window's edges stay even.
    left, top, right, bottom = (2 * round(edge * part / 2) for edge in placement.window.edges)
    return replace(
        placement,
        scale=placement.scale * part,
        dx=placement.dx * part,
        dy=placement.dy * part,
        window=Rect(left, top, right - left, bottom - top),
    )


def excerpt(plan: Plan, span: Span) -> Plan:
    """Some frames of a plan as a plan of their own. Music starts anew; all else is seen and heard as in the whole."""
    beats = tuple(
        replace(beat, span=_cut(beat.span, span), words_end=None) for beat in plan.beats if beat.span.overlap(span)
    )
    return replace(
        plan,
        slot=span.frames,
        beats=beats,
        shots=tuple(_shot(shot, span) for shot in plan.shots if shot.span.overlap(span)),
        strokes=tuple(
            replace(stroke, span=_moved(stroke.span, span), draw_start=stroke.draw_start - span.start)
            for stroke in plan.strokes
            if stroke.span.overlap(span)
        ),
        cards=tuple(replace(card, span=_moved(card.span, span)) for card in plan.cards if card.span.overlap(span)),
        speech=tuple(_speech(line, plan, span) for line in plan.speech if line.span.overlap(span)),
        natural=tuple(_natural(sound, plan, span) for sound in plan.natural if sound.span.overlap(span)),
        music=tuple(replace(cue, span=_cut(cue.span, span)) for cue in plan.music if cue.span.overlap(span)),
    )


def _moved(span: Span, by: Span) -> Span:
    return Span(span.start - by.start, span.end - by.start)


def _cut(span: Span, by: Span) -> Span:
    return Span(max(span.start, by.start) - by.start, min(span.end, by.end) - by.start)


def _shot(shot: Shot, span: Span) -> Shot:
    """A shot without the frames outside; one that begins inside it has nothing to come in above."""
    first, last = max(0, span.start - shot.span.start), shot.span.frames - max(0, shot.span.end - span.end)
    enter = shot.enter if first == 0 and shot.span.start > span.start else None
    panes = tuple(_pane(pane, first, last) for pane in shot.panes)
    return replace(shot, span=_cut(shot.span, span), panes=panes, enter=enter)


def _pane(pane: Pane, first: int, last: int) -> Pane:
    move: Move | None = pane.move
    if move is not None:
        back = None if move.back is None else move.back - first
        move = replace(move, start=move.start - first, back=back)
    picture = pane.picture
    if isinstance(picture, ClipPicture):
        picture = replace(picture, frames=picture.frames[first:last])
    return replace(pane, picture=picture, move=move)


def _speech(line: Speech, plan: Plan, span: Span) -> Speech:
    late, early = _outside(line.span, plan, span)
    return replace(
        line, span=_cut(line.span, span), source_start=line.source_start + late, length=line.length - late - early
    )


def _natural(sound: NaturalSound, plan: Plan, span: Span) -> NaturalSound:
    late, _ = _outside(sound.span, plan, span)
    return replace(sound, span=_cut(sound.span, span), source_start=sound.source_start + late)


def _outside(own: Span, plan: Plan, span: Span) -> tuple[Fraction, Fraction]:
    """Seconds of a span that lie before and after the excerpt."""
    return (
        seconds_of_frame(max(0, span.start - own.start), plan.rate),
        seconds_of_frame(max(0, own.end - span.end), plan.rate),
    )

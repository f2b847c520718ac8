"""Drawn marks: each starts on its word, over a frozen picture, and stays long enough to be looked at."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import shots_of
from segmentkit.checks.say import clock, counted, lasting, quoted
from segmentkit.findings import Severity
from segmentkit.plan.model import ClipPicture, Shot, Stroke
from segmentkit.storyboard.shots import StrokeSpec
from segmentkit.timebase import nearest_frame, seconds_of


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A stroke from its drawing to the end of its last appearance that follows without a gap."""

    first: Stroke
    sight_ends: int


def _drawn(context: CheckContext) -> list[_Drawn]:
    ordered = sorted(context.plan.strokes, key=lambda stroke: stroke.span.start)
    found: list[_Drawn] = []
    for first in (stroke for stroke in ordered if not stroke.kept):
        end = first.span.end - first.wipe_frames
        if not first.wipe_frames:
            for later in ordered:
                if (
                    later.kept
                    and later.id == first.id
                    and later.draw_start == first.draw_start
                    and later.span.start == end
                ):
                    end = later.span.end - later.wipe_frames
        found.append(_Drawn(first, end))
    return found


def stroke_spec(context: CheckContext, stroke: Stroke) -> tuple[tuple[Step, ...], StrokeSpec | None]:
    """Where a stroke is written, and as what; None for one that is kept from another beat."""
    index = context.index_of(stroke.beat)
    return ("beats", index, "strokes", stroke.id), context.board.beats[index].strokes.get(stroke.id)


def stroke_shot(context: CheckContext, stroke: Stroke) -> Shot:
    """The shot that shows a stroke."""
    return next(shot for shot in context.plan.shots if shot.id == stroke.shot)


def _moves(shot: Shot, stroke: Stroke) -> bool:
    """Whether the picture under a stroke still moves after the stroke has begun."""
    picture = shot.panes[stroke.pane].picture
    return isinstance(picture, ClipPicture) and len(set(picture.frames[stroke.span.start - shot.span.start :])) > 1


def stroke_where(stroke: Stroke) -> str:
    """What a person calls a stroke."""
    return f"beat {stroke.beat}, stroke {stroke.id}"


@check("stroke-before-freeze", Severity.ERROR)
def stroke_before_freeze(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke lands on its word.

    When the word is spoken while the picture still moves, the stroke has to wait, and the viewer looks for something
    that is not there yet; drawn over motion, it would lie on nothing.
    """
    del limits
    rate = context.plan.rate
    for stroke in (s for s in context.plan.strokes if not s.kept):
        path, spec = stroke_spec(context, stroke)
        shot = stroke_shot(context, stroke)
        if spec is not None and spec.moving:
            continue
        if _moves(shot, stroke):
            yield Remark(
                where=stroke_where(stroke),
                what=f"it is drawn at {clock(stroke.span.start, rate)} over a clip in motion — strokes start on a "
                "frozen picture",
                remedy="add a freeze after the run, or write moving: yes",
                path=path,
                numbers=(("frame", stroke.span.start),),
            )
            continue
        wanted = stroke.cue_frame
        if wanted is None and spec is not None and spec.at is not None:
            wanted = shots_of(context, stroke.beat)[0].span.start + nearest_frame(seconds_of(spec.at, rate), rate)
        if wanted is None or wanted >= shot.span.start:
            continue
        early = shot.span.start - wanted
        said = f"its word {quoted(stroke.cue)} is spoken" if stroke.cue else "its time falls"
        spoken = [
            word.text.strip(".,;:!?…")
            for line in context.plan.speech
            if line.beat == stroke.beat
            for word in line.words
            if word.frame >= shot.span.start
        ]
        later = next((word for word in spoken if len(word) > 3), next(iter(spoken), None))
        move = (
            f"move [{stroke.id}] to a later word, such as {quoted(later)}"
            if stroke.cue and later
            else "let it start later"
        )
        yield Remark(
            where=stroke_where(stroke),
            what=f"{said} at {clock(wanted, rate)}, {lasting(early, rate)} before its picture is there at "
            f"{clock(shot.span.start, rate)} — the picture must stand first",
            remedy=f"start the freeze {lasting(early, rate)} earlier (shorten what runs before it, or raise lead), "
            f"{move}, or write moving: yes",
            path=path,
            numbers=(("early_frames", early), ("cue_frame", wanted), ("freeze_frame", shot.span.start)),
        )


@check("stroke-short-hold", Severity.ERROR)
def stroke_short_hold(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke is drawn so that someone looks at it; under a second and a half after the drawing nobody has found it.

    The time is counted over all pictures that keep the stroke. Common practice of the trade, no source.
    """
    rate = context.plan.rate
    wanted = nearest_frame(limits.stroke_look, rate)
    for drawn in _drawn(context):
        stroke = drawn.first
        held = drawn.sight_ends - stroke.draw_start - stroke.draw_frames
        if held < 0 or held >= wanted:
            continue
        missing = wanted - held
        path, _ = stroke_spec(context, stroke)
        move = f", or move [{stroke.id}] to an earlier word" if stroke.cue else ", or start it earlier"
        yield Remark(
            where=stroke_where(stroke),
            what=f"it can be looked at for {lasting(held, rate)} after it is drawn — at least "
            f"{lasting(wanted, rate)} is wanted, {lasting(missing, rate)} is missing",
            remedy=f"hold its picture {lasting(missing, rate)} longer{move}, or keep it in the next beat",
            path=path,
            numbers=(("held_frames", held), ("wanted_frames", wanted), ("missing_frames", missing)),
        )


@check("stroke-outlives-shot", Severity.ERROR)
def stroke_outlives_shot(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke belongs to a picture.

    One that is still being drawn when the picture goes, or is asked to stay longer than the picture does, is cut off.
    """
    del limits
    rate = context.plan.rate
    for drawn in _drawn(context):
        stroke = drawn.first
        path, spec = stroke_spec(context, stroke)
        picture = stroke_shot(context, stroke)
        end = max(picture.span.end, drawn.sight_ends)
        needs = stroke.draw_start + stroke.draw_frames
        doing = "its drawing ends"
        if spec is not None and spec.hold is not None and needs <= end:
            needs += nearest_frame(seconds_of(spec.hold, rate), rate)
            doing = "it should stay until"
        over = needs - end
        if over > 0 or stroke.span.end > picture.span.end:
            over = max(over, stroke.span.end - picture.span.end)
            yield Remark(
                where=stroke_where(stroke),
                what=f"{doing} {clock(end + over, rate)}, but its picture ends at {clock(end, rate)} — "
                f"{lasting(over, rate)} is missing",
                remedy=f"hold the picture {lasting(over, rate)} longer, start the stroke earlier, or shorten its "
                "draw or hold",
                path=path,
                numbers=(("over_frames", over), ("picture_end", end)),
            )


@check("strokes-too-many", Severity.WARNING)
def strokes_too_many(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Nobody follows five marks at once. Strokes that have done their work are wiped off before the next idea.

    Strokes of all sides of a comparison count together, but for what is compared with: the same line is drawn in each
    picture, and is one thing to look for. So of the references of one moment those of the side with most of them count.
    Common practice, no source.
    """
    most = int(limits.strokes_at_once)
    rate = context.plan.rate
    said: set[str] = set()
    for frame in sorted({stroke.span.start for stroke in context.plan.strokes}):
        seen = [stroke for stroke in context.plan.strokes if frame in stroke.span]
        count = _marks(seen)
        if count <= most or seen[-1].shot in said:
            continue
        said.add(seen[-1].shot)
        beat = next(shot.beat for shot in context.plan.shots if frame in shot.span)
        names = list(dict.fromkeys(stroke.id for stroke in seen))
        yield Remark(
            where=f"beat {beat}",
            what=f"{count} strokes are on screen at {clock(frame, rate)} ({', '.join(names)}"
            + ("; what is compared with counts once" if count < len(seen) else "")
            + f") — at most {most} can be followed",
            remedy=f"give {counted(count - most, 'of them a hold', 'of them a hold')} so that it is wiped off "
            "earlier, or keep fewer",
            path=("beats", context.index_of(beat), "strokes"),
            numbers=(("strokes", count), ("most", most), ("frame", frame)),
        )


def _marks(seen: list[Stroke]) -> int:
    """How many things there are to follow: references on several sides of a comparison are the same ones."""
    references: dict[tuple[str, int], int] = {}
    for stroke in seen:
        if stroke.role == "reference":
            key = (stroke.shot, stroke.pane)
            references[key] = references.get(key, 0) + 1
    return len(seen) - sum(references.values()) + max(references.values(), default=0)


@check("cue-missing", Severity.WARNING)
def cue_missing(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke that hangs on a word follows it through every re-reading.

    One without a word or a time starts half a second after its picture, whatever is being said then.
    """
    del limits
    for index, beat, _ in context.beats():
        marks = {mark.id for line in beat.say for mark in line.marks}
        if not beat.say:
            continue
        for id_, spec in beat.strokes.items():
            if id_ in marks or spec.at is not None:
                continue
            yield Remark(
                where=f"beat {beat.beat}, stroke {id_}",
                what="no word starts it and no time is written — a stroke starts on a word, or at a time",
                remedy=f"write [{id_}] before the word on which it should start, or at: 2s",
                path=("beats", index, "strokes", id_),
            )

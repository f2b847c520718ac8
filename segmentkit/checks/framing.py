"""What the frame cuts off, hides or shows too soon: players in crops, strokes under insets, strokes in a transition."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import spec_of
from segmentkit.checks.say import clock, counted, lasting, listed
from segmentkit.findings import Severity
from segmentkit.geometry import Point, box_of
from segmentkit.plan.defaults import ENTER
from segmentkit.plan.insets import hidden_part
from segmentkit.plan.model import ClipPicture, Pane, Shot
from segmentkit.plan.moments import Footage
from segmentkit.plan.seen import figure_box, seen_box
from segmentkit.storyboard.shots import EnterBy, Freeze, ShotSpec
from segmentkit.timebase import nearest_frame, seconds_of

_SLACK = 8.0  # pixels at a picture height of 1080: what moves is found to within about as much
_COVERED = 0.04
"""Part of a player's box that may lie under an inset: its corners hold no body; common practice, no source."""


@check("crop-cuts-player", Severity.WARNING)
def crop_cuts_player(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Player and club stay in the picture at every moment that is shown.

    Where a window shows a part of the clip only, it is moved as far as the clip allows; what is cut off even so was
    measured from what moves in the clip and from its named points. A shot that comes closer by its own zoom or push
    shows a detail on purpose and is not judged.
    """
    del limits
    found: dict[tuple[str, str], list[_Cut]] = {}
    for shot in context.plan.shots:
        if _on_purpose(spec_of(context.board, shot)[2]):
            continue
        for number_, pane in enumerate(shot.panes):
            cut = _cut(context, pane, number_, shot)
            if cut is not None:
                # All shots that show a clip in the whole picture are framed alike: one finding for all of them.
                found.setdefault((cut.clip, f"{shot.id} {pane.name}" if pane.name else ""), []).append(cut)
    for (clip, _), cuts in found.items():
        worst = max(cuts, key=lambda cut: max(over for _, over in cut.past))
        index, place, spec = spec_of(context.board, worst.shot)
        amounts = [f"{over:.0f} px past the {side} edge" for side, over in worst.past]
        others = f", and over an edge in {counted(len(cuts) - 1, 'other shot')}" if len(cuts) > 1 else ""
        middle = f"[{worst.middle.x:.2f}, {worst.middle.y:.2f}]"
        yield Remark(
            where=f"beat {worst.shot.beat}, shot {place + 1}" + (f", {worst.pane}" if worst.pane else ""),
            what=f"player or club of clip {clip} reaches {listed(amounts)}{others} — all of both should be seen",
            remedy=f"set focus: {middle} on the clip, which is the middle of what moves, or zoom less",
            path=("beats", index, "show", place, spec.kind),
            numbers=(*((f"{side}_px", round(over, 1)) for side, over in worst.past), ("shots", len(cuts))),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cut:
    """What a pane cuts off: past which edges and by how many pixels at 1080, and the middle of what should be seen."""

    clip: str
    shot: Shot
    pane: str
    past: tuple[tuple[str, float], ...]
    middle: Point


def _on_purpose(spec: ShotSpec) -> bool:
    wide = spec.run or spec.freeze
    if wide is None:
        return spec.comparison is None
    softened = isinstance(wide, Freeze) and wide.soften
    return wide.zoom is not None or wide.push is not None or softened


def _cut(context: CheckContext, pane: Pane, number_: int, shot: Shot) -> _Cut | None:
    """What a pane cuts off; None when all that should be seen is, or it is not known."""
    picture = pane.picture
    if not isinstance(picture, ClipPicture) or pane.inset or picture.clip not in context.facts.clips:
        return None
    footage = Footage(picture.clip, context.board.clips[picture.clip], context.facts.clips[picture.clip])
    box = seen_box(footage, context.facts.scenes.get(picture.clip), picture.frames)
    if box is None:
        return None
    placement = shot.resting(number_)
    on = box_of(placement.to_canvas(corner) for corner in box.corners)
    window = pane.whole_window
    unit = min(context.plan.size.width, context.plan.size.height) / 1080
    over = {
        "left": window.x - on.x,
        "right": on.right - window.right,
        "upper": window.y - on.y,
        "lower": on.bottom - window.bottom,
    }
    past = tuple((side, pixels / unit) for side, pixels in over.items() if pixels / unit > _SLACK)
    if not past:
        return None
    # A mirrored picture keeps the clip's own fractions: a focus is written in them.
    return _Cut(clip=picture.clip, shot=shot, pane=pane.name, past=past, middle=box.centre)


@check("stroke-under-inset", Severity.WARNING)
def stroke_under_inset(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """An inset lies over the wide picture and hides what is drawn there."""
    del limits
    said: set[tuple[str, str]] = set()
    for stroke in context.plan.strokes:
        shot = next(one for one in context.plan.shots if one.id == stroke.shot)
        if shot.panes[stroke.pane].inset or (stroke.beat, stroke.id) in said:
            continue
        placement = shot.resting(stroke.pane)
        for pane in shot.panes:
            hidden = [p for p in stroke.points if pane.inset and pane.placement.window.contains(placement.to_canvas(p))]
            if hidden and stroke.kind != "shade":
                said.add((stroke.beat, stroke.id))
                yield Remark(
                    where=f"beat {stroke.beat}, stroke {stroke.id}",
                    what=f"{counted(len(hidden), 'point')} of it {'lies' if len(hidden) == 1 else 'lie'} under the "
                    "inset — strokes must be seen",
                    remedy="put the inset into another corner, make it smaller, or draw the stroke elsewhere",
                    path=("beats", context.index_of(stroke.beat), "strokes", stroke.id),
                    numbers=(("points", len(hidden)),),
                )


@check("inset-over-player", Severity.WARNING)
def inset_over_player(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A close-up in a corner lies beside the player, not over them.

    The player's place follows from heel and belt named at address. Where neither corner nor size is written, both are
    chosen so that it keeps off, and the wide picture moves as far as the clip allows.
    """
    del limits
    for shot in context.plan.shots:
        index, place, spec = spec_of(context.board, shot)
        if spec.inset is None or not isinstance(shot.panes[0].picture, ClipPicture):
            continue
        clip = shot.panes[0].picture.clip
        player = figure_box(Footage(clip, context.board.clips[clip], context.facts.clips[clip]))
        if player is None or shot.panes[0].move is not None:
            continue
        part = hidden_part(shot.panes[0].placement, shot.panes[1].placement.window, player)
        if part > _COVERED:
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"its inset lies over {100 * part:.0f} per cent of where the player of clip {clip} stands — up to "
                f"{100 * _COVERED:.0f} per cent go unseen",
                remedy="leave corner and size to be chosen, make it smaller, or zoom less",
                path=("beats", index, "show", place, spec.kind, "inset"),
                numbers=(("percent", round(100 * part, 1)),),
            )


@check("stroke-in-transition", Severity.WARNING)
def stroke_in_transition(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A stroke is drawn on a picture that is there.

    While one picture dissolves into another, or is pushed in, nobody sees where a line begins.
    """
    del limits
    rate = context.plan.rate
    shots = {shot.id: shot for shot in context.plan.shots}
    for stroke in context.plan.strokes:
        enter = shots[stroke.shot].enter
        if enter is None or stroke.kept:
            continue
        there = shots[stroke.shot].span.start + enter.frames
        if stroke.draw_start < there:
            early = there - stroke.draw_start
            yield Remark(
                where=f"beat {stroke.beat}, stroke {stroke.id}",
                what=f"it starts at {clock(stroke.draw_start, rate)}, {lasting(early, rate)} before its picture is "
                "alone — a stroke starts when the transition is over",
                remedy=f"start it {lasting(early, rate)} later, or shorten over of enter",
                path=("beats", context.index_of(stroke.beat), "strokes", stroke.id),
                numbers=(("early_frames", early),),
            )


@check("transition-too-long", Severity.WARNING)
def transition_too_long(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A transition takes its frames from the picture that comes in.

    When it takes more than half of them, the picture is hardly ever seen alone.
    """
    del limits
    rate = context.plan.rate
    for shot in context.plan.shots:
        index, place, spec = spec_of(context.board, shot)
        if spec.enter is None or spec.enter.by is EnterBy.CUT or not shot.span.start:
            continue
        wanted = nearest_frame(ENTER if spec.enter.over is None else seconds_of(spec.enter.over, rate), rate)
        if 2 * wanted > shot.span.frames:
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"its {spec.enter.by.value} takes {lasting(wanted, rate)} of a shot of "
                f"{lasting(shot.span.frames, rate)} — up to half of it",
                remedy=f"write over: {float(shot.span.frames // 2 / rate.fps):.2g}s or less, or a cut",
                path=("beats", index, "show", place, "enter"),
                numbers=(("enter_frames", wanted), ("shot_frames", shot.span.frames)),
            )

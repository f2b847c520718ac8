"""Speed, sound and arithmetic of clips in motion, and the cuts between pictures."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import groupby, pairwise

from segmentkit.checks.check import Remark, check
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.phrases import USUAL_ORDER
from segmentkit.checks.room import spec_of
from segmentkit.checks.say import clock, lasting, number, seconds
from segmentkit.findings import Severity
from segmentkit.plan.model import ClipPicture, Shot
from segmentkit.plan.moments import Footage, MomentMissing
from segmentkit.storyboard.shots import Run
from segmentkit.timebase import frames_covering, nearest_frame, seconds_of


def _runs(context: CheckContext) -> Iterator[tuple[int, int, Shot, Run]]:
    for shot in context.plan.shots:
        if shot.kind == "run":
            index, place, spec = spec_of(context.board, shot)
            if spec.run is not None:
                yield index, place, shot, spec.run


@check("run-length-contradiction", Severity.ERROR)
def run_length_contradiction(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Speed is against real time, so the length of a slow-motion run follows from arithmetic.

    A quarter of a second at one eighth is two seconds.

    A written length that says otherwise means that someone counted on another picture.
    """
    del limits
    rate = context.plan.rate
    for index, place, shot, run in _runs(context):
        if run.length is None:
            continue
        written = nearest_frame(seconds_of(run.length, rate), rate)
        if abs(written - shot.span.frames) <= 1:
            continue
        real = (shot.span.frames - 1) / rate.fps * run.speed
        fitting = Fraction(real / (written / rate.fps)).limit_denominator(40) if written else run.speed
        yield Remark(
            where=f"beat {shot.beat}, shot {place + 1}",
            what=f"the length is written as {lasting(written, rate)}, but {seconds(real)} of real time at "
            f"{run.speed} is {lasting(shot.span.frames, rate)} — they may differ by 1 frame",
            remedy=f"write length: {seconds(shot.span.frames / rate.fps).replace(' ', '')} or leave it out, or use "
            f"speed: {fitting}",
            path=("beats", index, "show", place, "run", "length"),
            numbers=(
                ("written_frames", written),
                ("derived_frames", shot.span.frames),
                ("real_seconds", real),
                ("speed", run.speed),
            ),
        )


@check("run-needs-frames", Severity.WARNING)
def run_needs_frames(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Slow motion needs frames.

    Where one filmed frame stands for more than four of the output, the picture steps visibly, and the moment that is
    shown was not filmed.
    """
    rate = context.plan.rate
    for shot in context.plan.shots:
        if shot.speed is None:
            continue
        index, place, spec = spec_of(context.board, shot)
        sides = [side for _, side in spec.comparison.sides] if spec.comparison is not None else [spec.run]
        for pane, side in zip(shot.panes, sides, strict=False):
            picture = pane.picture
            if not isinstance(picture, ClipPicture) or picture.frozen or side is None or side.speed is None:
                continue
            # The first and last source frame stand only in part, and a split holds its last one: neither counts.
            holds = [len(list(same)) for _, same in groupby(picture.frames)][1:-1]
            if not holds or sum(holds) <= limits.frames_held * len(holds):
                continue
            mean = Fraction(sum(holds), len(holds))
            needed = rate.fps / (limits.frames_held * side.speed)
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"at {side.speed} of real time each frame of clip {picture.clip} stands for {number(mean)} "
                f"output frames — up to {number(limits.frames_held)} looks like motion",
                remedy=f"use a clip captured at {number(needed)} frames a second or more "
                f"({number(rate.fps / side.speed)} for every frame to be new), or a speed of "
                f"{_faster(side.speed, mean, limits)} or more",
                path=("beats", index, "show", place, spec.kind),
                numbers=(("held_frames", mean), ("needed_rate", needed), ("speed", side.speed)),
            )


def _faster(speed: Fraction, held: Fraction, limits: Limits) -> str:
    """The slowest usual speed, one over a whole number, at which frames are held no longer than allowed."""
    enough = speed * held / limits.frames_held
    return f"1/{enough.denominator // enough.numerator}" if enough < 1 else "1"


@check("position-order", Severity.ERROR)
def position_order(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A swing goes through its positions in one order.

    A top after impact is a slip of the finger, and every freeze, run and stroke that names it shows the wrong
    picture.
    """
    del limits
    for id_, clip in context.board.clips.items():
        facts = context.facts.clips.get(id_)
        if facts is None:
            continue
        footage = Footage(id_, clip, facts)
        frames: list[tuple[str, int]] = []
        for name in (n for n in USUAL_ORDER if n in clip.positions):
            try:
                frames.append((name, footage.frame_of(clip.positions[name])))
            except (MomentMissing, ValueError):
                continue  # The plan has already said that this moment does not exist.
        for (before, first), (after, second) in pairwise(frames):
            if second <= first:
                yield Remark(
                    where=f"clip {id_}, position {after}",
                    what=f"{after} is at frame {second} ({seconds(facts.times[second])}), {before} at frame {first} "
                    f"({seconds(facts.times[first])}) — {before} comes before {after}",
                    remedy=f"look at both frames and correct {before} or {after}",
                    path=("clips", id_, "positions", after),
                    numbers=(("frame", second), ("before", first)),
                )


@check("natural-sound-at-slow-speed", Severity.WARNING)
def natural_sound_at_slow_speed(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """The click of the strike is worth hearing at real speed; slowed down it is a growl and is left out."""
    del limits
    for index, place, shot, run in _runs(context):
        if run.sound and run.speed != 1:
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"natural sound is asked for at {run.speed} of real time — it is heard at speed 1 only",
                remedy="take sound out, or show the swing once at speed: 1",
                path=("beats", index, "show", place, "run", "sound"),
                numbers=(("speed", run.speed),),
            )


@check("shot-too-short", Severity.WARNING)
def shot_too_short(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A picture of a few frames looks like a mistake at a cut; quality control calls it a flash frame."""
    rate = context.plan.rate
    least = frames_covering(limits.short_shot, rate)
    for shot in context.plan.shots:
        if 0 < shot.span.frames < least:
            index, place, _ = spec_of(context.board, shot)
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"it is on screen for {lasting(shot.span.frames, rate)} — at least {lasting(least, rate)} is "
                "wanted",
                remedy=f"show it {lasting(least - shot.span.frames, rate)} longer, or take it out",
                path=("beats", index, "show", place),
                numbers=(("frames", shot.span.frames), ("least_frames", least)),
            )


@check("flash-risk", Severity.WARNING)
def flash_risk(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """More than three flashes in any second can start a seizure (WCAG 2.2, general flash threshold; ITU-R BT.1702).

    A flash is a pair of opposing changes, so more than six changes of picture in a second could be one too many. The
    plan does not know how bright the pictures are: this says where to look, and the finished picture has to be
    measured.
    """
    del limits
    rate = context.plan.rate
    second = frames_covering(Fraction(1), rate)
    cuts = [shot.span.start for shot in context.plan.shots[1:]]
    last_said = -second
    for position, first in enumerate(cuts):
        within = [cut for cut in cuts[position:] if cut < first + second]
        if len(within) > 6 and first >= last_said + second:
            last_said = first
            shot = next(shot for shot in context.plan.shots if shot.span.start == first)
            index, place, _ = spec_of(context.board, shot)
            yield Remark(
                where=f"beat {shot.beat}, shot {place + 1}",
                what=f"{len(within)} pictures change within the second from {clock(first, rate)} — up to 6 changes "
                "(3 flashes) can be no flash fault whatever the pictures are",
                remedy="show fewer pictures in that second, or have the finished picture measured for flashes",
                path=("beats", index, "show", place),
                numbers=(("changes", len(within)), ("frame", first)),
            )


@check("music-over-end", Severity.WARNING)
def music_over_end(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Music is out when the segment is out; a bed that is longer than its stretch, or stops dead, is heard as a cut."""
    del limits
    plan = context.plan
    for number_, cue in enumerate(plan.music):
        over = cue.span.end - max(plan.slot, plan.frames)
        fades = cue.fade_in + cue.fade_out
        if over > 0:
            out = lasting(over, plan.rate)
            what = f"it goes on for {out} after the slot ends at {clock(plan.slot, plan.rate)} — it must be out by then"
            remedy = f"let it end {out} earlier (until)"
        elif cue.fade_out == 0:
            what = "it stops within 0 frames at its end — a fade of 0.5 s or more is usual"
            remedy = "write fade_out: 1.5s"
        elif fades > cue.span.frames:
            lasts = lasting(cue.span.frames, plan.rate)
            what = f"its fades take {lasting(fades, plan.rate)}, its stretch lasts {lasts} — fades must fit in"
            remedy = f"shorten the fades by {lasting(fades - cue.span.frames, plan.rate)}, or let it play longer"
        else:
            continue
        yield Remark(
            where=f"music {number_ + 1}",
            what=what,
            remedy=remedy,
            path=("music", number_),
            numbers=(("end_frame", cue.span.end), ("slot_frames", plan.slot), ("fade_frames", fades)),
        )

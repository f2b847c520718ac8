"""Pictures of a finished file: black, frozen, odd single frames, cuts where none was planned, legal levels."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from statistics import median

from segmentkit.checks.qc_check import Answer, Mark, marked, not_checked, qc_check
from segmentkit.checks.qc_wanted import NO_PLAN, Wanted, file_span, moves, planned_frame
from segmentkit.checks.say import counted, lasting
from segmentkit.findings import Severity
from segmentkit.plan.model import Plan
from segmentkit.screened import Screened
from segmentkit.timebase import Span, frames_covering

FROZEN_LEAST = Fraction(1)
"""Seconds that a picture which should move may stand still; common practice, no source."""
STUCK = 0.08
"""Code values by which the liveliest tile of a stuck picture changes from frame to frame, half the time. Measured: 0.01
in frozen pictures of a master, 0.1 to 0.4 in a clip of somebody who stands nearly still."""


def inside(measured: Screened, span: Span) -> Span | None:
    """The part of some frames that belongs to the programme."""
    start, end = max(span.start, measured.programme.start), min(span.end, measured.programme.end)
    return Span(start, end) if start < end else None


@qc_check(
    "qc-black", "Black frames",
    limit="none in the programme that was not planned; a frame is black when 98 % of it is below 10 % of white",
    source="common practice, no source; the two figures are those of ffmpeg's blackdetect",
)  # fmt: skip
def black(measured: Screened, wanted: Wanted) -> Answer:
    """A black frame is a hole: an error of the edit, or a picture that did not decode."""
    rate, start = measured.coded.rate, measured.programme.start
    meant = [Span(start + span.start, start + span.end) for span in wanted.black]
    marks = []
    for span in measured.pictures.black:
        part = inside(measured, span)
        if part is None:
            continue
        left = part.frames - sum(part.overlap(one) for one in meant)
        if left > 0:
            marks.append(
                Mark(
                    what=f"the picture is black for {lasting(left, rate)} — no black frames are planned",
                    remedy="look at the picture there, and render it again"
                    if wanted.plan
                    else "look whether this is meant; name the storyboard to have it judged",
                    span=part,
                    severity=Severity.ERROR if wanted.plan else Severity.WARNING,
                )
            )
    total = sum(mark.span.frames for mark in marks if mark.span)
    return marked(counted(total, "black frame") if total else "none", marks)


@qc_check(
    "qc-frozen", "Frozen picture",
    limit="no second without movement where the storyboard lets a clip run; planned freezes are left out",
    source="common practice, no source; still is what differs by less than -52 dB on average",
)  # fmt: skip
def frozen(measured: Screened, wanted: Wanted) -> Answer:
    """A picture that stands still where it should move looks like a player that has stopped.

    Where the person in a clip hardly moves, that is a note.
    """
    rate, plan = measured.coded.rate, wanted.plan
    if plan is None:
        seen = [part for span in measured.pictures.frozen if (part := inside(measured, span))]
        return Answer(
            value=f"{counted(len(seen), 'stretch', 'stretches')} of half a second or more stand still",
            because=f"{NO_PLAN}, so nobody knows which freezes are meant",
        )
    least = frames_covering(FROZEN_LEAST, rate)
    marks = []
    for span in measured.pictures.frozen:
        part = inside(measured, span)
        if part is None:
            continue
        due = [frame for frame in range(part.start + 1, part.end) if moves(plan, planned_frame(measured, plan, frame))]
        # In slow motion one source frame stands for several; what counts is how long movement was due.
        if not due or due[-1] - due[0] + 1 < least:
            continue
        # A player who stands at address breathes; a picture that is stuck does not.
        stir = median(measured.pictures.stir[frame] for frame in due)
        stuck = stir <= STUCK
        lasts = lasting(due[-1] - due[0] + 1, rate)
        marks.append(
            Mark(
                what=f"the picture {'stands still' if stuck else 'hardly moves'} for {lasts} while the plan has it "
                f"move — a clip that runs moves within {lasting(least, rate)}",
                remedy="look at the clip there: it may itself stand still; else render again",
                span=Span(due[0], due[-1] + 1),
                severity=Severity.ERROR if stuck else Severity.NOTE,
                numbers=(("frames_due_to_move", len(due)), ("stir", round(stir, 3))),
            )
        )
    planned = len(measured.pictures.frozen) - len(marks)
    return marked(f"{counted(planned, 'planned freeze')}{f', {len(marks)} others' if marks else ''}", marks)


@qc_check(
    "qc-flash-frame", "Single wrong frames",
    limit="no single frame between two pictures that it does not belong to",
    source="common practice, no source",
)  # fmt: skip
def flash_frame(measured: Screened, wanted: Wanted) -> Answer:
    """A single frame of another picture, most often at a cut, is seen as a flash: the edit is off by one."""
    meant = _short_or_split(measured, wanted.plan) if wanted.plan else frozenset()
    marks = []
    for odd in measured.pictures.odd:
        alike = odd.across < min(odd.before, odd.after) / 2
        if odd.frame not in measured.programme or (odd.frame in meant and not alike):
            continue
        marks.append(
            Mark(
                what=f"one frame differs from the frame before by {odd.before:.0f} and from the one after by "
                f"{odd.after:.0f} code values on average, "
                + (f"while these two differ by {odd.across:.0f}" if alike else "at a cut")
                + " — no picture lasts one frame",
                remedy="look at the three frames, and render that shot again",
                span=Span(odd.frame, odd.frame + 1),
                numbers=(("before", round(odd.before, 1)), ("after", round(odd.after, 1))),
            )
        )
    return marked(counted(len(marks), "frame") if marks else "none", marks)


def _short_or_split(measured: Screened, plan: Plan) -> frozenset[int]:
    """Frames of the file that may lie between two pictures: planned to last one frame, or cut between their fields."""
    pace = measured.coded.rate.fps / plan.rate.fps
    start = measured.programme.start
    short = {start + int(shot.span.start * pace) for shot in plan.shots if shot.span.frames * pace <= 1}
    split = {start + int(shot.span.start * pace) for shot in plan.shots if (shot.span.start * pace).denominator != 1}
    return frozenset(short | split)


@qc_check(
    "qc-cuts", "Cuts where they were planned",
    limit="the picture jumps only on the frames on which the storyboard changes it",
    source="the plan",
)  # fmt: skip
def cuts(measured: Screened, wanted: Wanted) -> Answer:
    """A jump one frame beside the planned cut is a frame of the wrong picture; one elsewhere is damage.

    While a clip runs, a jump may be the clip's own, so that is a note.
    """
    plan = wanted.plan
    if plan is None:
        return not_checked(NO_PLAN)
    due = set(_changes(measured, plan))
    found = [cut for cut in measured.pictures.cuts if cut in measured.programme and cut != measured.programme.start]
    marks = []
    for cut in found:
        near = [one for one in (cut - 1, cut, cut + 1) if one in due]
        if cut in due:
            continue
        running = _runs(plan, planned_frame(measured, plan, cut))
        beside = f"a cut is planned {'one frame later' if near[0] > cut else 'one frame earlier'}" if near else ""
        marks.append(
            Mark(
                what=f"the picture jumps on frame {cut}, {beside or 'and no cut is planned there'} — "
                "it jumps where the plan cuts",
                remedy="render that shot again" if near else "look whether the clip itself jumps there",
                span=Span(cut, cut + 1),
                severity=Severity.ERROR if near else Severity.NOTE if running else Severity.WARNING,
            )
        )
    return marked(f"{counted(len(found), 'jump')}, {len(found) - len(marks)} as planned", marks)


def _runs(plan: Plan, frame: int) -> bool:
    """Whether a clip runs there, which may hold a cut of its own."""
    return any(frame in shot.span and shot.kind == "run" for shot in plan.shots)


def _changes(measured: Screened, plan: Plan) -> Iterator[int]:
    """The frames of the file on which the plan changes the picture at once: shots, cards, strokes, ends of entries."""
    for shot in plan.shots:
        span = file_span(measured, plan, shot.span)
        yield span.start
        if shot.enter is not None:
            yield from range(span.start, span.start + shot.enter.frames + 2)
    for seen in (*(card.span for card in plan.cards), *(stroke.span for stroke in plan.strokes)):
        span = file_span(measured, plan, seen)
        yield from (span.start, span.end)
    for card in plan.cards:
        span = file_span(measured, plan, card.span)
        yield from range(span.start, span.start + card.enter_frames + 1)
        yield from range(span.end - card.leave_frames, span.end + 1)


@qc_check(
    "qc-levels", "Legal levels",
    limit="R', G', B' and Y' from 5 to 246 (8 bits; 20 to 984 in 10) on all but 1 % of each picture",
    source="EBU R 103, version 3.0 (2020)",
)  # fmt: skip
def levels(measured: Screened, wanted: Wanted) -> Answer:
    """What lies outside is cut off on the way to the viewer, or refused by whoever plays the file out.

    Y' is judged at every pixel, R', G' and B' on the grid of the chroma samples.
    """
    del wanted
    if measured.pictures.levels is None:
        return not_checked("the file is of full range, to which the rule does not apply")
    marks = []
    for one in measured.pictures.levels:
        part = inside(measured, one.span)
        if part is not None:
            marks.append(
                Mark(
                    what=f"{100 * one.share:.1f} % of the picture lies outside, from {one.lowest:.0f} to "
                    f"{one.highest:.0f}, for {lasting(part.frames, measured.coded.rate)} — 5 to 246 on all but 1 % is "
                    "allowed",
                    remedy="lower the white or the colour of what is shown there, and render again",
                    span=part,
                    area=one.area,
                    numbers=(
                        ("share_percent", round(100 * one.share, 2)),
                        ("lowest", round(one.lowest, 1)),
                        ("highest", round(one.highest, 1)),
                    ),
                )
            )
    worst = max((one.share for one in measured.pictures.levels), default=0.0)
    return marked(f"up to {100 * worst:.1f} % outside" if marks else "never more than 1 % outside", marks)

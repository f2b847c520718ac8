"""Matched comparisons: what was made alike, what is left between the pictures, and what could not be matched."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.checks.check import Remark, Step, check
from segmentkit.checks.comparison import comparisons
from segmentkit.checks.context import CheckContext
from segmentkit.checks.limits import Limits
from segmentkit.checks.room import spec_of
from segmentkit.checks.say import counted, listed, number
from segmentkit.findings import Severity
from segmentkit.plan.match import MATCHED_AT, STEEPEST, Half
from segmentkit.plan.model import Matched, Shot
from segmentkit.plan.moments import Footage
from segmentkit.plan.text import match_text
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import View
from segmentkit.storyboard.shots import Comparison, Match, Side

MOST_HEEL, MOST_BELT = 3.0, 2.0
"""Pixels at a picture height of 1080 between heel lines, per cent between heel-to-belt lengths; common practice."""
_NEEDED = {Match.GROUND: ("heel",), Match.BELT: ("heel", "belt")}
_FEWEST_EVENTS = 2


def _matched(context: CheckContext) -> Iterator[tuple[str, tuple[Step, ...], Shot, Matched]]:
    for shot in context.plan.shots:
        if shot.matched is not None:
            index, place, spec = spec_of(context.board, shot)
            path = ("beats", index, "show", place, spec.kind, "match")
            yield f"beat {shot.beat}, shot {place + 1}", path, shot, shot.matched


@check("match-note", Severity.NOTE)
def match_note(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A comparison that only just holds, or whose light was changed, wants a look before it goes on air.

    Said from half of what is allowed on. The heights are measured anew from where the pictures came to lie, at the
    points named at address; the plan prints them for every comparison.
    """
    del limits
    for where, path, shot, matched in _matched(context):
        lit = [pane for pane in shot.panes if pane.light is not None]
        if not lit and (matched.heel or 0) <= MOST_HEEL / 2 and (matched.belt or 0) <= MOST_BELT / 2:
            continue
        changed = "".join(
            f"; the light of {pane.name} was changed: luma x{pane.light.gain:.2f} {pane.light.lift:+.1f}, "
            f"tint {pane.light.blue:+.1f} {pane.light.red:+.1f}"
            for pane in lit
            if pane.light is not None
        )
        yield Remark(
            where=where,
            what=f"its pictures were matched — {match_text(matched)}{changed}",
            remedy="look at the match at address before it goes on air",
            path=path,
            numbers=_numbers(matched),
        )


def _numbers(matched: Matched) -> tuple[tuple[str, float], ...]:
    found = [(f"scale_{index + 1}", round(scale, 4)) for index, scale in enumerate(matched.scales)]
    if matched.heel is not None:
        found.append(("heel_px", round(matched.heel, 2)))
    if matched.belt is not None:
        found.append(("belt_percent", round(matched.belt, 2)))
    return tuple(found)


@check("match-off", Severity.ERROR)
def match_off(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A comparison that claims one ground and one scale keeps to it.

    Heels within 3 px at a picture height of 1080 and heel to belt within 2 per cent; common practice, no source. It
    goes wrong when no picture has room to move without showing its edge.
    """
    del limits
    for where, path, _, matched in _matched(context):
        off = []
        if Match.GROUND.value in matched.by and matched.heel is not None and matched.heel > MOST_HEEL:
            off.append(f"the heel lines are {number(round(matched.heel, 1))} px apart, up to {number(MOST_HEEL)} px")
        if Match.BELT.value in matched.by and matched.belt is not None and matched.belt > MOST_BELT:
            off.append(f"heel to belt differs by {number(round(matched.belt, 1))} %, up to {number(MOST_BELT)} %")
        if off:
            yield Remark(
                where=where,
                what=f"{listed(off)} — at a picture height of 1080",
                remedy="look at heel and belt under points of both clips, come closer with zoom, or take match out",
                path=path,
                numbers=_numbers(matched),
            )


@check("match-without-points", Severity.WARNING)
def match_without_points(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """Ground, scale and level are matched by named points at address, and running sides by shared positions.

    Without them the pictures are shown at two zooms, and a line seems to improve because the picture is smaller.
    """
    del limits
    board = context.board
    for where, path, comparison in comparisons(board):
        for name, side in comparison.sides:
            yield from _missing_points(board, comparison, side, (f"{where}, {name}", (*path, "match")))
        if Match.EVENTS in comparison.match:
            shot = next(s for s in context.plan.shots if (s.beat, s.id) == _planned(path, board))
            met = shot.matched.events if shot.matched is not None else ()
            if len(met) < _FEWEST_EVENTS:
                yield Remark(
                    where=where,
                    what=f"its sides share {counted(len(met), 'position')} between from and to — events are matched "
                    f"at {_FEWEST_EVENTS} or more",
                    remedy="name the same positions in both clips, or write a speed on each side and take events out",
                    path=(*path, "match"),
                    numbers=(("events", len(met)),),
                )


def _planned(path: tuple[Step, ...], board: Storyboard) -> tuple[str, str]:
    beat = board.beats[int(path[1])].beat
    return beat, f"{beat}/{path[3]}"


def _missing_points(
    board: Storyboard, comparison: Comparison, side: Side, spot: tuple[str, tuple[Step, ...]]
) -> Iterator[Remark]:
    clip = board.clips.get(side.clip)
    known = clip.points.get(MATCHED_AT, {}) if clip is not None else {}
    wanted = [p for m in comparison.match for p in _NEEDED.get(m, ())]
    missing = [p for p in dict.fromkeys(wanted) if p not in known]
    if Match.LEVEL in comparison.match and not _has_level(known, clip is not None and clip.view is View.FACE_ON):
        missing += [p for p in ("level_a", "level_b") if p not in known]
    if missing:
        yield Remark(
            where=spot[0],
            what=f"clip {side.clip} has {counted(len(known), 'point')} at {MATCHED_AT}, without "
            f"{listed(missing)} — matching needs them on both sides, so it is left out",
            remedy=f"write {MATCHED_AT}: {{{', '.join(f'{p}: [x, y]' for p in missing)}}} under points of "
            f"{side.clip}, or take match out",
            path=spot[1],
            numbers=(("missing", len(missing)),),
        )


def _has_level(known: dict[str, object] | object, face_on: bool) -> bool:
    names = set(known) if isinstance(known, dict) else set()
    return {"level_a", "level_b"} <= names or (face_on and {"lead_heel", "trail_heel"} <= names)


@check("camera-crooked", Severity.ERROR)
def camera_crooked(context: CheckContext, limits: Limits) -> Iterator[Remark]:
    """A picture is turned by three degrees at most to be level.

    Beyond that the camera stood so crooked that lines drawn in the picture mislead; common practice, no source.
    """
    del limits
    board = context.board
    for where, path, comparison in comparisons(board):
        if Match.LEVEL not in comparison.match:
            continue
        for name, side in comparison.sides:
            facts = context.facts.clips.get(side.clip)
            if side.clip not in board.clips or facts is None:
                continue
            half = Half(footage=Footage(side.clip, board.clips[side.clip], facts), mirrored=side.mirror)
            tilt = half.tilt
            if tilt is not None and abs(tilt) > STEEPEST:
                yield Remark(
                    where=f"{where}, {name}",
                    what=f"clip {side.clip} is {number(round(abs(tilt), 1))} degrees off level — up to "
                    f"{number(STEEPEST)} degrees are turned",
                    remedy="have it filmed again with the camera level, or take level out and draw no lines on it",
                    path=(*path, "match"),
                    numbers=(("degrees", round(tilt, 2)),),
                )

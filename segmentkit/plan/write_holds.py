"""Writes the solved lengths back into the storyboard's text, so that they are what the beats would like to be.

A hold keeps its limits and gets the solved length between them: `6s..13s` becomes `6s..9.24s..13s`. The text is planned
again before it is handed back; a text that would give other frames is not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction

from segmentkit.errors import NotFit
from segmentkit.facts import Facts
from segmentkit.plan.build import build_plan
from segmentkit.plan.cards import frames_to_read
from segmentkit.plan.defaults import HOLDS, Grid
from segmentkit.plan.fit_report import fit_report, verdict
from segmentkit.plan.model import ClipPicture, Plan, Shot
from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Scalar
from segmentkit.storyboard.fields import Hold
from segmentkit.storyboard.insert import insert_scalar
from segmentkit.storyboard.load import LoadedStoryboard, loads
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.shots import ShotSpec
from segmentkit.storyboard.splice import replace_scalars
from segmentkit.timebase import Rate, nearest_frame, seconds_of_frame, seconds_text

Reader = Callable[[str], tuple[LoadedStoryboard, Facts]]


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldChange:
    """A hold as it was and as it is written now; `was` is None where it was not written.

    `shared` says that the beat is one of the whole segment's, so that a hold written for a cut changes the whole too.
    """

    beat: str
    shot: int
    kind: str
    was: str | None
    now: str
    shared: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SolvedText:
    """The storyboard with its solved holds: the text, and what changed in it."""

    text: str
    changes: tuple[HoldChange, ...]


def solved_text(
    loaded: LoadedStoryboard, facts: Facts, plan: Plan, slot: str | None = None, again: Reader | None = None
) -> SolvedText:
    """The storyboard's text with the solved lengths; those of a version go where its beats are written.

    Args:
        loaded: the storyboard as it is written, or a version of it.
        facts: what was measured, as the plan was made from.
        plan: a plan that meets its slot.
        slot: the new length to write, when the plan was made for another than is written.
        again: how a version is read from a text, and what is measured of it; the whole is read as it is.

    Raises:
        NotFit: when the plan does not meet its slot, or when the text with the solved lengths would not give the same
            frames again.
        StoryboardUnreadable: when a hold cannot be written where it stands.
    """
    if plan.frames != plan.slot:
        raise NotFit(
            f"{loaded.file} — {verdict(fit_report(plan, loaded.board))} — only lengths that fit are written back — "
            "make it fit first"
        )
    text, changes = loaded.text, []
    values: dict[tuple[str | int, ...], str] = {}
    missing: list[tuple[tuple[str | int, ...], str]] = []
    shots = iter(plan.shots)
    for index, beat in enumerate(loaded.board.beats):
        for number, spec in enumerate(beat.show):
            shot = next(shots)
            path = locate.written_at(("beats", index, "show", number, spec.kind, "hold"), loaded.moved)
            was = _written(loaded, path)
            now = _hold_text(spec, shot, was, loaded.board, plan.rate)
            if now is None or now == was or beat.rigid or beat.length is not None:
                continue
            shared = path[0] == "beats"
            changes.append(HoldChange(beat=beat.beat, shot=number, kind=spec.kind, was=was, now=now, shared=shared))
            if was is None:
                missing.append((path, now))
            else:
                values[path] = now
    if slot is not None:
        values[locate.written_at(("segment", "slot"), loaded.moved)] = slot
    text = replace_scalars(text, values, loaded.file)
    for path, now in missing:
        text = insert_scalar(text, path, now, loaded.file)
    _prove(loaded, plan, *(again(text) if again else (loads(text, loaded.file, loaded.folder), facts)))
    return SolvedText(text=text, changes=tuple(changes))


def _written(loaded: LoadedStoryboard, path: tuple[str | int, ...]) -> str | None:
    found = locate.find(loaded.tree, path)
    return found.node.text if found.whole and isinstance(found.node, Scalar) else None


def _hold_text(spec: ShotSpec, shot: Shot, was: str | None, board: Storyboard, rate: Rate) -> str | None:
    """The hold with the solved length in its middle; None for a shot whose length is not chosen."""
    body = getattr(spec, spec.kind)
    if spec.run is not None or (spec.comparison is not None and body.hold is None and _moves(shot)):
        return None
    hold: Hold | None = body.hold or HOLDS.get(spec.kind)
    if hold is None or not hold.elastic:
        return None
    least, most = hold.least, hold.most
    if body.hold is None and (to_read := frames_to_read(spec, board, Grid(rate))):
        least = max(least, _shortest(to_read, rate))
        most = max(most, least)
    if hold.nominal is None and nearest_frame(hold.least, rate) == shot.span.frames:
        return None  # it would like to be at its least, and is
    seconds = _shortest(shot.span.frames, rate)
    # The limits lie anywhere between frames; a solved length just past one is the limit's own frame.
    seconds = min(max(seconds, least), most)
    if nearest_frame(seconds, rate) != shot.span.frames:
        return None
    parts = [part.strip() for part in was.split("..")] if was else [_plain(least), _plain(most)]
    return f"{parts[0]}..{_plain(seconds)}..{parts[-1]}"


def _moves(shot: Shot) -> bool:
    return any(isinstance(pane.picture, ClipPicture) and not pane.picture.frozen for pane in shot.panes)


def _shortest(frames: int, rate: Rate) -> Fraction:
    """Seconds with as few decimals as still mean this many frames."""
    exact = seconds_of_frame(frames, rate)
    return next(short for places in range(2, 10) if nearest_frame(short := round(exact, places), rate) == frames)


def _plain(seconds: Fraction) -> str:
    return seconds_text(seconds, 9)


def _prove(loaded: LoadedStoryboard, plan: Plan, edited: LoadedStoryboard, facts: Facts) -> None:
    """Plans the new text and holds it against the plan.

    Raises:
        NotFit: when anything but the beats' likings has changed.
    """
    again, _ = build_plan(edited, facts)
    if _without_likings(again) == _without_likings(plan):
        return
    moved = [
        f"beat {was.id} would have {now.span.frames} frames instead of {was.span.frames}"
        for was, now in zip(plan.beats, again.beats, strict=True)
        if was.span.frames != now.span.frames
    ]
    why = "; ".join(moved) if moved else "a stroke would move to another shot"
    raise NotFit(
        f"{loaded.file} — the solved lengths, written down, would not give the same plan: {why} — "
        "nothing was written — keep the ranges, which the fit solves anew each time"
    )


def _without_likings(plan: Plan) -> Plan:
    return replace(plan, beats=tuple(replace(beat, nominal=beat.span.frames) for beat in plan.beats))

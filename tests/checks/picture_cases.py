"""Cases of the checks that look at comparisons, crops, transitions and cameras."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from segmentkit.checks.context import CheckContext
from segmentkit.facts import SceneFacts, TrackFacts
from segmentkit.geometry import Projection, Rect
from segmentkit.plan.model import Matched, Plan
from tests.checks.cases import CASES as OTHERS
from tests.checks.cases import Case, drawn_text
from tests.plan_makers import Board, beat_of, clean, context

LEVEL = {"level_a": [0.1, 0.5], "level_b": [0.9, 0.5]}


def _with(*changes: Callable[[Board], object], **how: Any) -> CheckContext:
    board = clean()
    for change in changes:
        change(board)
    return context(board, **how)


def split(**changes: Any) -> Callable[[Board], None]:
    """Changes the split screen of the clean storyboard."""
    return lambda board: beat_of(board, "compare")["show"][0]["split"].update(changes)


def left_over(**changes: Any) -> Callable[[Plan], Plan]:
    """Changes what is left between the matched pictures."""

    def change(plan: Plan) -> Plan:
        def altered(matched: Matched | None) -> Matched | None:
            return None if matched is None else replace(matched, **changes)

        return replace(plan, shots=tuple(replace(shot, matched=altered(shot.matched)) for shot in plan.shots))

    return change


def level(fall: float) -> Callable[[Board], None]:
    """A line named level in both clips, which falls in the model's by some degrees (1920x1080: 16:9)."""

    def change(board: Board) -> None:
        for clip in ("viewer", "model"):
            board["clips"][clip]["points"]["address"] |= LEVEL
        drop = 0.8 * 16 / 9 * math.tan(math.radians(fall))
        board["clips"]["model"]["points"]["address"]["level_b"] = [0.9, 0.5 + drop]
        split(match=["ground", "belt", "level"])(board)

    return change


def scene(left: float, width: float) -> SceneFacts:
    """Something moves between two edges in every frame looked at."""
    frames = tuple(range(0, 360, 30))
    return SceneFacts(
        frames=frames, boxes=(Rect(left, 0.2, width, 0.7),) * len(frames), luma=(60, 120, 180), blue=128, red=128
    )


def track(pixels: float, residual: float = 0.1) -> TrackFacts:
    """The background has moved to the right by some pixels of 1920 in all frames but the first 60."""
    frames = tuple(range(360))
    moved = Projection((1.0, 0.0, pixels / 1920, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0))
    still = Projection((1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0))
    return TrackFacts(
        anchor=48,
        frames=frames,
        maps=tuple(still if frame < 60 else moved for frame in frames),
        residuals=tuple(0.0 if frame < 60 else residual for frame in frames),
    )


def follow(board: Board) -> None:
    """The line at address follows the background."""
    beat_of(board, "address")["strokes"]["hip_line"]["follow"] = "background"


def inset(corner: str) -> Callable[[Board], None]:
    """A close-up over the freeze at address; the line there reaches from [0.45, 0.2] to [0.45, 0.8]."""

    def change(board: Board) -> None:
        beat = beat_of(board, "address")
        beat["show"][0]["freeze"]["inset"] = {"clip": "viewer", "at": "address", "corner": corner, "size": 0.65}
        beat["strokes"]["hip_line"]["on"] = "wide"

    return change


def beside(zoom: float) -> Callable[[Board], None]:
    """A close-up in the corner that is written, over the freeze at address; the player stands at 0.42, up to 0.22."""

    def change(board: Board) -> None:
        freeze = beat_of(board, "address")["show"][0]["freeze"]
        freeze["inset"] = {"clip": "viewer", "at": "address", "corner": "upper_left", "size": 0.42}
        freeze["zoom"] = zoom

    return change


def enter(over: str) -> Callable[[Board], None]:
    """The split comes in by a dissolve; its stroke starts 2 s into the beat."""
    return lambda board: beat_of(board, "compare")["show"][0].update(enter={"by": "dissolve", "over": over})


def square_name(top: float) -> CheckContext:
    """A square picture, 1080 wide: the lower third covers a band from there; the player's feet stand at 972."""
    board = clean()
    board["segment"]["size"] = "1080x1080"
    name = drawn_text(beat="intro", kind="lower_third", text="Maren, Lindholm Bay", covers=Rect(0, top, 900, 80))
    return context(board, texts=name)


def _named(shown: str) -> CheckContext:
    """The viewer's side of the split is called Maren Lindholm, and that is drawn of it."""
    name = drawn_text(beat="compare", kind="pane_label", text=shown)
    return _with(lambda b: beat_of(b, "compare")["show"][0]["split"]["left"].update(label="Maren Lindholm"), texts=name)


def _labelled(over: tuple[str, ...]) -> CheckContext:
    """The gap at impact has a label that covers something."""
    label = drawn_text(beat="impact", kind="stroke_label", text="Daylight", over=over)
    return _with(lambda b: beat_of(b, "impact")["strokes"]["gap"].update(label="Daylight"), texts=label)


MINE: dict[str, Case] = {
    # Heel at 0.9 and belt at 0.5 of 1080: a leg of 432, a body from 238 to 972, less 16 px of which edges are unsure.
    "name-over-player": Case(lambda: square_name(200), lambda: square_name(173)),
    "name-shortened": Case(lambda: _named("Maren L."), lambda: _named("Maren Lindholm")),
    "label-without-room": Case(lambda: _labelled(("the player",)), lambda: _labelled(())),
    "match-note": Case(
        lambda: context(change=left_over(heel=1.6, belt=0.0)), lambda: context(change=left_over(heel=1.5, belt=1.0))
    ),
    "match-off": Case(
        lambda: context(change=left_over(heel=3.1, belt=2.1)), lambda: context(change=left_over(heel=3.0, belt=2.0))
    ),
    "camera-crooked": Case(lambda: _with(level(3.05)), lambda: _with(level(2.95))),
    # The halves are 956 pixels wide; 0.5 of a clip of 1920 is 960 and fits all but for 4, 0.52 is 998.
    "crop-cuts-player": Case(
        lambda: context(scenes={"viewer": scene(0.2, 0.52)}), lambda: context(scenes={"viewer": scene(0.2, 0.5)})
    ),
    "stroke-under-inset": Case(lambda: _with(inset("upper_left")), lambda: _with(inset("upper_right"))),
    # The picture moves aside for the close-up where it is large enough to; at 1 it cannot.
    "inset-over-player": Case(lambda: _with(beside(1.0)), lambda: _with(beside(1.6))),
    "stroke-in-transition": Case(lambda: _with(enter("2.04s")), lambda: _with(enter("2s"))),
    "transition-too-long": Case(lambda: _with(enter("7s")), lambda: _with(enter("2s"))),
    "camera-moves": Case(
        lambda: context(tracks={"viewer": track(1.1)}), lambda: context(tracks={"viewer": track(0.95)})
    ),
    "follow-off": Case(
        lambda: _with(follow, tracks={"viewer": track(30, 2.1)}),
        lambda: _with(follow, tracks={"viewer": track(30, 1.9)}),
    ),
}
CASES = {**OTHERS, **MINE}

"""What a clip can be used for, why, and what the numbers cannot know. One small function a reason.

Nobody is judged here, only pictures: use; use, limited to what they can carry; film it again; not used.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from segmentkit.intake.survey import Proposal, Survey
from segmentkit.media.guarded import Header
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.people import Hand
from segmentkit.storyboard.submission import Part, VerdictWord

USE, LIMITED, RESHOOT, NOT_USED = VerdictWord
_SHARPEST = 3.5  # pixels
_STILL = 0.0006  # shake of the camera, of the long side, above which the small shifts of hands are not told from it


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why a verdict is not simply `use`.

    Attributes:
        id: stable kebab-case name; letters find their action by it.
        word: what it alone would make of the clip.
        what: what is, with numbers and units, and what is allowed.
        without: what may not be said or shown of the clip, for `use, limited`; empty otherwise.
        numbers: the same numbers as data.
    """

    id: str
    word: VerdictWord
    what: str
    without: str = ""
    numbers: tuple[tuple[str, float | str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Measure:
    """A number of a clip with what it can and cannot know."""

    id: str
    value: str
    knows: str
    cannot: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartReport:
    """One part of a submission, measured and judged.

    Attributes:
        part: down-the-line, face-on, grip or portrait; `clip` for a file without a record.
        word: the verdict.
        reasons: worst first.
        notes: what was put right, and what a producer should know.
        measures: numbers with their limits of knowledge.
        proposals: moments proposed or chosen.
        thumbs: JPEG pictures by position.
        content: SHA-256 of the file; empty where it could not be read.
    """

    part: str
    word: VerdictWord
    reasons: tuple[Reason, ...]
    notes: tuple[str, ...]
    measures: tuple[Measure, ...]
    proposals: tuple[Proposal, ...]
    thumbs: dict[str, bytes]
    content: str


def worst(words: list[VerdictWord]) -> VerdictWord:
    """The word that weighs most; use where there is none."""
    return max(words, key=lambda word: word.rank, default=USE)


def ordered(reasons: list[Reason]) -> tuple[Reason, ...]:
    """Worst first; among equals as they were found, which is the order of looking."""
    return tuple(sorted(reasons, key=lambda reason: -reason.word.rank))


def swing_reasons(seen: Survey, header: Header, limits: IntakeLimits) -> Iterator[Reason]:
    """Every reason that the pictures and the file of a swing give."""
    yield from _length(seen, limits)
    yield from _size(seen, limits)
    yield from _camera(seen, limits)
    yield from _light(seen, limits)
    yield from _coding(seen, header, limits)
    yield from _swing(seen, limits)
    yield from _frame(seen, limits)
    yield from _sharpness(seen, limits)
    yield from _rate(seen, limits)
    yield from _overlays(seen, limits)


def _length(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    seconds = float(seen.duration)
    real = seconds / (seen.pace if seen.capture is not None else 1.0)
    if real < limits.seconds_least - 0.05:
        yield Reason(
            id="too-short", word=RESHOOT, what=f"lasts {real:.1f} s — at least {limits.seconds_least:g} s are needed",
            numbers=(("seconds", real), ("least", limits.seconds_least)),
        )  # fmt: skip
    elif real > limits.seconds_most:
        yield Reason(
            id="too-long", word=RESHOOT, what=f"lasts {real:.0f} s — at most {limits.seconds_most:g} s are taken",
            numbers=(("seconds", real), ("most", limits.seconds_most)),
        )  # fmt: skip


def _size(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    short = min(seen.size.width, seen.size.height)
    if short < limits.short_side_least:
        yield Reason(
            id="too-small", word=RESHOOT,
            what=f"pictures are {seen.size} — the shorter side needs {limits.short_side_least:g} pixels",
            numbers=(("short_side", short), ("least", limits.short_side_least)),
        )  # fmt: skip
    elif short < limits.short_side_good:
        yield Reason(
            id="small", word=LIMITED,
            what=f"pictures are {seen.size} — {limits.short_side_good:g} pixels of the shorter side fill the screen",
            without="no full screen", numbers=(("short_side", short), ("good", limits.short_side_good)),
        )  # fmt: skip


def _camera(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    steady = seen.steady
    if not steady.known:
        yield Reason(
            id="camera-unknown", word=LIMITED,
            what="the background is too plain to tell whether the camera stood still",
            without="no lines held from one position to another", numbers=(("blocks", steady.blocks),),
        )  # fmt: skip
        return
    drift, shake = 100 * steady.drift, 100 * steady.shake
    numbers = (("drift_percent", round(drift, 3)), ("shake_percent", round(shake, 3)))
    what = f"the camera moves by {drift:.1f} % of the picture and shakes by {shake:.2f} %"
    if drift > limits.drift_most or shake > limits.shake_most:
        yield Reason(
            id="camera-moves", word=RESHOOT,
            what=f"{what} — at most {limits.drift_most:g} % and {limits.shake_most:g} % can be used", numbers=numbers,
        )  # fmt: skip
    elif drift > limits.drift_lines or shake > limits.shake_lines:
        yield Reason(
            id="camera-unsteady", word=LIMITED,
            what=f"{what} — a held line needs {limits.drift_lines:g} % and {limits.shake_lines:g} %",
            without="no lines held from one position to another unless they follow the background", numbers=numbers,
        )  # fmt: skip


def _light(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    light, flicker = seen.light, 100 * seen.flicker
    if light.middle < limits.dark_least:
        yield Reason(
            id="too-dark", word=RESHOOT,
            what=f"the player's middle brightness is {light.middle:.0f} of 235 — {limits.dark_least:g} are needed",
            numbers=(("luma", light.middle), ("least", limits.dark_least)),
        )  # fmt: skip
    if 100 * light.burnt > limits.burnt_most:
        yield Reason(
            id="too-bright", word=RESHOOT,
            what=f"{100 * light.burnt:.0f} % of the player's part is burnt out — at most {limits.burnt_most:g} %",
            numbers=(("burnt_percent", round(100 * light.burnt, 1)), ("most", limits.burnt_most)),
        )  # fmt: skip
    # A shaking camera makes rows waver as well; then the camera is the reason.
    if seen.steady.known and 100 * seen.steady.shake > limits.shake_most:
        return
    numbers = (("flicker_percent", round(flicker, 2)),)
    if flicker > limits.flicker_most:
        yield Reason(
            id="light-flickers", word=RESHOOT,
            what=f"the light wavers by {flicker:.1f} % — at most {limits.flicker_most:g} % can be used",
            numbers=numbers,
        )  # fmt: skip
    elif flicker > limits.flicker_good:
        yield Reason(
            id="light-wavers", word=LIMITED,
            what=f"the light wavers by {flicker:.1f} % — up to {limits.flicker_good:g} % are not seen",
            without="no slow motion, in which the wavering shows", numbers=numbers,
        )  # fmt: skip


def _coding(seen: Survey, header: Header, limits: IntakeLimits) -> Iterator[Reason]:
    quantiser = header.quantiser
    if quantiser is not None:
        blocky, heavy = quantiser > limits.quantiser_good, quantiser > limits.quantiser_most
        what = f"mean quantiser {quantiser:.0f} of 51 — clean up to {limits.quantiser_good:g}"
        numbers: tuple[tuple[str, float | str], ...] = (("quantiser", quantiser),)
    else:
        blocky = heavy = seen.blocks > limits.blocks_most
        what = (
            f"block borders are {seen.blocks:.2f} times as strong as what lies between — {limits.blocks_most:g} at most"
        )
        numbers = (("blocks", round(seen.blocks, 2)),)
    if heavy:
        yield Reason(id="compressed-heavily", word=RESHOOT, what=f"compressed far too much: {what}", numbers=numbers)
    elif blocky:
        yield Reason(
            id="compressed", word=LIMITED, what=f"compressed much, as messengers do: {what}",
            without="no close-ups; the club may be lost", numbers=numbers,
        )  # fmt: skip


def _swing(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    swing = seen.swing
    if swing is None:
        yield Reason(
            id="no-swing", word=RESHOOT, what="no swing was found in it — one is needed", numbers=(("swings", 0),)
        )
        return
    if len(seen.swings) > 1:
        spots = ", ".join(f"{guess.fastest:.1f} s" for guess in seen.swings)
        yield Reason(
            id="several-swings", word=LIMITED,
            what=f"{len(seen.swings)} swings were found, fastest at {spots} — one a clip; the last was measured",
            without="only the swing that a person names", numbers=(("swings", len(seen.swings)),),
        )  # fmt: skip
    before = swing.start / seen.pace
    if swing.top is None or (before < limits.rest_before and not swing.whole and swing.start <= 0.05):
        yield Reason(
            id="starts-late", word=RESHOOT,
            what=f"the swing has begun before the clip: {before:.1f} s of rest — {limits.rest_before:g} s are needed",
            numbers=(("rest", round(before, 2)), ("least", limits.rest_before)),
        )  # fmt: skip
    elif not swing.whole and swing.end >= float(seen.duration) - 0.1:
        yield Reason(
            id="ends-early", word=LIMITED, what="the clip ends before the finish comes to rest",
            without="nothing of the finish or balance", numbers=(("end", round(swing.end, 2)),),
        )  # fmt: skip


def _frame(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    framing = seen.framing
    if framing is None:
        return
    if framing.cut:
        edges = " and ".join(framing.cut)
        yield Reason(
            id="cut-off", word=RESHOOT,
            what=f"player, club or shadow leave the picture at the {edges} — all of the swing must be in it",
            numbers=(("edges", edges),),
        )  # fmt: skip
    tall = 100 * framing.area.height
    numbers = (("height_percent", round(tall, 1)),)
    if tall < limits.figure_least:
        yield Reason(
            id="too-far", word=RESHOOT,
            what=f"the swing fills {tall:.0f} % of the picture's height —"
            f" at least {limits.figure_least:g} % are needed",
            numbers=numbers,
        )  # fmt: skip
    elif tall < limits.figure_good:
        yield Reason(
            id="far", word=LIMITED,
            what=f"the swing fills {tall:.0f} % of the picture's height — {limits.figure_good:g} % are good",
            without="no close-ups", numbers=numbers,
        )  # fmt: skip
    if framing.others:
        yield Reason(
            id="others-move", word=LIMITED, what="something else moves in the picture, away from the player",
            without="until a person has looked who or what it is", numbers=(("others", 1),),
        )  # fmt: skip


def _sharpness(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    # An edge of three pixels is as sharp as a small picture can show; its size is then the reason.
    soft = seen.edges is not None and seen.edges * seen.size.height > _SHARPEST and 100 * seen.edges > limits.edge_most
    if soft and seen.edges is not None:
        yield Reason(
            id="out-of-focus", word=RESHOOT,
            what=f"sharp edges are {100 * seen.edges:.1f} % of the picture's height wide —"
            f" at most {limits.edge_most:g} %",
            numbers=(("edge_percent", round(100 * seen.edges, 2)), ("most", limits.edge_most)),
        )  # fmt: skip
    elif seen.smear is not None and seen.smear > limits.smear_most:
        wide = "beyond measure" if seen.smear == float("inf") else f"{seen.smear:.1f} times as wide as at rest"
        yield Reason(
            id="smeared", word=LIMITED,
            what=f"edges of what moves fast are {wide} — at most {limits.smear_most:g} times;"
            f" in 1/{max(1.0, seen.true_rate):.0f} s, the longest exposure there can be, a club head at 40 m/s travels"
            f" {100 * travel(40.0, 1 / max(1.0, seen.true_rate)):.0f} cm",
            without="no club shaft, club head or hands at impact", numbers=(("smear", min(seen.smear, 99.0)),),
        )  # fmt: skip


def travel(speed: float, seconds: float) -> float:
    """Metres that something at a speed in metres a second travels while the shutter is open."""
    return speed * seconds


def _rate(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    swing = seen.swing
    if seen.pace > 1.2 and seen.capture is None:
        down = "" if swing is None or swing.top is None else f": the way down takes {swing.fastest - swing.top:.1f} s"
        yield Reason(
            id="slowed", word=LIMITED,
            what=f"the file looks slowed down, about {seen.pace:g} times{down} — in real time at most"
            f" {limits.downswing_most:g} s; its true rate is not written in it",
            without="no tempo, no speed against real time, no impact claim until the capture rate is known",
            numbers=(("pace", seen.pace),),
        )  # fmt: skip
        return
    true = seen.slowest * (seen.pace if seen.capture is not None else 1.0)
    if true < limits.rate_impact:
        varies = f", falling to {seen.slowest:.0f}" if seen.slowest < 0.8 * seen.rate else ""
        yield Reason(
            id="rate-low", word=LIMITED,
            what=f"{seen.rate:.0f} frames a second{varies} — {limits.rate_impact:g} are needed for tempo and impact;"
            f" between two frames a club head at 40 m/s travels {100 * travel(40.0, 1 / max(true, 1.0)):.0f} cm",
            without="no tempo, no impact claim", numbers=(("rate", round(seen.rate, 2)), ("slowest", round(true, 2))),
        )  # fmt: skip


def _overlays(seen: Survey, limits: IntakeLimits) -> Iterator[Reason]:
    if seen.lettering is not None:
        spot = f"{100 * seen.lettering.x:.0f} % from the left, {100 * seen.lettering.y:.0f} % from the top"
        yield Reason(
            id="lettering", word=LIMITED,
            what=f"a row of letters stands at the edge of the picture ({spot}), or a sign in the scene",
            without="until a person has looked whose mark it is", numbers=(("x", round(seen.lettering.x, 3)),),
        )  # fmt: skip
    if 100 * seen.bars > limits.bars_most:
        yield Reason(
            id="bars", word=LIMITED,
            what=f"black bars fill {100 * seen.bars:.0f} % of the width or height — the original has none",
            without="no full screen; ask for the original", numbers=(("bars_percent", round(100 * seen.bars, 1)),),
        )  # fmt: skip


def side_reason(seen: Survey, part: str, hand: Hand | None, stated: Part | None) -> Reason | None:
    """Whether the picture contradicts hand and view as stated; None where it agrees or cannot tell.

    From behind, a right-hander's club starts on the right of where the hands are at the top; from the front, hands at
    the top are left of where they finish. A mirrored picture, the other hand and the other view look the same.
    """
    framing, swing = seen.framing, seen.swing
    if framing is None or swing is None or swing.top is None or hand is None or framing.high_top is None:
        return None
    if not seen.steady.known or seen.steady.shake > _STILL or framing.cut or not swing.whole:
        return None
    if part == "down-the-line" and framing.low_start is not None:
        lean = framing.low_start - framing.high_top
    elif part == "face-on" and framing.high_end is not None:
        lean = framing.high_end - framing.high_top
    else:
        return None
    expected = 1 if (hand is Hand.RIGHT) != bool(stated is not None and stated.mirrored) else -1
    if lean * expected > -0.06:
        return None
    return Reason(
        id="side-differs", word=LIMITED,
        what=f"looks like a {'left' if hand is Hand.RIGHT else 'right'}-hander from {part}, stated is"
        f" {hand.value}-handed — mirrored, the other hand or another view; which one the picture cannot tell",
        without="until a person has looked whether it is mirrored", numbers=(("lean", round(lean, 2)),),
    )  # fmt: skip

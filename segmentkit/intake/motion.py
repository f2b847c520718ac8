"""Where somebody swings: how much of the picture changes, and the shape of that over time.

A swing is a slow rise and fall (going back), a short valley (the top) and a short high peak (coming down and through).
That is a proposal. A practice swing looks the same, and so does someone who throws a ball.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.intake.camera import Steadiness
from segmentkit.intake.footage import Footage

Series = NDArray[np.float64]

_STEP = 1 / 60  # seconds over which change is looked at; longer where frames are farther apart
_PACES = (1.0, 2.0, 4.0, 8.0)
_LEAST = 0.05
"""Least change a second that is a swing: a whole player far away makes more."""
_PLAIN = 0.2
"""Change a second that is plainly more than fidgeting; what stays below it must have the shape of a swing."""
_RISE = 0.12  # share of the peak at which the swing has begun or is over


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """How much of the picture changes.

    Attributes:
        seconds: moments, float64, shape (n,).
        change: share of the picture that changes, a second, float64, shape (n,); the camera's own motion taken out.
        floor: what changes while nobody moves.
    """

    seconds: Series
    change: Series
    floor: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SwingGuess:
    """A swing as its motion shows it; moments in seconds of the clip from its first frame.

    Attributes:
        start, end: where motion rises from and falls back to rest, or the ends of the clip.
        top: the valley before the peak; None where there is none.
        fastest: the moment of most motion.
        clear: how far the valley lies under the hump before it and the peak after it, 0 to 1.
        whole: whether the clip holds rest before and after it.
    """

    start: float
    top: float | None
    fastest: float
    end: float
    clear: float
    whole: bool


def motion_of(footage: Footage, steady: Steadiness, slow_down: float = 1.0) -> Motion:
    """Measures change over steps of a sixtieth of a second of real time, or from frame to frame where those are longer.

    Args:
        footage: of the clip.
        steady: its camera.
        slow_down: how many times slower than real time the file runs, as far as is known or tried.
    """
    seconds, luma = footage.seconds, footage.luma
    count = len(luma)
    if count < 3:
        return Motion(seconds=seconds, change=np.zeros(count), floor=0.0)
    threshold = max(8.0, 5 * footage.grain)
    slope = _slope(footage.still)
    change = np.zeros(count)
    earlier = np.clip(np.searchsorted(seconds, seconds - _STEP * slow_down - 1e-6, side="right") - 1, 0, None)
    offsets = _offsets(footage, steady)
    for index in range(1, count):
        before = min(int(earlier[index]), index - 1)
        moved = offsets[index] - offsets[before]
        now, then = luma[index].astype(np.int16), _follow(luma[before], moved)
        level = np.median(now - then)  # a lamp or the camera's exposure changes all of it
        # A shifted picture is known to a third of a small pixel at best: edges may differ by so much.
        slack = threshold + slope * min(1.0, float(np.abs(moved).max())) if np.abs(moved).max() >= 0.05 else threshold
        share = float((np.abs(now - then - level) > slack).mean())
        change[index] = share / (seconds[index] - seconds[before]) * slow_down
    change[0] = change[1]
    span = float(np.median(np.diff(seconds)))
    lag = max(1, round(_STEP * slow_down / span))
    # A key frame that looks unlike its neighbours makes a spike as long as the step; no body is that quick.
    calm = _middled(change, 2 * lag + 1)
    smooth = _averaged(calm, max(1, round(0.05 * slow_down / span)))
    return Motion(seconds=seconds, change=smooth, floor=float(np.percentile(smooth, 10)))


def _slope(still: NDArray[np.float32]) -> NDArray[np.float32]:
    """Steepest change of brightness over a small pixel around each spot."""
    across, down = (np.abs(cv2.Sobel(still, cv2.CV_32F, *axis, ksize=3)) / 8 for axis in ((1, 0), (0, 1)))
    return np.asarray(cv2.dilate(np.maximum(across, down), np.ones((3, 3), np.uint8)))


def _follow(picture: NDArray[np.uint8], moved: Series) -> NDArray[np.int16]:
    """The picture where the camera's motion has carried it."""
    if np.abs(moved).max() < 0.05:
        return picture.astype(np.int16)
    turn = np.array([[1, 0, moved[0]], [0, 1, moved[1]]], np.float64)
    size = (picture.shape[1], picture.shape[0])
    return np.asarray(cv2.warpAffine(picture, turn, size, borderMode=cv2.BORDER_REPLICATE)).astype(np.int16)


def _middled(values: Series, width: int) -> Series:
    padded = np.pad(values, width // 2, mode="edge")
    return np.asarray(np.median(np.lib.stride_tricks.sliding_window_view(padded, width), axis=1))


def _offsets(footage: Footage, steady: Steadiness) -> Series:
    """The camera's shift at each picture, in small pixels, shape (n, 2)."""
    if not steady.known:
        return np.zeros((len(footage.luma), 2))
    size = max(footage.luma.shape[1:])
    return np.stack(
        [np.interp(footage.seconds, steady.seconds, steady.shifts[:, axis]) * size for axis in (0, 1)], axis=1
    )


def _averaged(values: Series, width: int) -> Series:
    width += 1 - width % 2
    padded = np.pad(values, width // 2, mode="edge")
    return np.convolve(padded, np.ones(width) / width, "valid")


def swings_of(motion: Motion, slow_down: float = 1.0) -> tuple[SwingGuess, ...]:
    """Finds swings, in the order of the clip.

    Args:
        motion: of the clip.
        slow_down: how many times slower than real time the file runs, where that is known.
    """
    seconds, change = motion.seconds, motion.change - motion.floor
    if len(change) < 5 or change.max(initial=0.0) < _LEAST:
        return ()
    peaks: list[int] = []
    for index in np.argsort(change)[::-1]:
        if change[index] < 0.45 * change.max():
            break
        if all(abs(seconds[index] - seconds[peak]) > 1.6 * slow_down for peak in peaks):
            peaks.append(int(index))
    guesses = [_around(seconds, change, peak, slow_down) for peak in sorted(peaks)]
    kept: list[SwingGuess] = []
    for guess in guesses:
        if kept and guess.start < kept[-1].fastest:
            continue  # two peaks of one motion
        kept.append(guess)
    # Without a top it is a swing only where it is the clip's main motion, cut off by its start.
    return tuple(guess for guess in kept if guess.top is not None or len(kept) == 1)


def _around(seconds: Series, change: Series, peak: int, slow_down: float) -> SwingGuess:
    low = _RISE * change[peak]
    back = np.searchsorted(seconds, seconds[peak] - 1.2 * slow_down)
    valley = _valley(change, int(back), peak)
    start = peak
    if valley is not None:  # from the hump of the way back, since the valley may lie below the mark
        start = int(back) + int(np.argmax(change[int(back) : valley + 1]))
    while start > 0 and change[start] > low:
        start -= 1
    end = peak
    quiet = 0.15 * slow_down
    while end < len(change) - 1:
        if (
            change[end] <= low
            and seconds[end] - seconds[peak] > 0.2 * slow_down
            and _rests(seconds, change, end, quiet, low)
        ):
            break
        end += 1
    clear = 0.0
    if valley is not None:
        hump_height = float(change[start : valley + 1].max())
        clear = float(np.clip(1 - change[valley] / max(1e-9, min(hump_height, change[peak])), 0, 1))
    return SwingGuess(
        start=float(seconds[start]), top=None if valley is None else float(seconds[valley]),
        fastest=float(seconds[peak]), end=float(seconds[end]), clear=clear,
        whole=bool(change[start] <= low and change[end] <= low),
    )  # fmt: skip


def _rests(seconds: Series, change: Series, index: int, span: float, low: float) -> bool:
    last = np.searchsorted(seconds, seconds[index] + span)
    return bool(change[index : max(index + 1, int(last))].max() <= low)


def _valley(change: Series, first: int, peak: int) -> int | None:
    """The lowest point between the hump of the way back and the peak; None where nothing lies between."""
    best, best_depth = None, 0.0
    run_max = np.maximum.accumulate(change[first : peak + 1])
    for index in range(first + 1, peak):
        depth = float(min(run_max[index - first], change[peak]) - change[index])
        if depth > best_depth:
            best, best_depth = index, depth
    return best


def pace_of(footage: Footage, steady: Steadiness) -> tuple[float, tuple[SwingGuess, ...]]:
    """How many times slower than real time the file seems to run, and its swings at that pace.

    Coming down takes a player 0.2 to 0.3 s. At each pace tried, a valley that lies that long before the peak speaks for
    it; real time is taken unless another pace explains the motion clearly better. A guess: a very slow practice swing
    in real time looks the same as a slowed one.
    """
    best, best_score = 1.0, -1.0
    chosen: tuple[SwingGuess, ...] = ()
    for pace in _PACES:
        motion = motion_of(footage, steady, pace)
        swings = swings_of(motion, pace)
        if motion.change.max(initial=0.0) < _PLAIN:
            swings = tuple(swing for swing in swings if _shape(swing, pace) > 0)
        score = max((_shape(swing, pace) for swing in swings), default=0.0) + (0.1 if pace == 1.0 else 0.0)
        if score > best_score:
            best, best_score, chosen = pace, score, swings
    return best, chosen


def _shape(swing: SwingGuess, pace: float) -> float:
    """How clearly a swing has its valley where one of this pace would: 0 to 1."""
    if swing.top is None or not 0.15 * pace <= swing.fastest - swing.top <= 0.46 * pace:
        return 0.0
    back = swing.top - swing.start
    return swing.clear if 0.3 * pace <= back <= 2.5 * pace else 0.3 * swing.clear

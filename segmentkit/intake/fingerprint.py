"""Finds the same pictures again: re-encoded, scaled, trimmed, slowed or mirrored; and tells them from a second swing.

Two swings of one person from one tripod share their background and much of their timing, so neither decides. What
decides is the motion itself: where, at each moment, the picture differs from its own background. A second swing never
goes through the same places at the same moments; a copy always does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from segmentkit.intake.camera import Steadiness
from segmentkit.intake.footage import Footage

SIDE = 24
"""Width and height of a motion picture, whatever the clip's shape."""
RATE = 60.0
"""Motion pictures a second of the file."""
MOST = 3600
SAME = 0.40
"""Largest difference of two copies, 0 to 1."""
IN_STEP = 0.020
"""Seconds by which two copies may fall out of step on the way; a person's second swing takes its own time."""
_LEAST_COMMON = 40
"""Motion pictures that two clips must share before they can be called the same."""
_PACES = (1.0, 2.0, 4.0, 8.0, 0.5, 0.25, 0.125)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fingerprint:
    """What is kept of a clip for comparing.

    Attributes:
        ground: brightness of the still picture, float32, shape (16, 16), mean 0 and norm 1.
        motion: float32, shape (n, SIDE, SIDE): how far each spot strays from the still picture, `RATE` a second.
        energy: mean of each motion picture, shape (n,).
    """

    ground: NDArray[np.float32]
    motion: NDArray[np.float32]
    energy: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Likeness:
    """How alike two clips are.

    Attributes:
        ground: likeness of their backgrounds, -1 to 1.
        difference: of their motion where they overlap, 0 for copies, about 1 for strangers; None without overlap.
        step: seconds by which they fall out of step on the way; None where too little moves to tell.
        offset: seconds by which the second starts later within the first.
        pace: times by which the second runs slower.
        mirrored: whether one is the mirror image of the other.
    """

    ground: float
    difference: float | None
    step: float | None
    offset: float
    pace: float
    mirrored: bool

    @property
    def same(self) -> bool:
        """Whether the two show the same pictures."""
        return (
            self.difference is not None and self.difference <= SAME and self.step is not None
            and self.step <= IN_STEP * max(1.0, 1 / self.pace)
        )  # fmt: skip


def fingerprint_of(footage: Footage, steady: Steadiness) -> Fingerprint:
    """Takes the fingerprint of a clip from its small pictures."""
    del steady  # a shaking camera is part of what a copy repeats
    count = max(2, min(MOST, int(float(footage.seconds[-1]) * RATE) + 1))
    quiet = max(6.0, 3 * footage.grain)  # what coding and grain do to a spot where nothing moves
    motion = np.zeros((count, SIDE, SIDE), np.float32)
    places = np.interp(np.arange(count) / RATE, footage.seconds, np.arange(len(footage.seconds)))
    kept: dict[int, NDArray[np.float32]] = {}
    for index, place in enumerate(places):
        first, part = int(place), place - int(place)
        for number, share in ((first, 1 - part), (first + 1, part)):
            if share > 0:
                if number not in kept:
                    off = np.abs(footage.luma[number].astype(np.float32) - footage.still)
                    kept[number] = cv2.resize(np.maximum(off - quiet, 0), (SIDE, SIDE), interpolation=cv2.INTER_AREA)
                motion[index] += kept[number] * share
        kept = {number: value for number, value in kept.items() if number >= first}
    ground = cv2.resize(footage.still, (16, 16), interpolation=cv2.INTER_AREA)
    ground = ground - ground.mean()
    norm = float(np.linalg.norm(ground))
    return Fingerprint(
        ground=(ground / max(norm, 1e-6)).astype(np.float32), motion=motion,
        energy=motion.mean(axis=(1, 2), dtype=np.float64),
    )  # fmt: skip


def likeness(first: Fingerprint, second: Fingerprint) -> Likeness:
    """Compares two clips at the shift and pace at which their motion agrees best."""
    best = Likeness(
        ground=_ground(first, second, mirrored=False), difference=None, step=None, offset=0.0, pace=1.0, mirrored=False
    )
    for mirrored in (False, True):
        ground = _ground(first, second, mirrored=mirrored)
        if ground < 0.8:
            continue
        for pace in _PACES:
            found = _aligned(first, second, pace, mirrored=mirrored)
            if found is not None and (best.difference is None or found[0] < best.difference):
                best = Likeness(
                    ground=ground, difference=found[0], step=None, offset=found[1] / RATE, pace=pace, mirrored=mirrored
                )
    if best.difference is None or best.difference > SAME:
        return best
    return replace(best, step=_out_of_step(first, second, best))


def _ground(first: Fingerprint, second: Fingerprint, *, mirrored: bool) -> float:
    other = second.ground[:, ::-1] if mirrored else second.ground
    return float((first.ground * other).sum())


def _aligned(first: Fingerprint, second: Fingerprint, pace: float, *, mirrored: bool) -> tuple[float, int] | None:
    """Smallest difference over all shifts, and the shift in pictures; None where too little is shared."""
    slots = np.arange(0, len(second.motion) - 1 + 1e-9, pace)
    picked = np.rint(slots).astype(int)
    energy = second.energy[picked]
    least = min(_LEAST_COMMON, len(first.energy), len(energy))
    if least < _LEAST_COMMON // 2:
        return None
    shifts = _promising(first.energy, energy, least)
    best: tuple[float, int] | None = None
    for shift in shifts:
        a0, b0 = max(0, shift), max(0, -shift)
        shared = min(len(first.motion) - a0, len(picked) - b0)
        if shared < least:
            continue
        a = first.motion[a0 : a0 + shared]
        b = second.motion[picked[b0 : b0 + shared]]
        if mirrored:
            b = b[:, :, ::-1]
        size = float(a.sum() + b.sum())
        whole = max(float(first.motion.sum()), float(second.motion[picked].sum()), 1e-6)
        if size < 0.5 * whole:  # what moves must lie in what they share
            continue
        # The copies' levels may differ with their coding and brightness; a common factor is taken out.
        factor = float((a * b).sum() / max(float((b * b).sum()), 1e-6))
        factor = min(2.5, max(0.4, factor))
        difference = float(np.abs(a - factor * b).sum() / max(float(np.maximum(a, factor * b).sum()), 1e-6))
        if best is None or difference < best[0]:
            best = difference, shift
    return best


def _out_of_step(first: Fingerprint, second: Fingerprint, found: Likeness) -> float | None:
    """How far the shift that fits best strays over the clip, in seconds: spread of the shifts of short windows."""
    picked = np.rint(np.arange(0, len(second.motion) - 1 + 1e-9, found.pace)).astype(int)
    other = second.motion[picked]
    if found.mirrored:
        other = other[:, :, ::-1]
    shift = round(found.offset * RATE)
    window, reach = round(0.4 * RATE), 7
    # Where a body rests any shift fits; only windows in which much changes can tell.
    busy = np.convolve(np.abs(np.diff(first.motion, axis=0)).mean(axis=(1, 2)), np.ones(window), "valid")
    shifts: list[float] = []
    for start in range(0, len(busy), window // 3):
        if busy[start] < 0.25 * busy.max():
            continue
        a = first.motion[start : start + window]
        costs = []
        for move in range(-reach, reach + 1):
            at = start - shift + move
            if at < 0 or at + window > len(other):
                break
            b = other[at : at + window]
            factor = float((a * b).sum() / max(float((b * b).sum()), 1e-6))
            costs.append(float(np.square(a - factor * b).sum()))
        if len(costs) < 2 * reach + 1:
            continue
        least = int(np.argmin(costs))
        if costs[least] > 0.5 * min(costs[0], costs[-1]):
            continue  # no clear place
        if 0 < least < 2 * reach:
            before, here, after = costs[least - 1 : least + 2]
            bend = before - 2 * here + after
            shifts.append(least - reach + (0.5 * (before - after) / bend if bend > 0 else 0.0))
    if len(shifts) < 3:
        return None
    low, high = np.percentile(shifts, [10, 90])
    return float(high - low) / RATE


def _promising(first: NDArray[np.float64], second: NDArray[np.float64], least: int) -> list[int]:
    """Shifts at which the courses of motion agree best, and their neighbours."""
    a, b = first - first.mean(), second - second.mean()
    agreement = np.correlate(a, b, "full")
    shifts = np.arange(len(agreement)) - (len(b) - 1)
    overlap = np.minimum(len(a) - np.maximum(0, shifts), len(b) - np.maximum(0, -shifts))
    agreement = np.where(overlap >= least, agreement / np.sqrt(np.maximum(1, overlap)), -np.inf)
    best = np.argsort(agreement)[::-1][:6]
    return sorted({int(shifts[index]) + step for index in best for step in (-1, 0, 1)})

"""Polylines in canvas pixels: curves through points, length along a path, dashes, parts of a path.

A path is a float64 array of shape (n, 2), one (x, y) a row. Everything is measured along it, so that a stroke can be
drawn on at a constant speed and its dashes stay where they are while it grows.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from segmentkit.geometry import Point

Path = NDArray[np.float64]

_STEP = 2.0  # pixels between samples of a curve: at most 0.02 px from the true curve at radii above 25 px
_NEAR = 1e-9


def path_of(points: Sequence[Point]) -> Path:
    """The straight path through points, without repeated ones."""
    rows = np.array([(point.x, point.y) for point in points], np.float64).reshape(-1, 2)
    keep = np.ones(len(rows), bool)
    keep[1:] = np.hypot(*np.diff(rows, axis=0).T) > _NEAR
    return rows[keep]


def lengths(path: Path) -> NDArray[np.float64]:
    """Length from the start of a path to each of its points; float64, shape (n,), rising from 0."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))))


def length(path: Path) -> float:
    """Length of a path in pixels."""
    return float(lengths(path)[-1])


def point_at(path: Path, distance: float) -> Point:
    """The point at a length from the start, kept within the path."""
    return Point(*_at(path, lengths(path), distance))


def _at(path: Path, along: NDArray[np.float64], distance: float) -> tuple[float, float]:
    """The point at a length from the start of a path whose `lengths` are known."""
    return float(np.interp(distance, along, path[:, 0])), float(np.interp(distance, along, path[:, 1]))


def part(path: Path, start: float, end: float) -> Path:
    """The stretch of a path between two lengths from its start; empty when there is none."""
    along = lengths(path)
    start, end = max(0.0, start), min(float(along[-1]), end)
    if end < start:
        return np.empty((0, 2))
    inside = path[(along > start) & (along < end)]
    return np.concatenate([[_at(path, along, start)], inside, [_at(path, along, end)]])


def resampled(path: Path, step: float = _STEP) -> Path:
    """The path with points at equal lengths, at most `step` apart; ends stay exactly."""
    along = lengths(path)
    count = max(1, math.ceil(along[-1] / step))
    at = np.linspace(0.0, along[-1], count + 1)
    return np.stack([np.interp(at, along, path[:, k]) for k in (0, 1)], axis=1)


def catmull_rom(points: Path, centripetal: bool = True, per_segment: int = 64) -> Path:
    """A smooth curve that passes exactly through all points.

    Args:
        points: at least two, no two neighbours equal.
        centripetal: knots by the square root of the distance, which never loops or overshoots between near points
            (Barry and Goldman's pyramid, parametrised as by Yuksel, Schaefer and Keyser 2011; from memory); else
            uniform.
        per_segment: samples between two points.

    Returns:
        The curve, `per_segment` samples a segment and the last point; end tangents by mirroring the last segment.
    """
    if len(points) < 3:
        return points
    around = np.concatenate([[2 * points[0] - points[1]], points, [2 * points[-1] - points[-2]]])
    pieces = [
        catmull_rom_segment(around[k : k + 4], np.arange(per_segment) / per_segment, centripetal)
        for k in range(len(points) - 1)
    ]
    return np.concatenate([*pieces, points[-1:]])


def catmull_rom_segment(
    four: NDArray[np.float64], at: NDArray[np.float64], centripetal: bool = True
) -> NDArray[np.float64]:
    """Points of the segment between the second and third of four control points.

    Args:
        four: shape (4, d).
        at: parameters, 0 at the second point to 1 at the third.
        centripetal: knots by the square root of the distance; else uniform.
    """
    gaps = np.linalg.norm(np.diff(four, axis=0), axis=1) ** 0.5 if centripetal else np.ones(3)
    knots = np.concatenate(([0.0], np.cumsum(gaps)))
    t = (knots[1] + at * (knots[2] - knots[1]))[:, None]

    def mix(a: NDArray[np.float64], b: NDArray[np.float64], low: int, high: int) -> NDArray[np.float64]:
        span = knots[high] - knots[low]
        mixed: NDArray[np.float64] = (knots[high] - t) / span * a + (t - knots[low]) / span * b
        return mixed

    first, middle, last = mix(four[0], four[1], 0, 1), mix(four[1], four[2], 1, 2), mix(four[2], four[3], 2, 3)
    curve: NDArray[np.float64] = mix(mix(first, middle, 0, 2), mix(middle, last, 1, 3), 1, 2)
    return curve


def curve_through(points: Sequence[Point]) -> Path:
    """The smooth curve through points, sampled evenly."""
    return resampled(catmull_rom(path_of(points)))


def arc(centre: Point, radius: float, start: float, sweep: float) -> Path:
    """Part of a circle; angles in radians, 0 to the right, growing clockwise on the screen."""
    count = max(8, math.ceil(abs(sweep) * radius / _STEP))
    angles = start + sweep * np.arange(count + 1) / count
    return np.stack([centre.x + radius * np.cos(angles), centre.y + radius * np.sin(angles)], axis=1)


def circle(centre: Point, radius: float) -> Path:
    """A closed circle, from its top, clockwise."""
    return arc(centre, radius, -math.pi / 2, 2 * math.pi)


def box(first: Point, second: Point, corner: float = 0.0) -> Path:
    """A closed upright rectangle from its top left corner, clockwise, with rounded corners."""
    left, right = sorted((first.x, second.x))
    top, bottom = sorted((first.y, second.y))
    r = max(0.0, min(corner, (right - left) / 2, (bottom - top) / 2))
    if r < 1:
        return path_of(
            [Point(left, top), Point(right, top), Point(right, bottom), Point(left, bottom), Point(left, top)]
        )
    half_pi = math.pi / 2
    turns = [
        arc(Point(right - r, top + r), r, -half_pi, half_pi),
        arc(Point(right - r, bottom - r), r, 0, half_pi),
        arc(Point(left + r, bottom - r), r, half_pi, half_pi),
        arc(Point(left + r, top + r), r, math.pi, half_pi),
    ]
    start = np.array([[left + r, top]])
    return np.concatenate([start, *turns])


@dataclass(frozen=True, slots=True)
class Dashes:
    """Where a broken line has ink, along its path.

    Attributes:
        starts: length from the start of the path at which each dash begins.
        on: length of each dash between the centres of its round ends; 0 for dots.
    """

    starts: NDArray[np.float64]
    on: float


def dashes(total: float, on: float, gap: float, closed: bool) -> Dashes:
    """Lays dashes from the start of a path; the period is stretched a little so that the path ends well.

    Args:
        total: length of the path.
        on: wanted length of a dash; 0 for dots.
        gap: wanted length between two dashes.
        closed: whether the path ends where it starts; else it ends with a whole dash.
    """
    period = on + gap
    count = max(1, round((total if closed else total + gap) / period))
    stretch = total / (count * period) if closed else (total / (count * period - gap) if count > 1 or on else 1.0)
    return Dashes(np.arange(count, dtype=np.float64) * (period * stretch), on * stretch)

"""Dynamic time warping of a take against the guide voice: finds words in any language the guide voice speaks."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from segmentkit.media.activity import Speech
from segmentkit.media.sound import Samples
from segmentkit.timebase import SAMPLE_RATE

Features = NDArray[np.float32]

HOP = SAMPLE_RATE // 100
_LONGEST = 6000  # frames on either side; beyond, frames are taken further apart
_WIDTH = 1200  # samples of a window: 25 ms
_TRANSFORM = 2048


def warp(
    model: Samples, model_speech: Speech, starts: Sequence[Fraction], take: Samples, take_speech: Speech
) -> list[int]:
    """Where the words of the model start in the take, in samples.

    Pauses are cut out of both first: people pause where the guide voice does not.

    Args:
        model: the guide voice, float32, 48 kHz, shape (n, 1).
        model_speech: where it speaks.
        starts: when each of its words starts, in seconds.
        take: the take, as `model`.
        take_speech: where someone speaks in it.
    """
    left, right = _voiced_frames(model_speech), _voiced_frames(take_speech)
    stride = -(-max(len(left), len(right)) // _LONGEST)
    left, right = left[::stride], right[::stride]
    path = shortest_path(features(model, left), features(take, right))
    result = []
    for start in starts:
        index = min(int(np.searchsorted(left, float(start) * SAMPLE_RATE - HOP / 2)), len(left) - 1)
        result.append(int(right[path[index]]))
    return result


def features(sound: Samples, places: NDArray[np.int64]) -> Features:
    """Shape of the spectrum around each place and how it changes: 12 cepstral coefficients, level, and their slopes.

    Args:
        sound: float32, 48 kHz, shape (n, 1).
        places: samples at which windows of 25 ms begin.

    Returns:
        shape (len(places), 26), each column with mean 0 and deviation 1.
    """
    padded = np.concatenate([sound[:, 0], np.zeros(_WIDTH, np.float32)])
    windows = padded[places[:, None] + np.arange(_WIDTH)] * np.hanning(_WIDTH).astype(np.float32)
    power = np.square(np.abs(np.fft.rfft(windows, _TRANSFORM, axis=1)))
    bands = np.log(power @ _bank().T + 1e-9)
    cosine = np.cos(np.pi / bands.shape[1] * np.outer(np.arange(1, 13), np.arange(bands.shape[1]) + 0.5))
    shape = np.concatenate([bands @ cosine.T, bands.mean(axis=1, keepdims=True)], axis=1)
    slopes = np.gradient(shape, 2, axis=0) if len(shape) > 1 else np.zeros_like(shape)
    whole = np.concatenate([shape, slopes], axis=1)
    deviation = whole.std(axis=0)
    return np.asarray((whole - whole.mean(axis=0)) / np.where(deviation > 1e-6, deviation, 1), np.float32)


def shortest_path(left: Features, right: Features) -> NDArray[np.int64]:
    """For each frame of `left` the first frame of `right` that belongs to it on the cheapest path.

    Steps (1,0), (0,1) and (1,1) on squared distances, swept along anti-diagonals; both ends are held together.
    """
    table = accumulated(left, right)
    row, column = len(left) - 1, len(right) - 1
    path = np.zeros(len(left), np.int64)
    path[row] = column
    while row or column:
        choices = [
            (table[row - 1, column - 1] if row and column else np.inf, -1, -1),
            (table[row - 1, column] if row else np.inf, -1, 0),
            (table[row, column - 1] if column else np.inf, 0, -1),
        ]
        _, down, across = min(choices, key=lambda choice: choice[0])
        row, column = row + down, column + across
        path[row] = column
    return path


def accumulated(left: Features, right: Features) -> NDArray[np.float32]:
    """Cost of the cheapest path to each pair of frames; shape (len(left), len(right))."""
    squares = np.square(left).sum(axis=1)[:, None] + np.square(right).sum(axis=1)[None, :]
    table = np.maximum(squares - 2 * left @ right.T, 0).astype(np.float32)
    rows, columns = table.shape
    for diagonal in range(1, rows + columns - 1):
        i = np.arange(max(0, diagonal - columns + 1), min(rows, diagonal + 1))
        j = diagonal - i
        best = np.full(len(i), np.inf, np.float32)
        for di, dj in ((1, 1), (1, 0), (0, 1)):
            inside = (i >= di) & (j >= dj)
            best[inside] = np.minimum(best[inside], table[i[inside] - di, j[inside] - dj])
        table[i, j] += best
    return np.asarray(table, np.float32)


def _voiced_frames(speech: Speech) -> NDArray[np.int64]:
    """Samples at which the frames with a voice begin."""
    edges = [speech.begin, *(edge for pause in speech.pauses for edge in pause), speech.end]
    runs = [np.arange(a, b, HOP) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return np.concatenate(runs).astype(np.int64)


def _bank() -> NDArray[np.float64]:
    """26 overlapping triangles, even on the mel scale from 60 to 7000 Hz; shape (26, bins)."""
    lowest, highest = (2595 * np.log10(1 + hertz / 700) for hertz in (60.0, 7000.0))
    edges = 700 * (10 ** (np.linspace(lowest, highest, 28) / 2595) - 1)
    hertz = np.fft.rfftfreq(_TRANSFORM, 1 / SAMPLE_RATE)[None, :]
    low, middle, high = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    triangles = np.minimum((hertz - low) / (middle - low), (high - hertz) / (high - middle))
    return np.asarray(np.clip(triangles, 0, None), np.float64)

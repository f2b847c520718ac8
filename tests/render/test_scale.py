"""Plain resizes held against the interpolation itself, computed in double precision for each place."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from segmentkit.render.scale import CLOSE, resized

SIZE = (150, 100)


def cubic(distance: np.ndarray, a: float = -0.75) -> np.ndarray:
    """The cubic convolution kernel of Keys (1981), with the parameter that OpenCV uses."""
    t = np.abs(distance)
    near = (a + 2) * t**3 - (a + 3) * t**2 + 1
    far = a * t**3 - 5 * a * t**2 + 8 * a * t - 4 * a
    return np.where(t <= 1, near, np.where(t < 2, far, 0))


def weights(step: float, start: float, count: int, samples: int) -> np.ndarray:
    """What each of `count` places takes from each source sample; the outermost ones go on for ever."""
    table = np.zeros((count, samples))
    for place in range(count):
        x = step * place + start
        for k in range(int(np.floor(x)) - 1, int(np.floor(x)) + 3):
            table[place, min(max(k, 0), samples - 1)] += cubic(np.array(x - k))
    return table


def exact(plane: np.ndarray, across: tuple[float, float], down: tuple[float, float]) -> np.ndarray:
    rows, columns = weights(*down, SIZE[1], plane.shape[0]), weights(*across, SIZE[0], plane.shape[1])
    return np.clip(rows @ plane.astype(float) @ columns.T, 0, 255)


@pytest.fixture(scope="module")
def plane() -> np.ndarray:
    noise = np.random.default_rng(5).integers(16, 236, (135, 240)).astype(np.uint8)
    return cv2.GaussianBlur(noise, (0, 0), 1.2)


@pytest.mark.parametrize("scale", [1.05, 1.3, 1.37, 1.4142, 1.81, 2.24])
@pytest.mark.parametrize("start", [(20.37, 11.8), (-3.2, 4.1), (60.5, 30.25), (150.0, 60.0)])
@pytest.mark.parametrize("mirrored", [False, True])
def test_it_is_the_interpolation_at_a_place_that_is_close(plane, scale, start, mirrored):
    step = 1 / scale
    across = (-step, 200 - start[0]) if mirrored else (step, start[0])
    down = (step, start[1])
    made = resized(plane, across, down, SIZE, cv2.INTER_CUBIC)
    assert made is not None
    assert made.shape == SIZE[::-1]
    wrong = np.abs(made - exact(plane, across, down))
    # A shift by s changes a sample by at most s times the slope; both axes may be off.
    slopes = [np.abs(np.diff(plane.astype(float), axis=axis)).max() for axis in (0, 1)]
    assert wrong.max() <= CLOSE * 1.5 * sum(slopes) + 1
    assert wrong.mean() < 1


def test_where_no_start_is_close_it_says_so(plane):
    # At twice the size there are two phases only, and a quarter is met by neither.
    assert resized(plane, (0.5, 20.1), (0.5, 11.0), SIZE, cv2.INTER_CUBIC) is None

"""The same pictures are found again; another swing of the same person is another swing."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest

from segmentkit.intake.camera import steadiness
from segmentkit.intake.fingerprint import IN_STEP, SAME, fingerprint_of, likeness
from segmentkit.intake.footage import Footage, _grain, _still


def scene(angles, *, fps=60, seed=1, size=(180, 320)):
    """A player of sticks who turns an arm with a club through angles in degrees, before a textured ground."""
    height, width = size
    ground = cv2.GaussianBlur(np.random.default_rng(seed).integers(60, 190, (height, width), np.uint8), (0, 0), 3)
    ground = cv2.convertScaleAbs(ground, alpha=3, beta=-250)
    pictures = []
    for angle in angles:
        picture = ground.copy()
        x, y = width // 2, height // 2
        cv2.ellipse(picture, (x, y + 20), (12, 40), 0, 0, 360, 40, -1)
        tip = (round(x + 75 * np.sin(np.radians(angle))), round(y + 75 * np.cos(np.radians(angle))))
        cv2.line(picture, (x, y), tip, 225, 4, cv2.LINE_AA)
        pictures.append(picture)
    return footage(np.stack(pictures), fps)


def footage(luma, fps):
    return Footage(
        frames=tuple(range(len(luma))), seconds=np.arange(len(luma)) / fps, luma=luma, still=_still(luma),
        grain=_grain(luma), scale=1.0,
    )  # fmt: skip


def swing(rest=0.5, back=0.8, down=0.25, through=0.5, reach=200.0, fps=60):
    """Angles of a swing: rest, back, down and through, rest."""
    parts = [
        np.full(round(rest * fps), 0.0),
        reach * (1 - np.cos(np.linspace(0, np.pi, round(back * fps)))) / 2,
        reach - (reach + 160) * (1 - np.cos(np.linspace(0, np.pi, round((down + through) * fps)))) / 2,
        np.full(round(0.7 * fps), -160.0),
    ]
    return np.concatenate(parts)


def printed(film):
    return fingerprint_of(film, steadiness(film))


@cache
def first():
    return printed(scene(swing()))


def test_the_same_film_is_the_same():
    found = likeness(first(), first())
    assert found.same
    assert found.difference == pytest.approx(0, abs=1e-6)
    assert (found.offset, found.pace, found.mirrored) == (0.0, 1.0, False)


def grainy():
    luma = scene(swing()).luma
    return footage(np.clip(luma + np.random.default_rng(2).normal(0, 3, luma.shape), 16, 235).astype(np.uint8), 60)


def scaled():
    small = [cv2.resize(picture, (240, 135), interpolation=cv2.INTER_AREA) for picture in scene(swing()).luma]
    return footage(np.stack(small), 60)


COPIES = {
    "half the pictures": lambda: scene(swing()[::2], fps=30),
    "twice the pictures": lambda: scene(swing(fps=120), fps=120),
    "trimmed": lambda: scene(swing()[18:-20]),
    "slowed four times": lambda: scene(swing(fps=120), fps=30),
    "grainy": grainy,
    "darker": lambda: footage((scene(swing()).luma * 0.8).astype(np.uint8), 60),
    "mirrored": lambda: footage(np.ascontiguousarray(scene(swing()).luma[:, :, ::-1]), 60),
    "scaled": scaled,
}


@pytest.mark.parametrize(
    "name", [pytest.param(name, marks=[] if name == "half the pictures" else pytest.mark.slow) for name in COPIES]
)
def test_a_copy_is_found(name):
    found = likeness(first(), printed(COPIES[name]()))
    assert found.same, (name, found)
    assert found.mirrored is (name == "mirrored")
    assert found.pace == (4.0 if name == "slowed four times" else 1.0)
    if name == "trimmed":
        assert found.offset == pytest.approx(0.3, abs=0.02)


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("a slower way back", swing(back=0.88)),
        pytest.param("a quicker way down", swing(down=0.19), marks=pytest.mark.slow),
        pytest.param("a shorter reach", swing(reach=175), marks=pytest.mark.slow),
        pytest.param("one and a half", swing(rest=0.8, back=0.72, reach=215), marks=pytest.mark.slow),
    ],
)
def test_a_second_swing_from_the_same_tripod_is_no_copy(name, other):
    found = likeness(first(), printed(scene(other)))
    assert found.ground > 0.95
    assert not found.same, (name, found)
    assert found.difference > SAME or found.step is None or found.step > IN_STEP


@pytest.mark.slow
def test_another_place_is_no_copy_whatever_moves():
    found = likeness(first(), printed(scene(swing(), seed=9)))
    assert not found.same

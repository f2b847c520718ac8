"""Single measures against numbers that are known: blur, shake, clicks, light, blocks, edges."""

from __future__ import annotations

import wave

import cv2
import numpy as np
import pytest

from segmentkit.geometry import Rect
from segmentkit.intake import picture
from segmentkit.intake.camera import steadiness
from segmentkit.intake.strike import clicks
from segmentkit.intake.verdict import travel
from tests.intake.test_fingerprint import footage

RNG = np.random.default_rng(4)
GROUND = cv2.convertScaleAbs(
    cv2.GaussianBlur(RNG.integers(0, 255, (180, 320), np.uint8), (0, 0), 2), alpha=4, beta=-380
)


@pytest.mark.parametrize(
    ("part", "centimetres"),
    [(60, 74.5), (120, 37.3), (250, 17.9), (500, 8.94), (1000, 4.47), (2000, 2.24), (4000, 1.12)],
)
def test_blur_is_speed_times_exposure(part, centimetres):
    # 100 miles an hour are 44.704 m/s by the definition of the international mile, 1609.344 m.
    assert 100 * travel(44.704, 1 / part) == pytest.approx(centimetres, abs=0.06)


@pytest.mark.parametrize("amount", [0.3, 1.0, 4.0])
def test_the_cameras_shift_is_measured(amount):
    moves = [(amount * np.sin(k / 3), amount * np.cos(k / 4)) for k in range(60)]
    films = [
        cv2.warpAffine(GROUND, np.array([[1, 0, x], [0, 1, y]], np.float64), (320, 180), borderMode=cv2.BORDER_REFLECT)
        for x, y in moves
    ]
    found = steadiness(footage(np.stack(films), 30))
    wanted = np.array(moves) - moves[30]
    assert found.known
    error = found.shifts * 320 - wanted
    assert np.abs(error).max() < 0.12 + 0.05 * amount


def test_a_camera_that_stands_is_still_and_a_plain_wall_tells_nothing():
    still = np.repeat(GROUND[None], 30, axis=0)
    still[:, 60:120, 140:180] = RNG.integers(16, 235, (30, 60, 40))  # somebody moves
    found = steadiness(footage(still, 30))
    assert found.known
    assert found.drift < 1e-4
    assert not steadiness(footage(np.full((30, 180, 320), 120, np.uint8), 30)).known


@pytest.mark.parametrize("sigma", [0.7, 1.0, 2.0])
def test_an_edge_is_as_wide_as_it_was_blurred(sigma):
    # A step blurred by a Gaussian has the steepest slope height/(sigma sqrt(2 pi)): width = sigma * 2.507.
    step = np.full((300, 400), 40, np.uint8)
    step[:, 200:] = 200
    soft = cv2.GaussianBlur(step, (0, 0), sigma)
    width = picture.edge_width(soft) * 300
    # The slope is taken over three pixels, which widens a narrow edge: variance 2/3 of a pixel squared.
    assert width == pytest.approx(2.5066 * np.hypot(sigma, np.sqrt(2 / 3)), rel=0.12)


def test_no_edges_no_width():
    assert picture.edge_width(np.full((200, 300), 90, np.uint8)) is None


def test_light_of_a_part():
    luma = np.full((100, 100), 20, np.uint8)
    luma[:, 50:] = 235
    assert picture.light_of(luma, Rect(0, 0, 0.5, 1)) == picture.Light(middle=20.0, dark=1.0, burnt=0.0)
    assert picture.light_of(luma, Rect(0.5, 0, 0.5, 1)).burnt == 1.0


@pytest.mark.parametrize("amount", [0.02, 0.05, 0.1])
def test_flicker_is_the_share_by_which_the_light_wavers(amount):
    times = np.arange(120) / 60
    luma = 16 + 120 * (1 + amount * np.sin(2 * np.pi * 13 * times))[:, None, None] * np.ones((1, 90, 160))
    # The root mean square of a sine is its height over the square root of two.
    assert picture.flicker(footage(luma.round().astype(np.uint8), 60)) == pytest.approx(amount / np.sqrt(2), rel=0.12)
    cloud = 16 + 120 * (1 + amount * np.sin(2 * np.pi * 0.3 * times))[:, None, None] * np.ones((1, 90, 160))
    assert picture.flicker(footage(cloud.round().astype(np.uint8), 60)) < 0.006


def test_blocks_of_eight_are_seen_wherever_the_grid_lies():
    plain = cv2.GaussianBlur(RNG.integers(90, 150, (240, 320)).astype(np.float32), (0, 0), 3)
    blocky = cv2.resize(plain, (40, 30), interpolation=cv2.INTER_AREA).repeat(8, axis=0).repeat(8, axis=1)
    mixed = (0.4 * plain + 0.6 * blocky).round().astype(np.uint8)
    assert picture.blocks(plain.round().astype(np.uint8)) < 1.2
    assert picture.blocks(mixed) > 1.5
    assert picture.blocks(mixed[3:, 5:]) > 1.5


def test_bars_and_lettering():
    luma = np.repeat(GROUND[None], 12, axis=0).clip(40, 200).astype(np.uint8)
    luma[:, :, :32] = 16
    luma[:, :, -32:] = 16
    assert picture.bars(footage(luma, 30)) == pytest.approx(0.2, abs=0.01)
    plain = [np.full((360, 640), 110, np.uint8) for _ in range(7)]
    assert picture.lettering(plain) is None
    for one in plain:
        cv2.putText(one, "PRACTICE", (30, 340), cv2.FONT_HERSHEY_SIMPLEX, 0.8, 235, 2, cv2.LINE_AA)
    found = picture.lettering(plain)
    assert found is not None
    assert found.y > 0.85
    assert found.x == pytest.approx(30 / 640, abs=0.02)


def written(path, mono):
    with wave.open(str(path), "wb") as out:
        out.setnchannels(2)
        out.setsampwidth(2)
        out.setframerate(48_000)
        out.writeframes((np.repeat(mono[:, None], 2, axis=1) * 32767).astype("<i2").tobytes())
    return path


def test_a_click_is_found_at_its_millisecond_and_a_rush_is_none(tmp_path):
    quiet = RNG.normal(0, 0.002, 3 * 48_000)
    burst = RNG.normal(0, 0.3, 400) * np.exp(-np.arange(400) / 90)
    click = quiet.copy()
    click[60_000:60_400] += burst
    found = clicks(written(tmp_path / "a.wav", click))
    assert found[0].second == pytest.approx(1.25, abs=0.0011)
    assert found[0].above > 25
    assert len(found) == 1
    rush = quiet + RNG.normal(0, 0.1, len(quiet)) * np.exp(-(((np.arange(len(quiet)) - 72_000) / 9_000) ** 2))
    assert clicks(written(tmp_path / "b.wav", rush)) == ()
    assert clicks(written(tmp_path / "c.wav", np.zeros(48_000))) == ()

"""Pieces whose frozen frames are encoded with less effort join with others and look as good."""

from __future__ import annotations

from fractions import Fraction
from functools import cache
from pathlib import Path

import av
import numpy as np
import pytest

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.geometry import Size
from segmentkit.media.encode import PictureWriter
from segmentkit.media.planes import Planes, blank
from segmentkit.timebase import Rate

SIZE = Size(320, 180)
LENGTH = 120
R25 = Rate(Fraction(25))
PRESETS = ("ultrafast", "superfast", "veryfast", "faster", "fast", "medium", "slow", "slower", "veryslow")


def web(preset: str) -> Delivery:
    return Delivery(
        name="web", scope="web", loudness=-16, true_peak=-1, sound=SoundCoding(),
        picture=PictureCoding(preset=preset, quality=20),
    )  # fmt: skip


@cache
def scene(number: int) -> Planes:
    """Grain and edges, on which a bar grows over frames 30 to 45; shared, so not to be changed."""
    made = blank(SIZE)
    chance = np.random.default_rng(1)
    made.y[:] = np.clip(chance.normal(110, 9, made.y.shape) + 60 * (np.arange(SIZE.width) // 40 % 2), 16, 235)
    made.u[:] = 120
    made.v[40:60] = 150
    made.y[80:90, 40 : 40 + 8 * max(0, min(15, number - 30))] = 210
    return made


def encoded(path: Path, preset: str, still: list[tuple[int, int]]) -> tuple[bytes, np.ndarray]:
    writer = PictureWriter(path, size=SIZE, rate=R25, delivery=web(preset), length=LENGTH, still=still)
    number = 0
    while number < LENGTH:
        repeat = 1 if 29 < number < 46 else min(LENGTH, 30 if number < 30 else LENGTH) - number
        writer.write(scene(number), repeat)
        number += repeat
    assert writer.finish() == LENGTH
    with av.open(str(path)) as file:
        headers = bytes(file.streams.video[0].codec_context.extradata or b"")
        keys = [packet.is_keyframe for packet in file.demux(video=0) if packet.size]
    assert [k for k, key in enumerate(keys) if key] == [0, 50, 100]
    with av.open(str(path)) as file:
        return headers, np.array([frame.to_ndarray(format="gray") for frame in file.decode(video=0)])


def psnr(frames: np.ndarray) -> float:
    wrong = np.mean([np.mean((frames[k].astype(int) - scene(k).y) ** 2) for k in range(0, LENGTH, 7)])
    return float(10 * np.log10(255**2 / wrong))


@pytest.mark.parametrize(
    "preset", [pytest.param(name, marks=[] if name == "veryfast" else pytest.mark.slow) for name in PRESETS]
)
def test_headers_quality_and_size_stay(tmp_path, preset):
    plain, told = tmp_path / "plain.mp4", tmp_path / "told.mp4"
    headers, before = encoded(plain, preset, [])
    same, after = encoded(told, preset, [(1, LENGTH)])
    assert same == headers
    assert psnr(after) > psnr(before) - 0.3
    assert told.stat().st_size < 1.1 * plain.stat().st_size


@pytest.mark.slow
def test_a_part_of_a_piece_may_be_told(tmp_path):
    headers, _ = encoded(tmp_path / "plain.mp4", "medium", [])
    same, frames = encoded(tmp_path / "part.mp4", "medium", [(1, 28), (52, 103)])
    assert same == headers
    assert len(frames) == LENGTH


@pytest.mark.slow
def test_the_same_pictures_give_the_same_bytes(tmp_path):
    for name in ("a.mp4", "b.mp4"):
        encoded(tmp_path / name, "medium", [(1, LENGTH)])
    assert (tmp_path / "a.mp4").read_bytes() == (tmp_path / "b.mp4").read_bytes()

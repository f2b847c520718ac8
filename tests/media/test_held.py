"""Frozen pictures that are encoded once: the same pictures at the same moments, as good and as small as all encoded."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import accumulate, pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from segmentkit.delivery import Delivery, PictureCoding
from segmentkit.geometry import Size
from segmentkit.media import h264, h264_bits
from segmentkit.media.encode import PictureWriter
from segmentkit.media.held import LEAST, quiet_steps, steps
from segmentkit.media.holding import holds, works
from segmentkit.media.pieces_read import pictures_measured
from segmentkit.media.planes import Planes, blank
from segmentkit.timebase import Rate

SIZE = Size(320, 180)
R25 = Rate(Fraction(25))
GROUP = 50
SHOWN = (*[1] * 20, 30, *[1] * 12, 70, *[1] * 9, 5, *[1] * 4, 60)
"""How long each picture stays: a run, a hold over a key frame, a stroke, a hold of more than a group, and so on."""
LENGTH = sum(SHOWN)


def web(preset: str, how: str = "skipped") -> Delivery:
    picture = PictureCoding(preset=preset, quality=20, holds=how)
    return Delivery(name="web", scope="web", loudness=-16, true_peak=-1, picture=picture)


@cache
def scene(number: int) -> Planes:
    """A lawn and a fence that pass by, with grain; shared, so not to be changed."""
    made = blank(SIZE)
    chance = np.random.default_rng(number)
    columns, rows = np.meshgrid(np.arange(SIZE.width) + 2 * number, np.arange(SIZE.height))
    lawn = 100 + 30 * np.sin(columns / 9) * np.sin(rows / 7) + 40 * (columns // 32 % 2)
    made.y[:] = np.clip(lawn + chance.normal(0, 3, lawn.shape), 16, 235)
    made.u[:] = 118
    made.v[30:50] = 140
    return made


@cache
def frames() -> NDArray[np.uint8]:
    return np.array([scene(number).y for number, repeat in enumerate(SHOWN) for _ in range(repeat)])


def written(path: Path, delivery: Delivery) -> NDArray[np.uint8]:
    """Luma of all frames of a file, as they decode."""
    writer = PictureWriter(path, size=SIZE, rate=R25, delivery=delivery, length=LENGTH)
    for number, repeat in enumerate(SHOWN):
        writer.write(scene(number), repeat)
    assert writer.finish() == LENGTH
    assert pictures_measured(path, LENGTH, R25.fps, writer.handed) == pictures_measured(path, LENGTH, R25.fps)
    with av.open(str(path)) as file:
        file.streams.video[0].codec_context.options = {"err_detect": "explode"}
        shown = list(file.decode(video=0))
        unit = file.streams.video[0].time_base
    assert unit is not None
    assert [(frame.pts or 0) * unit for frame in shown] == [k * Fraction(1, 25) for k in range(LENGTH)]
    assert [k for k, frame in enumerate(shown) if frame.key_frame] == list(range(0, LENGTH, GROUP))
    return np.array([frame.to_ndarray(format="gray") for frame in shown])


def psnr(shown: NDArray[np.uint8]) -> float:
    error = np.mean((shown.astype(np.float64) - frames()) ** 2)
    return float(10 * np.log10(255**2 / error))


@pytest.mark.parametrize("preset", ["veryfast", "faster", "medium", "slower"])
def test_a_hold_is_the_same_picture_to_its_end_and_as_good_as_if_all_were_encoded(preset: str, tmp_path: Path) -> None:
    held, coded = tmp_path / "held.mp4", tmp_path / "coded.mp4"
    skipped, plain = written(held, web(preset)), written(coded, web(preset, "coded"))
    for start, repeat in zip(accumulate((0, *SHOWN)), SHOWN, strict=False):
        cuts = sorted({start, *range(start - start % GROUP + GROUP, start + repeat, GROUP), start + repeat})
        for first, end in pairwise(cuts):
            if end - first >= LEAST + 3:
                assert (skipped[first + 2 : end] == skipped[end - 1]).all()
    assert psnr(skipped) > psnr(plain) - 0.3
    assert held.stat().st_size < 1.08 * coded.stat().st_size


def test_what_is_skipped_takes_next_to_nothing(tmp_path: Path) -> None:
    path = tmp_path / "held.mp4"
    written(path, web("veryfast"))
    with av.open(str(path)) as file:
        sizes = {packet.pts: packet.size for packet in file.demux(video=0) if packet.size}
    small = [moment for moment, size in sizes.items() if size < 60]
    held = sum(step.stays - 1 for step in _given(SHOWN))
    assert held > 0.6 * LENGTH
    assert len(small) >= held


@pytest.mark.parametrize("preset", ["veryfast", "fast", "medium", "slow", "veryslow"])
def test_the_trial_passes_with_the_encoder_that_is_here(preset: str) -> None:
    assert works(PictureCoding(preset=preset))


def test_holds_are_encoded_frame_by_frame_where_skipping_is_not_understood() -> None:
    usual = web("medium")
    assert holds(usual)
    for picture in (
        PictureCoding(holds="coded"),
        PictureCoding(preset="ultrafast"),
        PictureCoding(quality=None, bit_rate=8_000_000),
        PictureCoding(pixels="yuv422p10le"),
        PictureCoding(encoder="h264_nvenc"),
        PictureCoding(codec="hevc", encoder="libx265"),
    ):
        assert not holds(replace(usual, picture=picture))
    assert not holds(replace(usual, fields="top"))


def test_a_file_that_is_not_what_the_encoder_gave_is_no_piece(tmp_path: Path) -> None:
    path = tmp_path / "piece.mp4"
    writer = PictureWriter(path, size=SIZE, rate=R25, delivery=web("veryfast"), length=12)
    writer.write(scene(0), 12)
    writer.finish()
    assert writer.handed is not None
    with av.open(str(path)) as file:
        first = next(packet for packet in file.demux(video=0) if packet.size)
        place = (first.pos or 0) + first.size - 20
    data = bytearray(path.read_bytes())
    data[place] ^= 4
    path.write_bytes(data)
    with pytest.raises(Exception, match="other pictures than were encoded"):
        pictures_measured(path, 12, R25.fps, writer.handed)


def _given(repeats: tuple[int, ...], group: int = GROUP) -> list:  # type: ignore[type-arg]
    length = sum(repeats)
    starts = accumulate((0, *repeats))
    return [
        step
        for start, repeat in zip(starts, repeats, strict=False)
        for step in steps(start, repeat, group=group, length=length)
    ]


@given(st.lists(st.integers(1, 90), min_size=1, max_size=12), st.integers(1, 60))
def test_steps_tile_the_frames_and_no_hold_reaches_over_a_key_frame(repeats: list[int], group: int) -> None:
    given_ = _given(tuple(repeats), group)
    length = sum(repeats)
    assert [step.frame for step in given_] == list(accumulate((0, *(step.stays for step in given_[:-1]))))
    assert given_[-1].frame + given_[-1].stays == length
    assert [step.frame for step in given_ if step.key] == list(range(0, length, group))
    for step in given_:
        assert step.lasts >= step.stays
        if step.stays > 1:
            assert step.copy
            assert step.frame // group == (step.frame + step.stays - 1) // group
            assert step.stays > LEAST
            # The encoder learns how long a frame stays from the next one that it is given.
            number = given_.index(step)
            assert number + 1 < len(given_) or given_[number - 1].lasts == step.lasts


@given(st.lists(st.integers(1, 70), min_size=1, max_size=10), st.data())
def test_still_frames_are_counted_as_the_encoder_sees_them(repeats: list[int], data: st.DataObject) -> None:
    length = sum(repeats)
    first = data.draw(st.integers(0, length - 1))
    still = [(first, data.draw(st.integers(first + 1, length)))]
    runs = quiet_steps(repeats, still, group=GROUP, length=length)
    told = {number for start, end in runs for number in range(start, end)}
    for number, step in enumerate(_given(tuple(repeats))):
        assert (number in told) == (not step.key and still[0][0] <= step.frame < still[0][1])
    assert all(a[1] < b[0] for a, b in pairwise(runs))


def test_the_rate_is_said_to_be_constant(tmp_path: Path) -> None:
    path = tmp_path / "held.mp4"
    writer = PictureWriter(path, size=SIZE, rate=R25, delivery=web("veryfast"), length=12)
    writer.write(scene(0), 12)
    writer.finish()
    with av.open(str(path)) as file:
        stream = file.streams.video[0]
        assert stream.average_rate == stream.base_rate == 25
        extra = bytes(stream.codec_context.extradata or b"")
    # In an MP4 file the headers have lengths: a version, three bytes of the profile, two counts (ISO/IEC 14496-15).
    length = int.from_bytes(extra[6:8], "big")
    unit = extra[8 : 8 + length]
    rest = extra[8 + length + 3 :]
    other = rest[: int.from_bytes(extra[8 + length + 1 : 8 + length + 3], "big")]
    found = h264.headers(h264_bits.stream([unit, other]))
    assert found.order_bits >= 12
    text = f"{int.from_bytes(found.unit, 'big'):b}".zfill(8 * len(found.unit))
    assert text[found.fixed_at] == "1"

"""More chroma rows and more bits: levels stay exact, chroma stays where it is."""

from __future__ import annotations

import numpy as np
import pytest

from segmentkit.geometry import Size
from segmentkit.media import ffmpeg
from segmentkit.media.avframes import frame_of, plane_view
from segmentkit.media.depth import frame_of_samples, samples_of
from segmentkit.media.planes import Planes, blank

SIZE = Size(64, 48)


def smooth():
    """A picture whose chroma changes slowly, so that any sound interpolation gives nearly the same."""
    rows = np.linspace(60, 200, 24)[:, None] + 6 * np.sin(np.arange(24) / 3)[:, None]
    chroma = np.rint(np.repeat(rows, 32, axis=1)).astype(np.uint8)
    return Planes(np.full((48, 64), 120, np.uint8), chroma, 255 - chroma)


@pytest.mark.parametrize(
    ("level", "ten"),
    [
        ((16, 128, 128), (64, 512, 512)),
        ((235, 128, 128), (940, 512, 512)),
        ((63, 102, 240), (252, 408, 960)),
        ((180, 128, 128), (720, 512, 512)),
    ],
)
def test_named_levels_in_ten_bits(level, ten):
    """Black, white and extremes of chroma by ITU-R BT.709-6, item 4.6 (ten bits: 64, 940, 64 to 960 around 512)."""
    planes = samples_of(frame_of(blank(SIZE, *level)), "yuv422p10le")
    assert [plane.shape for plane in planes] == [(48, 64), (48, 32), (48, 32)]
    assert [set(np.unique(plane)) for plane in planes] == [{value} for value in ten]


def test_chroma_rows_lie_a_quarter_from_the_near_one():
    """A linear run of chroma goes on through the rows between: row r of luma lies at (r - 1/2) / 2 of chroma."""
    ramp = (40 + 4 * np.arange(24))[:, None].repeat(32, axis=1).astype(np.uint8)
    made = samples_of(frame_of(Planes(np.full((48, 64), 90, np.uint8), ramp, ramp.copy())), "yuv422p10le")[1]
    wanted = 4 * (40 + 4 * (np.arange(48) - 0.5) / 2)
    assert np.array_equal(made[1:-1, 0], wanted[1:-1])
    assert (made[0, 0], made[-1, 0]) == (160, 4 * (40 + 4 * 23))


def test_eight_bits_are_the_ten_rounded():
    ten = samples_of(frame_of(smooth()), "yuv422p10le")[1]
    eight = samples_of(frame_of(smooth()), "yuv422p")[1]
    assert np.array_equal(eight, (ten + 2) >> 2)
    assert eight.dtype == np.uint8


def test_another_program_gives_the_same_picture():
    """Chroma of 4:2:0, sited left, to 4:2:2 by the scaler of ffmpeg (bilinear), to within two steps of ten bits."""
    planes = smooth()
    data = b"".join(plane.tobytes() for plane in (planes.y, planes.u, planes.v))
    done = ffmpeg.run(
        ["-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", "64x48", "-chroma_sample_location", "left", "-i", "pipe:0",
         "-sws_flags", "bilinear+accurate_rnd", "-pix_fmt", "yuv422p10le", "-f", "rawvideo", "pipe:1"],
        given=data,
    )  # fmt: skip
    other = np.frombuffer(done.output, "<u2")[64 * 48 :].reshape(2, 48, 32)
    made = samples_of(frame_of(planes), "yuv422p10le")[1:]
    for ours, theirs in zip(made, other, strict=True):
        assert np.abs(ours.astype(int) - theirs.astype(int))[2:-2].max() <= 2


@pytest.mark.parametrize("pixels", ["yuv420p10le", "yuv422p", "yuv422p10le"])
def test_a_frame_holds_what_it_was_given(pixels):
    planes = samples_of(frame_of(smooth()), pixels)
    frame = frame_of_samples(planes, pixels)
    assert (frame.format.name, int(frame.colorspace), int(frame.color_range)) == (pixels, 1, 1)
    for index, plane in enumerate(planes):
        held = np.ascontiguousarray(plane_view(frame, index, plane.itemsize)).view(plane.dtype)
        assert np.array_equal(held, plane)


def test_plain_pictures_are_not_copied():
    frame = frame_of(smooth())
    assert all(np.shares_memory(a, plane_view(frame, i)) for i, a in enumerate(samples_of(frame, "yuv420p")))

"""Legal levels against EBU R 103 v3.0: 5 to 246 in 8 bits, 20 to 984 in 10, on all but 1 % of the picture."""

from __future__ import annotations

import numpy as np
import pytest

from segmentkit.media import ffmpeg
from segmentkit.media.screen import screen
from segmentkit.media.screen_levels import frame_levels
from segmentkit.media.screen_reduce import FullPlanes


def picture(value: int, share: float, *, bits: int = 8, half: bool = True, cb: int = 128, cr: int = 128) -> FullPlanes:
    """Mid grey with a share of its pixels at a value, 400x250: 100 000 samples."""
    scale = 1 << bits - 8
    kind = np.uint8 if bits == 8 else np.uint16
    y = np.full((250, 400), 126 * scale, kind)
    y.reshape(-1)[: round(share * y.size)] = value
    rows = 125 if half else 250
    u, v = np.full((rows, 200), cb * scale, kind), np.full((rows, 200), cr * scale, kind)
    return FullPlanes((y, u, v), bits, False)


@pytest.mark.parametrize(
    ("value", "share", "illegal"),
    [
        (250, 0.009, False),
        (250, 0.011, True),
        (246, 1.0, False),
        (247, 1.0, True),
        (5, 1.0, False),
        (4, 1.0, True),
    ],
)
def test_boundaries_in_8_bits(value, share, illegal):
    assert (frame_levels(picture(value, share)) is not None) is illegal


@pytest.mark.parametrize(
    ("value", "illegal"),
    [(984, False), (985, True), (20, False), (19, True)],
)
def test_boundaries_in_10_bits(value, illegal):
    assert (frame_levels(picture(value, 1.0, bits=10, half=False)) is not None) is illegal


def test_what_is_outside_is_told_with_its_place():
    found = frame_levels(picture(250, 0.02))
    assert found is not None
    assert found.share == pytest.approx(0.02)
    assert found.highest == 250
    assert (found.area.x, found.area.y) == (0, 0)
    assert found.area.height == pytest.approx(5 / 250)


@pytest.mark.parametrize(
    ("ycc", "illegal"),
    [
        # ITU-R BT.709 colour bars at 100 %, code values from the formula: all legal by R 103.
        ((219, 16, 138), False),
        ((188, 154, 16), False),
        ((63, 102, 240), False),
        ((32, 240, 118), False),
        # Legal Y with a red far beyond 105 %: 200 + 1.54 * (200 - 128) = 311.
        ((200, 128, 200), True),
        # Blue under -5 %: 30 + 1.81 * (60 - 128) = -93.
        ((30, 60, 128), True),
    ],
)
def test_colours_are_judged_as_red_green_and_blue(ycc, illegal):
    y, cb, cr = ycc
    flat = FullPlanes(
        (np.full((20, 20), y, np.uint8), np.full((10, 10), cb, np.uint8), np.full((10, 10), cr, np.uint8)), 8, False
    )
    assert (frame_levels(flat) is not None) is illegal


def test_full_range_is_not_judged():
    whole = picture(255, 1.0)
    assert frame_levels(FullPlanes(whole.planes, 8, True)) is None


def test_the_share_outside_agrees_with_another_program(tmp_path):
    """ffmpeg's signalstats counts pixels outside 16 to 235 (BRNG), which on a picture of 126 and 250 are the same."""
    path = tmp_path / "levels.mkv"
    ffmpeg.run([
        "-f", "lavfi", "-i",
        "color=c=gray:size=400x250:rate=25:duration=0.4,format=yuv420p,geq=lum='if(lt(Y,5),250,126)':cb=128:cr=128,"
        "setparams=range=tv:colorspace=bt709:color_primaries=bt709:color_trc=bt709",
        "-c:v", "ffv1", ffmpeg.named(path),
    ])  # fmt: skip
    told = ffmpeg.run([
        "-loglevel", "info", "-i", ffmpeg.named(path),
        "-vf", "signalstats=stat=brng,metadata=mode=print:key=lavfi.signalstats.BRNG", "-f", "null", "-",
    ]).said  # fmt: skip
    shares = {float(line.split("=")[1]) for line in told.splitlines() if "BRNG=" in line}
    assert shares == {0.02}
    found = screen(path, threads=1).pictures.levels
    assert found is not None
    assert [(one.span.start, one.span.end) for one in found] == [(0, 10)]
    assert found[0].share == pytest.approx(0.02)

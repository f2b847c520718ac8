import numpy as np
import pytest

from segmentkit.geometry import Placement, Point, Rect, Size, cover
from segmentkit.media.planes import Planes, blank
from segmentkit.plan.model import Light
from segmentkit.render.panes import lit, place, soften

CANVAS = Size(320, 180)
WHOLE = Rect(0, 0, 320, 180)


def ramp(size: Size) -> Planes:
    """A picture that tells where each of its samples comes from: luma rises to the right, chroma along both axes.

    The values are those of one continuous field, sampled where each plane's samples lie: luma at pixel centres, chroma
    level with even luma columns and between two luma rows (left siting).
    """
    y = 16 + 200 * (np.arange(size.width)[None, :] + 0.5) / size.width + np.zeros((size.height, 1))
    u = 28 + 200 * (2 * np.arange(size.width // 2)[None, :] + 0.5) / size.width + np.zeros((size.height // 2, 1))
    v = 28 + 200 * (2 * np.arange(size.height // 2)[:, None] + 1.0) / size.height + np.zeros((1, size.width // 2))
    return Planes(*(np.rint(plane).astype(np.uint8) for plane in (y, u, v)))


def noise(size: Size) -> Planes:
    rng = np.random.default_rng(7)
    half = (size.height // 2, size.width // 2)
    return Planes(*(rng.integers(16, 236, shape, np.uint8) for shape in ((size.height, size.width), half, half)))


def test_a_source_of_the_canvas_size_is_copied_sample_by_sample():
    source, target = noise(CANVAS), blank(CANVAS)
    place(target, source, cover(CANVAS, WHOLE))
    for got, want in zip((target.y, target.u, target.v), (source.y, source.u, source.v), strict=True):
        assert np.array_equal(got, want)


def test_a_window_cuts_and_leaves_the_rest_alone():
    source, target = noise(CANVAS), blank(CANVAS)
    window = Rect(0, 0, 160, 180)
    place(target, source, Placement(1.0, -80.0, 0.0, CANVAS, window))
    assert np.array_equal(target.y[:, :160], source.y[:, 80:240])
    assert np.array_equal(target.u[:, :80], source.u[:, 40:120])
    assert (target.y[:, 160:] == 16).all()
    assert (target.u[:, 80:] == 128).all()


@pytest.mark.parametrize("scale", [0.2, 0.5, 0.9, 1.25, 1.7])
@pytest.mark.parametrize("mirrored", [False, True])
def test_resampling_keeps_every_plane_where_it_belongs(scale: float, mirrored: bool):
    size = Size(640, 360)
    shift = (-40.5, -21.25) if scale * size.width > 400 else (-3.5, -1.25)
    window = Rect(0, 0, 120, 68)
    placement = Placement(scale, shift[0], shift[1], size, window, mirrored)
    target = blank(CANVAS)
    place(target, ramp(size), placement)
    for x, y in ((10, 10), (60, 34), (100, 60)):
        at = placement.to_source(Point(x + 0.5, y + 0.5))
        assert target.y[y, x] == pytest.approx(16 + 200 * at.x, abs=1.6)
        at = placement.to_source(Point(x + 0.5, y + 1.0))
        assert target.u[y // 2, x // 2] == pytest.approx(28 + 200 * at.x, abs=1.6)
        assert target.v[y // 2, x // 2] == pytest.approx(28 + 200 * at.y, abs=1.6)


def test_shrinking_averages_areas_and_does_not_skip_samples():
    # A one-sample chequer seen from afar is grey; a kernel that skips samples would show bands.
    size = Size(640, 360)
    chequer = blank(size)
    chequer.y[:] = np.where((np.indices((360, 640)).sum(0)) % 2, 235, 16)
    target = blank(CANVAS)
    place(target, chequer, cover(size, WHOLE))
    assert np.abs(target.y.astype(int) - 125.5).max() <= 3


def test_a_softened_picture_is_darker_and_keeps_its_hue():
    flat = blank(CANVAS, 120, 100, 170)
    soft = soften(flat)
    assert pytest.approx(soft.y[90, 160], abs=1) == 16 + 0.55 * 104
    assert pytest.approx((int(soft.u[45, 80]) - 128) / (int(soft.v[45, 80]) - 128), abs=0.08) == (100 - 128) / (
        170 - 128
    )


@pytest.mark.parametrize("rotate", [-3.0, 1.5])
@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize("scale", [0.5, 1.3])
def test_a_turned_picture_keeps_every_plane_where_it_belongs(rotate: float, mirrored: bool, scale: float):
    size = Size(640, 360)
    window = Rect(0, 0, 120, 68)
    placement = Placement(scale, -60.5, -31.25, size, window, mirrored, rotate)
    target = blank(CANVAS)
    place(target, ramp(size), placement)
    for x, y in ((10, 10), (60, 34), (100, 60)):
        at = placement.to_source(Point(x + 0.5, y + 0.5))
        assert target.y[y, x] == pytest.approx(16 + 200 * at.x, abs=1.6)
        at = placement.to_source(Point(x + 0.5, y + 1.0))
        assert target.u[y // 2, x // 2] == pytest.approx(28 + 200 * at.x, abs=1.6)
        assert target.v[y // 2, x // 2] == pytest.approx(28 + 200 * at.y, abs=1.6)


def test_a_picture_can_be_seen_through():
    source, target = noise(CANVAS), blank(CANVAS, 40, 100, 150)
    place(target, source, cover(CANVAS, WHOLE), 0.25)
    assert np.abs(target.y - (0.25 * source.y + 0.75 * 40)).max() <= 0.5
    assert np.abs(target.v - (0.25 * source.v + 0.75 * 150)).max() <= 0.5


def test_light_is_changed_as_said_and_stays_in_range():
    picture = noise(CANVAS)
    changed = lit(picture, Light(gain=1.2, lift=-6, blue=4, red=-5))
    wanted = np.clip(np.rint(1.2 * (picture.y - 16.0) + 16 - 6), 16, 235)
    assert np.array_equal(changed.y, wanted.astype(np.uint8))
    assert np.array_equal(changed.u, np.clip(picture.u.astype(int) + 4, 16, 240).astype(np.uint8))
    assert changed.v.min() >= 16

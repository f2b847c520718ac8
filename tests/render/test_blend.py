import numpy as np
import pytest

from segmentkit.geometry import Size
from segmentkit.media.planes import blank
from segmentkit.render.blend import blend, dim, patch_from_layers, patch_from_rgba, uncovered, yuv_of
from segmentkit.render.raster import Ink, coverage

SIZE = Size(64, 48)
WHITE, GREY = 235, 126


def disc_mask(width: int = 40, height: int = 32) -> np.ndarray:
    """A soft-edged disc, so that every coverage occurs."""
    return coverage([Ink((np.array([[width / 2 + 0.3, height / 2 - 0.2]]),), 22.0)], 0, 0, width, height)


def premultiplied(mask: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    rgb = np.rint(np.array(colour) * (mask[..., None] / 255))
    return np.dstack([rgb, mask]).astype(np.uint8)


# 8-bit (Y, Cb, Cr) of ITU-R BT.709-6, computed from its formulas; the 75 % bars are what ffmpeg's smptehdbars gives.
BARS = {
    (255, 255, 255): (235, 128, 128),
    (255, 255, 0): (219, 16, 138),
    (0, 255, 255): (188, 154, 16),
    (0, 255, 0): (173, 42, 26),
    (255, 0, 255): (78, 214, 230),
    (255, 0, 0): (63, 102, 240),
    (0, 0, 255): (32, 240, 118),
    (0, 0, 0): (16, 128, 128),
    (191, 191, 0): (168, 44, 136),
    (191, 0, 0): (51, 109, 212),
}


@pytest.mark.parametrize(("colour", "codes"), BARS.items())
def test_colours_become_the_codes_of_bt709(colour, codes):
    assert np.abs(np.array(yuv_of(colour)) - codes).max() <= 0.6


@pytest.mark.parametrize("x", [10, 11])
@pytest.mark.parametrize("colour", [(255, 0, 0), (191, 191, 0), (38, 190, 198)])
def test_an_opaque_patch_shows_its_own_colour_inside(colour, x):
    frame = blank(SIZE, GREY, 90, 170)
    blend(frame, patch_from_rgba(premultiplied(np.full((20, 24), 255, np.uint8), colour), x, 9))
    y, u, v = yuv_of(colour)
    assert abs(int(frame.y[18, 20]) - y) <= 1
    assert abs(int(frame.u[9, 10]) - u) <= 1.5
    assert abs(int(frame.v[9, 10]) - v) <= 1.5


@pytest.mark.parametrize("offset", [(10, 8), (11, 8), (10, 9), (11, 9)])
@pytest.mark.parametrize("opacity", [1.0, 0.5, 0.31])
def test_a_white_disc_over_white_leaves_no_edge(offset, opacity):
    frame = blank(SIZE, WHITE)
    blend(frame, patch_from_rgba(premultiplied(disc_mask(), (255, 255, 255)), *offset), opacity)
    # In full range: 255 * (235 - 16) / 219 = 255; one code less would be 253.8.
    assert (int(frame.y.min()) - 16) * 255 / 219 >= 253
    assert frame.y.max() == WHITE
    assert (frame.u == 128).all()
    assert (frame.v == 128).all()


def test_grey_over_grey_never_gains_colour():
    frame = blank(SIZE, GREY)
    blend(frame, patch_from_layers([(disc_mask(), (200, 200, 200)), (255 - disc_mask(), (20, 20, 20))], 9, 7))
    assert np.abs(frame.u.astype(int) - 128).max() <= 1
    assert np.abs(frame.v.astype(int) - 128).max() <= 1


@pytest.mark.parametrize("x", [20, 21, 22, 23])
def test_a_red_stroke_over_grey_colours_nothing_two_pixels_away(x):
    mask = np.zeros((32, 40), np.uint8)
    mask[8:24, 12:18] = 255
    frame = blank(Size(96, 64), GREY)
    blend(frame, patch_from_layers([(mask, (255, 60, 40))], x, 11))
    coloured = (np.abs(frame.v.astype(int) - 128) > 1) | (np.abs(frame.u.astype(int) - 128) > 1)
    rows, columns = np.nonzero(coloured)
    # A chroma sample lies level with its even luma column, and between the two rows 2 k and 2 k + 1.
    assert columns.min() * 2 >= x + 12 - 2
    assert columns.max() * 2 <= x + 17 + 2
    assert rows.min() * 2 >= 11 + 8 - 2
    assert rows.max() * 2 + 1 <= 11 + 23 + 2


def test_chroma_is_averaged_where_it_is_sited():
    # One opaque red column among bare ones: the sample level with it gets half, its right neighbour a quarter or none.
    for column, expected in ((10, {5: 128}), (11, {5: 64, 6: 64})):
        mask = np.zeros((8, 24), np.uint8)
        mask[:, column] = 255
        half = patch_from_layers([(mask, (255, 0, 0))], 0, 0).alpha_half[1]
        assert {k: int(value) for k, value in enumerate(half) if value} == expected


def test_both_ways_of_making_a_patch_agree():
    mask = disc_mask()
    first = patch_from_rgba(premultiplied(mask, (240, 160, 96)), 13, 6)
    second = patch_from_layers([(mask, (240, 160, 96))], 13, 6)
    a, b = blank(SIZE, GREY, 100, 150), blank(SIZE, GREY, 100, 150)
    blend(a, first)
    blend(b, second)
    for one, other in ((a.y, b.y), (a.u, b.u), (a.v, b.v)):
        assert np.abs(one.astype(int) - other.astype(int)).max() <= 1


def test_only_the_rectangle_is_touched_and_the_rest_is_cut_off():
    rng = np.random.default_rng(5)
    frame = blank(SIZE)
    frame.y[:] = rng.integers(16, 236, frame.y.shape)
    before = frame.copy()
    patch = patch_from_layers([(np.full((20, 20), 255, np.uint8), (255, 255, 255))], -10, 40)
    blend(frame, patch)
    assert (frame.y[40:, :10] == WHITE).all()
    untouched = np.ones(frame.y.shape, bool)
    untouched[40:, :12] = False
    assert (frame.y[untouched] == before.y[untouched]).all()
    blend(frame, patch_from_layers([(np.full((4, 4), 255, np.uint8), (0, 0, 0))], 500, 500))
    assert (frame.y[untouched] == before.y[untouched]).all()


def test_blending_is_exact_for_every_coverage_and_value():
    """The shift that stands in for a division by 255 rounds like the division, for all 256 x 220 pairs."""
    coverages = np.tile(np.arange(256, dtype=np.uint8), (220, 1))
    frame = blank(Size(256, 220))
    frame.y[:] = np.arange(16, 236, dtype=np.uint8)[:, None]
    old = frame.y.astype(np.float64)
    patch = patch_from_layers([(coverages, (255, 255, 255))], 0, 0)
    blend(frame, patch)
    share = coverages / 255
    expected = np.floor(235 * share + old * (1 - share) + 0.5 + 1e-9)
    assert (frame.y == expected).all()


def test_dimming_keeps_the_hue_and_takes_the_stated_part():
    frame = blank(SIZE, 200, 100, 160)
    blend(frame, dim(np.full((48, 64), 255, np.uint8), (0, 0, 0), 0, 0, 0.6))
    assert abs(int(frame.y[20, 20]) - (16 + 184 * 0.4)) <= 1
    assert abs(int(frame.u[10, 10]) - (128 - 28 * 0.4)) <= 1
    assert abs(int(frame.v[10, 10]) - (128 + 32 * 0.4)) <= 1


def test_a_faded_patch_is_the_same_as_blending_with_that_opacity():
    patch = patch_from_layers([(disc_mask(), (255, 90, 54))], 8, 8)
    a, b = blank(SIZE, GREY), blank(SIZE, GREY)
    blend(a, patch.faded(0.4))
    blend(b, patch, 0.4)
    assert (a.y == b.y).all()
    assert patch.rect == patch.faded(0.1).rect


@pytest.mark.parametrize("leftwards", [False, True])
def test_a_patch_is_uncovered_by_an_edge_that_keeps_its_colours(leftwards):
    """White laid over white stays white at every stage; coverage grows from one side and ends as the whole."""
    patch = patch_from_layers([(np.full((60, 200), 255, np.uint8), (255, 255, 255))], 20, 10)
    before = 0
    for part in (0.0, 0.2, 0.5, 0.9):
        shown = uncovered(patch, part, soft=0.2, slant=0.3, leftwards=leftwards)
        frame = blank(Size(240, 80), 235, 128, 128)
        blend(frame, shown)
        assert frame.y.min() >= 234
        assert set(np.unique(frame.u)) | set(np.unique(frame.v)) <= {127, 128, 129}
        total = int(shown.alpha.astype(int).sum())
        assert total >= before
        before = total
        ends = shown.alpha[:, 4].max(), shown.alpha[:, -5].max()
        assert ends[0] <= ends[1] if leftwards else ends[1] <= ends[0]
    assert uncovered(patch, 1.0, soft=0.2, slant=0.3, leftwards=leftwards) is patch

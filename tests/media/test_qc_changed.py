"""What is measured only where a picture differs is what is measured of the whole picture, to the bit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.geometry import Rect, Size
from segmentkit.media.screen_changed import Watched, spots_apart
from segmentkit.media.screen_flash import RedTurns, Turns
from segmentkit.media.screen_levels import HIGHEST, LOWEST, frame_levels
from segmentkit.media.screen_picture import PictureMeter
from segmentkit.media.screen_reduce import FullPlanes, light_of_rgb, reduce
from segmentkit.screened import Look, Pictures
from segmentkit.timebase import Rate, Span

RATE = Rate(Fraction(25))
Shape = tuple[int, int]


def noise(seed: int, shape: Shape, chroma: Shape, bits: int, low: int = 16, high: int = 235) -> FullPlanes:
    """Every sample another value."""
    draw, scale = np.random.default_rng(seed), 1 << bits - 8
    kind = np.uint8 if bits == 8 else np.uint16
    y = draw.integers(low * scale, high * scale, shape, kind)
    u, v = (draw.integers(90 * scale, 166 * scale, chroma, kind) for _ in range(2))
    return FullPlanes((y, u, v), bits, False)


def changed(picture: FullPlanes, *boxes: tuple[int, slice, slice, int]) -> FullPlanes:
    """A picture of its own memory, with boxes of planes set to a value."""
    planes = [plane.copy() for plane in picture.planes]
    for plane, rows, columns, value in boxes:
        planes[plane][rows, columns] = value << picture.bits - 8
    return replace_planes(picture, planes)


def replace_planes(picture: FullPlanes, planes: list[np.ndarray]) -> FullPlanes:
    return replace(picture, planes=(planes[0], planes[1], planes[2]))


def story(size: Size, chroma: Shape, bits: int) -> Iterator[FullPlanes]:
    """Frozen, refined here and there, moving in a part, cut, flashing, illegal, frozen again."""
    height, width = size.height, size.width
    shape = height, width
    whole = slice(None)
    first = noise(1, shape, chroma, bits)
    yield first
    for k in range(14):  # a coder refines single samples, one of them chroma at the very edge
        yield first if k % 3 else changed(first, (0, slice(k, k + 1), slice(width - 1, width), 200),
                                          (2, slice(chroma[0] - 1, None), slice(k, k + 1), 100))  # fmt: skip
    for k in range(12):  # a body moves, another one far from it breathes
        box = slice(height // 5 + k, height // 2 + k)
        yield changed(first, (0, box, slice(2 * k, width // 4 + 2 * k), 60 + k),
                      (0, box, slice(3 * width // 4, 3 * width // 4 + 5), 60 + k % 2))  # fmt: skip
    other = noise(2, shape, chroma, bits)
    for k in range(4):
        yield changed(other, (1, whole, slice(0, 3), 120 + k))
    light, dark = (changed(other, (0, slice(0, 2 * height // 3), whole, value)) for value in (235, 20))
    for k in range(24):  # flashes on two thirds of the picture
        yield light if k // 2 % 2 else dark
    red = changed(other, (0, whole, whole, 63), (1, whole, whole, 102), (2, whole, whole, 240))
    for k in range(22):
        yield red if k // 2 % 2 else dark
    for k in range(3):  # more and less of the picture is outside the legal levels
        yield changed(other, (0, slice(0, height // (6 - k)), whole, 250))
    yield changed(other, (0, slice(0, height // 8), whole, 250), (2, whole, whole, 250))
    for _ in range(14):
        yield noise(2, shape, chroma, bits)


def measured(size: Size, pictures: list[FullPlanes], *, thrifty: bool, fields: bool) -> Pictures:
    looks = [Look(name="a", frame=3, area=Rect(0.1, 0.1, 0.3, 0.2))]
    meter = PictureMeter(size, RATE, fields=fields, looks=looks, first=2, thrifty=thrifty)
    for picture in pictures:
        meter.feed(picture)
    return meter.finish(None)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("size", "chroma", "bits", "fields"),
    [
        (Size(640, 360), (180, 320), 8, False),
        (Size(160, 90), (90, 160), 8, True),
        (Size(960, 540), (540, 480), 10, False),
        (Size(360, 640), (640, 360), 8, False),
        (Size(646, 362), (181, 323), 8, False),
    ],
)
def test_figures_are_those_of_whole_pictures(size, chroma, bits, fields):
    pictures = list(story(size, chroma, bits))
    thrifty, whole = (measured(size, pictures, thrifty=one, fields=fields) for one in (True, False))
    assert thrifty == whole
    # The story has something for each meter, so that equality says something.
    assert whole.cuts or whole.odd
    assert whole.frozen
    assert whole.levels
    assert len({one.kind for one in whole.flashes}) == 2
    assert max(whole.stir) > 1


@pytest.mark.parametrize("size", [Size(1920, 1080), Size(1280, 720)])
def test_small_pictures_and_levels_of_a_broadcast_size(size):
    watched = Watched(size)
    chroma = size.height // 2, size.width // 2
    first = noise(3, (size.height, size.width), chroma, 8)
    pictures = [
        first, first, changed(first, (0, slice(119, 121), slice(700, 702), 30)),
        changed(first, (0, slice(400, 700), slice(5, 60), 251), (1, slice(0, 9), slice(chroma[1] - 1, None), 240)),
        changed(first, (0, slice(0, 300), slice(None), 251)),
    ]  # fmt: skip
    told = [watched.feed(picture) for picture in pictures[:1]]
    for picture in pictures[1:]:
        before = watched.small
        told.append(watched.feed(picture))
        small = reduce(picture, watched.size)
        assert all((mine == whole).all() for mine, whole in
                   ((watched.small.y, small.y), (watched.small.u, small.u), (watched.small.v, small.v)))  # fmt: skip
        assert watched.levels == frame_levels(picture)
        assert (watched.small is before) is not told[-1]
        assert not told[-1] or spots_apart(watched.small, before).size <= watched.small.y.size
    assert told == [True, False, True, True, True]
    assert watched.levels is not None


def test_pictures_that_are_coded_otherwise_from_one_to_the_next():
    """A file may change its size, its chroma or its range on the way."""
    watched = Watched(Size(640, 360))
    plain = noise(5, (360, 640), (180, 320), 8)
    illegal = changed(plain, (0, slice(0, 90), slice(None), 250))
    full = FullPlanes(illegal.planes, 8, True)
    for picture in (
        illegal,
        full,
        plain,
        noise(5, (180, 320), (90, 160), 8),
        noise(5, (360, 640), (360, 320), 10),
        full,
    ):
        assert watched.feed(picture)
        small = reduce(picture, watched.size)
        assert (watched.small.y == small.y).all()
        assert (watched.small.v == small.v).all()
        assert watched.levels == frame_levels(picture)


def test_a_small_picture_never_changes_once_it_was_given():
    watched = Watched(Size(640, 360))
    first = noise(4, (360, 640), (180, 320), 8)
    watched.feed(first)
    kept = watched.small
    was = kept.y.copy()
    watched.feed(changed(first, (0, slice(0, 90), slice(None), 235)))
    assert (kept.y == was).all()
    assert (watched.small.y != was).any()


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.integers(0, 255), min_size=12, max_size=12), min_size=2, max_size=14))
def test_spots_that_do_not_differ_cannot_turn(pictures):
    """Following only those that differ gives the turns that following all gives; four spots of red, green, blue."""
    rgb = [np.array(one, np.uint8).reshape(1, 4, 3) // 64 * 64 for one in pictures]
    for make, of in (
        (lambda: Turns(0.10, 0.80), lambda light: light.relative),
        (lambda: Turns(20, 160), lambda light: light.screen),
        (RedTurns, lambda light: light),
    ):
        all_, some = make(), make()
        for k, picture in enumerate(rgb):
            whole = all_.feed(of(light_of_rgb(picture)))
            spots = np.flatnonzero((picture != rgb[k - 1]).any(axis=2)) if k else None
            part = picture if spots is None else picture.reshape(4, 3)[spots]
            few = some.feed(of(light_of_rgb(part)), spots)
            assert [one.tolist() for one in few] == [one.tolist() for one in whole]


@settings(max_examples=80, deadline=None)
@given(
    st.integers(0, 255), st.integers(0, 60), st.tuples(st.integers(0, 255), st.integers(0, 255)), st.integers(0, 12),
    st.integers(0, 2**32 - 1),
)  # fmt: skip
def test_levels_against_the_formula(dark, spread, centre, apart, seed):
    """ITU-R BT.709-6, items 3.2 and 3.3, solved for R', G', B' in floating point, within the rounding of a code."""
    draw = np.random.default_rng(seed)
    y = draw.integers(dark, min(255, dark + spread) + 1, (12, 12), np.uint8)
    u, v = (draw.integers(max(0, one - apart), min(255, one + apart) + 1, (12, 12), np.uint8) for one in centre)
    luma, blue, red = y.astype(float), (u - 128.0) * 219 / 224, (v - 128.0) * 219 / 224
    rgb = np.stack([luma + 1.5748 * red, luma - 0.1873 * blue - 0.4681 * red, luma + 1.8556 * blue])
    surely = ((rgb < LOWEST - 1.01) | (rgb > HIGHEST + 1.01)).any(axis=0)
    perhaps = ((rgb < LOWEST + 1.01) | (rgb > HIGHEST - 1.01)).any(axis=0) | (y < LOWEST) | (y > HIGHEST)
    found = frame_levels(FullPlanes((y, u, v), 8, False))
    share = 0.0 if found is None else found.share
    assert share >= (surely.mean() if surely.mean() > 0.01 else 0.0)
    assert share <= perhaps.mean() + 1e-9


def test_a_leader_is_left_out_of_flashes_and_not_of_the_rest():
    pictures = list(story(Size(640, 360), (180, 320), 8))
    meter = PictureMeter(Size(640, 360), RATE, fields=False, first=len(pictures) - 10)
    for picture in pictures:
        meter.feed(picture)
    found = meter.finish(None)
    assert not found.flashes
    assert found.frames == len(pictures)
    assert found.frozen[-1].end == len(pictures)
    assert Span(0, 1).overlap(found.frozen[0])

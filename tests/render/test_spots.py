"""Where labels lie: in free air beside their stroke, in more rows, or further off with a line to them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.geometry import Point, Rect, Size
from segmentkit.render.spots import Around, best_spot
from segmentkit.render.strokes import StrokeArtist
from tests.render.drawn import LOOK, alpha_of, make_stroke, whole

AREA = Rect(54, 230, 972, 1306)
NOTHING = np.empty((0, 2))
TALL = Size(1080, 1920)


def line(x0: float, y0: float, x1: float, y1: float) -> np.ndarray:
    return np.linspace((x0, y0), (x1, y1), max(2, int(np.hypot(x1 - x0, y1 - y0) / 6)))


def around(outline: np.ndarray, **given_: object) -> Around:
    made = {"reach": 5.0, "area": AREA, "taken": (), "others": NOTHING, "bodies": (), "gap": 14.0, **given_}
    return Around(outline=outline, **made)  # type: ignore[arg-type]


def shared(rect: Rect, body: Rect) -> float:
    wide = min(rect.right, body.right) - max(rect.x, body.x)
    high = min(rect.bottom, body.bottom) - max(rect.y, body.y)
    return max(0.0, wide) * max(0.0, high) / (rect.width * rect.height)


def test_beside_its_stroke_a_label_needs_no_line():
    spot, size = best_spot(around(line(600, 500, 600, 900)), [Size(300, 70)])
    assert size == 0
    assert spot.led is None
    assert spot.clear
    assert spot.over == ()


def test_on_a_player_it_rather_lies_further_off_with_a_line_to_it():
    body = Rect(240, 500, 600, 900)
    spot, _ = best_spot(around(line(500, 900, 560, 900), bodies=[body]), [Size(300, 70)])
    assert shared(spot.rect, body) == 0
    assert spot.over == ()
    assert spot.led is not None
    start, end = spot.led
    assert min(start.distance(Point(*row)) for row in around(line(500, 900, 560, 900)).outline) == 0
    rect = spot.rect
    on_edge = {end.x} & {rect.x, rect.right} or {end.y} & {rect.y, rect.bottom}
    assert on_edge
    assert rect.x - 1 <= end.x <= rect.right + 1
    assert rect.y - 1 <= end.y <= rect.bottom + 1


def test_in_more_rows_it_fits_beside_a_player():
    body = Rect(330, 500, 640, 1000)  # 276 px are free on the left, 56 on the right
    ring = np.array([[400 + 60 * np.cos(a), 900 + 60 * np.sin(a)] for a in np.linspace(0, 6.28, 60)])
    spot, size = best_spot(around(ring, bodies=[body]), [Size(500, 70), Size(260, 130)])
    assert size == 1
    assert shared(spot.rect, body) == 0


def test_it_says_what_it_lies_on_when_nothing_is_free():
    spot, _ = best_spot(around(line(500, 900, 560, 900), bodies=[AREA]), [Size(300, 70)])
    assert spot.over == ("the player",)
    spot, _ = best_spot(around(line(500, 900, 560, 900), taken=[AREA]), [Size(300, 70)])
    assert spot.over == ("a card, a name, a face or another label",)


def test_its_line_goes_round_other_strokes():
    # Free air on both sides; on the right another stroke stands between.
    body = Rect(400, 230, 300, 1306)
    fence = line(720, 230, 720, 1536)
    spot, _ = best_spot(around(line(540, 900, 560, 900), bodies=[body], others=fence), [Size(200, 70)])
    assert spot.rect.right < body.x


@settings(max_examples=25, deadline=None)
@given(
    st.floats(100, 900), st.floats(300, 1400), st.floats(100, 700), st.floats(300, 1200),
    st.floats(80, 300), st.floats(100, 300),
)  # fmt: skip
def test_while_half_of_the_picture_is_free_a_label_hides_no_player(x, y, left, top, wide, high):
    body = Rect(left, top, wide, high)
    spot, _ = best_spot(around(line(x, y, x + 60, y), bodies=[body]), [Size(280, 70), Size(160, 130)])
    assert spot.clear
    assert spot.over == ()
    assert shared(spot.rect, body) <= 0.1
    assert spot.rect.x >= AREA.x - 1
    assert spot.rect.right <= AREA.right + 1
    assert spot.rect.y >= AREA.y - 1
    assert spot.rect.bottom <= AREA.bottom + 1


@pytest.mark.parametrize("scale", [0.5, 2.0])
def test_a_preview_lays_labels_where_the_film_does(scale):
    def at(by: float) -> Rect:
        body = Rect(240 * by, 500 * by, 600 * by, 900 * by)
        area = Rect(*(one * by for one in (AREA.x, AREA.y, AREA.width, AREA.height)))
        fence = line(700 * by, 230 * by, 700 * by, 1536 * by)
        made = around(line(500 * by, 900 * by, 560 * by, 900 * by), bodies=[body], area=area, others=fence,
                      gap=14 * by, reach=5 * by)  # fmt: skip
        return best_spot(made, [Size(round(300 * by), round(70 * by))])[0].rect

    film, other = at(1.0), at(scale)
    assert other.x / scale == pytest.approx(film.x, abs=8)
    assert other.y / scale == pytest.approx(film.y, abs=8)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_asked_twice_the_answer_is_the_same(seed):
    random = np.random.default_rng(seed)
    points = random.uniform((60, 240), (1000, 1500), (30, 2))
    body = Rect(*random.uniform((100, 300, 100, 200), (400, 700, 400, 700)))
    first = best_spot(around(points[:10], others=points[10:], bodies=[body]), [Size(250, 70)])
    assert best_spot(around(points[:10].copy(), others=points[10:].copy(), bodies=[body]), [Size(250, 70)]) == first


@pytest.mark.parametrize("labels", [2, 5])
def test_labels_of_an_upright_picture_keep_off_player_and_one_another(labels):
    """Five labelled strokes on a player who fills an upright picture, as wide as half of it."""
    body = Rect(250, 600, 480, 900)
    strokes = [
        make_stroke("line", (300, 700), (300, 1400), id="hips", label="Hips at address", role="reference", canvas=TALL),
        make_stroke("ring", (600, 1000), radius=120, id="room", label="No room for the arms", canvas=TALL),
        make_stroke(
            "line", (380, 950), (500, 700), id="spine", label="Spine at address", role="reference", canvas=TALL
        ),
        make_stroke("line", (430, 950), (540, 690), id="now", label="Chest lifted", canvas=TALL),
        make_stroke("double_arrow", (300, 1050), (360, 1050), id="gap", label="Daylight", canvas=TALL),
    ][:labels]
    artist = StrokeArtist(LOOK, TALL)
    place = whole(TALL)
    artist.settle([(one, place) for one in strokes], (), [body])
    tags = [artist.tag(one, place) for one in strokes]
    for k, tag in enumerate(tags):
        assert shared(tag.rect, body) <= 0.1, tag.text.lines
        assert tag.over == ()
        assert not any(tag.rect.overlaps(other.rect) for other in tags[:k])
    for one, tag in zip(strokes, tags, strict=True):
        if len(tag.led):
            # The line is drawn, and thinner than any stroke.
            ink = alpha_of(tag.patches(place.window), TALL)
            middle = tag.led[len(tag.led) // 2]
            part = ink[int(middle[1]) - 9 : int(middle[1]) + 9, int(middle[0]) - 9 : int(middle[0]) + 9]
            assert part.max() > 0.5, one.id
            assert part.sum() < 18 * 1.5 * LOOK.strokes.weight

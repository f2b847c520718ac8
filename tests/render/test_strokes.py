import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from segmentkit.geometry import Point, Rect, Size, cover
from segmentkit.render.blend import yuv_of
from segmentkit.render.shapes import pen_travel
from segmentkit.render.strokes import StrokeArtist, label_opacity, stage
from segmentkit.timebase import Span
from tests.render.drawn import HD, LOOK, alpha_of, make_stroke, over, whole

PLACE = whole()
ARTIST = StrokeArtist(LOOK, HD)
WEIGHT = LOOK.strokes.weight
KINDS = {
    "line": ((300, 200), (900, 700)),
    "arrow": ((300, 200), (900, 700)),
    "double_arrow": ((300, 400), (420, 400)),
    "ring": ((600, 500),),
    "box": ((300, 200), (700, 600)),
    "curve": ((300, 600), (500, 400), (700, 420), (900, 650)),
    "curve_arrow": ((300, 600), (500, 400), (700, 420), (900, 650)),
    "angle": ((300, 300), (400, 600), (700, 600)),
    "dot": ((600, 500),),
    "shade": ((600, 500),),
}


def make_kind(kind, **given_):
    radius = {"radius": 120} if kind in {"ring", "shade"} else {}
    return make_stroke(kind, *KINDS[kind], **radius, **given_)


def core_of(patches, size=HD):
    """How much of each pixel the fault's colour covers, its dark edge left out: laid over the edge's own grey."""
    dark, light = (yuv_of(colour)[0] for colour in (LOOK.strokes.edge_colour, LOOK.strokes.fault.colour))
    frame = over(patches, size, y=round(dark))
    return np.clip((frame.y.astype(float) - round(dark)) / (light - dark), 0, 1)


@pytest.mark.parametrize("degrees", [0, 17, 30, 45, 60, 90])
def test_a_line_is_as_wide_as_the_look_says(degrees):
    angle = math.radians(degrees)
    along = np.array([math.cos(angle), math.sin(angle)])
    centre = np.array([960.3, 540.6])
    start, end = centre - 300 * along, centre + 300 * along
    stroke = make_stroke("line", tuple(start), tuple(end))
    patches = ARTIST.patches(stroke, PLACE, 50)
    rows, columns = np.mgrid[0:1080, 0:1920] + 0.5
    near = np.abs((columns - centre[0]) * along[0] + (rows - centre[1]) * along[1]) < 200
    both = alpha_of(patches)[near].sum() / 400
    core = core_of(patches)[near].sum() / 400
    edge = 2 * LOOK.strokes.edge
    assert both == pytest.approx(WEIGHT + edge * LOOK.strokes.edge_opacity, abs=0.5)
    assert core == pytest.approx(WEIGHT, abs=0.5)


def test_weight_follows_the_shorter_side_of_the_picture():
    for size, wanted in ((Size(1280, 720), 4.0), (Size(3840, 2160), 12.0), (Size(1080, 1920), 6.0)):
        artist = StrokeArtist(LOOK, size)
        stroke = make_stroke("line", (100, 200), (100 + 400, 200), canvas=size)
        alpha = alpha_of(artist.patches(stroke, whole(size), 50), size)
        across = alpha[:, 300].sum()
        assert across == pytest.approx(wanted * (1 + 4 / 6 * LOOK.strokes.edge_opacity), abs=0.5)


@pytest.mark.parametrize("kind", ["line", "ring", "curve"])
def test_at_half_the_time_half_the_length_is_drawn(kind):
    stroke = make_kind(kind, role="fault")
    half = core_of(ARTIST.patches(stroke, PLACE, 9)).sum()
    full = core_of(ARTIST.patches(stroke, PLACE, 19)).sum()
    cap = math.pi * WEIGHT**2 / 8  # the half disc at the pen, which does not count as length
    assert (half - cap) / (full - cap) == pytest.approx(0.5, abs=0.01)


def test_the_pen_goes_at_a_constant_speed_but_for_its_ends():
    steps = [pen_travel((k + 1) / 100) - pen_travel(k / 100) for k in range(100)]
    middle = steps[12:88]
    assert max(middle) - min(middle) < 1e-12
    assert steps[0] < middle[0] / 5
    assert steps[-1] < middle[0] / 5
    assert pen_travel(0) == 0
    assert pen_travel(0.5) == pytest.approx(0.5, abs=1e-15)
    assert pen_travel(1) == 1


@given(st.floats(-1, 2), st.floats(-1, 2))
def test_the_pen_never_goes_back(a, b):
    low, high = sorted((a, b))
    assert 0 <= pen_travel(low) <= pen_travel(high) <= 1


@pytest.mark.parametrize("kind", ["line", "ring", "curve", "box"])
@pytest.mark.parametrize("role", ["reference", "good"])
def test_dashes_stay_where_they_are_while_a_stroke_is_drawn(kind, role):
    """What was inked behind the pen is never changed again: dashes do not crawl."""
    stroke = make_kind(kind, role=role)
    done = alpha_of(ARTIST.patches(stroke, PLACE, 50))
    for frame in (4, 9, 14):
        now = alpha_of(ARTIST.patches(stroke, PLACE, frame))
        assert now.sum() > 100
        # Only under the pen, within one width, may there be more ink than in the end (its round tip in a gap).
        assert (now > done + 0.02).sum() <= (WEIGHT + 2 * LOOK.strokes.edge) ** 2


@pytest.mark.parametrize("kind", list(KINDS))
def test_every_kind_comes_stays_and_goes(kind):
    stroke = make_kind(kind, wipe_frames=10, span=Span(5, 60), draw_start=5)
    ink = {
        frame: alpha_of(ARTIST.patches(stroke, PLACE, frame)).sum() for frame in (4, 5, 10, 15, 24, 40, 52, 57, 59, 60)
    }
    assert ink[4] == ink[60] == 0
    assert 0 < ink[10] < ink[15] < ink[24]
    assert ink[24] == ink[40]
    assert ink[40] > ink[52] > ink[57] > ink[59]


@pytest.mark.parametrize("kind", list(KINDS))
def test_a_held_stroke_hands_out_the_very_same_patches(kind):
    stroke = make_kind(kind, label="Hip line")
    first, later = ARTIST.patches(stroke, PLACE, 30), ARTIST.patches(stroke, PLACE, 77)
    assert first
    assert [id(one) for one in first] == [id(one) for one in later]


def test_a_kept_stroke_is_whole_from_its_first_frame():
    stroke = make_stroke("line", (300, 200), (900, 700), draw_start=-100, kept=True)
    assert stage(stroke, 0) == (1.0, 0.0)
    assert alpha_of(ARTIST.patches(stroke, PLACE, 0)).sum() == alpha_of(ARTIST.patches(stroke, PLACE, 50)).sum()


def test_a_wipe_starts_at_the_start_and_leaves_nothing_behind():
    stroke = make_stroke("line", (300, 500), (900, 500), wipe_frames=20)
    left = alpha_of(ARTIST.patches(stroke, PLACE, 90))
    columns = np.nonzero(left.sum(axis=0))[0]
    assert columns.min() > 500
    assert columns.max() == pytest.approx(905, abs=2)


def test_an_arrowhead_ends_exactly_at_its_point():
    stroke = make_stroke("arrow", (300, 500), (900, 500))
    columns = np.nonzero(core_of(ARTIST.patches(stroke, PLACE, 50)).max(axis=0) > 0.5)[0]
    assert columns.max() + 1 == pytest.approx(900, abs=1.0)


@pytest.mark.parametrize("gap", [14, 30, 60])
def test_a_short_double_arrow_points_at_its_gap_from_outside(gap):
    """The gap itself stays free to be seen, and each tip touches its end of it."""
    stroke = make_stroke("double_arrow", (600, 500), (600 + gap, 500))
    columns = np.nonzero(core_of(ARTIST.patches(stroke, PLACE, 50)).max(axis=0) > 0.5)[0]
    left, right = columns[columns < 600 + gap / 2], columns[columns > 600 + gap / 2]
    assert left.max() + 1 == pytest.approx(600, abs=1.5)
    assert right.min() == pytest.approx(600 + gap, abs=1.5)
    assert 600 - left.min() == pytest.approx(right.max() + 1 - 600 - gap, abs=2)
    # Both heads have their full size: as tall as those of a long arrow.
    long = core_of(ARTIST.patches(make_stroke("double_arrow", (600, 500), (900, 500)), PLACE, 50))
    tall = [np.nonzero(core.max(axis=1) > 0.5)[0] for core in (core_of(ARTIST.patches(stroke, PLACE, 50)), long)]
    assert np.ptp(tall[0]) == pytest.approx(np.ptp(tall[1]), abs=1.5)


def test_a_double_arrow_that_has_room_points_outward():
    stroke = make_stroke("double_arrow", (600, 500), (700, 500))
    columns = np.nonzero(core_of(ARTIST.patches(stroke, PLACE, 50)).max(axis=0) > 0.5)[0]
    assert columns.min() == pytest.approx(600, abs=1.5)
    assert columns.max() + 1 == pytest.approx(700, abs=1.5)


def test_the_tip_of_a_line_on_its_way_is_fine_and_grows_full_at_the_end():
    stroke = make_stroke("line", (300, 500), (900, 500))
    half = core_of(ARTIST.patches(stroke, PLACE, 9))
    end = np.nonzero(half.max(axis=0) > 0.5)[0].max()
    widths = half[470:530].sum(axis=0)
    assert widths[end - 2] < 0.65 * widths[400]
    assert widths[end - 20] == pytest.approx(widths[400], rel=0.02)
    done = core_of(ARTIST.patches(stroke, PLACE, 30))[470:530].sum(axis=0)
    assert done[895] == pytest.approx(done[400], rel=0.02)


def test_dashes_belong_to_the_picture_and_do_not_crawl_when_it_comes_closer():
    """As many dashes at every zoom, each over the same spots of the source."""
    stroke = make_stroke("line", (860, 300), (860, 700), role="reference")
    spots = []
    for zoom in (1.0, 1.1, 1.37, 1.9):
        place = cover(HD, Rect(0, 0, 1920, 1080), Point(860 / 1920, 500 / 1080), zoom=zoom)
        column = core_of(ARTIST.patches(stroke, place, 50)).max(axis=1) > 0.5
        starts = np.nonzero(np.diff(column.astype(int)) == 1)[0] + 0.5
        ends = np.nonzero(np.diff(column.astype(int)) == -1)[0] + 0.5
        middles = (starts[: len(ends)] + ends) / 2
        spots.append([place.to_source(Point(0, y)).y * 1080 for y in middles])
    for others in spots[1:]:
        assert others == pytest.approx(spots[0], abs=1.2)


def test_a_label_keeps_off_a_face():
    stroke = make_stroke("line", (960, 200), (960, 800), label="Spine line")
    plain = StrokeArtist(LOOK, HD)
    plain.settle([(stroke, PLACE)])
    first = plain.tag(stroke, PLACE).rect
    plain.settle([(stroke, PLACE)], [first.inset(-10)])
    assert not plain.tag(stroke, PLACE).rect.overlaps(first)


def test_a_double_arrow_grows_from_its_middle():
    stroke = make_stroke("double_arrow", (300, 500), (900, 500))
    alpha = alpha_of(ARTIST.patches(stroke, PLACE, 9)).sum(axis=0)
    assert np.average(np.arange(1920) + 0.5, weights=alpha) == pytest.approx(600, abs=1)


def test_strokes_are_cut_off_at_their_pane():
    window = Rect(964, 0, 956, 1080)
    place = cover(HD, window)
    stroke = make_stroke("line", (0, 500), (1920, 500), label="Ground")
    alpha = alpha_of(ARTIST.patches(stroke, place, 50))
    assert alpha[:, :964].max() == 0
    assert alpha[500, 1000] > 0.9


def test_a_shade_dims_all_but_its_disc_and_only_in_its_pane():
    window = Rect(0, 0, 960, 1080)
    stroke = make_stroke("shade", (960, 540), radius=150)
    frame = over(ARTIST.patches(stroke, cover(HD, window), 50), y=180)
    assert frame.y[540, 480] == 180
    assert frame.y[60, 60] < 110
    assert (frame.y[:, 962:] == 180).all()


def test_in_a_mirrored_pane_a_stroke_is_mirrored_too():
    stroke = make_stroke("dot", (300, 400))
    alpha = alpha_of(ARTIST.patches(stroke, cover(HD, Rect(0, 0, 1920, 1080), mirrored=True), 50))
    assert alpha[400, 1920 - 300] == 1
    assert alpha[400, 300] == 0


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["line", "ring", "box", "arrow", "angle", "dot"]),
    st.tuples(st.integers(0, 1919), st.integers(0, 1079)),
    st.tuples(st.integers(0, 1919), st.integers(0, 1079)),
    st.sampled_from(["Hip line", "Ball", "Belt stays level with the ground"]),
)
def test_labels_stay_inside_the_picture_and_off_their_stroke(kind, first, second, label):
    if math.dist(first, second) < 40:
        second = (first[0] + 40, first[1] + 40)
    third = (second[0] + 30, second[1] - 60)
    points = {"ring": (first,), "dot": (first,), "angle": (first, second, third)}.get(kind, (first, second))
    stroke = make_stroke(kind, *points, label=label, radius=120 if kind == "ring" else None)
    tag = StrokeArtist(LOOK, HD).tag(stroke, PLACE)
    assert tag.rect.x >= 96 - 1
    assert tag.rect.y >= 54 - 1
    assert tag.rect.right <= 1824 + 1
    assert tag.rect.bottom <= 1026 + 1
    if tag.clear:
        outline = StrokeArtist(LOOK, HD).outline(stroke, PLACE)
        inside = [tag.rect.contains(p) for p in (type(stroke.points[0])(*row) for row in outline)]
        assert not any(inside)


def test_settled_labels_keep_off_one_another_and_off_what_is_taken():
    strokes = [
        make_stroke("line", (900, 300), (900, 800), id="hip", label="Hip line"),
        make_stroke("line", (940, 300), (940, 800), id="now", label="Now", role="reference"),
        make_stroke("ring", (920, 760), radius=60, id="ring", label="Here"),
    ]
    taken = [Rect(0, 760, 800, 260)]
    artist = StrokeArtist(LOOK, HD)
    artist.settle([(one, PLACE) for one in strokes], taken)
    tags = [artist.tag(one, PLACE).rect for one in strokes]
    for k, rect in enumerate(tags):
        assert not any(rect.overlaps(other) for other in [*tags[:k], *taken])


def test_a_label_comes_with_the_end_of_its_stroke_and_goes_with_the_wipe():
    assert label_opacity(0.3, 0.0) == 0
    assert 0 < label_opacity(0.8, 0.0) < 1
    assert label_opacity(1.0, 0.0) == 1
    assert label_opacity(1.0, 0.9) == 0


def test_labels_are_measured_for_the_checks():
    (facts,) = ARTIST.text_report(make_stroke("line", (500, 200), (500, 800), label="Hüftlinie 左"), PLACE)
    assert facts.cap_height >= 30
    assert facts.contrast >= 4.5
    assert facts.missing == "左"
    assert ARTIST.text_report(make_stroke("line", (500, 200), (500, 800)), PLACE) == ()


def test_a_label_lies_beside_the_player_where_it_can():
    body = Rect(700, 300, 300, 650)
    gap = make_stroke("double_arrow", (560, 560), (720, 560), label="Daylight")
    artist = StrokeArtist(LOOK, HD)
    artist.settle([(gap, PLACE)], (), [body])
    assert not artist.tag(gap, PLACE).rect.overlaps(body)
    # On the body itself it stays beside it too, near its stroke.
    hip = make_stroke("ring", (850, 600), radius=80, label="Still on it")
    artist.settle([(hip, PLACE)], (), [body])
    rect = artist.tag(hip, PLACE).rect
    shared = max(0, min(rect.right, body.right) - max(rect.x, body.x)) / rect.width
    assert shared < 0.5
    assert math.dist((rect.centre.x, rect.centre.y), (850, 600)) < 420


def test_a_label_further_off_is_not_nearer_to_another_stroke():
    body = Rect(500, 300, 300, 650)
    gap = make_stroke("double_arrow", (420, 560), (520, 560), id="gap", label="Daylight")
    ring = make_stroke("ring", (800, 620), radius=110, id="ring", label="Nowhere to go")
    artist = StrokeArtist(LOOK, HD)
    artist.settle([(gap, PLACE), (ring, PLACE)], (), [body])
    middle = artist.tag(gap, PLACE).rect.centre
    assert math.dist((middle.x, middle.y), (470, 560)) < math.dist((middle.x, middle.y), (800, 620)) - 110

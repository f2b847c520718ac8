"""Small stored pictures of strokes, cards and the plain background, before any encoding."""

from pathlib import Path

import numpy as np
import pytest

from segmentkit.geometry import Rect, Size
from segmentkit.media.planes import Planes
from segmentkit.media.stills import planes_to_rgb, rgb_to_planes
from segmentkit.render.blend import blend
from segmentkit.render.cards import CardArtist, divider, ground, pane_label
from segmentkit.render.strokes import StrokeArtist
from segmentkit.storyboard.load_look import load_look
from tests.render.drawn import LOOK, make_card, make_stroke, whole
from tests.render.golden import GoldenDiffersError, compare, differs
from tests.render.test_cards import CARDS

SIZE = Size(640, 360)
TALL = Size(270, 480)
SMALL = Size(480, 270)


@pytest.fixture
def failures(tmp_path):
    return tmp_path / "failures"


def field(size: Size) -> Planes:
    """A bright sky over grass: what strokes and cards lie on."""
    rows = np.linspace(0, 1, size.height)[:, None, None]
    sky, grass = np.array([150, 190, 225]), np.array([86, 124, 60])
    rgb = np.where(rows < 0.45, sky + (np.array([226, 230, 228]) - sky) * rows / 0.45, grass + 0 * rows)
    return rgb_to_planes(np.broadcast_to(np.rint(rgb), (size.height, size.width, 3)).astype(np.uint8))


STROKES = (
    make_stroke("line", (200, 40), (200, 320), canvas=SIZE, role="reference", label="Hip line", id="hip"),
    make_stroke("double_arrow", (206, 200), (250, 200), canvas=SIZE, role="fault", id="gap"),
    make_stroke("ring", (330, 100), radius=40, canvas=SIZE, role="good", id="head"),
    make_stroke("curve_arrow", (420, 220), (480, 170), (540, 180), (580, 250), canvas=SIZE, role="good", id="lead"),
    make_stroke("angle", (60, 120), (90, 240), (160, 240), canvas=SIZE, role="fault", id="lag"),
    make_stroke("box", (430, 270), (560, 340), canvas=SIZE, role="reference", id="box"),
    make_stroke("dot", (320, 300), canvas=SIZE, role="fault", id="ball"),
)


@pytest.mark.parametrize("frame", [7, 50])
def test_strokes(frame, failures):
    artist, picture = StrokeArtist(LOOK, SIZE), field(SIZE)
    artist.settle([(stroke, whole(SIZE)) for stroke in STROKES])
    for stroke in STROKES:
        for patch in artist.patches(stroke, whole(SIZE), frame):
            blend(picture, patch)
    compare(planes_to_rgb(picture), f"strokes-{frame}", failures)


def test_shade(failures):
    picture = field(SIZE)
    stroke = make_stroke("shade", (330, 100), radius=50, canvas=SIZE)
    for patch in StrokeArtist(LOOK, SIZE).patches(stroke, whole(SIZE), 50):
        blend(picture, patch)
    compare(planes_to_rgb(picture), "shade", failures)


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("title", ["title"]),
        ("drill", ["drill", "label"]),
        ("lower-third", ["lower_third", "disclosure", "guide_mark"]),
        ("key-words", ["key_words", "caution"]),
    ],
)
@pytest.mark.parametrize(("shape", "size"), [("wide", SIZE), ("tall", TALL)])
def test_cards(name, kinds, shape, size, failures):
    picture = ground(size, LOOK).copy() if name == "title" else field(size)
    artist = CardArtist(LOOK, size)
    for kind in kinds:
        for patch in artist.patches(make_card(kind, *CARDS[kind]), 50):
            blend(picture, patch)
    compare(planes_to_rgb(picture), f"card-{name}-{shape}", failures)


@pytest.mark.parametrize("look", ["dune", "contour", "pennant"])
def test_a_card_on_its_way(look, failures):
    picture = field(SMALL)
    for patch in CardArtist(load_look(look, Path()), SMALL).patches(make_card("information", *CARDS["information"]), 5):
        blend(picture, patch)
    compare(planes_to_rgb(picture), f"card-coming-{look}", failures)


@pytest.mark.parametrize("look", ["contour", "pennant"])
@pytest.mark.parametrize(
    ("name", "kinds", "size"),
    [
        ("title", ["title"], SMALL), ("low", ["lower_third", "disclosure", "label"], SMALL),
        ("drill", ["drill"], SMALL), ("drill-tall", ["drill"], TALL), ("title-tall", ["title"], TALL),
    ],
)  # fmt: skip
def test_the_other_looks(look, name, kinds, size, failures):
    made = load_look(look, Path())
    picture = ground(size, made).copy() if name.startswith("title") else field(size)
    artist = CardArtist(made, size)
    for kind in kinds:
        for patch in artist.patches(make_card(kind, *CARDS[kind], side="left"), 50):
            blend(picture, patch)
    compare(planes_to_rgb(picture), f"{look}-{name}", failures)


def test_split_furniture(failures):
    halves = (Rect(0, 0, 318, 360), Rect(322, 0, 318, 360))
    picture = field(SIZE)
    names = (("Marta", None), ("Our demonstrator", "mirrored"))
    labels = [
        patch for window, name in zip(halves, names, strict=True) for patch in pane_label(*name, window, LOOK, SIZE)
    ]
    for patch in (*divider(halves, LOOK, SIZE), *labels):
        blend(picture, patch)
    compare(planes_to_rgb(picture), "split", failures)


def test_the_comparer_can_fail(failures, monkeypatch):
    """A line half its width off and a missing stroke are caught; what was seen, stored and different is kept."""
    monkeypatch.delenv("SEGMENTKIT_STORE_GOLDENS", raising=False)

    def drawn(strokes):
        artist, picture = StrokeArtist(LOOK, SIZE), field(SIZE)
        artist.settle([(stroke, whole(SIZE)) for stroke in strokes])
        for stroke in strokes:
            for patch in artist.patches(stroke, whole(SIZE), 50):
                blend(picture, patch)
        return planes_to_rgb(picture)

    right = drawn(STROKES)
    assert differs(right, right) == ""
    moved = make_stroke("line", (201, 40), (201, 320), canvas=SIZE, role="reference", label="Hip line", id="hip")
    recoloured = make_stroke("dot", (320, 300), canvas=SIZE, role="good", id="ball")
    for wrong in ((moved, *STROKES[1:]), (*STROKES[:2], *STROKES[3:])):
        assert differs(drawn(wrong), right)
    with pytest.raises(GoldenDiffersError):
        compare(drawn(STROKES[1:]), "strokes-50", failures)
    assert sorted(path.name for path in failures.iterdir()) == [
        f"strokes-50-{kind}.png" for kind in ("actual", "difference", "expected")
    ]
    assert differs(right[:, :-2], right).startswith("shape")
    assert (drawn((*STROKES[:-1], recoloured)) != right).any()

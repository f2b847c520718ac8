"""Names in pictures that are not wide: low while the player is clear of them, else at the head, which makes room."""

from __future__ import annotations

import pytest

from segmentkit.checks.context import CheckContext
from segmentkit.facts import SceneFacts
from segmentkit.geometry import Point, Rect
from segmentkit.plan.layout import title_safe
from segmentkit.plan.model import Card
from segmentkit.plan.thirds import is_narrow
from tests.plan_makers import Board, beat_of, clean, context

FRAMES = tuple(range(0, 360, 30))


def moving(top: float, height: float, left: float = 0.3, width: float = 0.3) -> dict[str, SceneFacts]:
    """The viewer's player and club move in one box of the picture."""
    boxes = (Rect(left, top, width, height),) * len(FRAMES)
    return {"viewer": SceneFacts(frames=FRAMES, boxes=boxes, luma=(60, 120, 180), blue=128, red=128)}


def shaped(size: str, points: dict[str, list[float]], zoom: float | None = None, **how: object) -> CheckContext:
    """The clean storyboard in another shape; `points` and `zoom` are those of the viewer's clip."""
    board = clean()
    board["segment"]["size"] = size
    board["clips"]["viewer"] |= {"zoom": zoom} if zoom else {}
    board["clips"]["viewer"]["points"]["address"] = points
    return context(board, **how)


def names(made: CheckContext) -> list[Card]:
    return [card for card in made.plan.cards if card.kind == "lower_third"]


NARROW = ["1080x1080", "1080x1350", "1080x1920"]
STANDING = {"heel": [0.45, 0.85], "belt": [0.45, 0.55], "ball": [0.55, 0.86]}


@pytest.mark.parametrize("size", NARROW)
def test_a_name_that_would_hide_feet_and_ball_stands_at_the_head(size):
    (name,) = names(shaped(size, STANDING, scenes=moving(0.25, 0.62)))
    assert name.high


def test_in_a_wide_picture_a_name_stands_low():
    (name,) = names(shaped("1920x1080", STANDING, scenes=moving(0.25, 0.62)))
    assert not name.high


@pytest.mark.parametrize("size", NARROW)
def test_a_name_stands_low_while_the_player_is_clear_of_it(size):
    far = {"heel": [0.45, 0.55], "belt": [0.45, 0.42], "ball": [0.5, 0.55]}
    (name,) = names(shaped(size, far, scenes=moving(0.25, 0.32)))
    assert not name.high


@pytest.mark.parametrize("size", NARROW)
def test_at_the_head_the_picture_makes_room_in_all_shots_of_the_beat(size):
    made = shaped(size, STANDING, 1.3, scenes=moving(0.25, 0.62))
    canvas = made.plan.canvas
    assert is_narrow(canvas)
    shots = [shot for shot in made.plan.shots if shot.beat == "intro"]
    places = {shot.panes[0].placement for shot in shots}
    assert len(places) == 1
    (place,) = places
    left, top, right, bottom = place.window.edges
    assert (left, top, right, bottom) == canvas.edges
    # Head and club lie below where a name of two lines ends; feet and ball are in the picture, whose edges never show.
    assert place.to_canvas(Point(0.45, 0.25)).y >= title_safe(canvas).y + 217 * canvas.width / 1080
    assert place.to_canvas(Point(0.45, 0.87)).y <= canvas.bottom
    assert place.dx <= 0
    assert place.dy <= 0
    assert place.dx + place.scale * 1920 >= canvas.width
    assert place.dy + place.scale * 1080 >= canvas.height
    # Other beats are as close as their clip says.
    (closer,) = {pane.placement.scale for shot in made.plan.shots if shot.id == "address/0" for pane in shot.panes}
    assert closer == pytest.approx(1.3 * canvas.height / 1080)


def test_all_names_of_a_beat_stand_alike():
    board: Board = clean()
    board["segment"]["size"] = "1080x1350"
    board["clips"]["viewer"]["points"]["address"] = STANDING
    beat = beat_of(board, "intro")
    beat["cards"] = [
        {"lower_third": {"person": "maren", "at": "0.5s", "hold": "3s"}},
        {"lower_third": {"name": "Aksel", "at": "4.5s", "hold": "3s"}},
    ]
    made = names(context(board, scenes=moving(0.25, 0.62)))
    assert [one.high for one in made] == [True, True]


@pytest.mark.parametrize("size", NARROW)
def test_below_the_names_of_pictures_a_name_would_hide_faces_so_it_stands_low(size):
    board = clean()
    board["segment"]["size"] = size
    beat_of(board, "compare")["cards"] = [{"lower_third": {"person": "maren", "at": "1s", "hold": "4s"}}]
    (name,) = (card for card in names(context(board)) if card.beat == "compare")
    assert not name.high


@pytest.mark.parametrize(("heel", "belt", "high"), [(0.97, 0.45, True), (0.8, 0.32, False)])
def test_where_neither_foot_nor_head_is_free_the_name_covers_the_player_least(heel, belt, high):
    # A square picture of 1080 that cannot move: at its foot a name takes 774 to 1026, at its head 54 to 306. The first
    # player reaches from 93 to 1048, 252 px of them low and 213 at the head; the second from -17 to 864: 90 and 306.
    made = shaped("1080x1080", {"heel": [0.45, heel], "belt": [0.45, belt]})
    (name,) = names(made)
    assert name.high is high
    assert {pane.placement.dy for shot in made.plan.shots if shot.beat == "intro" for pane in shot.panes} == {0.0}

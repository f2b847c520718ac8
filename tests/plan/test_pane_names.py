"""Names of pictures beside one another: shorter forms, and rooms by what they need."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from segmentkit.geometry import Rect
from segmentkit.plan.layout import windows
from segmentkit.plan.pane_names import shared_out
from segmentkit.plan.short_names import shorter_names

SQUARE = Rect(0, 0, 1080, 1080)
COLUMNS = windows(SQUARE, 3)


@pytest.mark.parametrize(
    ("name", "forms"),
    [
        ("Maren Lindholm", ["Maren L.", "Maren", "M.\u00a0L."]),
        ("Anna-Clara von Oberlind", ["Anna-Clara O.", "Anna-Clara", "A.C.\u00a0O."]),
        ("Jonna Maria Sund", ["Jonna M. S.", "Jonna", "J.\u00a0M.\u00a0S."]),
        ("Øyvind Ås", ["Øyvind Å.", "Øyvind", "Ø.\u00a0Å."]),
        ("Maren", []),
        ("Our demonstrator", []),
        ("Film from yesterday", []),
        ("山田 花子", []),
        ("", []),
    ],
)
def test_a_persons_name_gets_shorter_and_nothing_else_does(name, forms):
    assert list(shorter_names(name)) == forms


@given(st.text(max_size=40))
def test_shorter_forms_are_never_longer(name):
    for form in shorter_names(name):
        assert 0 < len(form.replace(".", "").replace("\u00a0", " ")) <= len(name)


def test_names_that_fit_stay_above_their_columns():
    assert shared_out(("Maren", "Maren", "Ines"), COLUMNS, SQUARE) is None


def test_a_long_word_takes_room_that_short_names_leave():
    rooms = shared_out(("Maren", "Maren", "Our demonstrator"), COLUMNS, SQUARE)
    assert rooms is not None
    assert [rooms[0].x, rooms[2].right] == [0, 1080]
    assert rooms[0].right == rooms[1].x
    assert rooms[1].right == rooms[2].x
    assert rooms[2].width > COLUMNS[2].width + 60
    # Each stands over a good part of its own column still.
    for room, column in zip(rooms, COLUMNS, strict=True):
        assert min(room.right, column.right) - max(room.x, column.x) >= 0.4 * column.width


@given(st.lists(st.text(st.characters(categories=["L", "Zs"]), max_size=30), min_size=3, max_size=3))
def test_rooms_tile_the_ground_whatever_the_names(names):
    rooms = shared_out(names, COLUMNS, SQUARE)
    for room, following in zip(rooms or (), (rooms or ())[1:], strict=False):
        assert room.right == following.x
        assert room.width > 0
        assert room.bottom == COLUMNS[0].y

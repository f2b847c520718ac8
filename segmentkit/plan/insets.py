"""Where a close-up in a corner lies, and how the wide picture makes room for it, so that it hides no player."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.geometry import Placement, Point, Rect, box_of
from segmentkit.plan.layout import clamped, even, inset_window
from segmentkit.storyboard.shots import Corner, Inset

_SIZES = (0.38, 0.34, 0.3)
"""Smaller sizes that are tried where none is written; below, a close-up shows nothing that the wide picture hides."""
_CORNERS = (Corner.UPPER_RIGHT, Corner.UPPER_LEFT)
_GAP = 0.015
"""Between an inset and the player, as a part of the picture's shorter side."""


def beside_player(
    inset: Inset, placed: Placement, canvas: Rect, player: Rect | None, seen: Rect | None
) -> tuple[Placement, Rect]:
    """The wide picture, moved where that helps, and the inset's window; corner and size stay where they are written.

    Args:
        inset: the close-up.
        placed: the wide picture without it.
        canvas: what pictures may fill.
        player: the box around the body, in fractions of the wide picture; None when that is not known.
        seen: the box around all that should be seen of it.
    """
    written = inset.model_fields_set
    sizes = (inset.size,) if "size" in written else (inset.size, *_SIZES)
    corners = (inset.corner,) if "corner" in written else _CORNERS
    found: list[tuple[float, Placement, Rect]] = []
    for size in sizes:
        for corner in corners:
            window = inset_window(canvas, corner, size)
            moved = placed if player is None else _clear(placed, window, player, seen)
            over = 0.0 if player is None else hidden_part(moved, window, player)
            if over <= 0:
                return moved, window
            found.append((over, moved, window))
    _, moved, window = min(found, key=lambda each: each[0])
    return moved, window


def hidden_part(placed: Placement, window: Rect, player: Rect) -> float:
    """Part of the player's box that lies under an inset, 0 to 1."""
    box = _on_canvas(placed, player)
    wide = min(box.right, window.right) - max(box.x, window.x)
    high = min(box.bottom, window.bottom) - max(box.y, window.y)
    return max(0.0, wide) * max(0.0, high) / (box.width * box.height)


def _on_canvas(placed: Placement, box: Rect) -> Rect:
    return box_of(map(placed.to_canvas, box.corners))


def _clear(placed: Placement, window: Rect, player: Rect, seen: Rect | None) -> Placement:
    """The picture moved as little as needed, its window staying full and showing what should be seen."""
    if hidden_part(placed, window, player) <= 0:
        return placed
    moves = sorted(_moves(placed, window, player, seen), key=lambda move: abs(move[0]) + abs(move[1]))
    tried = [placed.shifted(dx, dy) for dx, dy in moves]
    return min([*tried, placed], key=lambda one: hidden_part(one, window, player))


def _moves(placed: Placement, window: Rect, player: Rect, seen: Rect | None) -> Iterator[tuple[float, float]]:
    box, gap = _on_canvas(placed, player), _GAP * min(placed.window.width, placed.window.height)
    for axis, ends in (
        (Point(1.0, 0.0), (window.x - gap - box.right, window.right + gap - box.x)),
        (Point(0.0, 1.0), (window.y - gap - box.bottom, window.bottom + gap - box.y)),
    ):
        low, high = _room(placed, seen, axis)
        for wanted in ends:
            step = clamped(float(even(wanted)), (low, high)) if low <= high else 0.0
            yield step * axis.x, step * axis.y


def _room(placed: Placement, seen: Rect | None, axis: Point) -> tuple[float, float]:
    low, high = placed.room(axis)
    if seen is not None:
        box, frame = _on_canvas(placed, seen), placed.window
        least, most = (frame.x - box.x, frame.right - box.right) if axis.x else (
            frame.y - box.y, frame.bottom - box.bottom
        )  # fmt: skip
        if least <= most:
            low, high = max(low, least), min(high, most)
    return low, high

"""Strokes, cards and grounds for the drawing tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from segmentkit.geometry import Placement, Point, Rect, Size, cover
from segmentkit.media.planes import Planes, blank
from segmentkit.plan.model import Card, Stroke
from segmentkit.render.blend import YuvPatch, blend
from segmentkit.storyboard.load_look import load_look
from segmentkit.timebase import Span

HD = Size(1920, 1080)
LOOK = load_look("dune", Path())


def whole(size: Size = HD) -> Placement:
    """A source of the canvas's own size, shown as it is."""
    return cover(size, Rect(0, 0, size.width, size.height))


def make_stroke(kind: str, *points: tuple[float, float], canvas: Size = HD, **given: object) -> Stroke:
    """A stroke with its points in canvas pixels, drawn over frames 0 to 20 and seen until frame 100."""
    radius = given.pop("radius", None)
    fields: dict[str, object] = {
        "id": kind,
        "beat": "impact",
        "shot": "impact/0",
        "pane": 0,
        "kind": kind,
        "points": tuple(Point(x / canvas.width, y / canvas.height) for x, y in points),
        "radius": None if radius is None else float(radius) / canvas.height,  # type: ignore[arg-type]
        "role": "fault",
        "label": None,
        "span": Span(0, 100),
        "draw_start": 0,
        "draw_frames": 20,
        "wipe_frames": 0,
        "cue": None,
        "cue_frame": None,
        "kept": False,
    }
    return Stroke(**{**fields, **given})  # type: ignore[arg-type]


def make_card(kind: str, *fields: tuple[str, str], **given: object) -> Card:
    """A card on frames 0 to 100, coming in over 12 and going over 8."""
    values: dict[str, object] = {
        "beat": "impact",
        "kind": kind,
        "index": 0,
        "fields": fields,
        "span": Span(0, 100),
        "enter_frames": 12,
        "leave_frames": 8,
    }
    return Card(**{**values, **given})  # type: ignore[arg-type]


def over(patches: tuple[YuvPatch, ...], size: Size = HD, y: int = 126, u: int = 128, v: int = 128) -> Planes:
    """Patches laid over a plain picture, mid grey unless told otherwise."""
    frame = blank(size, y, u, v)
    for patch in patches:
        blend(frame, patch)
    return frame


def alpha_of(patches: tuple[YuvPatch, ...], size: Size = HD) -> np.ndarray:
    """Coverage of all patches on the canvas, 0 to 1; patches that overlap add up to at most 1."""
    canvas = np.zeros((size.height, size.width))
    for patch in patches:
        height, width = patch.alpha.shape
        x0, y0 = max(0, patch.x), max(0, patch.y)
        x1, y1 = min(size.width, patch.x + width), min(size.height, patch.y + height)
        part = patch.alpha[y0 - patch.y : y1 - patch.y, x0 - patch.x : x1 - patch.x] / 255 * patch.opacity
        canvas[y0:y1, x0:x1] = 1 - (1 - canvas[y0:y1, x0:x1]) * (1 - part)
    return canvas

"""Draws strokes: on over time, held, wiped off; each stage as small patches for the blender."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from segmentkit.facts import TextFacts
from segmentkit.geometry import Placement, Point, Rect, Size
from segmentkit.plan.model import Stroke
from segmentkit.render import paths, shapes
from segmentkit.render.blend import Mask, YuvPatch, dim, patch_from_layers
from segmentkit.render.contrast import worst_contrast
from segmentkit.render.fonts import FontBook
from segmentkit.render.layout import unit_of
from segmentkit.render.raster import Ink, clip_to, coverage, tiles
from segmentkit.render.tags import LABEL_OPACITY, Tag, TagMaker
from segmentkit.render.text import Typesetter
from segmentkit.storyboard.look import Look

_KEPT = 96
_LABEL_FADE = 0.4  # of the drawing time, at its end
_SOFT = 0.18  # of a shade's radius


class StrokeArtist:
    """Draws the strokes of one look on one canvas; remembers finished patches, so that a held stroke costs nothing."""

    def __init__(self, look: Look, canvas: Size) -> None:
        self.look = look
        self.canvas = canvas
        self.unit = unit_of(canvas)
        self._book = FontBook(look)
        self._tags = TagMaker(look, canvas, self.unit, Typesetter(self._book))
        self._settled: dict[tuple[str, str], Tag] = {}
        self._settled_at: dict[tuple[str, str], Point] = {}
        self._finished: OrderedDict[tuple[object, ...], tuple[YuvPatch, ...]] = OrderedDict()

    def settle(
        self, strokes: Sequence[tuple[Stroke, Placement]], taken: Sequence[Rect] = (), bodies: Sequence[Rect] = ()
    ) -> None:
        """Finds the spots of all labels of a shot at once, so that they keep off one another and off all strokes.

        A label that was not settled keeps off its own stroke only.

        Args:
            strokes: all strokes of the shot, each with the placement of its pane, in the order of the plan.
            taken: canvas rectangles that are in use: cards, names of panes.
            bodies: canvas rectangles of players, which labels keep off where they can.
        """
        self._settled.clear()
        used = list(taken)
        led: list[paths.Path] = []
        for stroke, placement in strokes:
            if not stroke.label:
                continue
            others = [
                # A long line to compare with may rather be crossed than a fault or a body.
                self.outline(other, place)[:: 5 if other.role == "reference" else 1]
                for other, place in strokes
                if other is not stroke and other.kind != "shade" and other.span.overlap(stroke.span)
            ]
            kept_off = np.concatenate([np.empty((0, 2)), *others, *led])
            made = self._tag(stroke, placement, used, kept_off, bodies)
            self._settle(stroke, placement, made)
            used.append(made.rect)
            led.append(made.led)

    def _settle(self, stroke: Stroke, placement: Placement, tag: Tag) -> None:
        self._settled[stroke.shot, stroke.id] = tag
        self._settled_at[stroke.shot, stroke.id] = placement.to_canvas(stroke.points[0])

    def patches(self, stroke: Stroke, placement: Placement, frame: int) -> tuple[YuvPatch, ...]:
        """What a stroke adds to the picture of a frame.

        Args:
            stroke: the stroke.
            placement: of the pane that it belongs to.
            frame: of the segment.

        Returns:
            Patches in the order in which they are blended, the same objects as long as nothing changes; none when the
            stroke is not seen.
        """
        drawn, wiped = stage(stroke, frame)
        if drawn <= 0 or wiped >= 1 or frame not in stroke.span:
            return ()
        same = (stroke.kind, stroke.points, stroke.radius, stroke.role, placement)
        lines = self._remember(
            (*same, round(drawn, 5), round(wiped, 5)), lambda: self._lines(stroke, placement, drawn, wiped)
        )
        opacity = label_opacity(drawn, wiped)
        if not stroke.label or opacity <= 0:
            return lines
        tag = self.tag(stroke, placement)
        label = self._remember((*same, stroke.label, tag.rect), lambda: self._carried(stroke, placement, tag))
        return (*lines, *(patch if opacity >= 1 else patch.faded(opacity) for patch in label))

    def tag(self, stroke: Stroke, placement: Placement) -> Tag:
        """The label of a stroke where it lies."""
        key = (stroke.shot, stroke.id)
        if key not in self._settled:
            self._settle(stroke, placement, self._tag(stroke, placement, (), np.empty((0, 2))))
        return self._settled[key]

    def _carried(self, stroke: Stroke, placement: Placement, tag: Tag) -> tuple[YuvPatch, ...]:
        """A label where its stroke has gone since the label found its spot; by whole chroma samples."""
        away = placement.to_canvas(stroke.points[0]) - self._settled_at[stroke.shot, stroke.id]
        dx, dy = 2 * round(away.x / 2), 2 * round(away.y / 2)
        patches = tag.patches(placement.window)
        return tuple(replace(patch, x=patch.x + dx, y=patch.y + dy) for patch in patches) if dx or dy else patches

    def text_report(self, stroke: Stroke, placement: Placement, index: int = 0) -> tuple[TextFacts, ...]:
        """What was measured of a stroke's label; nothing without one. `index` is handed on."""
        if not stroke.label:
            return ()
        tag, palette = self.tag(stroke, placement), self.look.palette
        return (
            TextFacts(
                beat=stroke.beat,
                kind="stroke_label",
                index=index,
                text=stroke.label,
                area=tag.rect,
                cap_height=tag.text.cap,
                contrast=worst_contrast(palette.label_ink, palette.label, LABEL_OPACITY),
                overflow=tag.text.broken or not tag.clear,
                missing=self._book.lacking(stroke.label),
                secondary=True,
                covers=tag.rect,
                over=tag.over,
            ),
        )

    def _tag(
        self, stroke: Stroke, placement: Placement, taken: Sequence[Rect], others: paths.Path,
        bodies: Sequence[Rect] = (),
    ) -> Tag:  # fmt: skip
        return self._tags.beside(
            stroke.label or "", self.look.strokes.role(stroke.role).colour, self.outline(stroke, placement),
            self.width_of(stroke) / 2, placement.window, taken, others, bodies,
        )  # fmt: skip

    def outline(self, stroke: Stroke, placement: Placement) -> paths.Path:
        """Points along the whole stroke, for keeping things off it; float64, shape (n, 2), canvas pixels."""
        if stroke.kind == "dot":
            return np.array([[p.x, p.y] for p in (placement.to_canvas(stroke.points[0]),)])
        if stroke.kind == "shade":
            return paths.circle(placement.to_canvas(stroke.points[0]), shapes.radius_of(stroke, placement))
        drawing = shapes.drawing_of(stroke, placement, self.look.strokes.weight * self.unit, "solid")
        points: paths.Path = np.concatenate([paths.resampled(trail, 6.0) for trail in drawing.trails])
        return points

    def width_of(self, stroke: Stroke) -> float:
        """How far a stroke's ink and edge reach across, at most, in canvas pixels."""
        weight = self.look.strokes.weight
        across = {"dot": 2 * shapes.SPOT_RADIUS, "shade": 0.0}.get(stroke.kind, 1.0) * weight
        if "arrow" in stroke.kind:
            across = 2 * shapes.HEAD_HALF * weight
        return (across + 2 * self.look.strokes.edge) * self.unit

    def _remember(self, key: tuple[object, ...], make: Callable[[], tuple[YuvPatch, ...]]) -> tuple[YuvPatch, ...]:
        if key in self._finished:
            self._finished.move_to_end(key)
            return self._finished[key]
        self._finished[key] = made = make()
        while len(self._finished) > _KEPT:
            self._finished.popitem(last=False)
        return made

    def _lines(self, stroke: Stroke, placement: Placement, drawn: float, wiped: float) -> tuple[YuvPatch, ...]:
        look = self.look.strokes
        role = look.role(stroke.role)
        weight, edge = look.weight * self.unit, look.edge * self.unit
        if stroke.kind == "shade":
            return self._shade(stroke, placement, drawn * (1 - wiped))
        if stroke.kind == "dot":
            centre = placement.to_canvas(stroke.points[0])
            size = 2 * shapes.SPOT_RADIUS * weight * drawn * (1 - wiped)
            inks = [Ink((np.array([[centre.x, centre.y]]),), size)]
        else:
            inks = shapes.inks(shapes.drawing_of(stroke, placement, weight, role.line), drawn, wiped)
        rims = [ink.grown(edge) for ink in inks]
        patches = []
        for x, y, width, height in tiles(rims, placement.window):
            rim = coverage(rims, x, y, width, height)
            if not rim.any():
                continue
            core = coverage(inks, x, y, width, height)
            layers = _stacked(
                clip_to(core, x, y, placement.window), clip_to(rim, x, y, placement.window), look.edge_opacity
            )
            patches.append(patch_from_layers([(layers[0], role.colour), (layers[1], look.edge_colour)], x, y))
        return tuple(patches)

    def _shade(self, stroke: Stroke, placement: Placement, part: float) -> tuple[YuvPatch, ...]:
        full = self._remember(
            ("shade", stroke.points, stroke.radius, placement), lambda: (self._full_shade(stroke, placement),)
        )
        return tuple(patch.faded(part) for patch in full) if part < 1 else full

    def _full_shade(self, stroke: Stroke, placement: Placement) -> YuvPatch:
        window = placement.window
        left, top = max(0, round(window.x)), max(0, round(window.y))
        right, bottom = min(self.canvas.width, round(window.right)), min(self.canvas.height, round(window.bottom))
        centre, radius = placement.to_canvas(stroke.points[0]), shapes.radius_of(stroke, placement)
        columns = (np.arange(left, right, dtype=np.float32) + np.float32(0.5 - centre.x))[None, :]
        rows = (np.arange(top, bottom, dtype=np.float32) + np.float32(0.5 - centre.y))[:, None]
        soft = max(4.0 * self.unit, _SOFT * radius)
        outside = np.clip((np.sqrt(columns**2 + rows**2) - np.float32(radius)) / np.float32(soft), 0, 1)
        mask = np.rint(255 * outside * outside * (3 - 2 * outside)).astype(np.uint8)
        return dim(mask, self.look.palette.ground_deep, left, top, self.look.strokes.shade)


def _stacked(core: Mask, rim: Mask, edge_opacity: float) -> tuple[Mask, Mask]:
    """Coverage of the line, and what its dark edge covers beside it; together never more than 255."""
    beside = rim.astype(np.float32) * (255 - core.astype(np.float32)) * np.float32(edge_opacity / 255)
    return core, np.minimum(np.rint(beside), 255 - core.astype(np.float32)).astype(np.uint8)


def stage(stroke: Stroke, frame: int) -> tuple[float, float]:
    """How far a stroke is drawn and how far wiped off at a frame: two parts of its way, 0 to 1.

    The first frame of the drawing already shows a beginning and the last one shows all of it; of the wiping the first
    frame lacks a piece and the frame after the last one would show nothing.
    """
    drawn = shapes.pen_travel((frame - stroke.draw_start + 1) / stroke.draw_frames) if stroke.draw_frames else 1.0
    if frame < stroke.draw_start:
        drawn = 0.0
    wiping = frame - (stroke.span.end - stroke.wipe_frames) + 1
    wiped = shapes.pen_travel(wiping / (stroke.wipe_frames + 1)) if stroke.wipe_frames and wiping > 0 else 0.0
    return drawn, wiped


def label_opacity(drawn: float, wiped: float) -> float:
    """A label comes while the last part of its stroke is drawn, and goes with the first part of the wiping."""
    come = min(1.0, max(0.0, (drawn - (1 - _LABEL_FADE)) / _LABEL_FADE))
    gone = min(1.0, wiped / _LABEL_FADE)
    return come * (1 - gone)

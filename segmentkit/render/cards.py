"""Cards, labels, dividers: brought in and out without a flash, drawn once, handed over as patches."""

from __future__ import annotations

import functools
import itertools
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from segmentkit.facts import TextFacts
from segmentkit.geometry import Rect, Size
from segmentkit.media.planes import Planes
from segmentkit.plan.model import Card, Plan
from segmentkit.render import boards, burned, plates
from segmentkit.render.arrange import key_of, rooms
from segmentkit.render.blend import YuvPatch, patch_from_layers
from segmentkit.render.characters import character_of
from segmentkit.render.characters.base import smooth
from segmentkit.render.design import Design, Stage, text_of
from segmentkit.render.faces import trunk_areas
from segmentkit.render.layout import unit_of
from segmentkit.render.paint import Painting
from segmentkit.storyboard.look import Look

__all__ = ["CardArtist", "divider", "ground", "pane_label", "pane_label_report"]

_KEPT = 8
_UPPER_LEFT = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class _Ready:
    """A card as patches: its layers apart for coming in, with slide and delay of each, and all in one for being held.

    What they were painted on is not kept: it takes ten times the memory. Layers are None where nobody has seen the card
    come in, as in a still.
    """

    layers: tuple[tuple[YuvPatch, tuple[float, float], float], ...] | None
    held: tuple[YuvPatch, ...]


class CardArtist:
    """Draws the cards of one look on one canvas; a held card is one patch, always the same."""

    def __init__(self, look: Look, canvas: Size, plan: Plan | None = None) -> None:
        """Cards of a `plan` make room for one another and for the names of panes; else each has the picture alone."""
        self.look = look
        self.canvas = canvas
        self._stage = Stage(look, canvas)
        self._measuring = Stage(look, canvas, measuring=True)
        self._ready: OrderedDict[tuple[object, ...], _Ready] = OrderedDict()
        self._rooms = self._arranged(plan) if plan is not None else {}

    def _arranged(self, plan: Plan) -> dict[tuple[str, str, int, int], Rect]:
        names = [
            (shot.span, plates.plate(self._measuring, pane.label, pane.note, pane.label_at, pane.label_window).area)
            for shot in plan.shots
            for pane in shot.panes
            if pane.label
        ]
        # Beside a wide picture's player there is room in any case.
        shots = () if self._stage.wide else plan.shots
        # A little wider than the trunk, for elbows.
        bodies = [(shot.span, area.inset(-0.12 * area.width, 0)) for shot in shots for area in trunk_areas(shot)]
        return rooms(
            plan.cards, names, self._stage.safe, self._stage.unit,
            lambda card, room: _designed(self._measuring.within(room), card).area,
            bodies,
        )  # fmt: skip

    def patches(self, card: Card, frame: int) -> tuple[YuvPatch, ...]:
        """What a card adds to the picture of a frame, in the order in which it is blended; nothing outside its span."""
        if frame not in card.span:
            return ()
        come = (frame - card.span.start + 1) / (card.enter_frames + 1) if card.enter_frames else 1.0
        left = (card.span.end - frame) / (card.leave_frames + 1) if card.leave_frames else 1.0
        ready = self._made(card, coming=come < 1 and left >= 1)
        if come >= 1 and left >= 1:
            return ready.held
        if left < 1:
            # Going is one plain fade of the whole: nothing slides away under the eyes of a reader.
            return tuple(patch.faded(smooth(left)) for patch in ready.held)
        arrived = self._stage.character.arrived
        return tuple(
            arrived(patch, slide, min(1.0, max(0.0, (come - delay) / (1 - delay))))
            for patch, slide, delay in ready.layers or ()
            if come > delay
        )

    def area(self, card: Card) -> Rect:
        """The canvas rectangle that a card covers when it is held."""
        return _designed(self._on(self._measuring, card), card).area

    def text_report(self, card: Card) -> tuple[TextFacts, ...]:
        """What is measured of each text of a card on this canvas; nothing is painted for it."""
        stage = self._on(self._measuring, card)
        return _facts(_designed(stage, card), stage, card.beat, card.kind, card.index)

    def room_of(self, card: Card) -> Rect | None:
        """The room that the cards and names which a card meets leave to it; None for all of the safe area."""
        return self._rooms.get(key_of(card))

    def _on(self, stage: Stage, card: Card) -> Stage:
        """The stage with the room that is left to a card."""
        room = self.room_of(card)
        return stage if room is None else stage.within(room)

    def _made(self, card: Card, *, coming: bool) -> _Ready:
        key = (card.kind, card.fields, card.side, card.sheet, card.high, self.room_of(card))
        before = self._ready.get(key)
        if before is None or (coming and before.layers is None):
            design = _designed(self._on(self._stage, card), card)
            layers = tuple((one.painting.patch(), one.slide, one.delay) for one in design.layers) if coming else None
            self._ready[key] = _Ready(layers, before.held if before is not None else _merged(design))
            while len(self._ready) > _KEPT:
                self._ready.popitem(last=False)
        self._ready.move_to_end(key)
        return self._ready[key]


def _designed(stage: Stage, card: Card) -> Design:
    match card.kind:
        case "title" | "end_board":
            design = boards.board(stage, card)
        case "lower_third":
            design = boards.lower_third(stage, card)
        case "information" | "key_points":
            design = boards.list_panel(stage, card)
        case "drill":
            design = boards.drill(stage, card)
        case "key_words":
            design = plates.key_words(stage, card)
        case "caution":
            design = plates.caution(stage, text_of(card, "text"))
        case "disclosure":
            design = plates.disclosure(stage, text_of(card, "text"))
        case "label":
            design = plates.plate(stage, text_of(card, "text"), None, (0.0, 0.0))
        case "guide_mark":
            design = plates.guide_mark(stage, text_of(card, "text") or "Guide voice")
        case "caption":
            design = burned.caption(stage, card)
        case _:
            raise ValueError(f"no card is called {card.kind!r}")
    return design


def _facts(design: Design, stage: Stage, beat: str, kind: str, index: int) -> tuple[TextFacts, ...]:
    return tuple(
        TextFacts(
            beat=beat,
            kind=kind,
            index=index,
            text=one.text,
            area=one.area,
            cap_height=one.cap,
            contrast=one.contrast,
            overflow=one.overflow,
            missing=stage.book.lacking(one.text),
            secondary=one.secondary,
            covers=design.area,
        )
        for one in design.written
    )


def _merged(design: Design) -> tuple[YuvPatch, ...]:
    """All layers laid over one another; apart from each other they stay apart."""
    rects = [Rect(one.painting.x, one.painting.y, one.painting.width, one.painting.height) for one in design.layers]
    if not any(a.overlaps(b) for k, a in enumerate(rects) for b in rects[:k]):
        return tuple(one.painting.patch() for one in design.layers)
    x, y = int(min(r.x for r in rects)), int(min(r.y for r in rects))
    whole = Painting(x, y, int(max(r.right for r in rects)) - x, int(max(r.bottom for r in rects)) - y)
    for layer in design.layers:
        whole.cover(layer.painting)
    return (whole.patch(),)


@functools.lru_cache(maxsize=32)
def _label(
    text: str, note: str | None, window: Rect, look: Look, canvas: Size, at: tuple[float, float]
) -> tuple[YuvPatch, ...]:
    return _merged(plates.plate(Stage(look, canvas), text, note, at, window))


def pane_label(
    text: str, note: str | None, window: Rect, look: Look, canvas: Size, at: tuple[float, float] = _UPPER_LEFT
) -> tuple[YuvPatch, ...]:
    """The name of a pane, with a smaller note such as "mirrored"; within the pane and the safe area.

    `at` says where in them: (0, 0) is the upper left corner, (1, 1) the lower right one.
    """
    return _label(text, note, window, look, canvas, at)


def pane_label_report(
    beat: str,
    index: int,
    text: str,
    note: str | None,
    window: Rect,
    look: Look,
    canvas: Size,
    at: tuple[float, float] = _UPPER_LEFT,
) -> tuple[TextFacts, ...]:
    """What is measured of the name of a pane; nothing is painted for it."""
    stage = Stage(look, canvas, measuring=True)
    return _facts(plates.plate(stage, text, note, at, window), stage, beat, "pane_label", index)


def inset_edge(window: Rect, look: Look, canvas: Size) -> tuple[YuvPatch, ...]:
    """A pale line around a picture that lies over another one, with a dark edge to both."""
    unit = unit_of(canvas)
    line, rim = max(2, 2 * round(1.5 * unit)), max(2, 2 * round(unit))
    reach = line // 2 + rim
    left, top = round(window.x) - reach, round(window.y) - reach
    width, height = round(window.width) + 2 * reach, round(window.height) + 2 * reach
    patches = []
    for x, y, wide, high in (
        (left, top, width, 2 * reach),
        (left, top + height - 2 * reach, width, 2 * reach),
        (left, top + 2 * reach, 2 * reach, height - 4 * reach),
        (left + width - 2 * reach, top + 2 * reach, 2 * reach, height - 4 * reach),
    ):
        rows = np.arange(y, y + high)[:, None]
        columns = np.arange(x, x + wide)[None, :]
        depth = np.minimum(
            np.minimum(columns - left, left + width - 1 - columns), np.minimum(rows - top, top + height - 1 - rows)
        )
        inner = (depth >= rim) & (depth < rim + line)
        ink = np.where(inner, 255, 0).astype(np.uint8)
        dark = np.where((depth < 2 * reach) & ~inner, 255, 0).astype(np.uint8)
        patches.append(patch_from_layers([(ink, look.palette.label_ink), (dark, look.palette.label)], x, y))
    return tuple(patches)


def divider(windows: Sequence[Rect], look: Look, canvas: Size) -> tuple[YuvPatch, ...]:
    """A pale line between neighbouring panes, with a dark edge to both pictures."""
    unit = unit_of(canvas)
    patches = []
    for first, second in itertools.pairwise(windows):
        gap = second.x - first.right
        upright = gap >= -1 and second.x > first.x
        middle = (first.right + second.x) / 2 if upright else (first.bottom + second.y) / 2
        length = round(first.height if upright else first.width)
        half = max(4 * unit, (gap if upright else second.y - first.bottom) / 2 + 2 * unit)
        edge, core = round(middle - half) // 2 * 2, max(2, round(3 * unit / 2) * 2)
        thick = round(2 * half / 2) * 2 + core % 2
        ink = np.zeros((length, thick), np.uint8)
        start = (thick - core) // 2
        ink[:, start : start + core] = 255
        dark = 255 - ink
        if not upright:
            ink, dark = np.ascontiguousarray(ink.T), np.ascontiguousarray(dark.T)
        x, y = (edge, round(first.y)) if upright else (round(first.x), edge)
        patches.append(patch_from_layers([(ink, look.palette.label_ink), (dark, look.palette.label)], x, y))
    return tuple(patches)


def ground(size: Size, look: Look) -> Planes:
    """The look's plain background. One shared picture a size and look: copy it before drawing."""
    return character_of(look.character).background(size, look.palette)

"""Captions in the picture: light type on dark bars, each line with a bar of its own."""

from __future__ import annotations

from segmentkit.geometry import Rect
from segmentkit.plan.caption_cards import burned_place
from segmentkit.plan.model import Card
from segmentkit.render.blend import Colour
from segmentkit.render.contrast import worst_contrast
from segmentkit.render.design import Design, Stage, Written, text_of, texts_of
from segmentkit.render.layer import Layer
from segmentkit.render.paint import rounded
from segmentkit.storyboard.look import PaletteLook

OPACITY = 0.86
"""Of the bars: light type keeps a contrast of more than 7 to 1 over white."""
_LEADING = 1.25


def caption(stage: Stage, card: Card) -> Design:
    """The lines of a caption at the place its card names, each centred; smaller where a line is too wide."""
    top, edge, centre, line_height = burned_place(text_of(card, "place"))
    palette, setter, ink = stage.look.palette, stage.setter, _ink(stage.look.palette)
    lines = texts_of(card, "line")
    pitch = line_height * stage.canvas.height
    size = pitch / _LEADING
    pad = 0.32 * size
    widest = max(setter.advance(line, "medium", size) for line in lines)
    room = stage.safe.width - 2 * pad
    overflow = widest > room
    if overflow:
        size *= room / widest
    y = edge * stage.canvas.height - (0 if top else pitch * len(lines))
    layers: list[Layer] = []
    written: list[Written] = []
    boxes: list[Rect] = []
    for k, line in enumerate(lines):
        width = setter.advance(line, "medium", size)
        set_ = setter.set(line, "medium", size, width + 2)
        left = min(max(stage.safe.x + pad, centre * stage.canvas.width - width / 2), stage.safe.right - pad - width)
        box = Rect(left - pad, y + k * pitch, width + 2 * pad, pitch)
        painting = stage.painting(int(box.x) - 2, int(box.y) - 2, int(box.width) + 6, int(box.height) + 6)
        painting.shape(rounded(box.x, box.y, box.right, box.bottom, 0.12 * size), palette.ground_deep, OPACITY)
        baseline = box.y + (pitch + set_.cap) / 2
        painting.text(setter, set_, left, baseline, ink)
        layers.append(Layer(painting))
        boxes.append(box)
        contrast = worst_contrast(ink, palette.ground_deep, OPACITY)
        inked = Rect(left, baseline - set_.cap, width, set_.cap)
        written.append(Written(line, inked, set_.cap, contrast, overflow))
    x = min(box.x for box in boxes)
    area = Rect(x, boxes[0].y, max(box.right for box in boxes) - x, boxes[-1].bottom - boxes[0].y)
    return Design(tuple(layers), tuple(written), area)


def _ink(palette: PaletteLook) -> Colour:
    """The type: of the look's colours the one that is clearest on the bars; looks on paper have dark ink elsewhere."""
    own = (palette.ink, palette.paper_ink, palette.label_ink, palette.ground)
    return max(own, key=lambda colour: worst_contrast(colour, palette.ground_deep, OPACITY))

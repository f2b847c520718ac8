"""Draws what stands around a programme: bars, slate, countdown, black."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from segmentkit.geometry import Point, Size
from segmentkit.media.bars import bars
from segmentkit.media.planes import Planes, blank
from segmentkit.plan.leader import LeaderPart, LeaderPlan
from segmentkit.plan.slate import Rows
from segmentkit.render.blend import Colour, YuvPatch, blend, yuv_of
from segmentkit.render.design import Stage
from segmentkit.render.layout import Item
from segmentkit.render.paint import Painting, rounded
from segmentkit.render.paths import arc, circle, path_of
from segmentkit.render.picture import Composed
from segmentkit.storyboard.look import Look

_LAST_SHOWN = 2
"""The last number that is seen, for one frame, with the pop."""
_RADIUS, _RING = 0.26, 0.022
"""Of the clock and the width of its ring, as parts of the picture's shorter side."""
_TOP = -math.pi / 2


@dataclass(frozen=True, slots=True)
class _Tints:
    """Colours of all that is technical: those of the look's labels, light on dark."""

    ground: Colour
    ink: Colour
    quiet: Colour
    faint: Colour


def _tints(look: Look) -> _Tints:
    # The darker one is the ground: what comes before black shall not be bright.
    ground, ink = sorted((look.palette.label, look.palette.label_ink), key=lambda colour: yuv_of(colour)[0])

    def between(part: float) -> Colour:
        red, green, blue = (round(a + (b - a) * part) for a, b in zip(ground, ink, strict=True))
        return red, green, blue

    return _Tints(ground, ink, between(0.75), between(0.22))


class LeaderArtist:
    """Draws the parts of one leader.

    Args:
        look: its fonts and colours.
        canvas: size of the pictures.
        leader: what is drawn.
        rows: of the slate.
        pictures: how many are drawn for one frame of the file; two where it is interlaced.
    """

    def __init__(self, look: Look, canvas: Size, leader: LeaderPlan, rows: Rows, pictures: int = 1) -> None:
        self._stage = Stage(look, canvas)
        self._canvas, self._leader, self._rows, self._pictures = canvas, leader, tuple(rows), pictures
        self._side = min(canvas.width, canvas.height)
        self._tints = _tints(look)
        self._digits: dict[int, YuvPatch] = {}
        self._arcs: dict[int, YuvPatch] = {}

    def pictures(self, part: LeaderPart) -> Iterator[Composed]:
        """The pictures of a part, in order, counted from its first."""
        count = part.span.frames * self._pictures
        match part.kind:
            case "bars":
                yield Composed(0, bars(self._leader.bars, self._canvas), count)
            case "slate":
                yield Composed(0, self.slate(), count)
            case "countdown":
                yield from self._countdown(part)
            case _:
                yield Composed(0, blank(self._canvas), count)

    def slate(self) -> Planes:
        """The slate: a title, and a line for each thing that whoever plays the file out must know."""
        stage, unit = self._stage, self._stage.unit
        kind, safe = stage.look.type, stage.safe
        wide = stage.wide
        room = safe.width * (0.66 if wide else 1.0)
        title, *rows = self._rows
        head = stage.column(
            [
                Item(text=title[0], weight="medium", size=kind.small, tint=self._tints.quiet, secondary=True),
                Item(text=title[1], weight="bold", size=kind.heading, tint=self._tints.ink, gap=26),
            ],
            room, safe.height * 0.3,
        )  # fmt: skip
        planes = self._plain()
        painting = stage.painting(0, 0, self._canvas.width, self._canvas.height)
        head.paint(painting, stage.setter, safe.x, safe.y, self._tints.ink, stage.character.bullet)
        top = safe.y + head.height + 44 * unit
        painting.shape(rounded(safe.x, top, safe.x + room, top + 4 * unit, 2 * unit), self._tints.quiet)
        self._table(painting, rows, top + 40 * unit, room)
        if wide:
            # A circle is round where the picture's shape is right.
            radius = 0.115 * self._canvas.width
            centre = Point(safe.right - radius, safe.y + safe.height / 2)
            painting.stroke(circle(centre, radius), 5 * unit, self._tints.quiet)
            for turn in (0.0, math.pi / 2):
                x, y = math.cos(turn) * radius, math.sin(turn) * radius
                ends = path_of([Point(centre.x - x, centre.y - y), Point(centre.x + x, centre.y + y)])
                painting.stroke(ends, 2 * unit, self._tints.quiet)
        blend(planes, painting.patch())
        return planes

    def _table(self, painting: Painting, rows: Sequence[tuple[str, str]], top: float, room: float) -> None:
        """Two columns, what and how, in the largest type at which all lines have room."""
        stage, safe = self._stage, self._stage.safe
        pitch = min((safe.bottom - top) / max(1, len(rows)), 66 * stage.unit)
        size = pitch / 1.5
        names = max((stage.setter.advance(name, "medium", size) for name, _ in rows), default=0.0) + 1.2 * size
        for index, (name, text) in enumerate(rows):
            baseline = top + pitch * index + size
            label = stage.setter.set(name, "medium", size, names)
            painting.text(stage.setter, label, safe.x, baseline, self._tints.quiet)
            fitted = size * min(1.0, (room - names) / max(1.0, stage.setter.advance(text, "medium", size)))
            value = stage.setter.set(text, "medium", fitted, room)
            painting.text(stage.setter, value, safe.x + names, baseline, self._tints.ink)

    def _plain(self) -> Planes:
        y, u, v = (round(code) for code in yuv_of(self._tints.ground))
        return blank(self._canvas, y, u, v)

    def _countdown(self, part: LeaderPart) -> Iterator[Composed]:
        leader, drawn = self._leader, self._pictures
        pop = leader.pop if leader.pop is not None else part.span.end
        for frame in range(part.span.start, min(pop + 1, part.span.end)):
            for half in range(drawn):
                planes = self._clock.copy()
                left = leader.second_left(frame)
                blend(planes, self._digit(left))
                if left > _LAST_SHOWN:
                    gone = (leader.programme.start - frame) * drawn - half
                    blend(planes, self._arc((gone - 1) % (leader.rate.nominal * drawn) + 1))
                yield Composed((frame - part.span.start) * drawn + half, planes, 1)
        black = part.span.end - pop - 1
        if black > 0:
            yield Composed((pop + 1 - part.span.start) * drawn, blank(self._canvas), black * drawn)

    @cached_property
    def _clock(self) -> Planes:
        """All that stands still while the clock runs."""
        stage = self._stage
        planes = self._plain()
        painting = stage.painting(0, 0, self._canvas.width, self._canvas.height)
        painting.stroke(circle(self._centre, _RADIUS * self._side), _RING * self._side, self._tints.faint)
        size = stage.look.type.small * stage.unit
        text = stage.setter.set(self._rows[0][1], "medium", size, stage.safe.width)
        middle = (self._canvas.width - text.width) / 2
        painting.text(stage.setter, text, middle, stage.safe.bottom - text.height + text.cap, self._tints.quiet)
        blend(planes, painting.patch())
        return planes

    @property
    def _centre(self) -> Point:
        return Point(self._canvas.width / 2, self._canvas.height / 2)

    def _around(self) -> Painting:
        reach = (_RADIUS + _RING) * self._side
        x, y = int(self._centre.x - reach), int(self._centre.y - reach)
        return self._stage.painting(x, y, int(2 * reach) + 2, int(2 * reach) + 2)

    def _digit(self, number: int) -> YuvPatch:
        if number not in self._digits:
            stage, painting = self._stage, self._around()
            size = 0.8 * _RADIUS * self._side * 1.5
            text = stage.setter.set(str(number), "bold", size, self._canvas.width)
            x, baseline = self._centre.x - text.width / 2, self._centre.y + text.cap / 2
            painting.text(stage.setter, text, x, baseline, self._tints.ink)
            self._digits[number] = painting.patch()
        return self._digits[number]

    def _arc(self, left: int) -> YuvPatch:
        """What is left of the running second, as part of the ring."""
        if left not in self._arcs:
            painting = self._around()
            part = left / (self._leader.rate.nominal * self._pictures)
            path = arc(self._centre, _RADIUS * self._side, _TOP, 2 * math.pi * part)
            painting.stroke(path, _RING * self._side, self._tints.ink)
            self._arcs[left] = painting.patch()
        return self._arcs[left]

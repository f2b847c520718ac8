"""Plan to pictures: composes each frame once, and says for how many frames it stays.

A frozen picture with nothing new on it is the same buffer again, so holding it costs nothing but the encoder's work.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from types import TracebackType
from typing import Self

from segmentkit.facts import Facts
from segmentkit.media.frames import ClipReader
from segmentkit.media.planes import Planes
from segmentkit.media.stills import load_still
from segmentkit.plan.model import Card, ClipPicture, Pane, Plan, Shot, StillPicture, Stroke
from segmentkit.render.blend import YuvPatch, blend
from segmentkit.render.cards import CardArtist, divider, ground, pane_label
from segmentkit.render.panes import place, soften
from segmentkit.render.strokes import StrokeArtist
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span

Overlay = tuple[YuvPatch, ...]


@dataclass(frozen=True, slots=True)
class Composed:
    """A picture and for how many frames it is shown. The planes are lent until the next one is asked for."""

    frame: int
    planes: Planes
    repeat: int


class Composer:
    """Draws the pictures of one plan. Opens clips as they are needed and closes them with itself."""

    def __init__(self, plan: Plan, facts: Facts, look: Look) -> None:
        self._plan = plan
        self._facts = facts
        self._look = look
        self._open = ExitStack()
        self._readers: dict[str, ClipReader] = {}
        self._stills: dict[str, Planes] = {}
        self._strokes = StrokeArtist(look, plan.size)
        self._cards = CardArtist(look, plan.size, plan)
        self._panes: dict[tuple[object, ...], Planes] = {}
        self._furniture: tuple[str, Overlay] = ("", ())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._open.close()

    def pictures(self, span: Span | None = None) -> Iterator[Composed]:
        """The pictures of a stretch of the segment, in order; of the whole one unless told otherwise."""
        span = span or Span(0, self._plan.frames)
        for shot in self._plan.shots:
            start, end = max(shot.span.start, span.start), min(shot.span.end, span.end)
            if start < end:
                yield from self._shot(shot, Span(start, end))

    def still(self, frame: int) -> Planes:
        """The picture of one frame, in memory of its own."""
        return next(self.pictures(Span(frame, frame + 1))).planes.copy()

    def _shot(self, shot: Shot, span: Span) -> Iterator[Composed]:
        strokes = [stroke for stroke in self._plan.strokes if stroke.shot == shot.id]
        cards = [card for card in self._plan.cards if card.span.overlap(shot.span)]
        taken = [patch.rect for patch in self._shot_furniture(shot)] + [self._cards.area(card) for card in cards]
        self._strokes.settle([(stroke, shot.panes[stroke.pane].placement) for stroke in strokes], taken)
        pending: Composed | None = None
        known: tuple[object, ...] = ()
        canvas: Planes | None = None
        for frame in range(span.start, span.end):
            overlays = self._overlays(shot, strokes, cards, frame)
            shown = tuple(_source_frame(pane, frame - shot.span.start) for pane in shot.panes)
            # Artists hand out the same patches as long as nothing changes, so identity tells.
            state = (shown, tuple(id(patch) for patch in overlays))
            if pending is not None and state == known:
                pending = Composed(pending.frame, pending.planes, pending.repeat + 1)
                continue
            if pending is not None:
                yield pending
            canvas = self._base(shot, shown).copy()
            for patch in overlays:
                blend(canvas, patch)
            pending, known = Composed(frame, canvas, 1), state
        if pending is not None:
            yield pending

    def _overlays(self, shot: Shot, strokes: list[Stroke], cards: list[Card], frame: int) -> Overlay:
        under: list[YuvPatch] = []
        for stroke in strokes:
            if frame in stroke.span:
                under.extend(self._strokes.patches(stroke, shot.panes[stroke.pane].placement, frame))
        over: list[YuvPatch] = []
        for card in cards:
            if frame in card.span:
                over.extend(self._cards.patches(card, frame))
        return (*under, *self._shot_furniture(shot), *over)

    def _shot_furniture(self, shot: Shot) -> Overlay:
        """Divider and names of the panes: the same throughout a shot."""
        if self._furniture[0] != shot.id:
            patches: list[YuvPatch] = []
            if len(shot.panes) > 1:
                patches.extend(
                    divider(tuple(pane.placement.window for pane in shot.panes), self._look, self._plan.size)
                )
            for pane in shot.panes:
                if pane.label:
                    patches.extend(
                        pane_label(pane.label, pane.note, pane.placement.window, self._look, self._plan.size)
                    )
            self._furniture = (shot.id, tuple(patches))
        return self._furniture[1]

    def _base(self, shot: Shot, shown: tuple[object, ...]) -> Planes:
        """The shot's pictures without anything drawn on them; the last one made is kept."""
        key = (shot.id, shown)
        if key not in self._panes:
            canvas = ground(self._plan.size, self._look).copy()
            for pane, frame in zip(shot.panes, shown, strict=True):
                source = self._source(pane, frame)
                if pane.soften:
                    source = soften(source)
                place(canvas, source, pane.placement)
            self._panes = {key: canvas}
        return self._panes[key]

    def _source(self, pane: Pane, frame: object) -> Planes:
        match pane.picture:
            case ClipPicture(clip=clip):
                if clip not in self._readers:
                    self._readers[clip] = self._open.enter_context(ClipReader(self._facts.clips[clip]))
                assert isinstance(frame, int)
                return self._readers[clip].planes(frame)
            case StillPicture(still=still):
                if still not in self._stills:
                    self._stills[still] = load_still(self._facts.stills[still].path)[1]
                return self._stills[still]


def _source_frame(pane: Pane, offset: int) -> int | None:
    picture = pane.picture
    return picture.frames[offset] if isinstance(picture, ClipPicture) else None

"""Plan to pictures: composes each frame once, and says for how many frames it stays.

A frozen picture with nothing new on it is the same buffer again, so holding it costs nothing but the encoder's work.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import TracebackType
from typing import Self

from segmentkit.facts import Facts
from segmentkit.geometry import Placement, Rect, Size
from segmentkit.media.frames import ClipReader
from segmentkit.media.planes import Planes, blank
from segmentkit.media.stills import load_still
from segmentkit.plan.model import Card, ClipPicture, Pane, Plan, Shot, StillPicture, Stroke
from segmentkit.render.blend import YuvPatch, blend
from segmentkit.render.cards import CardArtist, divider, ground, inset_edge, pane_label
from segmentkit.render.entering import between_pictures
from segmentkit.render.faces import body_areas, face_areas
from segmentkit.render.panes import lit, place, soften
from segmentkit.render.stamp import Stamp
from segmentkit.render.strokes import StrokeArtist
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span

Overlay = tuple[YuvPatch, ...]

_OF_SHOT = frozenset({"title", "end_board"})
"""Cards that are the picture of their shot and come and go with it."""
_READERS, _KEPT = 3, 2
"""Clips that are open at once, as many as a comparison shows, and decoded pictures that each remembers."""
_NAMED_FROM, _NAMED_OVER = 0.25, 0.2
"""Share of its window from which a pane's name is seen, and over which it comes."""


@dataclass(frozen=True, slots=True)
class Composed:
    """A picture and for how many frames it is shown. The planes are lent until the next one is asked for."""

    frame: int
    planes: Planes
    repeat: int


@dataclass(frozen=True, slots=True)
class _Drawing:
    """A shot with its strokes and the cards that are its picture."""

    shot: Shot
    strokes: tuple[Stroke, ...]
    cards: tuple[Card, ...]


@dataclass(frozen=True, slots=True)
class _Seen:
    """What a shot shows on one frame: its sources with their places, and the patches below and above an inset."""

    base: tuple[tuple[int | None, ...], tuple[Placement, ...]]
    below: Overlay
    above: Overlay
    last: Overlay

    @property
    def patches(self) -> Overlay:
        """All patches."""
        return (*self.below, *self.above, *self.last)


@dataclass(frozen=True, slots=True)
class _Under:
    """A picture with the first patches that were laid over it; the patches are kept so that they stay the same ones."""

    base: Planes | None
    patches: Overlay
    planes: Planes


class Composer:
    """Draws the pictures of one plan. Opens clips as they are needed and closes them with itself."""

    def __init__(self, plan: Plan, facts: Facts, look: Look, stamp: str | None = None) -> None:
        """With a `stamp`, that text and a running timecode are burned in, for review copies."""
        self._plan = plan
        self._stamp = Stamp(stamp, look, plan.size, plan.rate) if stamp else None
        self._facts = facts
        self._look = look
        self._readers: OrderedDict[tuple[str, int], ClipReader] = OrderedDict()
        self._stills: dict[str, Planes] = {}
        self._strokes = StrokeArtist(look, plan.size)
        self._cards = CardArtist(look, plan.size, plan)
        self._panes: dict[tuple[object, ...], Planes] = {}
        self._lines: tuple[tuple[object, ...], Overlay] = ((), ())
        self._under = _Under(None, (), blank(Size(2, 2)))
        self._before: tuple[Planes | None, Overlay] = (None, ())

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for reader in self._readers.values():
            reader.close()
        self._readers.clear()

    def pictures(self, span: Span | None = None) -> Iterator[Composed]:
        """The pictures of a stretch of the segment, in order; of the whole one unless told otherwise."""
        for shot, part in self._shots(span or Span(0, self._plan.frames)):
            yield from self._shot(shot, part)

    def repeats(self, span: Span) -> list[int]:
        """How many frames each picture of `pictures` stays; nothing is composed for this, only strokes are drawn."""
        counts: list[int] = []
        for shot, part in self._shots(span):
            for _, changes, *_ in self._looks(self._drawing(shot), part):
                if changes:
                    counts.append(0)
                counts[-1] += 1
        return counts

    def _shots(self, span: Span) -> Iterator[tuple[Shot, Span]]:
        for shot in self._plan.shots:
            start, end = max(shot.span.start, span.start), min(shot.span.end, span.end)
            if start < end:
                yield shot, Span(start, end)

    def still(self, frame: int) -> Planes:
        """The picture of one frame, in memory of its own."""
        return next(self.pictures(Span(frame, frame + 1))).planes.copy()

    def _shot(self, shot: Shot, span: Span) -> Iterator[Composed]:
        mixed = span.start - shot.span.start < (shot.enter.frames if shot.enter is not None else 0)
        going = self._last_picture(shot) if mixed else None
        own = self._drawing(shot)
        pending: Composed | None = None
        for frame, changes, look, cards, coming in self._looks(own, span):
            if pending is not None and not changes:
                pending = Composed(pending.frame, pending.planes, pending.repeat + 1)
                continue
            if pending is not None:
                yield pending
            canvas = self._composed(shot, look)
            if coming is not None and going is not None and shot.enter is not None:
                canvas = between_pictures(going, canvas, shot.enter, coming)
            for patch in cards:
                blend(canvas, patch)
            pending = Composed(frame, canvas, 1)
        if pending is not None:
            yield pending

    def _looks(self, own: _Drawing, span: Span) -> Iterator[tuple[int, bool, _Seen, Overlay, int | None]]:
        """Each frame of a shot: whether it changes, what it shows, the cards over it, how far the shot has come in."""
        over = [card for card in self._plan.cards if card.kind not in _OF_SHOT and card.span.overlap(own.shot.span)]
        known: tuple[object, Overlay] = ((), ())
        for frame in range(span.start, span.end):
            look = self._seen(own, frame)
            cards = (*self._card_patches(over, frame), *(self._stamp.patches(frame) if self._stamp else ()))
            coming = _mixture(own.shot, frame)
            # Artists hand out the same patches as long as nothing changes, so identity tells.
            state = (look.base, tuple(map(id, look.patches)), tuple(map(id, cards)), coming)
            changes = frame == span.start or state != known[0]
            if changes:
                # The patches are kept until the next state is made: an identity is one only while its object lives.
                known = (state, (*look.patches, *cards))
            yield frame, changes, look, cards, coming

    def _last_picture(self, shot: Shot) -> Planes | None:
        """The last picture of the shot before, without the cards that lie over it: what a shot comes in above."""
        before = next((one for one in self._plan.shots if one.span.end == shot.span.start), None)
        if before is None:
            return None
        return self._composed(before, self._seen(self._drawing(before), before.span.end - 1))

    def _drawing(self, shot: Shot) -> _Drawing:
        """What belongs to a shot; its strokes' labels find their spots."""
        strokes = tuple(stroke for stroke in self._plan.strokes if stroke.shot == shot.id)
        cards = [card for card in self._plan.cards if card.span.overlap(shot.span)]
        names = [patch.rect for patch in self._names(shot, shot.span.end - 1)]
        insets = [shot.resting(index).window for index, pane in enumerate(shot.panes) if pane.inset]
        taken = [*names, *insets, *face_areas(shot), *(self._cards.area(card) for card in cards)]
        self._strokes.settle(
            [(one.at(one.span.start), shot.resting(one.pane)) for one in strokes], taken, body_areas(shot)
        )
        return _Drawing(shot, strokes, tuple(card for card in cards if card.kind in _OF_SHOT))

    def _seen(self, own: _Drawing, frame: int) -> _Seen:
        """What a shot shows on a frame, in the order in which it is laid down."""
        shot = own.shot
        places = tuple(shot.placement(index, frame) for index in range(len(shot.panes)))
        shown = tuple(_source_frame(pane, frame - shot.span.start) for pane in shot.panes)
        below: list[YuvPatch] = []
        above: list[YuvPatch] = []
        for stroke in own.strokes:
            if frame in stroke.span:
                patches = self._strokes.patches(stroke.at(frame), places[stroke.pane], frame)
                (above if shot.panes[stroke.pane].inset else below).extend(patches)
        furniture = self._furniture(shot, places, frame)
        cards = self._card_patches(own.cards, frame)
        return _Seen((shown, places), tuple(below), tuple(above), (*furniture, *cards))

    def _card_patches(self, cards: Sequence[Card], frame: int) -> Overlay:
        return tuple(patch for card in cards if frame in card.span for patch in self._cards.patches(card, frame))

    def _composed(self, shot: Shot, look: _Seen) -> Planes:
        """Panes, then what is drawn on them; a picture in a corner hides what is drawn below it."""
        base = self._base(shot, look)
        canvas = self._marked(base, look.below)
        if look.below:
            for pane, placed in zip(shot.panes, look.base[1], strict=True):
                if pane.inset:
                    _restored(canvas, base, placed.window)
        for patch in (*look.above, *look.last):
            blend(canvas, patch)
        return canvas

    def _marked(self, base: Planes, patches: Overlay) -> Planes:
        """A copy of a picture with patches laid over it.

        What lay under the last picture and lies under this one too is kept, so that each further stroke is laid over
        those that are finished, however many they are.
        """
        known = self._under
        ready = len(known.patches)
        if known.base is not base or not _same(known.patches, patches[:ready]):
            known, ready = _Under(base, (), base), 0
        shared = ready
        if self._before[0] is base:
            for one, other in zip(self._before[1][ready:], patches[ready:], strict=False):
                if one is not other:
                    break
                shared += 1
        canvas = known.planes.copy()
        for patch in patches[ready:shared]:
            blend(canvas, patch)
        if shared > ready:
            known = _Under(base, patches[:shared], canvas)
            canvas = canvas.copy()
        for patch in patches[shared:]:
            blend(canvas, patch)
        self._under, self._before = known, (base, patches)
        return canvas

    def _furniture(self, shot: Shot, places: tuple[Placement, ...], frame: int) -> Overlay:
        """Dividers, edges and names of panes: the same patches as long as the panes rest."""
        key = (shot.id, places)
        if self._lines[0] != key:
            self._lines = (key, self._edges(shot, places))
        return (*self._lines[1], *self._names(shot, frame))

    def _edges(self, shot: Shot, places: tuple[Placement, ...]) -> Overlay:
        windows = sorted((place.window for place in places), key=lambda window: (window.x, window.y))
        apart = [window for window in windows if window.width > 0 and window.height > 0]
        patches: list[YuvPatch] = []
        if len(apart) > 1 and not any(a.overlaps(b) for a, b in pairwise(apart)):
            patches.extend(divider(apart, self._look, self._plan.size))
        for pane, placed in zip(shot.panes, places, strict=True):
            if pane.inset:
                patches.extend(inset_edge(placed.window, self._look, self._plan.size))
        return tuple(patches)

    def _names(self, shot: Shot, frame: int) -> Overlay:
        """Names of panes; one that is being uncovered by an edge gets its name as it is seen."""
        patches: list[YuvPatch] = []
        for index, pane in enumerate(shot.panes):
            if not pane.label:
                continue
            share = shot.placement(index, frame).window.width / max(1.0, pane.whole_window.width)
            opacity = min(1.0, max(0.0, (share - _NAMED_FROM) / _NAMED_OVER))
            if opacity > 0:
                made = pane_label(pane.label, pane.note, pane.label_window, self._look, self._plan.size, pane.label_at)
                patches.extend(made if opacity >= 1 else (patch.faded(opacity) for patch in made))
        return tuple(patches)

    def _base(self, shot: Shot, look: _Seen) -> Planes:
        """The shot's pictures without anything drawn on them; the last one made is kept."""
        key = (shot.id, look.base)
        if key not in self._panes:
            shown, places = look.base
            canvas = self._bare(shot, places)
            for index, (pane, frame, placement) in enumerate(zip(shot.panes, shown, places, strict=True)):
                if placement.window.width <= 0 or placement.window.height <= 0:
                    continue
                source = self._source(pane, index, frame)
                if pane.light is not None:
                    source = lit(source, pane.light)
                if pane.soften:
                    source = soften(source)
                place(canvas, source, placement, pane.opacity)
            self._panes = {key: canvas}
        return self._panes[key]

    def _bare(self, shot: Shot, places: Sequence[Placement]) -> Planes:
        """What panes are laid on: the look's ground, which takes a while to draw, unless a pane hides all of it."""
        size = self._plan.size
        for pane, placement in zip(shot.panes, places, strict=True):
            left, top, right, bottom = placement.window.edges
            if pane.opacity >= 1 and left <= 0 and top <= 0 and right >= size.width and bottom >= size.height:
                return blank(size)
        return ground(size, self._look).copy()

    def _reader(self, clip: str, index: int) -> ClipReader:
        """The reader of a clip for one pane: two panes of one clip would send each other's to and fro."""
        key = (clip, index)
        if key not in self._readers:
            while len(self._readers) >= _READERS:
                self._readers.popitem(last=False)[1].close()
            self._readers[key] = ClipReader(self._facts.clips[clip], kept=_KEPT)
        self._readers.move_to_end(key)
        return self._readers[key]

    def _source(self, pane: Pane, index: int, frame: object) -> Planes:
        match pane.picture:
            case ClipPicture(clip=clip):
                assert isinstance(frame, int)
                return self._reader(clip, index).planes(frame)
            case StillPicture(still=still):
                if still not in self._stills:
                    self._stills[still] = load_still(self._facts.stills[still].path)[1]
                return self._stills[still]


def _same(some: Overlay, others: Overlay) -> bool:
    """Whether patches are the very same objects in the same order."""
    return len(some) == len(others) and all(one is other for one, other in zip(some, others, strict=True))


def _source_frame(pane: Pane, offset: int) -> int | None:
    picture = pane.picture
    return picture.frames[offset] if isinstance(picture, ClipPicture) else None


def _mixture(shot: Shot, frame: int) -> int | None:
    """How far a shot has come in, in frames; None once it is there alone."""
    offset = frame - shot.span.start
    return offset if shot.enter is not None and offset < shot.enter.frames else None


def _restored(canvas: Planes, base: Planes, window: Rect) -> None:
    """Puts a window of a picture back as it was; its edges are even."""
    left, top, right, bottom = (round(edge) for edge in window.edges)
    canvas.y[top:bottom, left:right] = base.y[top:bottom, left:right]
    for out, was in ((canvas.u, base.u), (canvas.v, base.v)):
        out[top // 2 : bottom // 2, left // 2 : right // 2] = was[top // 2 : bottom // 2, left // 2 : right // 2]

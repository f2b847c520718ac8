"""The storyboard as a delivery wants it: another cut, size or rate. Its places still point into the text as written."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TypeVar

from pydantic import BaseModel

from segmentkit.delivery import Delivery
from segmentkit.errors import StoryboardUnreadable
from segmentkit.geometry import Size
from segmentkit.storyboard.cut_board import assembled, lacking_cut
from segmentkit.storyboard.expand import with_presets
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.locate import Moved
from segmentkit.storyboard.misplaced import CLIP_MOMENTS
from segmentkit.storyboard.model import Beat, Cut, CutWords, Storyboard
from segmentkit.storyboard.people import Clip
from segmentkit.timebase import Rate, Seconds, Timecode, seconds_of

Value = TypeVar("Value")
VersionKey = tuple[str | None, Size, Rate]
"""What tells one version from another: the cut, the size, the rate."""


def version_key(board: Storyboard, to: Delivery) -> VersionKey:
    """Which version a delivery wants; two deliveries with one key share one plan."""
    cut = board.cuts.get(to.cut) if to.cut is not None else None
    own = cut.size if cut is not None and cut.size is not None else board.segment.size
    return to.cut, to.size or own, to.rate or board.segment.rate


def version_of(loaded: LoadedStoryboard, to: Delivery) -> LoadedStoryboard:
    """The storyboard as a delivery wants it; itself where that is as it is written.

    Lengths written as labels are read at the storyboard's own rate before another one is set. Whatever else is written
    is in seconds, so every version plays at the same pace. A `clean` delivery is the same version: its plan is emptied
    when it is made.

    Raises:
        StoryboardUnreadable: when the storyboard lacks the cut.
    """
    board = loaded.board
    name, size, rate = version_key(board, to)
    if (name, size, rate) == (None, board.segment.size, board.segment.rate):
        return loaded
    if name is not None and name not in board.cuts:
        raise StoryboardUnreadable(f"{loaded.file}: {to.name} — {lacking_cut(name, to.name)}")
    cut = board.cuts[name] if name is not None else None
    moved: tuple[Moved, ...] = ()
    if cut is not None and name is not None:
        board, moved = assembled(board, name, cut)
        board, _, presets = with_presets(board, loaded.folder)
        loaded = replace(loaded, presets={**loaded.presets, **presets})
    if rate != board.segment.rate:
        board = _in_seconds(board, board.segment.rate)
    narrower = size.width * board.segment.size.height < board.segment.size.width * size.height
    board = board.model_copy(
        update={
            "segment": board.segment.model_copy(update={"size": size, "rate": rate}),
            "beats": tuple(map(_less_close, board.beats)) if narrower else board.beats,
            "clips": {id_: _framed(clip, cut, id_, narrower=narrower) for id_, clip in board.clips.items()},
        }
    )
    pared = cut is not None and cut.words is CutWords.SPARE
    return replace(loaded, board=board, moved=moved, pared=pared)


def _framed(clip: Clip, cut: Cut | None, id_: str, *, narrower: bool) -> Clip:
    """A clip as a version frames it: what was written for a wider picture does not hold in a narrower one.

    There the player comes first, wherever in the wide picture they stood.
    """
    own = cut.framing.get(id_) if cut is not None else None
    zoom = own.zoom if own is not None and own.zoom is not None else (None if narrower else clip.zoom)
    focus = own.focus if own is not None and own.focus is not None else (None if narrower else clip.focus)
    return clip.model_copy(update={"zoom": zoom, "focus": focus})


def _less_close(beat: Beat) -> Beat:
    """A beat whose comparisons come no closer than their windows ask: in narrower ones the players fill them."""
    if all(spec.comparison is None or spec.comparison.zoom is None for spec in beat.show):
        return beat
    show = tuple(
        spec
        if spec.comparison is None
        else spec.model_copy(update={spec.kind: spec.comparison.model_copy(update={"zoom": None})})
        for spec in beat.show
    )
    return beat.model_copy(update={"show": show})


def _in_seconds(value: Value, rate: Rate, kind: str = "") -> Value:
    """A part of the storyboard with its labels turned into seconds, but for those that count a clip's frames."""
    made: object = value
    match value:
        case Timecode() if kind not in CLIP_MOMENTS:
            made = Seconds(seconds_of(value, rate))
        case BaseModel():
            name = type(value).__name__
            changed = dict(_changed_fields(value, rate, name))
            made = value.model_copy(update=changed) if changed else value
        case dict():
            made = {key: _in_seconds(part, rate, kind) for key, part in value.items()}
        case tuple() if type(value) is tuple:
            made = tuple(_in_seconds(part, rate, kind) for part in value)
        case _:
            pass
    return made  # type: ignore[return-value]  # of the same type, part by part


def _changed_fields(value: BaseModel, rate: Rate, name: str) -> Iterator[tuple[str, object]]:
    for field, info in type(value).model_fields.items():
        old = getattr(value, field)
        new = _in_seconds(old, rate, name if name == "Clip" else f"{name} {info.alias or field}")
        if new is not old:
            yield field, new

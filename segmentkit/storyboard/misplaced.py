"""What the checks of references share: how a fault is noted, and which clips a storyboard shows when."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.shots import Freeze, Inset, Run, ShotSpec, Side
from segmentkit.timebase import Time

Path = tuple[str | int, ...]
Moments = tuple[tuple[str, Time | str], ...]
CLIP_MOMENTS = {"Clip", "Run from", "Run to", "Freeze at", "Side at", "Side from", "Side to", "Ground at",
                 "Inset at", "Inset from", "Inset to"}  # fmt: skip
"""Where a label counts the frames of a clip, by model and key; all others count at the segment's rate."""


@dataclass(frozen=True, slots=True)
class Misplaced:
    """A fault at a path of the storyboard.

    Attributes:
        path: keys and indexes.
        message: what is, what is allowed, what to do.
        literal: characters within the value to point at.
        at_key: whether the key is wrong, not the value.
    """

    path: Path
    message: str
    literal: str = ""
    at_key: bool = False


def unknown(
    path: Path, name: str, kind: str, collection: str, known: Collection[str], *, at_key: bool = False
) -> Misplaced:
    """A name that is not in its collection, with the nearest one that is."""
    hint = suggestion(name, list(known)) if known else f"`{collection}` is empty, add it there"
    return Misplaced(path, f"there is no {kind} `{name}` — {hint}", at_key=at_key)


def clip_moments(board: Storyboard) -> Iterator[tuple[Path, str, Moments]]:
    """Each use of a clip: the path of its mapping, the clip's id, and the moments named there by key."""
    for b, beat in enumerate(board.beats):
        for s, shot in enumerate(beat.show):
            yield from shot_moments(("beats", b, "show", s), shot)


def shot_moments(path: Path, shot: ShotSpec) -> Iterator[tuple[Path, str, Moments]]:
    """The uses of clips in one shot."""
    card = shot.title or shot.end_board
    if shot.run is not None:
        yield (*path, "run"), shot.run.clip, _given(shot.run)
    if shot.freeze is not None:
        yield (*path, "freeze"), shot.freeze.clip, _given(shot.freeze)
    if shot.comparison is not None:
        for name, side in shot.comparison.sides:
            yield (*path, shot.kind, name), side.clip, _given(side)
    if shot.inset is not None and shot.inset.clip is not None:
        yield (*path, shot.kind, "inset"), shot.inset.clip, _given(shot.inset)
    if card is not None and card.over is not None and card.over.clip is not None and card.over.at is not None:
        yield (*path, shot.kind, "over"), card.over.clip, (("at", card.over.at),)


def _given(picture: Run | Freeze | Side | Inset) -> Moments:
    match picture:
        case Run():
            return (("from", picture.from_), ("to", picture.to))
        case Freeze():
            return (("at", picture.at),)
        case Side() | Inset():
            written = (("at", picture.at), ("from", picture.from_), ("to", picture.to))
            return tuple((key, moment) for key, moment in written if moment is not None)

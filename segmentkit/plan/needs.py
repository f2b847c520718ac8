"""What must be measured in pictures before a plan can be made: where the background goes, and what moves."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from segmentkit.facts import ClipFacts
from segmentkit.geometry import Rect, box_of
from segmentkit.plan.match import MATCHED_AT
from segmentkit.plan.moments import Footage
from segmentkit.storyboard.misplaced import shot_moments
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.shots import Follow, ShotSpec

_SPARSE = 6
"""Frames from one look at a camera that should stand still to the next: a twentieth of a second at 120."""
_AROUND, _ABOVE = 0.1, 1.2
_MIDDLE = Rect(0.3, 0.15, 0.4, 0.75)
"""Where a player usually stands, when no point says it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureNeeds:
    """What must be measured of one clip.

    Attributes:
        clip: its id.
        first: the first frame that any beat shows; `last` the last one.
        anchor: the frame against which the background is held.
        tracked: frames in which the background must be found; none when no stroke outlives its picture.
        player: where the player is, so that it does not count as background.
        scene: whether it must be known what moves in it, and how it is lit.
        moments: frames at which something is frozen, starts or ends; what moves is looked for in these as well.
    """

    clip: str
    first: int
    last: int
    anchor: int
    tracked: tuple[int, ...]
    player: Rect
    scene: bool
    moments: tuple[int, ...] = ()


def picture_needs(board: Storyboard, clips: Mapping[str, ClipFacts]) -> tuple[PictureNeeds, ...]:
    """What must be measured of each clip of a storyboard that is compared, cropped, or carries kept strokes."""
    followed, kept = _with_strokes(board)
    compared = _compared(board)
    needs = []
    for id_, facts in clips.items():
        footage = Footage(id_, board.clips[id_], facts)
        frames = sorted(_frames_shown(board, footage))
        if not frames or not (id_ in followed or id_ in kept or id_ in compared):
            continue
        first, last = frames[0], frames[-1]
        anchor = next(iter(_known([board.clips[id_].positions.get(MATCHED_AT)], footage)), first)
        tracked: Iterable[int] = ()
        if id_ in followed:
            tracked = range(first, last + 1)
        elif id_ in kept:
            tracked = {*range(first, last + 1, _SPARSE), *frames}
        needs.append(
            PictureNeeds(
                clip=id_,
                first=first,
                last=last,
                anchor=anchor,
                tracked=tuple(sorted(tracked)),
                player=_player(footage),
                scene=id_ in compared,
                moments=tuple(frames),
            )
        )
    return tuple(needs)


def _with_strokes(board: Storyboard) -> tuple[set[str], set[str]]:
    """Clips with strokes that follow the background, and clips with strokes that are kept or lie on motion."""
    followed: set[str] = set()
    kept: set[str] = set()
    names = {name for beat in board.beats for name in beat.keep}
    for beat in board.beats:
        clips = {clip for shot in beat.show for _, clip, _ in shot_moments((), shot)}
        for id_, stroke in beat.strokes.items():
            if stroke.follow is Follow.BACKGROUND:
                followed |= clips
            elif id_ in names or stroke.moving:
                kept |= clips
    return followed, kept


def _compared(board: Storyboard) -> set[str]:
    """Clips of which a comparison or a close frame shows a part only."""
    found: set[str] = set()
    for shot in _shots(board):
        if shot.comparison is not None:
            found |= {side.clip for _, side in shot.comparison.sides}
        wide = shot.run or shot.freeze
        if wide is not None and (
            (wide.zoom or board.clips[wide.clip].zoom or 1.0) > 1.0 or _reframed(board, wide.clip)
        ):
            found.add(wide.clip)
    return found


def _reframed(board: Storyboard, clip: str) -> bool:
    """Whether a clip of a person is shown in a picture that is taller than wide, which cuts its sides off."""
    size = board.segment.size
    return size.height >= size.width and board.clips[clip].person is not None


def _shots(board: Storyboard) -> Iterator[ShotSpec]:
    for beat in board.beats:
        yield from beat.show


def _frames_shown(board: Storyboard, footage: Footage) -> set[int]:
    frames: set[int] = set()
    for shot in _shots(board):
        for _, clip, moments in shot_moments((), shot):
            if clip == footage.id:
                frames.update(_known([when for _, when in moments], footage))
                if shot.run is not None and clip == shot.run.clip:
                    continue
                keys = {key for key, _ in moments}
                if "at" not in keys:  # a side in motion whose ends are not written runs from start to end
                    frames.update({0} if "from" not in keys else set(), {footage.last} if "to" not in keys else set())
    return frames


def _known(moments: Iterable[object], footage: Footage) -> list[int]:
    """The frames of those moments that exist; the plan reports the others."""
    found = []
    for when in moments:
        if when is None:
            continue
        try:
            found.append(footage.frame_of(when))  # type: ignore[arg-type]  # the storyboard's own union
        except ValueError:
            continue
    return found


def _player(footage: Footage) -> Rect:
    """The part of the picture that a player may fill, from the points that are named: wider, and up to the head."""
    spots = [spot for points in footage.spec.points.values() for spot in points.values()]
    if len(spots) < 2:
        return _MIDDLE
    box = box_of(spots)
    top = box.y - _ABOVE * box.height / 2 - _AROUND
    return Rect(box.x - _AROUND, top, box.width + 2 * _AROUND, box.bottom + _AROUND / 2 - top)

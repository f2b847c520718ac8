"""Writes the strokes of fault presets into the beats that name them; a producer's own strokes come before them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.geometry import Point
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import NamedPoint
from segmentkit.storyboard.misplaced import Misplaced
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.people import Clip
from segmentkit.storyboard.presets import Preset, load_preset, preset_file, preset_names, stroke_points
from segmentkit.storyboard.shots import Disc, Role, StrokeSpec


def with_presets(board: Storyboard, folder: Path) -> tuple[Storyboard, list[Misplaced], dict[str, Preset]]:
    """The storyboard with every preset's strokes in place, why some could not be drawn, and the presets by name.

    Args:
        board: as written.
        folder: of the storyboard, for presets of its own.

    Raises:
        StoryboardUnreadable: when a preset's own file has faults.
    """
    if all(beat.fault is None for beat in board.beats):
        return board, [], {}
    faults: list[Misplaced] = []
    beats: list[Beat] = []
    drawn: dict[str, frozenset[str]] = {}
    presets: dict[str, Preset] = {}
    for b, beat in enumerate(board.beats):
        if beat.fault is not None:
            if preset_file(beat.fault, folder) is None:
                names = preset_names(folder)
                hint = suggestion(beat.fault, list(names))
                faults.append(Misplaced(("beats", b, "fault"), f"there is no fault preset `{beat.fault}` — {hint}"))
            else:
                preset = presets.setdefault(beat.fault, load_preset(beat.fault, folder))
                refused = [Misplaced(("beats", b, "fault"), why) for why in _refusals(board, beat, preset, drawn)]
                faults += refused
                if not refused:
                    beat = _expanded(board, beat, preset, drawn)  # noqa: PLW2901  the beat as it is told from here on
        drawn |= dict.fromkeys(beat.strokes, frozenset(clip for _, clip, _ in _held(beat)))
        beats.append(beat)
    return board.model_copy(update={"beats": tuple(beats)}), faults, presets


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A frozen picture on which a preset is drawn.

    Attributes:
        position: at which it is frozen.
        clip: id of its clip.
        on: its name in a comparison; None for a full frame.
        reference_only: whether only what one compares with is drawn: the last picture of a comparison is the model's,
            who does not have the fault.
    """

    position: str
    clip: str
    on: str | None = None
    reference_only: bool = False


def _held(beat: Beat) -> Iterator[tuple[str, str, Picture]]:
    """Position, clip and picture of everything that a beat freezes at a position, full frames first."""
    for shot in beat.show:
        if shot.freeze is not None and isinstance(shot.freeze.at, str):
            yield shot.freeze.at, shot.freeze.clip, Picture(position=shot.freeze.at, clip=shot.freeze.clip)
    for shot in beat.show:
        sides = shot.comparison.sides if shot.comparison is not None else ()
        for number, (name, side) in enumerate(sides, 1):
            if isinstance(side.at, str):
                last = number == len(sides)
                picture = Picture(position=side.at, clip=side.clip, on=name, reference_only=last)
                yield side.at, side.clip, picture


def pictures_of(beat: Beat, preset: Preset) -> tuple[Picture, ...]:
    """The frozen pictures of a beat on which a preset is drawn: one for each position and side."""
    found = {(pic.on, position): pic for position, _, pic in _held(beat) if position in preset.strokes}
    return tuple(found.values())


Drawn = Mapping[str, frozenset[str]]
"""Strokes of earlier beats by id, each with the clips that its beat froze."""


def _refusals(board: Storyboard, beat: Beat, preset: Preset, drawn: Drawn) -> Iterator[str]:
    here = pictures_of(beat, preset)
    if not here:
        wanted = " or ".join(preset.strokes)
        yield (
            f"`{beat.fault}` is drawn on a frozen picture at {wanted}, and the beat has none — add such a freeze, "
            "or delete fault"
        )
        return
    for clip_id in dict.fromkeys(picture.clip for picture in here):
        clip = board.clips.get(clip_id)
        if clip is None:
            continue  # said where the freeze names it
        if clip.view not in preset.view:
            seen = " or ".join(view.value for view in preset.view)
            yield (
                f"`{beat.fault}` can be seen from {seen} only, clip {clip_id} is filmed {clip.view.value} — take a "
                "clip with that view, or delete fault"
            )
            continue
        wanted_here = _wanted(beat, preset, drawn)
        strokes = [stroke for pic, _, stroke in wanted_here if pic.clip == clip_id]
        lacking = list(_lacking(strokes, preset, clip))
        if lacking:
            told = "; ".join(f"{point} ({preset.points[point.position or ''][point.name]})" for point in lacking)
            count = f"{len(lacking)} point" + ("s" if len(lacking) > 1 else "")
            yield f"`{beat.fault}` needs {count} that clip {clip_id} does not have: {told} — add them to its points"


def _wanted(beat: Beat, preset: Preset, drawn: Drawn) -> list[tuple[Picture, str, StrokeSpec]]:
    """The preset's strokes that a beat draws: the picture, the id in this beat, and the stroke.

    On full frames those of the positions that are frozen; and, so that one beat can stand alone, the references of
    earlier positions which no beat before has drawn. In a comparison each side has the references of its own address,
    and all sides but the last what is seen at their position. An id that is taken gets the side's name behind it.
    """
    order = list(preset.strokes)
    pictures = pictures_of(beat, preset)
    full = [picture for picture in pictures if picture.on is None]
    found: list[tuple[Picture, str, StrokeSpec]] = []
    taken = {*beat.keep, *beat.strokes}
    if full:
        here = {picture.position: picture for picture in full}
        last = max(order.index(position) for position in here)
        for k, position in enumerate(order):
            for id_, stroke in preset.strokes[position].items():
                early = position not in here and k < last and stroke.role is Role.REFERENCE
                if (position in here or early) and id_ not in taken and not (early and id_ in drawn):
                    found.append((here.get(position, full[0]), id_, stroke))
    taken |= {id_ for _, id_, _ in found}
    for picture in (one for one in pictures if one.on is not None):
        last = order.index(picture.position)
        for k, position in enumerate(order[: last + 1]):
            for id_, stroke in preset.strokes[position].items():
                reference = stroke.role is Role.REFERENCE
                kept = id_ in beat.keep and picture.clip in drawn.get(id_, frozenset())
                own = beat.strokes.get(id_)
                replaced = own is not None and own.on in {None, picture.on}
                if not (reference or (k == last and not picture.reference_only)) or kept or replaced:
                    continue
                name = f"{id_}_{picture.on}" if id_ in taken else id_
                if name not in taken:
                    taken.add(name)
                    found.append((picture, name, stroke))
    return found


def _lacking(strokes: Sequence[StrokeSpec], preset: Preset, clip: Clip) -> Iterator[NamedPoint]:
    told: set[str] = set()
    for stroke in strokes:
        for point in stroke_points(stroke):
            if not isinstance(point, NamedPoint) or point.name in clip.points.get(point.position or "", {}):
                continue
            derived = preset.derived.get(point.position or "", {}).get(point.name)
            for needed in derived.needs if derived is not None else (point,):
                if needed.name not in clip.points.get(needed.position or "", {}) and str(needed) not in told:
                    told.add(str(needed))
                    yield needed


def _expanded(board: Storyboard, beat: Beat, preset: Preset, drawn: Drawn) -> Beat:
    strokes = {
        name: _placed(stroke, preset, board.clips[picture.clip], picture.on)
        for picture, name, stroke in _wanted(beat, preset, drawn)
        if picture.clip in board.clips
    }
    return beat.model_copy(update={"strokes": {**strokes, **beat.strokes}})


def _placed(stroke: StrokeSpec, preset: Preset, clip: Clip, on: str | None) -> StrokeSpec:
    """The stroke on its picture, with its derived points worked out; named ones keep their names."""
    spots = clip.points

    def place(point: Point | NamedPoint) -> Point | NamedPoint:
        if isinstance(point, Point) or point.name in spots.get(point.position or "", {}):
            return point
        return preset.derived[point.position or ""][point.name].of(spots)

    content = getattr(stroke, stroke.kind)
    match content:
        case Disc():
            made: object = content.model_copy(update={"centre": place(content.centre)})
        case tuple():
            made = tuple(place(point) for point in content)
        case _:
            made = place(content)
    return stroke.model_copy(update={stroke.kind: made, "on": on or stroke.on})

"""Writes the strokes of fault presets into the beats that name them; a producer's own strokes come before them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from segmentkit.geometry import Point
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import NamedPoint
from segmentkit.storyboard.misplaced import Misplaced
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.people import Clip
from segmentkit.storyboard.presets import Preset, load_preset, preset_file, preset_names, stroke_points
from segmentkit.storyboard.shots import Disc, StrokeSpec


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
    drawn: set[str] = set()
    presets: dict[str, Preset] = {}
    for b, beat in enumerate(board.beats):
        if beat.fault is not None:
            if preset_file(beat.fault, folder) is None:
                names = preset_names(folder)
                hint = suggestion(beat.fault, list(names))
                faults.append(Misplaced(("beats", b, "fault"), f"there is no fault preset `{beat.fault}` — {hint}"))
            else:
                preset = presets.setdefault(beat.fault, load_preset(beat.fault, folder))
                refused = [Misplaced(("beats", b, "fault"), why) for why in _refusals(board, beat, preset)]
                faults += refused
                if not refused:
                    beat = _expanded(board, beat, preset, drawn)  # noqa: PLW2901  the beat as it is told from here on
        drawn |= set(beat.strokes)
        beats.append(beat)
    return board.model_copy(update={"beats": tuple(beats)}), faults, presets


def frozen(beat: Beat) -> dict[str, str]:
    """Positions that a beat freezes full frame, each with its clip."""
    return {
        shot.freeze.at: shot.freeze.clip
        for shot in beat.show
        if shot.freeze is not None and isinstance(shot.freeze.at, str)
    }


def _drawn_here(beat: Beat, preset: Preset) -> dict[str, str]:
    """Positions of the preset that the beat freezes, each with its clip."""
    return {position: clip for position, clip in frozen(beat).items() if position in preset.strokes}


def _refusals(board: Storyboard, beat: Beat, preset: Preset) -> Iterator[str]:
    here = _drawn_here(beat, preset)
    if not here:
        wanted = " or ".join(preset.strokes)
        yield (
            f"`{beat.fault}` is drawn on a frozen picture at {wanted}, and the beat has none — add such a freeze, "
            "or delete fault"
        )
        return
    for clip_id in dict.fromkeys(here.values()):
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
        lacking = list(_lacking(beat, preset, clip))
        if lacking:
            told = "; ".join(f"{point} ({preset.points[point.position or ''][point.name]})" for point in lacking)
            count = f"{len(lacking)} point" + ("s" if len(lacking) > 1 else "")
            yield f"`{beat.fault}` needs {count} that clip {clip_id} does not have: {told} — add them to its points"


def _wanted(beat: Beat, preset: Preset, drawn: set[str] | None = None) -> dict[str, StrokeSpec]:
    """The preset's strokes that a beat draws.

    Those of the positions that it freezes; and, so that one beat can stand alone, the references of earlier positions
    which no beat before has drawn.
    """
    here = _drawn_here(beat, preset)
    found: dict[str, StrokeSpec] = {}
    last = max(list(preset.strokes).index(position) for position in here)
    for k, (position, strokes) in enumerate(preset.strokes.items()):
        for id_, stroke in strokes.items():
            early = position not in here and k < last and stroke.role.value == "reference"
            known = id_ in beat.keep or id_ in beat.strokes or (early and drawn is not None and id_ in drawn)
            if (position in here or early) and not known:
                found[id_] = stroke
    return found


def _lacking(beat: Beat, preset: Preset, clip: Clip) -> Iterator[NamedPoint]:
    told: set[str] = set()
    for stroke in _wanted(beat, preset).values():
        for point in stroke_points(stroke):
            if not isinstance(point, NamedPoint) or point.name in clip.points.get(point.position or "", {}):
                continue
            derived = preset.derived.get(point.position or "", {}).get(point.name)
            for needed in derived.needs if derived is not None else (point,):
                if needed.name not in clip.points.get(needed.position or "", {}) and str(needed) not in told:
                    told.add(str(needed))
                    yield needed


def _expanded(board: Storyboard, beat: Beat, preset: Preset, drawn: set[str]) -> Beat:
    clip = board.clips.get(next(iter(_drawn_here(beat, preset).values())))
    if clip is None:
        return beat
    strokes = {id_: _placed(stroke, preset, clip) for id_, stroke in _wanted(beat, preset, drawn).items()}
    return beat.model_copy(update={"strokes": {**strokes, **beat.strokes}})


def _placed(stroke: StrokeSpec, preset: Preset, clip: Clip) -> StrokeSpec:
    """The stroke with its derived points worked out; named ones keep their names."""
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
    return stroke.model_copy(update={stroke.kind: made})

"""Finds a viewer's clips in records and storyboards, and looks at how they were filmed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np

from segmentkit.errors import MediaUnusable, StoryboardUnreadable
from segmentkit.facts import ClipFacts
from segmentkit.geometry import Point, Rect
from segmentkit.season.follow_camera import LONG_SIDE, Luma, Standing
from segmentkit.season.follow_compare import Sighting
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.library import LIBRARY, load_library
from segmentkit.storyboard.load import load
from segmentkit.storyboard.people import Clip, Person, View
from segmentkit.storyboard.submission import BATCH, LoadedBatch, Part, load_batch

_VIEWS = {"down-the-line": View.DOWN_THE_LINE, "face-on": View.FACE_ON}
_FOR_BACKGROUND = 21


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A spot where a viewer's clips are entered: a file of submissions or a storyboard, and a name in it."""

    file: Path
    name: str | None

    @classmethod
    def read(cls, text: str) -> Place:
        """From `folder`, `folder#submission`, `storyboard.yaml` or `storyboard.yaml#clip`.

        Raises:
            StoryboardUnreadable: when there is no such file.
        """
        where, _, name = text.partition("#")
        path = Path(where)
        path = path / BATCH if path.is_dir() else path
        if not path.is_file():
            raise StoryboardUnreadable(
                f"{text} — there is no such file — name the folder of an intake as folder#submission, or a storyboard"
                " as storyboard.yaml#clip"
            )
        return cls(file=path, name=name or None)


def sightings(text: str) -> tuple[Sighting, ...]:
    """The clips of a viewer that a place names, one for each view.

    Raises:
        StoryboardUnreadable: when there is no such place, or it holds several viewers and none is named.
    """
    place = Place.read(text)
    return _of_batch(place) if place.file.name == BATCH else _of_board(place)


def chosen_submission(loaded: LoadedBatch, name: str | None) -> str:
    """The id of the submission that is meant.

    Raises:
        StoryboardUnreadable: when it is not there, or none is named and there are several.
    """
    known = list(loaded.batch.submissions)
    if name is None and len(known) == 1:
        return known[0]
    if name in loaded.batch.submissions:
        return str(name)
    said = suggestion(name, known, "submission") if name else f"it holds {', '.join(known) or 'none'}"
    raise StoryboardUnreadable(
        f"{loaded.file} — {f'has no submission `{name}`' if name else 'holds more than one submission, or none'} —"
        f" {said} — name one as folder#submission"
    )


def _of_batch(place: Place) -> tuple[Sighting, ...]:
    loaded = load_batch(place.file)
    id_ = chosen_submission(loaded, place.name)
    submission = loaded.batch.submissions[id_]
    report = _report(loaded.folder).get(id_, {})
    parts = {str(part["part"]): part for part in report.get("parts", [])}
    found = []
    for name, part in submission.parts:
        if name not in _VIEWS:
            continue
        positions = {key: str(moment) for key, moment in part.positions.items()}
        proposed = {p["position"]: f"f{p['frame']}" for p in parts.get(name, {}).get("proposals", [])}
        found.append(
            Sighting(
                name=f"{loaded.folder.name}#{id_}", who=submission.person,
                person=loaded.batch.people[submission.person], view=_VIEWS[name], file=loaded.folder / part.file,
                home=loaded.folder, day=submission.received, rate=_rate(part, parts.get(name, {})),
                mirrored=bool(part.mirrored),
                captured="" if part.captured is None else f"{part.captured.fps} fps",
                positions={**proposed, **positions}, chosen=frozenset(positions),
            )
        )  # fmt: skip
    if not found:
        raise StoryboardUnreadable(
            f"{loaded.file} — submission {id_} has neither a clip from behind nor one from the front — a follow-up"
            " compares one of these — choose another submission"
        )
    return tuple(found)


def _report(folder: Path) -> dict[str, dict[str, Any]]:
    """What an intake has written of a batch, where it has run; its proposals are a start and no more."""
    try:
        data = json.loads((folder / "intake" / "intake.json").read_text("utf-8"))
        return {str(entry["submission"]): entry for entry in data["submissions"]}
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _rate(part: Part, report: Mapping[str, Any]) -> float:
    if part.captured is not None:
        return float(part.captured.fps)
    text = str(report.get("measures", {}).get("rate", ""))
    try:
        return float(text.split(maxsplit=1)[0])
    except (ValueError, IndexError):
        return float("inf")  # not known here; measured when the clip is opened


def _of_board(place: Place) -> tuple[Sighting, ...]:
    if place.file.name == LIBRARY:
        library = load_library(place.file)
        return (_of_clips(place, library.library.people, library.library.clips, library.folder),)
    loaded = load(place.file)
    return (_of_clips(place, loaded.board.people, loaded.board.clips, loaded.folder),)


def _of_clips(place: Place, people: Mapping[str, Person], clips: Mapping[str, Clip], folder: Path) -> Sighting:
    of_people = [id_ for id_, clip in clips.items() if clip.person in people and clip.positions]
    if place.name is not None and place.name not in clips:
        raise StoryboardUnreadable(
            f"{place.file} — has no clip `{place.name}` — {suggestion(place.name, list(clips), 'clip')}"
        )
    if place.name is None and len(of_people) != 1:
        raise StoryboardUnreadable(
            f"{place.file} — shows {len(of_people)} clips of swings, {', '.join(of_people) or 'none'} — name one as"
            f" {place.file.name}#clip"
        )
    id_ = place.name or of_people[0]
    clip = clips[id_]
    if clip.person is None or clip.person not in people:
        raise StoryboardUnreadable(
            f"{place.file} — clip `{id_}` names nobody — a follow-up needs to know whose it is — write person:"
        )
    return sighting_of(f"{place.file.stem}#{id_}", clip, clip.person, people[clip.person], folder)


def sighting_of(name: str, clip: Clip, who: str, person: Person, folder: Path) -> Sighting:
    """A clip of a storyboard or a library."""
    return Sighting(
        name=name, who=who, person=person, view=clip.view, file=folder / clip.file, home=folder, day=None,
        rate=float(clip.captured.fps) if clip.captured is not None else float("inf"), mirrored=clip.mirrored,
        captured="" if clip.captured is None else f"{clip.captured.fps} fps",
        positions={key: str(moment) for key, moment in clip.positions.items()}, chosen=frozenset(clip.positions),
        points=clip.points, yaw=None if clip.camera is None else (clip.camera.yaw, clip.camera.within),
    )  # fmt: skip


def standing_of(one: Sighting, facts: ClipFacts, player: Rect | None) -> Standing:
    """How the camera of a clip stood, from its pictures and from the points that a person has named.

    Args:
        one: the clip.
        facts: of its working copy.
        player: what a swing sweeps over, in fractions of the picture.

    Raises:
        MediaUnusable: when nothing moves in the clip and nobody has named points in it.
    """
    named = one.points.get("address", {})
    heel, belt = named.get("heel"), named.get("belt")
    if player is None and (heel is None or belt is None):
        raise MediaUnusable(
            f"{one.file} — nothing moves in it, and no heel and belt are named at address — a player is needed —"
            " name the points, or choose another clip"
        )
    if player is None:
        assert heel is not None
        player = Rect(max(0.0, heel.x - 0.2), 0.0, 0.4, heel.y)
    if heel is not None and belt is not None and heel.y > belt.y:
        foot, rise, by_points = heel, heel.y - belt.y, True
    else:
        foot = Point(player.x + player.width / 2, player.y + player.height)
        rise, by_points = player.height, False
    picture = background(facts)
    if one.mirrored:
        picture = np.ascontiguousarray(picture[:, ::-1])
        player = Rect(1 - player.x - player.width, player.y, player.width, player.height)
        foot = Point(1 - foot.x, foot.y)
    return Standing(picture=picture, player=player, foot=foot, rise=rise, named=by_points, yaw=one.yaw)


def background(facts: ClipFacts) -> Luma:
    """The median of pictures spread over a clip; uint8, shape (height, width), long side at most LONG_SIDE."""
    from segmentkit.media.frames import ClipReader  # noqa: PLC0415

    by = min(1.0, LONG_SIDE / max(facts.size.width, facts.size.height))
    size = (max(8, round(facts.size.width * by)), max(8, round(facts.size.height * by)))
    chosen = np.unique(np.linspace(0, facts.frames - 1, _FOR_BACKGROUND).round().astype(int))
    with ClipReader(facts, kept=1) as reader:
        pictures = [cv2.resize(reader.planes(int(k)).y, size, interpolation=cv2.INTER_AREA) for k in chosen]
    return np.asarray(np.median(np.stack(pictures), axis=0), np.uint8)

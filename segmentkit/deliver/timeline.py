"""The segment as an OpenTimelineIO timeline (ASWF, schema versions as of 0.17), written as its JSON.

A clip's `source_range` starts at the source frame that is shown first, counted at the source's own rate, and lasts as
long as the shot does in the segment; a time effect says how fast the source runs under it: 1/8 for slow motion, 0 for a
freeze. The whole source is named as `available_range`, so that an editor has handles.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any
from urllib.parse import quote

from segmentkit.facts import Facts
from segmentkit.plan.model import ClipPicture, NaturalSound, Pane, Plan, Shot, Speech, StillPicture
from segmentkit.timebase import Span

Data = dict[str, Any]
_NAME = "segmentkit"
_COLOURS = {"reference": "WHITE", "fault": "RED", "good": "CYAN"}
"""Colours that the format knows, for the roles of strokes."""


def timeline_text(plan: Plan, facts: Facts, folder: Path) -> str:
    """The timeline as text; names of media are relative to `folder`, where the timeline will lie."""
    return json.dumps(timeline(plan, facts, folder), indent=2, ensure_ascii=False) + "\n"


def timeline(plan: Plan, facts: Facts, folder: Path) -> Data:
    """The timeline as plain data.

    One video track holds a clip for each shot, a second one the right-hand pictures of comparisons; sound tracks hold
    voices, the clips' own sound, and music. Strokes are markers on the first video track.
    """
    tracks = list(_video(plan, facts, folder))
    tracks[0]["markers"] = [_marker(plan, index) for index in range(len(plan.strokes))]
    tracks += _sound(plan, facts, folder)
    for track in tracks:
        track["kind"] = track.pop("_kind")
    return {
        "OTIO_SCHEMA": "Timeline.1",
        "name": plan.title,
        "metadata": {_NAME: {"frames": plan.frames, "rate": str(plan.rate), "size": str(plan.size)}},
        "global_start_time": None,
        "tracks": {
            "OTIO_SCHEMA": "Stack.1",
            "name": "tracks",
            "metadata": {},
            "source_range": None,
            "effects": [],
            "markers": [],
            "children": tracks,
        },
    }


def _moment(value: Fraction | int, rate: Fraction) -> Data:
    return {"OTIO_SCHEMA": "RationalTime.1", "rate": float(rate), "value": float(value)}


def _range(start: Fraction | int, frames: Fraction | int, start_rate: Fraction, rate: Fraction) -> Data:
    return {
        "OTIO_SCHEMA": "TimeRange.1",
        "start_time": _moment(start, start_rate),
        "duration": _moment(frames, rate),
    }


def _track(name: str, kind: str, children: Sequence[Data]) -> Data:
    return {
        "OTIO_SCHEMA": "Track.1",
        "_kind": kind,
        "name": name,
        "metadata": {},
        "source_range": None,
        "effects": [],
        "markers": [],
        "children": list(children),
    }


def _item(schema: str, name: str, range_: Data, effects: Sequence[Data] = (), **more: object) -> Data:
    return {
        "OTIO_SCHEMA": schema,
        "name": name,
        "metadata": {},
        "source_range": range_,
        "effects": list(effects),
        "markers": [],
        "enabled": True,
        **more,
    }


def _gap(frames: int, rate: Fraction) -> Data:
    return _item("Gap.1", "", _range(0, frames, rate, rate))


def _media(path: Path, folder: Path, available: Data | None) -> Data:
    try:
        url = Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:  # on another drive there is no way from one to the other
        url = path.resolve().as_posix()
    return {
        "OTIO_SCHEMA": "ExternalReference.1",
        "name": path.name,
        "metadata": {},
        "available_range": available,
        "available_image_bounds": None,
        "target_url": quote(url),
    }


def _clip(name: str, range_: Data, media: Data, effects: Sequence[Data] = (), metadata: Data | None = None) -> Data:
    made = _item(
        "Clip.2", name, range_, effects,
        media_references={"DEFAULT_MEDIA": media}, active_media_reference_key="DEFAULT_MEDIA",
    )  # fmt: skip
    made["metadata"] = {_NAME: metadata} if metadata else {}
    return made


def _video(plan: Plan, facts: Facts, folder: Path) -> Iterator[Data]:
    fps = plan.rate.fps
    most = max((len(shot.panes) for shot in plan.shots), default=1)
    for index in range(max(1, most)):
        children: list[Data] = []
        for shot in plan.shots:
            if index < len(shot.panes):
                children.append(_pane(shot, shot.panes[index], facts, folder, fps))
            elif index == 0:
                children.append(_card(shot, fps))
            else:
                children.append(_gap(shot.span.frames, fps))
        yield _track(f"V{index + 1}", "Video", children)


def _card(shot: Shot, fps: Fraction) -> Data:
    media: Data = {
        "OTIO_SCHEMA": "GeneratorReference.1",
        "name": shot.kind,
        "metadata": {},
        "available_range": None,
        "available_image_bounds": None,
        "generator_kind": "Title",
        "parameters": {},
    }
    return _clip(shot.id, _range(0, shot.span.frames, fps, fps), media, (), {"beat": shot.beat, "kind": shot.kind})


def _pane(shot: Shot, pane: Pane, facts: Facts, folder: Path, fps: Fraction) -> Data:
    metadata: Data = {
        "beat": shot.beat,
        "kind": shot.kind,
        "softened": pane.soften,
        "mirrored": pane.placement.mirrored,
    }
    match pane.picture:
        case StillPicture(still=still):
            media = _media(facts.stills[still].path, folder, None)
            return _clip(shot.id, _range(0, shot.span.frames, fps, fps), media, (), metadata | {"still": still})
        case ClipPicture() as picture:
            clip = facts.clips[picture.clip]
            rate = clip.mean_rate
            available = _range(0, clip.frames, rate, rate)
            start = picture.frames[0]
            metadata |= {"clip": picture.clip, "position": picture.position, "frames": [start, picture.frames[-1]]}
            range_ = _range(start, shot.span.frames, rate, fps)
            return _clip(
                shot.id,
                range_,
                _media(clip.path, folder, available),
                [_speed(picture, clip.times, fps, shot.speed)],
                metadata,
            )


def _speed(picture: ClipPicture, times: Sequence[Fraction], fps: Fraction, speed: Fraction | None) -> Data:
    """How fast the source's own clock runs: seconds of the file for each second of the segment, over the shot."""
    base = {"name": "", "metadata": {}, "enabled": True}
    if picture.frozen:
        return {"OTIO_SCHEMA": "FreezeFrame.1", **base, "effect_name": "FreezeFrame", "time_scalar": 0.0}
    seconds = times[picture.frames[-1]] - times[picture.frames[0]]
    lasts = (len(picture.frames) - 1) / fps
    scalar = seconds / lasts
    # What is shown is off from the written speed by the source's frames alone; the written one is then the truth.
    mean = times[-1] / max(1, len(times) - 1)
    if speed is not None and abs(speed * lasts - seconds) <= 2 * mean:
        scalar = speed
    # A last frame that is held to fill its output frame must not reach past the end of the file.
    scalar = min(scalar, (len(times) - picture.frames[0]) * mean / (len(picture.frames) / fps))
    return {"OTIO_SCHEMA": "LinearTimeWarp.1", **base, "effect_name": "LinearTimeWarp", "time_scalar": float(scalar)}


def _marker(plan: Plan, index: int) -> Data:
    stroke = plan.strokes[index]
    fps = plan.rate.fps
    return {
        "OTIO_SCHEMA": "Marker.2",
        "name": stroke.id,
        "color": _COLOURS.get(stroke.role, "WHITE"),
        "comment": stroke.label or "",
        "marked_range": _range(stroke.span.start, stroke.span.frames, fps, fps),
        "metadata": {
            _NAME: {
                "role": stroke.role,
                "kind": stroke.kind,
                "beat": stroke.beat,
                "shot": stroke.shot,
                "kept": stroke.kept,
                "cue": stroke.cue,
            }
        },
    }


def _sound(plan: Plan, facts: Facts, folder: Path) -> list[Data]:
    placed: list[tuple[str, Span, Data]] = []
    for line in plan.speech:
        if line.path is not None:
            placed.append(("voice", line.span, _voice(line, folder, plan.rate.fps)))
    for sound in plan.natural:
        placed.append(("clip sound", sound.span, _natural(sound, facts, folder, plan.rate.fps)))
    for cue in plan.music:
        media = _media(cue.path, folder, None)
        levels = {"level_db": cue.level_db, "under_speech_db": cue.under_speech_db, "fade_in": cue.fade_in,
                  "fade_out": cue.fade_out}  # fmt: skip
        range_ = _range(0, cue.span.frames, plan.rate.fps, plan.rate.fps)
        placed.append(("music", cue.span, _clip(cue.path.name, range_, media, (), levels)))
    tracks: list[Data] = []
    for kind in ("voice", "clip sound", "music"):
        rows: list[list[tuple[Span, Data]]] = []
        for _, span, clip in sorted((p for p in placed if p[0] == kind), key=lambda p: p[1].start):
            row = next((row for row in rows if row[-1][0].end <= span.start), None)
            if row is None:
                rows.append(row := [])
            row.append((span, clip))
        for number, row in enumerate(rows, 1):
            name = kind if number == 1 else f"{kind} {number}"
            tracks.append(_track(name, "Audio", list(_spaced(row, plan.rate.fps))))
    return tracks


def _spaced(row: Sequence[tuple[Span, Data]], fps: Fraction) -> Iterator[Data]:
    at = 0
    for span, clip in row:
        if span.start > at:
            yield _gap(span.start - at, fps)
        yield clip
        at = span.end


def _voice(line: Speech, folder: Path, fps: Fraction) -> Data:
    assert line.path is not None
    range_ = _range(line.source_start * fps, line.span.frames, fps, fps)
    metadata: Data = {"beat": line.beat, "speaker": line.speaker, "text": line.text, "guide": line.is_guide}
    return _clip(f"{line.beat}/{line.line}", range_, _media(line.path, folder, None), (), metadata)


def _natural(sound: NaturalSound, facts: Facts, folder: Path, fps: Fraction) -> Data:
    clip = facts.clips[sound.clip]
    rate = clip.mean_rate
    available = _range(0, clip.frames, rate, rate)
    range_ = _range(sound.source_start * rate, sound.span.frames, rate, fps)
    return _clip(sound.clip, range_, _media(clip.path, folder, available))

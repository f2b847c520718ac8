"""Versions of a segment: what it was made of, when everything happened, and how each frozen picture looked.

They lie beside the storyboard in `review/<storyboard>/`: `versions.json` lists them; `v003.json` holds version 3,
`v003.plan.txt` its plan for people, and the folder `v003` its frozen pictures.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from segmentkit.deliver.frozen import FrozenPicture
from segmentkit.deliver.lock import review_folder
from segmentkit.errors import SegmentkitError
from segmentkit.media import safe
from segmentkit.media.stills import Rgb, write_png
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import ClipPicture, Plan, Shot, Stroke
from segmentkit.plan.text import plan_text

Data = dict[str, Any]
INDEX = "versions.json"
_WIDE = 960  # pixels of a kept picture: enough to see a line move, small enough to keep many


@dataclass(frozen=True, slots=True, kw_only=True)
class Version:
    """One marked version: its number, the day, who marked it and why, and all its data."""

    number: int
    on: str
    by: str
    why: str
    data: Data


def snapshot(
    plan: Plan, hashes: Mapping[str, str], frozen: Sequence[FrozenPicture], pictures: Mapping[int, Rgb]
) -> Data:
    """Everything that is compared between versions, as plain data; starts count from the start of the beat.

    Args:
        plan: when everything happens.
        hashes: of all inputs, by name.
        frozen: the frozen pictures.
        pictures: theirs, by frame: uint8, shape (height, width, 3).
    """
    starts = {beat.id: beat.span.start for beat in plan.beats}
    return {
        "title": plan.title,
        "rate": str(plan.rate),
        "frames": plan.frames,
        "inputs": dict(hashes),
        "beats": [{"id": beat.id, "start": beat.span.start, "frames": beat.span.frames} for beat in plan.beats],
        "shots": [
            {"id": shot.id, "beat": shot.beat, "frames": shot.span.frames, "what": _shot(shot)} for shot in plan.shots
        ],
        "speech": [
            {
                "beat": line.beat,
                "line": line.line,
                "speaker": line.shown,
                "start": line.span.start - starts[line.beat],
                "frames": line.span.frames,
                "words": [[word.text, word.frame - starts[line.beat]] for word in line.words],
            }
            for line in plan.speech
        ],
        "strokes": [
            {
                "id": stroke.id,
                "beat": stroke.beat,
                "shot": stroke.shot,
                "start": stroke.span.start - starts[stroke.beat],
                "frames": stroke.span.frames,
                "what": _stroke(stroke),
                "where": [[round(point.x, 5), round(point.y, 5)] for point in stroke.points],
                "radius": stroke.radius,
            }
            for stroke in plan.strokes
        ],
        "cards": [
            {
                "beat": card.beat,
                "kind": card.kind,
                "index": card.index,
                "start": card.span.start - starts[card.beat],
                "frames": card.span.frames,
                "text": " / ".join(text for _, text in card.fields),
            }
            for card in plan.cards
            if card.kind != GUIDE_MARK
        ],
        "music": [
            {
                "file": cue.path.name,
                "start": cue.span.start,
                "frames": cue.span.frames,
                "levels": [cue.level_db, cue.under_speech_db],
            }
            for cue in plan.music
        ],
        "freezes": [
            {"shot": one.shot.id, "name": one.name, "frame": one.frame, "sha256": picture_hash(pictures[one.frame])}
            for one in frozen
        ],
    }


def _stroke(stroke: Stroke) -> str:
    label = f' "{stroke.label}"' if stroke.label else ""
    return f"{stroke.role} {stroke.kind.replace('_', ' ')}{label}"


def _shot(shot: Shot) -> str:
    shown = []
    for pane in shot.panes:
        match pane.picture:
            case ClipPicture() as picture:
                position = f" ({picture.position})" if picture.position else ""
                frames = f"f{picture.frames[0]}" + ("" if picture.frozen else f" to f{picture.frames[-1]}")
                shown.append(f"{picture.clip} {frames}{position}")
            case still:
                shown.append(f"still {still.still}")
    speed = f" at {shot.speed}" if shot.speed is not None else ""
    return f"{shot.kind.replace('_', ' ')}{speed} {' | '.join(shown)}".strip()


def picture_hash(rgb: Rgb) -> str:
    """SHA-256 of a picture's size and pixels, in hex."""
    return hashlib.sha256(f"{rgb.shape}".encode() + rgb.tobytes()).hexdigest()


def versions(storyboard: Path) -> tuple[Version, ...]:
    """All marked versions, oldest first.

    Raises:
        SegmentkitError: when a file of the review folder cannot be read.
    """
    folder = review_folder(storyboard)
    index = folder / INDEX
    if not index.exists():
        return ()
    try:
        listed = json.loads(index.read_text("utf-8"))
        return tuple(
            Version(
                number=int(one["version"]),
                on=str(one["on"]),
                by=str(one["by"]),
                why=str(one["why"]),
                data=json.loads((folder / f"{_name(int(one['version']))}.json").read_text("utf-8")),
            )
            for one in listed
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise SegmentkitError(
            f"{index} — the versions cannot be read ({error}) — they are what `segmentkit review mark` wrote — put the "
            "folder back as it was"
        ) from error


def _name(number: int) -> str:
    return f"v{number:03}"


def picture_file(storyboard: Path, number: int, shot: str) -> Path:
    """Where the picture of a freeze of a version lies."""
    return review_folder(storyboard) / _name(number) / f"{shot.replace('/', '-')}.png"


def mark(
    storyboard: Path,
    plan: Plan,
    data: Data,
    frozen: Sequence[FrozenPicture],
    pictures: Mapping[int, Rgb],
    *,
    by: str,
    why: str,
    on: str,
) -> Version:
    """Keeps a segment as its next version; the last one is returned as it is when nothing differs from it.

    Raises:
        OutputFailed: when a file cannot be written.
        SegmentkitError: when the versions that are there cannot be read.
    """
    known = versions(storyboard)
    if known and known[-1].data == data:
        return known[-1]
    number = known[-1].number + 1 if known else 1
    made = Version(number=number, on=on, by=by, why=why, data=data)
    folder = review_folder(storyboard)
    for one in frozen:
        write_png(picture_file(storyboard, number, one.shot.id), smaller(pictures[one.frame]))
    _write(folder / f"{_name(number)}.plan.txt", plan_text(plan))
    _write(folder / f"{_name(number)}.json", json.dumps(data, indent=1, ensure_ascii=False) + "\n")
    listed = [
        {
            "version": one.number,
            "on": one.on,
            "by": one.by,
            "why": one.why,
            "storyboard": one.data["inputs"]["storyboard"],
        }
        for one in (*known, made)
    ]
    # The list comes last: a version is there once all of it is.
    _write(folder / INDEX, json.dumps(listed, indent=2, ensure_ascii=False) + "\n")
    return made


def smaller(rgb: Rgb) -> Rgb:
    """A picture of at most 960 pixels across, every second pixel or fewer, averaged."""
    step = -(-rgb.shape[1] // _WIDE)
    if step == 1:
        return rgb
    height, width = rgb.shape[0] // step * step, rgb.shape[1] // step * step
    blocks = rgb[:height, :width].reshape(height // step, step, width // step, step, 3)
    mean: Rgb = blocks.mean((1, 3)).round().astype(rgb.dtype)
    return mean


def _write(target: Path, text: str) -> None:
    with safe.writing(target) as partial:
        partial.write_bytes(text.encode())

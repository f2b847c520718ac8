"""What was seen of each submission, kept in the working folder; and which of them show the same pictures.

Each submission is judged by itself, on any machine. Whether it was sent before is found where all fingerprints meet.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from segmentkit.intake.fingerprint import SIDE, Fingerprint, Likeness, likeness
from segmentkit.media.store import Store
from segmentkit.season.entry import Entry, Why
from segmentkit.season.inputs import program
from segmentkit.season.work import Looked
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.misplaced import clip_moments
from segmentkit.storyboard.submission import VerdictWord

KIND, RECIPE = "looks", 1
_GROUND = 0.8  # likeness of backgrounds below which two clips cannot be the same; `likeness` has the same limit


def entry_of(store: Store, entry: Entry, limits: IntakeLimits) -> Path | None:
    """Where what was seen of a submission is kept; None when a part of it could not be read."""
    if entry.sent is None:
        return None
    parts = [(part, entry.contents.get(path)) for part, path in entry.sent.files()]
    if any(content is None for _, content in parts):
        return None
    data = json.dumps([program(), parts, repr(entry.sent.person), repr(entry.sent.submission), repr(limits)])
    return store.path_for(KIND, RECIPE, hashlib.sha256(data.encode()).hexdigest(), suffix=".npz")


_NO_MOTION = np.zeros((0, SIDE, SIDE), np.float32)
_NO_ENERGY = np.zeros(0)


def light(looked: Looked) -> Looked:
    """The same without what makes fingerprints large; their backgrounds stay."""
    prints = tuple((part, replace(one, motion=_NO_MOTION, energy=_NO_ENERGY)) for part, one in looked.prints)
    return replace(looked, prints=prints)


def kept(path: Path | None, id_: str, *, whole: bool = True) -> Looked | None:
    """What was seen before; None when there is nothing, or nothing that can be read.

    Args:
        path: from `entry_of`.
        id_: of the item.
        whole: whether fingerprints are read as well; else only their backgrounds, as `light` leaves them.
    """
    if path is None:
        return None
    try:
        with np.load(io.BytesIO(path.read_bytes()), allow_pickle=False) as data:
            said = json.loads(bytes(data["said"]))
            prints = tuple(
                (
                    name,
                    Fingerprint(
                        ground=data[f"ground{k}"],
                        motion=data[f"motion{k}"].astype(np.float32) if whole else _NO_MOTION,
                        energy=data[f"energy{k}"] if whole else _NO_ENERGY,
                    ),
                )
                for k, name in enumerate(said["parts"])
            )  # fmt: skip
            why = Why(**said["why"]) if said["why"] else None
            return Looked(
                id=id_, word=VerdictWord(said["word"]), why=why, prints=prints, face=bytes(data["face"]),
                limits=tuple((str(part), str(reason), str(what)) for part, reason, what in said["limits"]),
            )  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError):
        return None


def keep(store: Store, path: Path | None, looked: Looked, of: Iterable[str] = ()) -> None:
    """Keeps what was seen, unless another look might see more.

    Args:
        store: the working folder.
        path: from `entry_of`.
        looked: what was seen.
        of: SHA-256 of the files that it was seen in, so that it goes with them when a release is taken back.

    Raises:
        OutputFailed: when the working folder cannot be written to.
    """
    if path is None or (looked.why is not None and looked.why.passing):
        return
    why = {"id": looked.why.id, "what": looked.why.what} if looked.why is not None else None
    said = json.dumps({
        "word": looked.word.value, "why": why, "limits": looked.limits, "parts": [name for name, _ in looked.prints],
        "of": sorted(of),
    })  # fmt: skip
    arrays: dict[str, Any] = {
        "said": np.frombuffer(said.encode(), np.uint8),
        "face": np.frombuffer(looked.face, np.uint8),
    }
    for k, (_, one) in enumerate(looked.prints):
        # Half precision: what decides is far coarser than its 11 bits.
        arrays |= {f"ground{k}": one.ground, f"motion{k}": one.motion.astype(np.float16), f"energy{k}": one.energy}
    data = io.BytesIO()
    np.savez_compressed(data, **arrays)
    with store.writing(path) as partial:
        partial.write_bytes(data.getvalue())


_PERSON = {"side-differs", "several-swings", "others-move", "lettering"}
"""Limits that only a person can lift, by looking."""
_MOMENT = {"rate-low", "slowed"}
"""Limits that forbid to say anything of impact."""


def limited(entry: Entry, looked: Looked) -> Why | None:
    """Why a submission that can be used within limits is not made as the storyboard uses it; None when it may.

    What a person has decided about the submission stands.
    """
    if entry.sent is None or entry.loaded is None or entry.sent.submission.decision is not None:
        return None
    used = {content: clip for clip, content in _clips(entry)}
    files = dict(entry.sent.files())
    for part, reason, what in looked.limits:
        clip = used.get(entry.contents.get(files.get(part, Path())) or "")
        if clip is None:
            continue  # the storyboard does not show it
        if reason in _PERSON:
            return Why(id=reason, what=f"its {part} {what} — look, then write decision: into the record")
        if reason in _MOMENT and _at_impact(entry, clip):
            return Why(
                id=reason,
                what=f"its {part} has {what}; the storyboard shows it at impact — take another clip, or leave it out",
            )
    return None


def _clips(entry: Entry) -> Iterator[tuple[str, str]]:
    if entry.loaded is not None:
        for id_, clip in entry.loaded.board.clips.items():
            content = entry.contents.get(entry.loaded.folder / clip.file)
            if content is not None:
                yield id_, content


def _at_impact(entry: Entry, clip: str) -> bool:
    """Whether a picture stands still at impact, or a stretch begins or ends there."""
    return entry.loaded is not None and any(
        used == clip and any(moment == "impact" for _, moment in moments)
        for _, used, moments in clip_moments(entry.loaded.board)
    )


def repeats(looks: Sequence[tuple[Entry, Looked]], prints_of: Callable[[str], Looked | None]) -> dict[str, Why]:
    """Items whose swing was sent before, under whatever name: the same file, or the same pictures coded anew.

    Args:
        looks: items with what was seen of them, in the order in which they came; the earlier one stays.
        prints_of: gives an item's whole fingerprints, by its id; asked only where backgrounds are alike.
    """
    found: dict[str, Why] = {}
    files: dict[str, str] = {}
    prints: list[tuple[str, str]] = []
    grounds = np.zeros((64, 256), np.float32)
    for entry, looked in looks:
        why = _same_file(entry, files)
        for part, one in looked.prints:
            if why is None and prints:
                # Backgrounds first: one product of matrices leaves few to be compared in motion.
                flat, ground = grounds[: len(prints)], one.ground
                alike = np.maximum(flat @ ground.ravel(), flat @ ground[:, ::-1].ravel())
                for index in np.flatnonzero(alike >= _GROUND):
                    id_, earlier = prints[index]
                    seen = _compared(prints_of(id_), earlier, prints_of(entry.id), part)
                    if seen is not None and seen.same:
                        how = ", mirrored" if seen.mirrored else ""
                        why = Why(
                            id="same-pictures",
                            what=f"its {part} shows the same pictures as the {earlier} of item {id_}{how}: they differ"
                            f" by {seen.difference or 0:.2f} and keep in step within {1000 * (seen.step or 0):.0f} ms"
                            " — ask who filmed it, or take one of the two out",
                        )
                        break
        if why is not None:
            found[entry.id] = why
            continue
        for part, one in looked.prints:
            if len(prints) == len(grounds):
                grounds = np.concatenate([grounds, np.zeros_like(grounds)])
            grounds[len(prints)] = one.ground.ravel()
            prints.append((entry.id, part))
    return found


def _compared(first: Looked | None, part: str, second: Looked | None, other: str) -> Likeness | None:
    """How alike two parts are; None where the fingerprint of one is gone."""
    one = dict(first.prints).get(part) if first is not None else None
    two = dict(second.prints).get(other) if second is not None else None
    return likeness(one, two) if one is not None and two is not None else None


def _same_file(entry: Entry, files: dict[str, str]) -> Why | None:
    if entry.sent is None:
        return None
    contents = [(part, entry.contents[path]) for part, path in entry.sent.files() if path in entry.contents]
    for part, content in contents:
        if part in {"down-the-line", "face-on"} and content in files:
            return Why(
                id="same-file",
                what=f"its {part} is the very file of item {files[content]} — take one of the two out",
            )
    files.update((content, entry.id) for _, content in contents)
    return None

"""Faults that need the whole model but no media: names that lead nowhere, marks without a stroke, paths that leave.

Each group of checks is one generator of `Misplaced`: a path in the storyboard and what is wrong there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from pydantic import BaseModel

from segmentkit.storyboard import locate
from segmentkit.storyboard.compose import Node
from segmentkit.storyboard.faults import Fault, Source, suggestion
from segmentkit.storyboard.marks import mark_faults, stroke_faults
from segmentkit.storyboard.misplaced import CLIP_MOMENTS, Misplaced, Path, clip_moments, unknown
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.paths import leaves_folder
from segmentkit.storyboard.people import Licence
from segmentkit.storyboard.profiles import is_profile_path
from segmentkit.timebase import Timecode, label_fault

ALWAYS_THERE = ("start", "end")


def reference_faults(board: Storyboard, tree: Node, source: Source) -> list[Fault]:
    """All faults of a model that is valid in itself, each at its spot in the text.

    Args:
        board: the model.
        tree: the located tree of the text.
        source: the text.
    """
    return located(misplaced(board), tree, source)


def misplaced(board: Storyboard) -> Iterator[Misplaced]:
    """The same faults at their paths in the model."""
    for check in (
        _people, _pictures, _positions, _speakers, _beat_names, _music, _sheet, _releases, _licences, _paths, _labels,
        mark_faults, stroke_faults,
    ):  # fmt: skip
        yield from check(board)


def located(found: Iterable[Misplaced], tree: Node, source: Source) -> list[Fault]:
    """Faults at paths of the storyboard as faults at spots of its text."""
    faults = []
    for one in found:
        at_value = locate.inner_spot(locate.find(tree, one.path))
        span = locate.key_spot(tree, one.path) if one.at_key else at_value
        spot = source.narrowed(span, one.literal)
        faults.append(source.fault(*spot, one.message, locate.where(tree, one.path)))
    return faults


def _people(board: Storyboard) -> Iterator[Misplaced]:
    used: list[tuple[Path, str | None]] = [
        *((("clips", name, "person"), clip.person) for name, clip in board.clips.items()),
        *((("stills", name, "person"), still.person) for name, still in board.stills.items()),
        *((("speakers", name, "person"), speaker.person) for name, speaker in board.speakers.items()),
    ]
    for b, beat in enumerate(board.beats):
        for c, card in enumerate(beat.cards):
            if card.lower_third is not None:
                used.append((("beats", b, "cards", c, "lower_third", "person"), card.lower_third.person))
    for path, person in used:
        if person is not None and person not in board.people:
            yield unknown(path, person, "person", "people", board.people)


def _pictures(board: Storyboard) -> Iterator[Misplaced]:
    for path, clip, _ in clip_moments(board):
        if clip not in board.clips:
            yield unknown((*path, "clip"), clip, "clip", "clips", board.clips)
    for b, beat in enumerate(board.beats):
        for s, shot in enumerate(beat.show):
            path = ("beats", b, "show", s)
            card = shot.title or shot.end_board
            ground = card.over if card is not None else None
            inset = shot.inset
            if inset is not None and inset.still is not None and inset.still not in board.stills:
                yield unknown((*path, shot.kind, "inset", "still"), inset.still, "still", "stills", board.stills)
            if shot.still is not None and shot.still.still not in board.stills:
                yield unknown((*path, "still", "still"), shot.still.still, "still", "stills", board.stills)
            if ground is not None and ground.still is not None and ground.still not in board.stills:
                yield unknown((*path, shot.kind, "over", "still"), ground.still, "still", "stills", board.stills)


def _positions(board: Storyboard) -> Iterator[Misplaced]:
    for path, clip_id, moments in clip_moments(board):
        clip = board.clips.get(clip_id)
        if clip is None:
            continue
        there = [*clip.positions, *ALWAYS_THERE]
        for key, moment in moments:
            if isinstance(moment, str) and moment not in there:
                hint = suggestion(moment, there)
                yield Misplaced((*path, key), f"clip {clip_id} has no position `{moment}` — {hint}")
    for name, clip in board.clips.items():
        for position in clip.positions:
            if position in ALWAYS_THERE:
                yield Misplaced(
                    ("clips", name, "positions", position),
                    f"`{position}` always is the {position} of the clip — take another name, or delete it",
                    at_key=True,
                )
            elif re.fullmatch(r"f\d+", position):
                yield Misplaced(
                    ("clips", name, "positions", position),
                    f"`{position}` would be read as a frame number — take another name",
                    at_key=True,
                )


def _speakers(board: Storyboard) -> Iterator[Misplaced]:
    for b, beat in enumerate(board.beats):
        for line in beat.say:
            if line.speaker is not None and line.item is not None and line.speaker not in board.speakers:
                path = ("beats", b, "say", line.item, line.speaker)
                yield unknown(path, line.speaker, "speaker", "speakers", board.speakers, at_key=True)


def _beat_names(board: Storyboard) -> Iterator[Misplaced]:
    names = [beat.beat for beat in board.beats]
    for b, name in enumerate(names):
        if name in names[:b]:
            first = names.index(name) + 1
            yield Misplaced(("beats", b, "beat"), f"beat {first} is called `{name}`, too — give each its own name")
    names += [beat.beat for cut in board.cuts.values() for beat in cut.beats if isinstance(beat, Beat)]
    for beat in board.voice.good:
        if beat not in names:
            yield unknown(("voice", "good", beat), beat, "beat", "beats", names, at_key=True)


def _music(board: Storyboard) -> Iterator[Misplaced]:
    names = [beat.beat for beat in board.beats]
    for m, music in enumerate(board.music):
        ends = {"from": music.from_, "until": music.until}
        lost = {key: beat for key, beat in ends.items() if beat is not None and beat not in names}
        for key, beat in lost.items():
            yield unknown(("music", m, key), beat, "beat", "beats", names)
        if music.from_ is None or music.until is None or lost:
            continue
        if names.index(music.from_) > names.index(music.until):
            yield Misplaced(
                ("music", m, "until"),
                f"beat {music.until} comes before beat {music.from_}, where the music starts — swap them",
            )


def _sheet(board: Storyboard) -> Iterator[Misplaced]:
    sheet = board.sheet
    if sheet is None:
        return
    if sheet.person not in board.people:
        yield unknown(("sheet", "person"), sheet.person, "person", "people", board.people)
    beats = [beat.beat for beat in board.beats]
    for index, name in enumerate(sheet.pictures):
        if name not in beats:
            yield unknown(("sheet", "pictures", index), name, "beat", "beats", beats)


def _releases(board: Storyboard) -> Iterator[Misplaced]:
    for name, person in board.people.items():
        release = person.release
        if release is None or release.from_ is None or release.until is None:
            continue
        if release.until < release.from_:
            yield Misplaced(
                ("people", name, "release", "until"),
                f"the release ends on {release.until}, before it starts on {release.from_} — swap or mend the dates",
            )


def _licences(board: Storyboard) -> Iterator[Misplaced]:
    held: list[tuple[Path, Licence | None]] = [
        *((("music", m), music.licence) for m, music in enumerate(board.music)),
        *((("clips", name), clip.licence) for name, clip in board.clips.items()),
        *((("stills", name), still.licence) for name, still in board.stills.items()),
    ]
    for path, licence in held:
        if licence is None or licence.from_ is None or licence.until is None or licence.until >= licence.from_:
            continue
        yield Misplaced(
            (*path, "licence", "until"),
            f"the licence ends on {licence.until}, before it starts on {licence.from_} — swap or mend the dates",
        )


def _paths(board: Storyboard) -> Iterator[Misplaced]:
    named: list[tuple[Path, str | None]] = [
        (("look",), board.look),
        (("voice", "takes"), board.voice.takes),
        *((("clips", name, "file"), clip.file) for name, clip in board.clips.items()),
        *((("stills", name, "file"), still.file) for name, still in board.stills.items()),
        *((("music", m, "file"), music.file) for m, music in enumerate(board.music)),
        *((("deliver", d), name) for d, name in enumerate(board.deliver) if is_profile_path(name)),
    ]
    for path, file in named:
        if file is not None and (why := leaves_folder(file)):
            yield Misplaced(path, f"{why} — put the file into the storyboard's folder and write its path from there")


def _labels(board: Storyboard) -> Iterator[Misplaced]:
    """Lengths written as labels count at the segment's rate; moments of a clip at the clip's, unknown here."""
    for path, kind, label in _all_labels(board, ()):
        fault = label_fault(label, board.segment.rate)
        if fault and kind not in CLIP_MOMENTS and path != ("segment", "slot"):
            yield Misplaced(path, fault)


def _all_labels(value: object, path: Path, kind: str = "") -> Iterator[tuple[Path, str, Timecode]]:
    match value:
        case Timecode():
            yield path, kind, value
        case BaseModel():
            name = type(value).__name__
            for field, info in type(value).model_fields.items():
                key = info.alias or field
                inner = name if name == "Clip" else f"{name} {key}"
                yield from _all_labels(getattr(value, field), (*path, key), inner)
        case dict():
            for key, part in value.items():
                yield from _all_labels(part, (*path, key), kind)
        case tuple():
            for index, part in enumerate(value):
                yield from _all_labels(part, (*path, index), kind)
        case _:
            return

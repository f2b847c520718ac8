"""Faults of cuts and deliveries: beats that are not there, strokes that a cut takes away, profiles nobody knows."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from segmentkit.storyboard.cut_board import assembled, lacking_cut
from segmentkit.storyboard.expand import with_presets
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.locate import Moved, written_at
from segmentkit.storyboard.misplaced import Misplaced, unknown
from segmentkit.storyboard.model import Beat, Cut, Storyboard
from segmentkit.storyboard.paths import leaves_folder
from segmentkit.storyboard.profiles import delivery, delivery_name, delivery_names, is_profile_path
from segmentkit.storyboard.references import misplaced
from segmentkit.timebase import Timecode, label_fault


def cut_faults(board: Storyboard, folder: Path) -> Iterator[Misplaced]:
    """What is wrong with the cuts of a storyboard that is sound in itself.

    Args:
        board: the storyboard, presets written in.
        folder: of the storyboard, for presets of its own.

    Raises:
        StoryboardUnreadable: when a preset's own file has faults.
    """
    own_names: dict[str, str] = {beat.beat: "the segment" for beat in board.beats}
    whole = {(one.path, one.message) for one in misplaced(board)}
    for name, cut in board.cuts.items():
        unknown_beats = list(_beats(board, name, cut, own_names))
        yield from unknown_beats
        for clip in cut.framing:
            if clip not in board.clips:
                yield unknown(("cuts", name, "framing", clip), clip, "clip", "clips", board.clips, at_key=True)
        if isinstance(cut.slot, Timecode) and (fault := label_fault(cut.slot, board.segment.rate)):
            yield Misplaced(("cuts", name, "slot"), fault)
        if unknown_beats:
            continue  # what else is wrong may only follow from these
        version, moved = assembled(board, name, cut)
        version, refused, _ = with_presets(version, folder)
        for fault_ in (*refused, *misplaced(version)):
            if (fault_.path, fault_.message) in whole and fault_.path[:1] != ("beats",):
                continue
            yield from _in_cut(fault_, version, name, moved, whole)


def _beats(board: Storyboard, name: str, cut: Cut, own_names: dict[str, str]) -> Iterator[Misplaced]:
    names = [beat.beat for beat in board.beats]
    for item, entry in enumerate(cut.beats):
        path = ("cuts", name, "beats", item)
        if isinstance(entry, Beat):
            # Takes are found by the beat's name, so it names one beat throughout the file.
            if entry.beat in own_names:
                yield Misplaced(
                    (*path, "beat"),
                    f"{own_names[entry.beat]} has a beat `{entry.beat}` already — take another name, or write "
                    f"`- {entry.beat}` alone to show that one",
                )
            own_names.setdefault(entry.beat, f"cut {name}")
        elif entry not in names:
            yield unknown(path, entry, "beat", "beats", names)
        elif entry in cut.beats[:item]:
            yield Misplaced(path, f"`{entry}` is listed twice — keep one")


def _in_cut(
    fault: Misplaced,
    version: Storyboard,
    name: str,
    moved: tuple[Moved, ...],
    whole: set[tuple[tuple[str | int, ...], str]],
) -> Iterator[Misplaced]:
    """A fault of the cut at its spot in the text; none where the segment has it as well."""
    path = written_at(fault.path, moved)
    if path[:1] == ("cuts",):
        yield replace(fault, path=path)
    elif (path, fault.message) not in whole:
        # A beat of the segment that lacks something in this cut only: the cut is the spot to mend.
        index = fault.path[1] if fault.path[:1] == ("beats",) and len(fault.path) > 1 else None
        if not isinstance(index, int):
            yield replace(fault, path=path)
            return
        message = fault.message
        if fault.path[2:3] == ("keep",) and isinstance(kept := fault.path[3], int):
            stroke = version.beats[index].keep[kept]
            message = (
                f"keeps `{stroke}`, and no beat before it in this cut draws it — add the beat that does, or write "
                "a beat of the cut's own"
            )
        yield Misplaced(("cuts", name, "beats", index), message)


def delivery_faults(board: Storyboard, folder: Path) -> Iterator[Misplaced]:
    """Profiles that are unknown, twice there, or deliver a cut that is not written.

    Raises:
        StoryboardUnreadable: when a house's own profile has faults.
    """
    names = [delivery_name(name) for name in board.deliver]
    known = delivery_names()
    for d, name in enumerate(board.deliver):
        path = ("deliver", d)
        if is_profile_path(name):
            if leaves_folder(name):
                continue  # told with all other paths
            if not (folder / name).is_file():
                yield Misplaced(path, f"there is no profile file {name} — put it there, or mend its name")
                continue
        elif name not in known:
            yield Misplaced(path, f"`{name}` is not a profile — {suggestion(name, known, 'profile')}")
            continue
        if names[d] in names[:d]:
            yield Misplaced(path, f"`{names[d]}` is listed twice — keep one")
            continue
        cut = delivery(name, folder).cut
        if cut is not None and cut not in board.cuts:
            yield Misplaced(path, lacking_cut(cut, names[d]))

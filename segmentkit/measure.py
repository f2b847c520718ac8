"""Measures what a version of a segment shows and says: working copies, stills, readings, what moves in the pictures."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from segmentkit.checks.uses import pictures_used
from segmentkit.facts import ClipFacts, Facts, ReadingFacts, SceneFacts, SpeechRequest, StillFacts, TrackFacts
from segmentkit.plan.needs import picture_needs
from segmentkit.plan.pared import pared
from segmentkit.plan.speech import speech_requests
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.model import Beat, Storyboard

Progress = Callable[[str, int, int], None]
"""Told the step, how much of it is done, and how much there is."""


@dataclass(slots=True)
class Measured:
    """What was measured for versions before, so that nothing is opened twice in one run."""

    clips: dict[str, ClipFacts] = field(default_factory=dict)
    stills: dict[str, StillFacts] = field(default_factory=dict)
    readings: dict[SpeechRequest, ReadingFacts] = field(default_factory=dict)


def measured(
    loaded: LoadedStoryboard, progress: Progress, before: Measured | None = None
) -> tuple[LoadedStoryboard, Facts]:
    """The facts of a version, and the version with the words that are left of it; quick when warm.

    A clip that no beat shows is not opened: its person's consent was not asked for either.

    Args:
        loaded: the version.
        progress: told what is going on.
        before: what other versions needed; what is new is added.

    Raises:
        MediaUnusable: when a file cannot be used.
    """
    # Decoders load only when there is work for them.
    from segmentkit.media.guarded import GuardLimits, guarded_clip  # noqa: PLC0415
    from segmentkit.media.stills import still_facts  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415

    known = before if before is not None else Measured()
    board, folder = loaded.board, loaded.folder
    store = Store.of(folder)
    used_clips, used_stills = pictures_used(board)
    # A clip is a stranger's file, so it is decoded in a process of its own. A programme's own films may be long.
    long_films = GuardLimits(seconds=1800, frames=200_000)
    for done, id_ in enumerate(sorted(used_clips - known.clips.keys())):
        progress("clips", done, len(used_clips))
        known.clips[id_] = guarded_clip(folder / board.clips[id_].file, store, long_films).facts
    for id_ in sorted(used_stills - known.stills.keys()):
        known.stills[id_] = still_facts(folder / board.stills[id_].file)
    clips = {id_: known.clips[id_] for id_ in sorted(used_clips)}
    readings = _spoken(loaded, known, progress)
    tracks, scenes = _looked_at(loaded, clips, progress)
    facts = Facts(
        clips=clips,
        stills={id_: known.stills[id_] for id_ in sorted(used_stills)},
        readings=readings,
        tracks=tracks,
        scenes=scenes,
    )
    return pared(loaded, facts) if loaded.pared else (loaded, facts)


def _spoken(loaded: LoadedStoryboard, known: Measured, progress: Progress) -> tuple[ReadingFacts, ...]:
    """A reading for every line."""
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.media.voice import readings  # noqa: PLC0415

    board = loaded.board
    takes = loaded.folder / board.voice.takes if board.voice.takes else None
    requests = speech_requests(board)
    new = [request for request in requests if request not in known.readings]
    if new:
        made = readings(new, takes, Store.of(loaded.folder), lambda done, of: progress("voices", done, of))
        known.readings |= dict(zip(new, made, strict=True))
    return tuple(known.readings[request] for request in requests)


def unused_takes(loaded: LoadedStoryboard) -> tuple[str, ...]:
    """Sound files among the takes that belong to no line of the segment or of its cuts, one sentence each.

    Raises:
        MediaUnusable: when there is no such folder.
    """
    from segmentkit.media.takes import unused_files  # noqa: PLC0415

    board = loaded.board
    if board.voice.takes is None:
        return ()
    return unused_files(loaded.folder / board.voice.takes, speech_requests(_with_all_beats(board)))


def _with_all_beats(board: Storyboard) -> Storyboard:
    """The storyboard with the beats of its cuts as well: their takes lie in the same folder."""
    own = [beat for cut in board.cuts.values() for beat in cut.beats if isinstance(beat, Beat)]
    return board.model_copy(update={"beats": (*board.beats, *own)})


def _looked_at(
    loaded: LoadedStoryboard, clips: Mapping[str, ClipFacts], progress: Progress
) -> tuple[dict[str, TrackFacts], dict[str, SceneFacts]]:
    """How backgrounds move, and what moves before them, of the clips for which a plan must know it."""
    from segmentkit.media.background import background_track  # noqa: PLC0415
    from segmentkit.media.scene import scene_facts  # noqa: PLC0415
    from segmentkit.media.store import Store  # noqa: PLC0415

    store = Store.of(loaded.folder)
    needs = picture_needs(loaded.board, clips)
    tracks, scenes = {}, {}
    for done, need in enumerate(needs):
        progress("pictures", done, len(needs))
        clip = clips[need.clip]
        if need.tracked:
            tracks[need.clip] = background_track(
                clip, store, anchor=need.anchor, frames=need.tracked, avoid=(need.player,)
            )
        if need.scene:
            scenes[need.clip] = scene_facts(clip, store, first=need.first, last=need.last, moments=need.moments)
    return tracks, scenes

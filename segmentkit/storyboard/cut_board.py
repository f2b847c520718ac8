"""Puts a cut's storyboard together: its beats and music, its slot and title, and where each is written."""

from __future__ import annotations

from collections.abc import Sequence

from segmentkit.storyboard.locate import Moved, Step
from segmentkit.storyboard.model import Beat, Cut, Storyboard
from segmentkit.storyboard.people import Music


def lacking_cut(cut: str, profile: str) -> str:
    """What is missing, and how it is written."""
    return (
        f"`{profile}` delivers a cut called `{cut}`, and `cuts` has none of that name — write one: "
        f"cuts: {{{cut}: {{slot: 0:40, beats: [beats by name, or whole ones]}}}}"
    )


def assembled(board: Storyboard, name: str, cut: Cut) -> tuple[Storyboard, tuple[Moved, ...]]:
    """The storyboard of a cut at the segment's own size and rate, and where its parts are written.

    Names of beats that do not exist are left out; the faults of the text tell of them.
    """
    known = {beat.beat: index for index, beat in enumerate(board.beats)}
    beats: list[Beat] = []
    moved: list[Moved] = [Moved(("segment", key), ("cuts", name, key)) for key in ("slot", "title", "question")]
    moved.append(Moved(("beats",), ("cuts", name, "beats")))
    for item, entry in enumerate(cut.beats):
        if isinstance(entry, Beat):
            written: tuple[Step, ...] = ("cuts", name, "beats", item)
        elif entry in known:
            written = ("beats", known[entry])
        else:
            continue
        moved.append(Moved(("beats", len(beats)), written))
        beats.append(entry if isinstance(entry, Beat) else board.beats[known[entry]])
    music, places = _music(board, name, cut, [beat.beat for beat in beats])
    segment = {"slot": cut.slot, "title": cut.title or board.segment.title, "question": cut.question}
    version = board.model_copy(
        update={
            "segment": board.segment.model_copy(update=segment),
            "beats": tuple(beats),
            "music": music,
            "voice": board.voice.model_copy(
                update={
                    "good": {beat.beat: board.voice.good[beat.beat] for beat in beats if beat.beat in board.voice.good}
                }
            ),
            "sheet": None,
            "cuts": {},
        }
    )
    return version, (*moved, *places)


def _music(board: Storyboard, name: str, cut: Cut, beats: Sequence[str]) -> tuple[tuple[Music, ...], list[Moved]]:
    """A cut's own stretches of music, or the segment's from and until the nearest beats that are in the cut."""
    if cut.music is not None:
        return cut.music, [Moved(("music",), ("cuts", name, "music"))]
    whole = [beat.beat for beat in board.beats]
    order = {beat: whole.index(beat) for beat in beats if beat in whole}
    kept: list[Music] = []
    moved: list[Moved] = []
    for index, music in enumerate(board.music):
        first = whole.index(music.from_) if music.from_ in whole else 0
        last = whole.index(music.until) if music.until in whole else len(whole) - 1
        inside = [beat for beat, place in order.items() if first <= place <= last]
        if inside:
            ends = {
                "from_": inside[0] if music.from_ is not None else None,
                "until": inside[-1] if music.until is not None else None,
            }
            moved.append(Moved(("music", len(kept)), ("music", index)))
            kept.append(music.model_copy(update=ends))
    return tuple(kept), moved

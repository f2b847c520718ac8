"""Of whom something would be rendered, and where they come up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

from segmentkit.checks.context import ConsentContext
from segmentkit.checks.say import counted, listed
from segmentkit.plan.speech import speaker_of
from segmentkit.storyboard.misplaced import clip_moments
from segmentkit.storyboard.model import Storyboard
from segmentkit.storyboard.people import Person


@dataclass(slots=True)
class Use:
    """Where a person comes up in the beats: clips and stills that show them, speakers, and how many names on cards."""

    seen: list[str] = field(default_factory=list)
    heard: list[str] = field(default_factory=list)
    named: int = 0

    @property
    def only_heard(self) -> bool:
        """Whether nothing but the voice is used."""
        return bool(self.heard) and not self.seen and not self.named

    def __str__(self) -> str:
        parts = []
        if self.seen:
            parts.append(f"seen in {listed(self.seen)}")
        if self.heard:
            parts.append(f"heard as {listed(self.heard)}")
        if self.named:
            parts.append(f"named on {counted(self.named, 'card')}")
        return listed(parts)


def people_used(board: Storyboard) -> dict[str, Use]:
    """Everyone of whom something would be rendered, in the order of `people`."""
    used: dict[str, Use] = {}

    def seen(person: str | None, what: str) -> None:
        if person is not None and what not in used.setdefault(person, Use()).seen:
            used[person].seen.append(what)

    for _, clip, _ in clip_moments(board):
        if clip in board.clips:
            seen(board.clips[clip].person, f"clip {clip}")
    for still in _stills(board):
        if still in board.stills:
            seen(board.stills[still].person, f"still {still}")
    for beat in board.beats:
        for line in beat.say:
            id_, speaker = speaker_of(board, line)
            if speaker.person is not None and id_ not in used.setdefault(speaker.person, Use()).heard:
                used[speaker.person].heard.append(id_)
        for spec in beat.cards:
            if spec.lower_third is not None and spec.lower_third.person is not None:
                used.setdefault(spec.lower_third.person, Use()).named += 1
    return {id_: used[id_] for id_ in board.people if id_ in used}


def people_in_use(context: ConsentContext) -> Iterator[tuple[str, Person, Use]]:
    """Everyone used, with their record."""
    for id_, use in people_used(context.board).items():
        yield id_, context.board.people[id_], use


def minors_in_use(context: ConsentContext) -> Iterator[tuple[str, Person, Use]]:
    """Everyone used who is stated to be under age."""
    yield from (entry for entry in people_in_use(context) if entry[1].adult is False)


def pictures_used(board: Storyboard) -> tuple[frozenset[str], frozenset[str]]:
    """Ids of the clips and of the stills that some beat shows; nothing else needs to be opened."""
    clips = {clip for _, clip, _ in clip_moments(board) if clip in board.clips}
    return frozenset(clips), frozenset(still for still in _stills(board) if still in board.stills)


def _stills(board: Storyboard) -> Iterator[str]:
    for beat in board.beats:
        for shot in beat.show:
            card = shot.title or shot.end_board
            ground = card.over if card is not None else None
            for still in (
                shot.still.still if shot.still else None,
                ground.still if ground else None,
                shot.inset.still if shot.inset else None,
            ):
                if still is not None:
                    yield still

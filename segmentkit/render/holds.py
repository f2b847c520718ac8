"""Which clips, stills, takes and words are in each piece of a movie; see `media.holds`."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from segmentkit.facts import Facts
from segmentkit.media.holds import Holding, marks_of, note
from segmentkit.media.store import Store
from segmentkit.plan.model import ClipPicture, Plan, Shot, StillPicture
from segmentkit.timebase import Span


def note_holds(
    store: Store, record: Path, plan: Plan, facts: Facts, heard: str, sections: Sequence[tuple[str, int]],
    start: int = 0,
) -> None:  # fmt: skip
    """Notes what the pieces of a movie hold.

    Args:
        store: the working folder.
        record: the movie's record in it.
        plan: what is shown when.
        facts: its clips, stills and readings.
        heard: key of the sound.
        sections: key and frames of each piece of pictures, in order.
        start: frame at which the programme begins, after a leader.

    Raises:
        OutputFailed: when the working folder cannot be written to.
        MediaUnusable: when a take cannot be read.
    """
    pieces: dict[str, Holding] = {}
    at = -start
    for key, frames in sections:
        span = Span(at, at + frames)
        at += frames
        held = _seen(plan, facts, span)
        before = pieces.get(key)
        pieces[key] = held if before is None else Holding(
            contents=before.contents | held.contents, marks=before.marks | held.marks
        )  # fmt: skip
    takes = {store.content_of(line.path) for line in plan.speech if line.path is not None}
    natural = {facts.clips[sound.clip].content for sound in plan.natural}
    pieces[heard] = Holding(
        contents=frozenset(takes | natural), marks=marks_of(*(line.text for line in plan.speech))
    )  # fmt: skip
    note(store, record.name, pieces)


def _seen(plan: Plan, facts: Facts, span: Span) -> Holding:
    """What is seen in a span; a leader lies outside all shots and shows the title."""
    shots = [shot for shot in plan.shots if shot.span.overlap(span)]
    # A shot that comes in above the last picture of the one before shows that one too.
    shown = [*shots, *(plan.shots[k - 1] for k, shot in enumerate(plan.shots) if k and shot in shots and shot.enter)]
    texts = [text for shot in shown for text in _texts(plan, shot)]
    texts += [value for card in plan.cards if card.span.overlap(span) for _, value in card.fields]
    return Holding(
        contents=frozenset(content for shot in shown for content in _contents(facts, shot)),
        marks=marks_of(*(texts if shots else [plan.title])),
    )


def _contents(facts: Facts, shot: Shot) -> Iterator[str]:
    for pane in shot.panes:
        match pane.picture:
            case ClipPicture(clip=clip):
                yield facts.clips[clip].content
            case StillPicture(still=still):
                yield facts.stills[still].content


def _texts(plan: Plan, shot: Shot) -> Iterator[str]:
    for pane in shot.panes:
        yield from (text for text in (pane.label, pane.note) if text)
    yield from (stroke.label for stroke in plan.strokes if stroke.shot == shot.id and stroke.label)

"""Cuts a plan into stretches that are encoded on their own, and names each by all that can change its pictures.

A stretch lies within one beat. Its name is a hash of what is drawn, in frames counted from its own start and with clips
and stills by their content, so a stretch that looks the same has the same name in any segment, for any viewer, on any
day. Whatever a class of the plan holds goes into the name unless it is listed here as invisible: a field that is added
to the plan later is counted, not forgotten.
"""

from __future__ import annotations

import dataclasses
import hashlib
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from segmentkit.delivery import Delivery
from segmentkit.facts import Facts
from segmentkit.media.holding import holds
from segmentkit.media.normalise import RECIPE as COPIES
from segmentkit.media.pieces_encode import CODING
from segmentkit.media.store import Store
from segmentkit.plan.leader import LeaderPart, LeaderPlan
from segmentkit.plan.model import Card, ClipPicture, MusicCue, NaturalSound, Plan, Shot, Speech, StillPicture, Stroke
from segmentkit.plan.slate import Rows
from segmentkit.render.cards import CardArtist
from segmentkit.render.recipe import look_data, tools
from segmentkit.storyboard.look import Look
from segmentkit.timebase import Span

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

LEAST = Fraction(1)
"""Seconds below which a shot is not a stretch of its own: each stretch costs a key frame and a start of the encoder."""

_UNSEEN: dict[type, frozenset[str]] = {
    Shot: frozenset({"id", "beat", "span", "speed", "matched"}),
    Stroke: frozenset({"id", "beat", "shot", "cue", "cue_frame", "span", "draw_start", "kept", "source_frame"}),
    Card: frozenset({"beat", "index", "span"}),
    ClipPicture: frozenset({"clip", "position"}),
    StillPicture: frozenset({"still"}),
    Speech: frozenset({
        "beat", "line", "speaker", "shown", "text", "path", "words", "word_source", "expected_error", "is_guide",
    }),
    NaturalSound: frozenset({"clip"}),
    MusicCue: frozenset({"path"}),
}  # fmt: skip
"""Fields that are not seen or heard, or are counted in another form: spans from the shot's start, files by content."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """A part of a segment that is encoded on its own.

    Attributes:
        beat: the beat that it lies in.
        span: its frames.
        key: a hash of all that can change its pictures, in hex.
    """

    beat: str
    span: Span
    key: str


def stretches(
    plan: Plan, facts: Facts, look: Look, delivery: Delivery, *, stamp: str | None = None
) -> tuple[Stretch, ...]:
    """The stretches of a plan, in order; they tile its frames.

    Args:
        plan: what is shown when.
        facts: the content of its clips and stills.
        look: how it is drawn.
        delivery: how it is coded.
        stamp: text that is burned into a review copy.
    """
    cards = CardArtist(look, plan.size, plan)
    common = [
        CODING, COPIES, tools(), look_data(look), str(plan.size), str(plan.rate), repr(delivery.picture),
        delivery.fields, holds(delivery),
    ]  # fmt: skip
    made = []
    for group in _groups(plan, 2 if delivery.fields else 1):
        span = Span(plan.shots[group.start].span.start, plan.shots[group.stop - 1].span.end)
        shown = [_shot_data(plan, facts, cards, index, first=index == group.start) for index in group]
        # The running timecode of a review copy belongs to its place in the segment.
        burned = [stamp, span.start] if stamp is not None else None
        made.append(Stretch(beat=plan.shots[group.start].beat, span=span, key=_hash(common, burned, shown)))
    return tuple(made)


def sound_key(plan: Plan, facts: Facts, delivery: Delivery, store: Store, leader: LeaderPlan | None = None) -> str:
    """A hash of all that can change the sound of a segment, in hex.

    Raises:
        MediaUnusable: when a take or a music file cannot be read.
    """
    speech = [[_data(line, facts), None if line.path is None else store.content_of(line.path)] for line in plan.speech]
    natural = [[_data(sound, facts), facts.clips[sound.clip].content] for sound in plan.natural]
    music = [[_data(cue, facts), store.content_of(cue.path)] for cue in plan.music]
    coded = [delivery.loudness, delivery.true_peak, repr(delivery.sound)]
    around = None if leader is None else repr(leader)
    return _hash("sound", COPIES, tools(), plan.frames, str(plan.rate), coded, around, speech, natural, music)


def _groups(plan: Plan, step: int = 1) -> Iterator[range]:
    """Runs of shots, by index: a shot alone, or with its neighbours in the same beat when one is very short.

    Each ends on a multiple of `step` pictures: where two pictures are woven into one frame, no frame belongs to two.
    """
    least = LEAST * plan.rate.fps
    start = 0
    for index, shot in enumerate(plan.shots):
        last = index + 1 == len(plan.shots)
        if not last and shot.span.end % step:
            continue
        if last or plan.shots[index + 1].beat != shot.beat:
            yield range(start, index + 1)
            start = index + 1
            continue
        end = next((i for i in range(index, len(plan.shots)) if plan.shots[i].beat != shot.beat), len(plan.shots))
        rest = plan.shots[end - 1].span.end - shot.span.end
        if shot.span.end - plan.shots[start].span.start >= least and rest >= least:
            yield range(start, index + 1)
            start = index + 1


def _shot_data(plan: Plan, facts: Facts, cards: CardArtist, index: int, *, first: bool) -> list[object]:
    """What is seen of a shot; with the one before, when it comes in above that one's last picture."""
    shot = plan.shots[index]
    strokes = [stroke for stroke in plan.strokes if stroke.shot == shot.id]
    over = [card for card in plan.cards if card.span.overlap(shot.span)]
    before = _shot_data(plan, facts, cards, index - 1, first=False) if first and shot.enter and index else None
    return [
        shot.span.frames,
        _data(shot, facts),
        [
            [_data(stroke, facts), _spans(stroke.span, shot), stroke.draw_start - shot.span.start]
            for stroke in strokes
        ],
        # Where a card stands depends on all cards that it meets, so the room it was given stands for them.
        [[_data(card, facts), _spans(card.span, shot), _data(cards.room_of(card), facts)] for card in over],
        before,
    ]  # fmt: skip


def _spans(span: Span, shot: Shot) -> list[int]:
    return [span.start - shot.span.start, span.end - shot.span.start]


def _data(value: object, facts: Facts) -> object:
    """A value of the plan as plain data, by its fields.

    Raises:
        TypeError: for a kind of value that has no plain form, such as a path.
    """
    match value:
        case None | bool() | int() | float() | str():
            return value
        case Fraction() | Enum():
            return str(value)
        case tuple() | list():
            return [_data(item, facts) for item in value]
        case ClipPicture():
            clip = facts.clips[value.clip]
            return ["clip", clip.content, str(clip.size), *_fields(value, facts)]
        case StillPicture():
            return ["still", facts.stills[value.still].content, *_fields(value, facts)]
        case Path():
            raise TypeError(f"{value} — a file is told by its content here, not by its name")
        case _:
            pass
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return [type(value).__name__, *_fields(value, facts)]
    raise TypeError(f"{type(value).__name__} has no place in the name of a stretch")


def _fields(value: DataclassInstance, facts: Facts) -> Iterator[object]:
    unseen = _UNSEEN.get(type(value), frozenset())
    for field in dataclasses.fields(value):
        if field.name not in unseen:
            yield [field.name, _data(getattr(value, field.name), facts)]


def _hash(*parts: object) -> str:
    text = json.dumps(parts, sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()


def leader_keys(leader: LeaderPlan, rows: Rows, plan: Plan, look: Look, delivery: Delivery) -> dict[LeaderPart, str]:
    """A hash of all that can change the pictures of each part of a leader, in hex."""
    common = [
        CODING,
        tools(),
        look_data(look),
        str(plan.size),
        str(plan.rate),
        repr(delivery.picture),
        delivery.fields,
        holds(delivery),
    ]

    def shown(part: LeaderPart) -> list[object]:
        match part.kind:
            case "bars":
                return [leader.bars]
            case "slate":
                return [list(row) for row in rows]
            case "countdown":
                return [rows[0][1], str(leader.rate), leader.programme.start - part.span.start]
            case _:
                return []

    return {
        part: _hash("leader", common, part.kind, part.span.frames, shown(part))
        for part in (*leader.before, leader.after)
        if part.span.frames
    }


def whole_key(parts: Sequence[str]) -> str:
    """One hash for a whole movie, from those of its parts and what else is written into it."""
    return _hash("movie", *parts)

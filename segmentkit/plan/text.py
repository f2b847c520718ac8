"""The plan as text: one line an event, in the order in which things happen. Read by people and by the tests."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.plan.model import Card, ClipPicture, Pane, Plan, Shot, Speech, Stroke
from segmentkit.timebase import Span, clock_text, label_of_frame, seconds_of_frame

_ORDER = ("beat", "shot", "speech", "stroke", "card", "music", "sound")


def plan_text(plan: Plan) -> str:
    """The whole plan, one line an event: label, first frame, frames, kind, what."""
    head = (
        f"# {plan.title}: {plan.frames} frames at {plan.rate} = {clock_text(seconds_of_frame(plan.frames, plan.rate))}"
        f", slot {plan.slot} frames{_difference(plan)}"
    )
    events = sorted(_events(plan), key=lambda event: (event[0].start, _ORDER.index(event[1])))
    lines = [
        f"{label_of_frame(span.start, plan.rate)} {span.start:>6} {span.frames:>5}  {kind:<6} {what}"
        for span, kind, what in events
    ]
    return "\n".join([head, *lines]) + "\n"


def _difference(plan: Plan) -> str:
    over = plan.frames - plan.slot
    return "" if not over else f", {'over' if over > 0 else 'under'} by {abs(over)} frames"


def _events(plan: Plan) -> Iterator[tuple[Span, str, str]]:
    for beat in plan.beats:
        room = "rigid" if beat.rigid else f"{beat.least}..{beat.nominal}..{beat.most}"
        yield beat.span, "beat", f"{beat.id} ({room})"
    for shot in plan.shots:
        yield shot.span, "shot", _shot(shot)
    for line in plan.speech:
        yield line.span, "speech", _speech(line)
    for stroke in plan.strokes:
        yield stroke.span, "stroke", _stroke(stroke)
    for card in plan.cards:
        yield card.span, "card", _card(card)
    for cue in plan.music:
        yield cue.span, "music", f"{cue.path.name} {cue.level_db:g} dB, under speech {cue.under_speech_db:g} dB"
    for sound in plan.natural:
        yield sound.span, "sound", f"{sound.clip} from {sound.source_start}s"


def _shot(shot: Shot) -> str:
    speed = f" at {shot.speed}" if shot.speed is not None else ""
    return f"{shot.kind}{speed} {' | '.join(_pane(pane) for pane in shot.panes)}".rstrip()


def _pane(pane: Pane) -> str:
    picture = pane.picture
    if not isinstance(picture, ClipPicture):
        return f"still {picture.still}"
    first, last = picture.frames[0], picture.frames[-1]
    frames = f"f{first}" if picture.frozen else f"f{first}..f{last}"
    position = f" {picture.position}" if picture.position else ""
    marks = "".join(f" {mark}" for mark in (pane.note, "softened" if pane.soften else None) if mark)
    return f"{picture.clip} {frames}{position}{marks}"


def _speech(line: Speech) -> str:
    voice = "guide" if line.is_guide else (line.path.name if line.path else "unspoken")
    return f"{line.speaker} [{voice}] {line.text}"


def _stroke(stroke: Stroke) -> str:
    if stroke.kept:
        return f"{stroke.id} kept in {stroke.shot}"
    cue = f' on "{stroke.cue}"' if stroke.cue else ""
    wipe = f", wiped in {stroke.wipe_frames}" if stroke.wipe_frames else ""
    return f"{stroke.id} {stroke.role} {stroke.kind} drawn in {stroke.draw_frames}{wipe}{cue}"


def _card(card: Card) -> str:
    return f"{card.kind} " + " / ".join(text for _, text in card.fields)

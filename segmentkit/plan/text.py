"""The plan as text: one line an event, in the order in which things happen. Read by people and by the tests."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.plan.model import Card, ClipPicture, Light, Matched, Pane, Plan, Shot, Speech, Stroke
from segmentkit.timebase import Span, clock_text, label_of_frame, seconds_of_frame

_ORDER = ("beat", "shot", "match", "speech", "stroke", "card", "music", "sound")


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
        if shot.matched is not None:
            yield shot.span, "match", match_text(shot.matched)
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
    enter = f", {shot.enter.by} in {shot.enter.frames}" if shot.enter is not None else ""
    return f"{shot.kind}{speed} {' | '.join(_pane(pane) for pane in shot.panes)}".rstrip() + enter


def _pane(pane: Pane) -> str:
    picture = pane.picture
    if isinstance(picture, ClipPicture):
        first, last = picture.frames[0], picture.frames[-1]
        frames = f"f{first}" if picture.frozen else f"f{first}..f{last}"
        shown = f"{picture.clip} {frames}" + (f" {picture.position}" if picture.position else "")
    else:
        shown = f"still {picture.still}"
    marks = (
        "inset" if pane.inset else None,
        pane.note,
        "softened" if pane.soften else None,
        f"at {pane.opacity:.0%}" if pane.opacity < 1 else None,
        _move(pane) if pane.move is not None else None,
        _light(pane.light) if pane.light is not None else None,
    )
    return shown + "".join(f" {mark}" for mark in marks if mark)


def _move(pane: Pane) -> str:
    assert pane.move is not None
    here, there = pane.placement, pane.move.to
    when = f"from {pane.move.start} in {pane.move.frames}"
    when += f", back from {pane.move.back}" if pane.move.back is not None else ""
    if there.window != here.window:
        return f"uncovered {when}" if there.scale == here.scale else f"up for a sheet {when}"
    if there.scale == here.scale:
        return f"aside for a panel {when}"
    return f"pushed {there.scale / here.scale:.2f} times {when}"


def _light(light: Light) -> str:
    return f"light x{light.gain:.2f} {light.lift:+.0f}, tint {light.blue:+.0f} {light.red:+.0f}"


def match_text(matched: Matched) -> str:
    """What was made alike, and what is left; heights in pixels at a picture height of 1080."""
    parts = [", ".join(matched.by), "scale " + " : ".join(f"{scale:.3f}" for scale in matched.scales)]
    if any(matched.turns):
        parts.append("turned " + " : ".join(f"{turn:+.2f}" for turn in matched.turns) + " degrees")
    if matched.heel is not None:
        parts.append(f"heel line {matched.heel:.1f} px")
    if matched.belt is not None:
        parts.append(f"belt {matched.belt:.1f} %")
    parts.extend(f"{name} {gap:.1f} px" for name, gap in matched.spots)
    if matched.events:
        parts.append("meeting at " + ", ".join(matched.events))
    return "; ".join(parts)


def _speech(line: Speech) -> str:
    voice = "guide" if line.is_guide else (line.path.name if line.path else "unspoken")
    return f"{line.speaker} [{voice}] {line.text}"


def _stroke(stroke: Stroke) -> str:
    follows = ", follows the background" if stroke.followed else ""
    if stroke.kept:
        return f"{stroke.id} kept in {stroke.shot}{follows}"
    cue = f' on "{stroke.cue}"' if stroke.cue else ""
    wipe = f", wiped in {stroke.wipe_frames}" if stroke.wipe_frames else ""
    return f"{stroke.id} {stroke.role} {stroke.kind} drawn in {stroke.draw_frames}{wipe}{cue}{follows}"


def _card(card: Card) -> str:
    return f"{card.kind} " + " / ".join(text for _, text in card.fields)

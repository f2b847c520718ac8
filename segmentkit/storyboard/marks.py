"""Faults between a beat's words, its strokes and its cards."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.geometry import Point
from segmentkit.storyboard.faults import suggestion
from segmentkit.storyboard.fields import NamedPoint
from segmentkit.storyboard.misplaced import Misplaced, Path, shot_moments
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.shots import CardTiming, ShotSpec, StrokeSpec


def mark_faults(board: Storyboard) -> Iterator[Misplaced]:
    """`[id]` in the words that starts nothing, cues that no word carries, and spare words in a rigid beat."""
    for b, beat in enumerate(board.beats):
        cues: list[str] = []
        marks = [mark.id for line in beat.say for mark in line.marks]
        for c, card in enumerate(beat.cards):
            timing = getattr(card, card.kind)
            if not isinstance(timing, CardTiming) or timing.cue is None:
                continue
            cues.append(timing.cue)
            if timing.cue not in marks:
                yield Misplaced(
                    ("beats", b, "cards", c, card.kind, "cue"),
                    f"no word of this beat carries [{timing.cue}] — put it before a word, or write at instead of cue",
                )
        for line in beat.say:
            path: Path = (
                ("beats", b, "say") if line.item is None else ("beats", b, "say", line.item, line.speaker or "")
            )
            if line.spare and beat.rigid:
                yield Misplaced(
                    path, "words may be left out here, but the beat is rigid — delete the braces, or delete rigid", "{"
                )
            for mark in line.marks:
                if mark.id not in beat.strokes and mark.id not in cues:
                    known = [*beat.strokes, *cues]
                    hint = suggestion(mark.id, known) if known else "the beat has neither strokes nor cards with a cue"
                    yield Misplaced(
                        path, f"[{mark.id}] starts no stroke and no card of this beat — {hint}", f"[{mark.id}]"
                    )


def stroke_faults(board: Storyboard) -> Iterator[Misplaced]:
    """Strokes that are kept from nowhere, have no side or no picture, or use points that nobody named."""
    drawn: dict[str, str] = {}
    for b, beat in enumerate(board.beats):
        yield from _kept(board, b, beat, drawn)
        marks = {mark.id for line in beat.say for mark in line.marks}
        for name, stroke in beat.strokes.items():
            path = ("beats", b, "strokes", name)
            yield from _side(path, beat, stroke)
            yield from _points(board, path, beat, stroke)
            if stroke.at is not None and name in marks:
                yield Misplaced(
                    (*path, "at"), f"the stroke starts on the word after [{name}] — delete at, or delete the mark"
                )
        drawn |= dict.fromkeys(beat.strokes, beat.beat)


def _kept(board: Storyboard, b: int, beat: Beat, drawn: dict[str, str]) -> Iterator[Misplaced]:
    for k, name in enumerate(beat.keep):
        path = ("beats", b, "keep", k)
        if name in beat.keep[:k]:
            yield Misplaced(path, f"`{name}` is listed twice — keep one")
        elif name in drawn:
            continue
        elif name in beat.strokes:
            yield Misplaced(path, f"`{name}` is drawn in this very beat — keep is for strokes of earlier beats")
        elif later := next((other.beat for other in board.beats[b + 1 :] if name in other.strokes), None):
            yield Misplaced(path, f"`{name}` is drawn later, in beat {later} — keep is for strokes of earlier beats")
        else:
            hint = suggestion(name, list(drawn)) if drawn else "no beat before this one draws anything"
            yield Misplaced(path, f"no earlier beat draws `{name}` — {hint}")


def _side(path: Path, beat: Beat, stroke: StrokeSpec) -> Iterator[Misplaced]:
    pictures = [shot for shot in beat.show if shot.kind not in {"title", "end_board"}]
    names = list(dict.fromkeys(name for shot in pictures for name in shot.pane_names))
    if not pictures:
        yield Misplaced(path, "the beat shows no picture to draw on — add a freeze, or delete the stroke", at_key=True)
    elif stroke.on is not None and not names:
        yield Misplaced((*path, "on"), "each shot of the beat shows one picture only — delete on")
    elif stroke.on is not None and stroke.on not in names:
        yield Misplaced(
            (*path, "on"), f"no picture of this beat is called `{stroke.on}` — {suggestion(stroke.on, names)}"
        )
    elif stroke.on is None and all(shot.comparison is not None for shot in pictures):
        wanted = " or ".join(f"`on: {name}`" for name in names)
        yield Misplaced(path, f"the stroke is on a shot with several pictures — add {wanted}", at_key=True)


def _points(board: Storyboard, path: Path, beat: Beat, stroke: StrokeSpec) -> Iterator[Misplaced]:
    """A named point must be known for a picture that the stroke may lie on."""
    known = _known_points(board, beat, stroke)
    for inner, point in _written_points(stroke):
        if not isinstance(point, NamedPoint) or str(point) in known:
            continue
        hint = suggestion(str(point), sorted(known)) if known else "its clips have no points"
        yield Misplaced((*path, *inner), f"no clip of this beat has a point `{point}` — {hint}")


def _known_points(board: Storyboard, beat: Beat, stroke: StrokeSpec) -> set[str]:
    """Names of points that lead to a spot: with their position, and without it where that position is shown."""
    names: set[str] = set()
    for s, shot in enumerate(beat.show):
        for where, clip_id, moments in shot_moments(("show", s), shot):
            if stroke.on is not None and stroke.on in shot.pane_names and where[-1] != _last_key(shot, stroke.on):
                continue
            clip = board.clips.get(clip_id)
            points = clip.points if clip is not None else {}
            names |= {f"{position}.{name}" for position, spots in points.items() for name in spots}
            for _, moment in moments:
                if isinstance(moment, str):
                    names |= set(points.get(moment, {}))
    return names


def _last_key(shot: ShotSpec, name: str) -> str:
    """The last key of the path that leads to a picture of a shot."""
    return shot.kind if name == "wide" else name


def _written_points(stroke: StrokeSpec) -> Iterator[tuple[Path, Point | NamedPoint]]:
    content = getattr(stroke, stroke.kind)
    disc = stroke.ring or stroke.shade
    if disc is not None:
        yield (stroke.kind, "centre"), disc.centre
    elif isinstance(content, tuple):
        for index, point in enumerate(content):
            yield (stroke.kind, index), point
    else:
        yield (stroke.kind,), content

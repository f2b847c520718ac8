"""From a storyboard and what was measured to the plan: drafts, words, needs, fit, and everything on whole frames."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from segmentkit.facts import Facts
from segmentkit.findings import Finding, Severity
from segmentkit.geometry import Rect
from segmentkit.plan.cards import frames_to_read, full_screen_card, guide_marks, placed_cards
from segmentkit.plan.defaults import FADE_IN, FADE_OUT, Grid
from segmentkit.plan.faces import with_faces
from segmentkit.plan.fit import Part, Stretch, divide, fit, reach
from segmentkit.plan.model import Card, ClipPicture, MusicCue, NaturalSound, Plan, PlannedBeat, Shot, Speech, Stroke
from segmentkit.plan.moments import Footage
from segmentkit.plan.panes import Stage, entry, panes
from segmentkit.plan.sheets import Sheet, hidden, made_room, sheet_of_shot, sheets_of, with_sheets
from segmentkit.plan.shots import Draft, Problem, draft
from segmentkit.plan.speech import BeatSpeech, beat_speech, placed_speech
from segmentkit.plan.strokes import (
    Origin,
    StrokeTiming,
    kept_strokes,
    parts_with_strokes,
    placed_strokes,
    stroke_timings,
)
from segmentkit.plan.thirds import Seen, at_head, head_wanted, raised
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.storyboard.model import Beat, Storyboard
from segmentkit.storyboard.shots import Follow
from segmentkit.timebase import Span, nearest_frame, seconds_of

Path_ = tuple[str | int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _DraftBeat:
    """A beat before the fit: everything but its length is known."""

    index: int
    beat: Beat
    drafts: tuple[Draft, ...]
    speech: BeatSpeech
    timings: tuple[StrokeTiming, ...]
    parts: tuple[Part, ...]
    stretch: Stretch
    needs: int


class _Problems:
    """Collects moments and points that do not exist, each with its place."""

    def __init__(self, loaded: LoadedStoryboard) -> None:
        self._loaded = loaded
        self.findings: list[Finding] = []

    def add(self, what: str, path: Path_, where: str) -> None:
        problem, _, remedy = what.partition(" — ")
        finding = Finding(
            id="moment-missing",
            severity=Severity.ERROR,
            where=where,
            what=problem,
            remedy=remedy or "name a moment that the clip has",
            place=self._loaded.place(*path),
        )
        # A beat's pictures are placed anew when they make room; what was said of them was said.
        if finding not in self.findings:
            self.findings.append(finding)


def build_plan(loaded: LoadedStoryboard, facts: Facts, *, slot: int | None = None) -> tuple[Plan, tuple[Finding, ...]]:
    """Plans a segment on whole frames.

    Args:
        loaded: the storyboard; its references are known to hold.
        facts: what was measured of its clips, stills and readings.
        slot: another length in frames, to answer "what if"; else the storyboard's own.

    Returns:
        The plan, and findings for moments and points that do not exist (stood in for, so that all are found at once).
        When the beats cannot meet the slot the plan is as near as they allow: `plan.frames` then differs from
        `plan.slot`, and the checks say by how much.
    """
    board = loaded.board
    grid = Grid(board.segment.rate)
    wanted = slot if slot is not None else nearest_frame(seconds_of(board.segment.slot, grid.rate), grid.rate)
    problems = _Problems(loaded)
    footage = {id_: Footage(id_, board.clips[id_], clip) for id_, clip in facts.clips.items()}
    readings = {(reading.beat, reading.line): reading for reading in facts.readings}
    drafted = [
        _draft_beat(index, beat, footage, beat_speech(board, beat, readings, grid), grid, problems, board)
        for index, beat in enumerate(board.beats)
    ]
    lengths = fit([item.stretch for item in drafted], wanted)
    beats: list[PlannedBeat] = []
    shots: list[Shot] = []
    strokes: list[Stroke] = []
    cards: list[Card] = []
    speech: list[Speech] = []
    origins: dict[str, Origin] = {}
    start = 0
    for item, length in zip(drafted, lengths, strict=True):
        span = Span(start, start + length)
        beats.append(_planned_beat(item, span))
        placed = _placed_shots(item, span, loaded, footage, facts, problems, ())
        own_cards = _cards(item, placed, span, loaded, grid)
        # A panel keeps off the player, and then the picture makes room for the panel.
        if sheets := sheets_of(own_cards, _canvas(loaded)):
            placed = _placed_shots(item, span, loaded, footage, facts, problems, sheets)
        known = Seen(footage=footage, scenes=facts.scenes)
        if head := head_wanted(own_cards, placed, known, _canvas(loaded)):
            lower = _placed_shots(item, span, loaded, footage, facts, problems, sheets, head)
            if at_head(own_cards, lower, placed, known, head, _canvas(loaded)):
                placed, own_cards = lower, raised(own_cards)
        own_shots = with_faces(placed, board)
        shots.extend(own_shots)
        own_strokes = _strokes(item, own_shots, loaded, facts, grid, problems)
        for stroke in own_strokes:
            picture = _picture(own_shots, stroke)
            if isinstance(picture, ClipPicture):
                follows = item.beat.strokes[stroke.id].follow is Follow.BACKGROUND
                origins[stroke.id] = Origin(stroke, picture.clip, follows)
        strokes.extend(kept_strokes(item.beat, own_shots, origins, facts.tracks))
        strokes.extend(own_strokes)
        cards.extend(own_cards)
        speech.extend(placed_speech(board, item.beat, item.speech, start, grid))
        start += length
    cards.extend(guide_marks(speech))
    plan = Plan(
        title=board.segment.title,
        rate=grid.rate,
        size=board.segment.size,
        slot=wanted,
        beats=tuple(beats),
        shots=tuple(shots),
        strokes=tuple(strokes),
        cards=tuple(cards),
        speech=tuple(speech),
        natural=_natural(drafted, shots, footage),
        music=_music(loaded, beats, grid),
    )
    return plan, tuple(problems.findings)


def _draft_beat(
    index: int,
    beat: Beat,
    footage: Mapping[str, Footage],
    speech: BeatSpeech,
    grid: Grid,
    problems: _Problems,
    board: Storyboard,
) -> _DraftBeat:
    def reporter(shot: int) -> Problem:
        where = f"beat {beat.beat}, shot {shot + 1}"
        return lambda what, path: problems.add(what, ("beats", index, "show", shot, *path), where)

    drafts = tuple(
        draft(spec, footage, grid.rate, reporter(shot), frames_to_read(spec, board, grid))
        for shot, spec in enumerate(beat.show)
    )
    timings = stroke_timings(beat, drafts, speech, grid)
    parts = tuple(parts_with_strokes(drafts, timings, grid))
    least, most = reach(parts)[-1]
    nominal = sum(part.stretch.nominal for part in parts)
    needs = max([speech.needs, *(part.end_from for part in parts)])
    least = max(least, min(speech.needs, most))
    nominal = max(least, min(nominal, most))
    if beat.length is not None:
        wanted = max(least, min(grid.frames(beat.length), most))
        least = nominal = most = wanted
    elif beat.rigid:
        least = most = nominal
    stretch = Stretch(least=least, nominal=nominal, most=most, gives=beat.gives)
    return _DraftBeat(
        index=index,
        beat=beat,
        drafts=drafts,
        speech=speech,
        timings=timings,
        parts=parts,
        stretch=stretch,
        needs=needs,
    )


def _planned_beat(item: _DraftBeat, span: Span) -> PlannedBeat:
    return PlannedBeat(
        id=item.beat.beat,
        span=span,
        least=item.stretch.least,
        nominal=item.stretch.nominal,
        most=item.stretch.most,
        words_end=None if item.speech.words_end is None else span.start + item.speech.words_end,
        needs=item.needs,
        rigid=item.stretch.least == item.stretch.most,
    )


def _placed_shots(
    item: _DraftBeat,
    span: Span,
    loaded: LoadedStoryboard,
    footage: Mapping[str, Footage],
    facts: Facts,
    problems: _Problems,
    sheets: Sequence[Sheet],
    head: float = 0.0,
) -> list[Shot]:
    shots = []
    start = span.start
    grid = Grid(loaded.board.segment.rate)
    for index, (draft_, frames) in enumerate(zip(item.drafts, divide(item.parts, span.frames), strict=True)):
        stage = Stage(
            board=loaded.board, footage=footage, facts=facts, grid=grid, problem=_of_shot(item, index, problems),
            head=head,
        )  # fmt: skip
        pictures, left = panes(draft_, frames, stage)
        sheet = sheet_of_shot(sheets, Span(start, start + frames))
        if sheet is not None and not all(pane.soften for pane in pictures):
            beside = replace(stage, aside=sheet.free)
            if sheet.foot:
                beside = replace(stage, free=sheet.free, hidden=hidden(sheet.free), head=0.0)
            up, left_up = panes(draft_, frames, beside)
            made = made_room(pictures, up, sheet, Span(start, start + frames))
            pictures, left = made, left_up if made == up else left
        shots.append(
            Shot(
                id=f"{item.beat.beat}/{index}",
                beat=item.beat.beat,
                kind=draft_.kind,
                span=Span(start, start + frames),
                panes=pictures,
                speed=draft_.speed,
                enter=entry(draft_, frames, grid) if start else None,
                matched=left,
            )
        )
        start += frames
    return shots


def _of_shot(item: _DraftBeat, shot: int, problems: _Problems) -> Problem:
    where = f"beat {item.beat.beat}, shot {shot + 1}"
    return lambda what, path: problems.add(what, ("beats", item.index, "show", shot, *path), where)


def _strokes(
    item: _DraftBeat, shots: Sequence[Shot], loaded: LoadedStoryboard, facts: Facts, grid: Grid, problems: _Problems
) -> list[Stroke]:
    def problem(what: str, path: Path_) -> None:
        problems.add(what, ("beats", item.index, *path), f"beat {item.beat.beat}, stroke {path[-1]}")

    return placed_strokes(item.beat, item.timings, shots, loaded.board, grid, problem, facts.tracks)


def _picture(shots: Sequence[Shot], stroke: Stroke) -> object:
    shot = next(shot for shot in shots if shot.id == stroke.shot)
    return shot.panes[stroke.pane].picture


def _cards(item: _DraftBeat, shots: Sequence[Shot], span: Span, loaded: LoadedStoryboard, grid: Grid) -> list[Card]:
    whole = (
        full_screen_card(item.beat, index, spec, shot, loaded.board, grid)
        for index, (spec, shot) in enumerate(zip(item.beat.show, shots, strict=True))
    )
    laid = placed_cards(item.beat, span, item.speech, loaded.board, grid, shots)
    return [card for card in whole if card] + with_sheets(laid, _canvas(loaded))


def _canvas(loaded: LoadedStoryboard) -> Rect:
    size = loaded.board.segment.size
    return Rect(0, 0, size.width, size.height)


def _natural(
    drafted: Sequence[_DraftBeat], shots: Sequence[Shot], footage: Mapping[str, Footage]
) -> tuple[NaturalSound, ...]:
    """Sound of clips in motion at real speed; slowed sound is of no use to a viewer and is left out."""
    specs = [spec for item in drafted for spec in item.beat.show]
    sounds = []
    for spec, shot in zip(specs, shots, strict=True):
        if spec.run is None or not spec.run.sound or spec.run.speed != 1:
            continue
        clip = footage[spec.run.clip]
        picture = shot.panes[0].picture
        if clip.facts.has_sound and clip.spec.captured is None and isinstance(picture, ClipPicture):
            sounds.append(NaturalSound(clip=clip.id, span=shot.span, source_start=clip.facts.times[picture.frames[0]]))
    return tuple(sounds)


def _music(loaded: LoadedStoryboard, beats: Sequence[PlannedBeat], grid: Grid) -> tuple[MusicCue, ...]:
    spans = {beat.id: beat.span for beat in beats}
    return tuple(
        MusicCue(
            path=loaded.folder / cue.file,
            span=Span(
                spans[cue.from_].start if cue.from_ else beats[0].span.start,
                spans[cue.until].end if cue.until else beats[-1].span.end,
            ),
            level_db=cue.level,
            under_speech_db=cue.under_speech,
            fade_in=grid.frames(cue.fade_in, FADE_IN),
            fade_out=grid.frames(cue.fade_out, FADE_OUT),
        )
        for cue in loaded.board.music
    )

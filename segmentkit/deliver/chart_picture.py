"""The upper lanes of the timing chart: clock, beats and their slack, pictures, what is held, and strokes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from segmentkit.deliver import ink
from segmentkit.deliver.envelope import Envelope
from segmentkit.deliver.staves import Stave, pack
from segmentkit.deliver.svg import STRONG, Sheet, first_fitting, fitted, text_width
from segmentkit.plan.backtime import over_meaning, over_text
from segmentkit.plan.model import ClipPicture, Plan, PlannedBeat, Shot, Stroke
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import Span, clock_text, frames_covering, label_of_frame, seconds_of_frame, seconds_text

BOARDS = frozenset({"title", "end_board", "still"})
_PICTURE = 46


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """What the lanes are drawn from.

    Attributes:
        sheet: what they are drawn on.
        thumbnails: a JPEG of some shots, by shot id.
        envelopes: how loud each recorded line is, by beat and line.
    """

    plan: Plan
    board: Storyboard
    sheet: Sheet
    thumbnails: Mapping[str, bytes]
    envelopes: Mapping[tuple[str, int], Envelope]

    def clock(self, frame: int) -> str:
        """A moment as a running time."""
        return clock_text(seconds_of_frame(frame, self.plan.rate))

    def lasting(self, frames: int) -> str:
        """A length in seconds, one decimal."""
        return seconds_text(seconds_of_frame(frames, self.plan.rate), 1).replace("s", " s")

    def exactly(self, frames: int) -> str:
        """A length in seconds and in frames."""
        return f"{self.lasting(frames)} ({frames} frames)"

    def label(self, frame: int) -> str:
        """A moment as a label."""
        return str(label_of_frame(frame, self.plan.rate))

    def beats_of(self, stave: Stave) -> list[PlannedBeat]:
        """The beats of a stave."""
        return [beat for beat in self.plan.beats if beat.span.overlap(stave.span)]


def clock_lane(chart: Chart, stave: Stave, y: float) -> float:
    """A tick a second, a longer one every five, the running time every ten."""
    sheet, rate = chart.sheet, chart.plan.rate
    second = 0
    while (frame := frames_covering(second * rate.fps / rate.fps, rate)) <= stave.span.end:
        if frame >= stave.span.start:
            x = stave.x(frame)
            long = second % 5 == 0
            sheet.line(x, y + (10 if long else 13), x, y + 17, ink.INK if long else ink.LINE)
            if second % 10 == 0 and x < stave.right - 12:
                sheet.text(x + 3, y + 9, f"{second // 60}:{second % 60:02}", 9, ink.QUIET)
        second += 1
    sheet.line(stave.left, y + 17, stave.end, y + 17, ink.INK)
    return 20


def beat_lane(chart: Chart, stave: Stave, y: float) -> float:
    """Each beat with its name, its length, when it starts and what is to go from there."""
    sheet, plan = chart.sheet, chart.plan
    for beat in chart.beats_of(stave):
        x, width = stave.x(beat.span.start), beat.span.frames * stave.per_frame - 1.2
        to_go = plan.frames - beat.span.start
        title = (
            f"{beat.id}: {chart.label(beat.span.start)}, {chart.exactly(beat.span.frames)}, "
            f"{chart.clock(to_go)} to go; least {chart.lasting(beat.least)}, most {chart.lasting(beat.most)}"
        )
        with sheet.titled(title):
            sheet.rect(x, y, width, 31, ink.SLATE if beat.rigid else ink.SEA, radius=2)
            sheet.text(
                x + 5,
                y + 13,
                fitted(beat.id.replace("_", " "), width - 8, 11.5, STRONG),
                11.5,
                ink.PAPER,
                weight=STRONG,
            )
            given = chart.lasting(beat.span.frames)
            length = first_fitting([f"{given}, rigid" if beat.rigid else given, given, given[:-2]], width - 8, 9.5)
            sheet.text(x + 5, y + 25, length, 9.5, ink.SAND)
            start, left = chart.clock(beat.span.start), chart.clock(to_go)
            sheet.text(
                x + 5, y + 41, first_fitting([start, start[:-2]], width - 4, 9.5, STRONG), 9.5, ink.INK, weight=STRONG
            )
            sheet.text(x + 5, y + 52, first_fitting([f"−{left}", f"−{left[:-2]}"], width - 4, 9.5), 9.5, ink.QUIET)
    return 58


def slack_lane(chart: Chart, stave: Stave, y: float) -> float:
    """How long each beat may be, from its start: dark to its least, grey on to its most, lighter past what it has."""
    sheet, beats = chart.sheet, chart.beats_of(stave)
    texts = [
        f"rigid {_bare(chart, b.least)}" if b.rigid else f"{_bare(chart, b.least)} – {chart.lasting(b.most)}"
        for b in beats
    ]
    ends = [
        min(stave.x(b.span.start) + b.most * stave.per_frame, stave.right - text_width(t, 8) - 6)
        for b, t in zip(beats, texts, strict=True)
    ]
    extents = [(stave.x(b.span.start), e + 4 + text_width(t, 8)) for b, e, t in zip(beats, ends, texts, strict=True)]
    rows = pack(extents, gap=6)
    for beat, text, end, row in zip(beats, texts, ends, rows, strict=True):
        x, top = stave.x(beat.span.start), y + row * 10
        least, given = (min(x + n * stave.per_frame, end) for n in (beat.least, beat.span.frames))
        with sheet.titled(f"{beat.id}: {text}; has {chart.lasting(beat.span.frames)}"):
            sheet.rect(x, top + 2, end - x, 5, ink.PAPER, stroke=ink.SLACK)
            sheet.rect(x, top + 2, max(least, given) - x, 5, ink.SLACK)
            sheet.rect(x, top + 2, least - x, 5, ink.SLATE if beat.rigid else ink.SEA)
            if not beat.rigid:
                nominal = min(x + beat.nominal * stave.per_frame, end)
                sheet.line(nominal, top, nominal, top + 9, ink.INK, width=1)
            sheet.text(end + 4, top + 7.5, text, 8, ink.QUIET)
    return 10 * (max(rows, default=0) + 1) + 5


def _bare(chart: Chart, frames: int) -> str:
    return chart.lasting(frames).removesuffix(" s")


def picture_lane(chart: Chart, stave: Stave, y: float) -> float:
    """Each shot with its kind and speed, and a small picture of it if there is one."""
    sheet = chart.sheet
    tall = _PICTURE if chart.thumbnails else 0
    for shot in chart.plan.shots:
        if not shot.span.overlap(stave.span):
            continue
        x, width = stave.x(shot.span.start), shot.span.frames * stave.per_frame - 0.8
        fill = ink.SEA_PALE if held_from(shot) else ink.SAND if shot.kind in BOARDS else ink.PANEL
        with sheet.titled(f"{shot.id}: {shot_words(shot)}, {chart.exactly(shot.span.frames)}"):
            sheet.rect(x, y, width, tall + 25, fill, stroke=ink.LINE)
            if picture := chart.thumbnails.get(shot.id):
                wide = min(width - 2, tall * chart.plan.size.width / chart.plan.size.height)
                sheet.image(x + 1, y + 1, wide, tall - 1, picture)
            kind, what = _short(shot)
            sheet.text(x + 3, y + tall + 10, first_fitting(kind, width - 5, 9, STRONG), 9, ink.INK, weight=STRONG)
            sheet.text(x + 3, y + tall + 20, fitted(what, width - 5, 8), 8, ink.QUIET)
    return tall + 29


def shot_words(shot: Shot) -> str:
    """A shot as a person would call it."""
    kind = shot.kind.replace("_", " ")
    speed = f" at {shot.speed}" if shot.speed is not None and shot.speed != 1 else ""
    return f"{kind}{speed} {_clips(shot)}".strip()


def _short(shot: Shot) -> tuple[list[str], str]:
    kind = shot.kind.replace("_", " ")
    if shot.kind == "run":
        speed = "real time" if shot.speed == 1 else f"speed {shot.speed}"
        return [f"run, {speed}", f"run {shot.speed}", str(shot.speed)], _clips(shot)
    return [kind, kind[:4]], _clips(shot)


def _clips(shot: Shot) -> str:
    names = []
    for pane in shot.panes:
        picture = pane.picture
        if isinstance(picture, ClipPicture):
            position = f" {picture.position}" if picture.position else ""
            names.append(f"{picture.clip}{position}".replace("_", " "))
        else:
            names.append(picture.still.replace("_", " "))
    return " | ".join(names)


def held_from(shot: Shot) -> int:
    """The frame of a shot from which nothing moves in it: 0 for a frozen one, its last for a clip in motion."""
    pictures = (pane.picture.frames for pane in shot.panes if isinstance(pane.picture, ClipPicture))
    return max((_still_from(frames) for frames in pictures), default=0)


def _still_from(frames: tuple[int, ...]) -> int:
    index = len(frames)
    while index and frames[index - 1] == frames[-1]:
        index -= 1
    return index


def held_lane(chart: Chart, stave: Stave, y: float) -> float:
    """How long each frozen picture is looked at; what a motion ends on for a moment is not counted."""
    sheet = chart.sheet
    for shot in chart.plan.shots:
        start = shot.span.start + held_from(shot)
        if shot.kind in {"run", *BOARDS} or start >= shot.span.end or not shot.span.overlap(stave.span):
            continue
        x, width = stave.x(start), (shot.span.end - start) * stave.per_frame - 1.5
        position = next((p.picture.position for p in shot.panes if isinstance(p.picture, ClipPicture)), None)
        held = chart.lasting(shot.span.end - start)
        texts = [f"{position.replace('_', ' ')} held {held}"] if position else []
        with sheet.titled(f"{shot.id}: held {held}"):
            sheet.line(x, y + 3, x + width, y + 3, ink.SAND_DEEP, width=2.4)
            sheet.text(x + 3, y + 13, first_fitting([*texts, f"held {held}", held], width - 4, 8.5), 8.5, ink.SAND_DEEP)
    return 18


def stroke_lane(chart: Chart, stave: Stave, y: float) -> float:
    """Each stroke: drawn, looked at, wiped or cut; kept ones pale; a tick from its start to the word that starts it."""
    sheet = chart.sheet
    strokes = [s for s in _joined(chart.plan) if s.span.overlap(stave.span)]
    if not strokes:
        sheet.text(stave.left + 3, y + 9, "no strokes", 8.5, ink.SLACK)
        return 14
    places = []
    for stroke in strokes:
        name = f"{_name(stroke)}, kept" if stroke.kept else _name(stroke)
        start, end, size = stave.x(stroke.span.start), stave.x(stroke.span.end), text_width(name, 8.5)
        ramp = 0.0 if stroke.kept else stroke.draw_frames * stave.per_frame
        text = start + ramp + 4
        if text + size > stave.right:
            text = max(stave.left, start - size - 4)
        places.append((name, start, end, text, min(start, text), max(end, text + size)))
    rows = pack([(low, high) for *_, low, high in places], gap=4)
    bottom = y + 12 * (max(rows) + 1)
    cues = [(stroke, stave.x(stroke.cue_frame)) for stroke in strokes if stroke.cue_frame is not None and stroke.cue]
    for stroke, x in cues:  # beneath the bars
        sheet.line(
            x,
            y + 12 * rows[strokes.index(stroke)] + 6,
            x,
            bottom + 2,
            ink.STROKES[stroke.role],
            width=0.9,
            dash="2 1.6",
        )
    for stroke, row, (name, start, end, text, _, _) in zip(strokes, rows, places, strict=True):
        _bar(chart, stave, stroke, y + 12 * row, start, end)
        pale = stroke.kept or text + text_width(name, 8.5) > end
        sheet.text(text, y + 12 * row + 8.6, name, 8.5, ink.QUIET if stroke.kept else ink.INK if pale else ink.PAPER)
    return bottom - y + _cue_words(chart, stave, cues, bottom)


def _name(stroke: Stroke) -> str:
    return stroke.id.replace("_", " ")


def _bar(chart: Chart, stave: Stave, stroke: Stroke, y: float, start: float, end: float) -> None:
    sheet, colour = chart.sheet, ink.STROKES[stroke.role]
    cue = f', on "{stroke.cue}"' if stroke.cue else ""
    kind = f"{stroke.role} {stroke.kind.replace('_', ' ')}"
    title = f"{stroke.id}: {kind}, {chart.label(stroke.span.start)}, {chart.exactly(stroke.span.frames)}{cue}"
    with sheet.titled(title):
        if stroke.kept:
            sheet.rect(start, y + 9.6, end - start - 1, 1.2, colour, opacity=0.55)
            return
        drawn = min(end, start + stroke.draw_frames * stave.per_frame)
        wiped = max(drawn, end - stroke.wipe_frames * stave.per_frame)
        sheet.polygon(
            [
                (start, y + 11),
                (drawn, y + 1),
                (wiped, y + 1),
                (end - 1, y + (11 if stroke.wipe_frames else 1)),
                (end - 1, y + 11),
            ],
            colour,
        )


def _cue_words(chart: Chart, stave: Stave, cues: list[tuple[Stroke, float]], y: float) -> float:
    """The words on which strokes start, under their ticks."""
    texts = [f"“{(stroke.cue or '').strip('.,;:!?')}”" for stroke, _ in cues]
    lefts = [min(x + 2, stave.right - text_width(t, 9, STRONG)) for (_, x), t in zip(cues, texts, strict=True)]
    rows = pack([(left, left + text_width(t, 9, STRONG)) for left, t in zip(lefts, texts, strict=True)], gap=5)
    height = 12 * (max(rows, default=-1) + 1)
    for (stroke, x), text, left, row in zip(cues, texts, lefts, rows, strict=True):
        colour = ink.STROKES[stroke.role]
        chart.sheet.line(x, y + 2, x, y + height + 6, colour, width=0.9, dash="2 1.6")
        chart.sheet.text(left, y + 12 * row + 9.5, text, 9, colour, weight=STRONG)
    return height + 4


def _joined(plan: Plan) -> list[Stroke]:
    """Strokes as seen: appearances of a kept stroke in shots that follow one another are one."""
    joined: list[Stroke] = []
    for _, own in groupby(sorted(plan.strokes, key=lambda s: (s.id, s.kept)), key=lambda s: (s.id, s.kept)):
        for stroke in sorted(own, key=lambda s: s.span.start):
            last = joined[-1] if joined else None
            if (
                stroke.kept
                and last is not None
                and last.kept
                and last.id == stroke.id
                and last.span.end >= stroke.span.start
            ):
                joined[-1] = replace(last, span=Span(last.span.start, max(last.span.end, stroke.span.end)))
            else:
                joined.append(stroke)
    return sorted(joined, key=lambda s: (s.span.start, s.kept))


def over_words(chart: Chart) -> tuple[str, str, str]:
    """The big figure, what it means, and its colour."""
    over = chart.plan.frames - chart.plan.slot
    return over_text(over, chart.plan.rate), over_meaning(over), ink.WARNING if over else ink.SEA

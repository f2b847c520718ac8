"""The lower lanes of the timing chart: words with their waveform, cards, music and natural sound."""

from __future__ import annotations

from collections.abc import Iterator

from segmentkit.deliver import ink
from segmentkit.deliver.chart_picture import Chart
from segmentkit.deliver.staves import Stave, pack
from segmentkit.deliver.svg import REGULAR, STRONG, fitted, text_width
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import Card, MusicCue, Speech
from segmentkit.timebase import nearest_frame

_WORDS = 8.4
_LEADING = 10.2
_WAVE = 34
_MUSIC = 26
_FLOOR_DB = -30.0


def voice_colours(chart: Chart) -> dict[str, str]:
    """A colour for each speaker, in the order in which they are first heard."""
    names = dict.fromkeys(line.speaker for line in chart.plan.speech)
    return {name: ink.VOICES[index % len(ink.VOICES)] for index, name in enumerate(names)}


def voice_lane(chart: Chart, stave: Stave, y: float) -> float:
    """Each line as a waveform, with its speaker above and its words below."""
    sheet, colours = chart.sheet, voice_colours(chart)
    lines = [line for line in chart.plan.speech if line.span.overlap(stave.span)]
    middle = y + 12 + _WAVE / 2
    sheet.line(stave.left, middle, stave.end, middle, ink.LINE)
    speaker, lowest = "", y + 12 + _WAVE
    for index, line in enumerate(lines):
        x, width = stave.x(line.span.start), line.span.frames * stave.per_frame
        after = stave.x(lines[index + 1].span.start) if index + 1 < len(lines) else stave.right
        room = max(width, after - x) - 5
        colour = colours[line.speaker]
        who = f"{line.shown} (guide)" if line.is_guide else line.shown
        with sheet.titled(f"{who}, {chart.label(line.span.start)}, {chart.lasting(line.span.frames)}: {line.text}"):
            _wave(chart, line, x, middle, stave.per_frame, colour)
            if who != speaker:
                sheet.text(x, y + 8.5, fitted(who, room, 9, STRONG), 9, colour, weight=STRONG)
                speaker = who
            lowest = max(lowest, _words(chart, line, x, y + 12 + _WAVE + 9, room))
    return lowest - y + 4


def _wave(chart: Chart, line: Speech, x: float, middle: float, per_frame: float, colour: str) -> None:
    envelope = chart.envelopes.get((line.beat, line.line))
    width = line.span.frames * per_frame
    if not envelope:
        chart.sheet.rect(x, middle - 5, width, 10, "none", stroke=colour, dash="3 2")
        return
    step = max(1, round(0.8 / per_frame))  # nothing finer than the pen
    tops = [max(envelope[k : k + step]) for k in range(0, len(envelope), step)]
    points = [(x + (k + 0.5) * step * per_frame, 0.6 + top**0.7 * (_WAVE / 2 - 1)) for k, top in enumerate(tops)]
    points = [(min(px, x + width), half) for px, half in points]
    outline = [(px, middle - half) for px, half in points] + [(px, middle + half) for px, half in reversed(points)]
    chart.sheet.polygon(outline, colour, opacity=0.85)


def _words(chart: Chart, line: Speech, x: float, y: float, room: float) -> float:
    """The words under their sound; returns where they end."""
    below = y
    for runs in _rows(chart, line, room):
        chart.sheet.runs(x, below, runs, _WORDS)
        below += _LEADING
    return below - _LEADING + 3


def _rows(chart: Chart, line: Speech, room: float) -> Iterator[list[tuple[str, str, int]]]:
    """Rows of words that fit; cue words strong, words that may be left out in the colour of slack."""
    spec = next(beat for beat in chart.board.beats if beat.beat == line.beat).say[line.line]
    cues = {mark.word for mark in spec.marks}
    row: list[tuple[str, str, int]] = []
    used = 0.0
    for index, word in enumerate(line.words):
        spare = next((stretch for stretch in spec.spare if index in stretch), None)
        text = word.text
        if spare is not None:
            text = ("{" if index == spare.first else "") + text + ("}" if index == spare.last - 1 else "")
        weight = STRONG if index in cues else REGULAR
        text = fitted(text, room, _WORDS, weight)
        width = text_width(text + " ", _WORDS, weight)
        if row and used + width > room:
            yield row
            row, used = [], 0.0
        row.append((text + " ", ink.SUN if spare is not None else ink.INK, weight))
        used += width
    if row:
        yield row


def card_lane(chart: Chart, stave: Stave, y: float) -> float:
    """Each card with its kind and its first words."""
    sheet = chart.sheet
    cards = [c for c in chart.plan.cards if c.kind != GUIDE_MARK and c.span.overlap(stave.span)]
    if not cards:
        sheet.text(stave.left + 3, y + 9, "no cards", 8.5, ink.SLACK)
        return 14
    rows = pack([(stave.x(card.span.start), stave.x(card.span.end)) for card in cards], gap=1)
    for card, row in zip(cards, rows, strict=True):
        x, width, top = stave.x(card.span.start), card.span.frames * stave.per_frame - 1, y + 16 * row
        kind, fill = card.kind.replace("_", " "), _card_fill(card)
        text = " · ".join(text for _, text in card.fields)
        with sheet.titled(
            f"{kind}, {chart.label(card.span.start)}, {chart.lasting(card.span.frames)}, {card.words} words: {text}"
        ):
            sheet.rect(x, top, width, 14, fill, stroke=ink.SAND_DEEP, radius=2)
            name = fitted(kind, width - 7, 8.5, STRONG)
            sheet.text(x + 4, top + 10, name, 8.5, ink.INK, weight=STRONG)
            used = text_width(name, 8.5, STRONG) + 10
            if name == kind:
                sheet.text(x + used, top + 10, fitted(text, width - used - 4, 8.5), 8.5, ink.INK)
    return 16 * (max(rows) + 1) + 4


def _card_fill(card: Card) -> str:
    return ink.CAUTION if card.kind in {"caution", "disclosure"} else ink.SAND


def sound_lane(chart: Chart, stave: Stave, y: float) -> float:
    """Music as its level, lowered under speech; natural sound as a bar."""
    sheet = chart.sheet
    music = [cue for cue in chart.plan.music if cue.span.overlap(stave.span)]
    natural = [sound for sound in chart.plan.natural if sound.span.overlap(stave.span)]
    if not music and not natural:
        sheet.text(stave.left + 3, y + 9, "voice alone", 8.5, ink.SLACK)
        return 14
    height = 0.0
    if music:
        height = _MUSIC + 12
        sheet.line(stave.left, y + _MUSIC, stave.end, y + _MUSIC, ink.LINE)
    taken = stave.left
    for cue in music:
        x = max(stave.x(cue.span.start) + 2, taken)
        title = f"{cue.path.name}: {cue.level_db:g} dB against the voices, {cue.under_speech_db:g} dB under them"
        with sheet.titled(title):
            sheet.polygon(list(_level(chart, cue, stave, y)), ink.GRASS, opacity=0.75)
            text = fitted(f"{cue.path.name} {cue.level_db:g} / {cue.under_speech_db:g} dB", stave.right - x, 8)
            sheet.text(x, y + _MUSIC + 9, text, 8, ink.QUIET)
            taken = x + text_width(text, 8) + 8
    for sound in natural:
        x, width = stave.x(sound.span.start), sound.span.frames * stave.per_frame - 1
        with sheet.titled(
            f"natural sound of {sound.clip}, {chart.label(sound.span.start)}, {chart.lasting(sound.span.frames)}"
        ):
            sheet.rect(x, y + height, width, 12, ink.SEA_PALE, stroke=ink.SEA)
            sheet.text(
                x + 3,
                y + height + 9,
                fitted(f"natural sound, {sound.clip.replace('_', ' ')}", width - 5, 8),
                8,
                ink.INK,
            )
    return height + (16 if natural else 2)


def _level(chart: Chart, cue: MusicCue, stave: Stave, y: float) -> Iterator[tuple[float, float]]:
    """The outline of a level: faded in and out, down while anybody speaks, with ramps of a third of a second."""
    rate = chart.plan.rate
    ramp = max(1, nearest_frame(rate.fps / rate.fps / 3, rate))
    spoken = [line.span for line in chart.plan.speech if line.span.overlap(cue.span)]
    first, last = max(cue.span.start, stave.span.start), min(cue.span.end, stave.span.end)
    bottom = y + _MUSIC
    yield stave.x(first), bottom
    for frame in range(first, last + 1):
        away = min((max(s.start - frame, frame - s.end, 0) for s in spoken), default=ramp)
        duck = max(0.0, 1 - away / ramp)
        level = cue.level_db + (cue.under_speech_db - cue.level_db) * duck
        height = max(0.0, 1 - level / _FLOOR_DB) * (_MUSIC - 2)
        fade = min(
            1.0,
            (frame - cue.span.start) / cue.fade_in if cue.fade_in else 1.0,
            (cue.span.end - frame) / cue.fade_out if cue.fade_out else 1.0,
        )
        yield stave.x(frame), bottom - height * fade
    yield stave.x(last), bottom

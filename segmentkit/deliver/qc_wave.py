"""The sound of a finished file as drawings: the whole with every flag on it, and the seconds around one flag."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from segmentkit.checks.qc_check import Flag
from segmentkit.deliver import ink
from segmentkit.deliver.svg import Sheet
from segmentkit.findings import Severity
from segmentkit.screened import Screened
from segmentkit.timebase import Span, clock_text, seconds_of_frame

_WIDE, _TALL = 1200.0, 150.0
_AROUND = 2.0  # seconds to either side of a flag
_PER_SECOND = 20
_FLOOR = -48.0  # dB at which a drawing of sound begins; a linear one shows peaks only
_LEAST_MARK = 3.0


def _height(level: float) -> float:
    """0 to 1 for a level of samples, in decibels."""
    if level <= 0:
        return 0.0
    return min(1.0, max(0.0, 1 - 20 * math.log10(level) / _FLOOR))


def strip(measured: Screened, flags: Sequence[Flag]) -> str:
    """The whole file from left to right: sound below, flags as marks above it, leader and tail shaded."""
    sheet = Sheet()
    seconds = float(measured.pictures.frames / measured.coded.rate.fps)
    scale = _WIDE / max(seconds, 0.001)
    top, bottom = 42.0, _TALL - 22.0
    sheet.rect(0, top, _WIDE, bottom - top, ink.PAPER)
    _sound(sheet, measured, 0.0, seconds, (0, top, _WIDE, bottom - top))
    fps = float(measured.coded.rate.fps)
    for start, end in ((0, measured.programme.start), (measured.programme.end, measured.pictures.frames)):
        if end > start:
            sheet.rect(start / fps * scale, top, (end - start) / fps * scale, bottom - top, ink.SLACK, opacity=0.55)
    for flag in sorted(flags, key=lambda one: -one.finding.severity.rank):
        if flag.span is not None:
            _mark(sheet, flag, fps, scale, (top, bottom))
    _clock(sheet, measured, scale, _TALL - 4)
    return sheet.svg(_WIDE, _TALL, fonts=False)


def _mark(sheet: Sheet, flag: Flag, fps: float, scale: float, ends: tuple[float, float]) -> None:
    assert flag.span is not None
    colour = {Severity.ERROR: ink.WARNING, Severity.WARNING: ink.SUN, Severity.NOTE: ink.SEA}[flag.finding.severity]
    x = flag.span.start / fps * scale
    wide = max(_LEAST_MARK, flag.span.frames / fps * scale)
    with sheet.titled(f"{flag.time}: {flag.finding.what}"):
        sheet.rect(x, ends[0], wide, ends[1] - ends[0], colour, opacity=0.28)
        sheet.rect(x, ends[0] - 14, wide, 14, colour)
        middle = x + wide / 2
        sheet.polygon([(middle - 7, 10), (middle + 7, 10), (middle, 28)], colour)


def wave(measured: Screened, span: Span) -> str:
    """The sound around some frames, which lie on a marked ground."""
    sheet = Sheet()
    fps = float(measured.coded.rate.fps)
    wide, tall = 352.0, 64.0
    first = max(0.0, span.start / fps - _AROUND)
    last = min(measured.pictures.frames / fps, span.end / fps + _AROUND)
    scale = wide / max(last - first, 0.001)
    sheet.rect(0, 0, wide, tall, ink.PANEL)
    sheet.rect((span.start / fps - first) * scale, 0, max(2.0, span.frames / fps * scale), tall, ink.SUN, opacity=0.3)
    _sound(sheet, measured, first, last, (0, 0, wide, tall))
    return sheet.svg(wide, tall, fonts=False)


def _sound(sheet: Sheet, measured: Screened, first: float, last: float, box: tuple[float, float, float, float]) -> None:
    """Highest samples as a shape about a middle line, in decibels; at most a thousand points."""
    x0, y0, width, height = box
    middle = y0 + height / 2
    if measured.sound is None:
        sheet.text(x0 + 8, middle + 5, "no sound", 15, ink.QUIET)
        return
    offset = float(measured.sound.start)
    levels = measured.sound.envelope
    begin = max(0, int((first - offset) * _PER_SECOND))
    end = min(len(levels), math.ceil((last - offset) * _PER_SECOND))
    count = max(1, min(1000, end - begin))
    edges = [begin + (end - begin) * k // count for k in range(count + 1)]
    above = []
    for low, high in pairwise(edges):
        level = max(levels[low:high], default=0.0)
        x = x0 + ((low + high) / 2 / _PER_SECOND + offset - first) / max(last - first, 0.001) * width
        above.append((x, _height(level) * height / 2))
    if above:
        shape = [(x, middle - tall) for x, tall in above] + [(x, middle + tall) for x, tall in reversed(above)]
        sheet.polygon(shape, ink.SEA)
    sheet.line(x0, middle, x0 + width, middle, ink.SEA, width=0.5)


def _clock(sheet: Sheet, measured: Screened, scale: float, y: float) -> None:
    """Moments of the programme under the strip, at a distance that suits its length."""
    start = float(measured.programme.start / measured.coded.rate.fps)
    seconds = float(measured.programme.frames / measured.coded.rate.fps)
    step = next((one for one in (1, 2, 5, 10, 15, 30, 60, 120, 300, 600) if seconds / one <= 10), 1200)
    moment = 0
    while moment <= seconds - step / 3:
        text = clock_text(seconds_of_frame(round(moment * measured.coded.rate.fps), measured.coded.rate))
        x = (start + moment) * scale
        sheet.line(x, y - 16, x, y - 10, ink.QUIET)
        sheet.text(x + 3, y - 2, text.removesuffix(".0"), 14, ink.QUIET)
        moment += step

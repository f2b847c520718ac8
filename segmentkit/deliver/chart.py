"""The timing chart: the whole segment on one sheet, from the clock down to the sound, as SVG, HTML or PNG.

Read from above: running time, beats with what is to go, the room each beat has, pictures, what is held, strokes with
the words they start on, the words themselves, cards, music. A long segment goes over several staves at one scale.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path

from segmentkit.deliver import ink
from segmentkit.deliver.chart_picture import (
    Chart,
    beat_lane,
    clock_lane,
    held_lane,
    over_words,
    picture_lane,
    slack_lane,
    stroke_lane,
)
from segmentkit.deliver.chart_sound import card_lane, sound_lane, voice_colours, voice_lane
from segmentkit.deliver.envelope import Envelope
from segmentkit.deliver.page import chart_page
from segmentkit.deliver.staves import Stave, staves
from segmentkit.deliver.svg import REGULAR, STRONG, Sheet, fitted, font_file, text_width
from segmentkit.errors import OutputFailed
from segmentkit.media.safe import writing
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard

WIDTH = 1587
"""A3 landscape at 96 units to the inch, the width of CSS paper."""
LEAST_HEIGHT = 560
_MARGIN = 36
_NAMES = 78
_HEAD = 96
_LANES: tuple[tuple[str, Callable[[Chart, Stave, float], float]], ...] = (
    ("clock", clock_lane),
    ("beats", beat_lane),
    ("room", slack_lane),
    ("pictures", picture_lane),
    ("held", held_lane),
    ("strokes", stroke_lane),
    ("words", voice_lane),
    ("cards", card_lane),
    ("sound", sound_lane),
)


def draw_chart(
    plan: Plan,
    board: Storyboard,
    *,
    thumbnails: Mapping[str, bytes] | None = None,
    envelopes: Mapping[tuple[str, int], Envelope] | None = None,
) -> tuple[Sheet, float]:
    """Draws the chart.

    Args:
        plan: what is charted.
        board: its storyboard.
        thumbnails: a JPEG of some shots, by shot id.
        envelopes: how loud each recorded line is, by beat and line.

    Returns:
        The drawing, and its height; its width is `WIDTH`.
    """
    sheet = Sheet()
    chart = Chart(plan=plan, board=board, sheet=sheet, thumbnails=thumbnails or {}, envelopes=envelopes or {})
    _head(chart)
    y = float(_HEAD)
    for stave in staves(plan, _MARGIN + _NAMES, WIDTH - _MARGIN):
        y = _stave(chart, stave, y) + 22
    height = max(LEAST_HEIGHT, _legend(chart, y) + _MARGIN / 2)
    start = sheet.here()
    sheet.rect(0, 0, WIDTH, height, ink.PAPER)
    sheet.lay_under(start, 0)
    return sheet, height


def _head(chart: Chart) -> None:
    sheet, plan, segment = chart.sheet, chart.plan, chart.board.segment
    figure, meaning, colour = over_words(chart)
    right = WIDTH - _MARGIN
    wide = max(text_width(figure, 46, STRONG), text_width(meaning, 15, STRONG))
    sheet.text(right, 58, figure, 46, colour, weight=STRONG, anchor="end")
    sheet.text(right, 80, meaning, 15, colour, weight=STRONG, anchor="end")
    over = " · ".join(text for text in (segment.programme, segment.item) if text)
    room = right - wide - 40 - _MARGIN
    sheet.text(_MARGIN, 32, fitted(over, room, 12), 12, ink.QUIET)
    sheet.text(_MARGIN, 62, fitted(plan.title, room, 29, STRONG), 29, ink.SLATE, weight=STRONG)
    words = sum(len(line.words) for line in plan.speech)
    spoken = sum(line.span.frames for line in plan.speech)
    parts = [
        f"slot {chart.label(plan.slot)}",
        f"runs {chart.label(plan.frames)}",
        f"{plan.frames} frames at {plan.rate}",
        f"{len(plan.beats)} beats",
    ]
    if spoken:
        pace = round(float(words * 60 * plan.rate.fps / spoken))
        parts.append(f"{words} words at {pace} a minute, {round(100 * spoken / plan.frames)} % spoken")
    sheet.text(_MARGIN, 79, fitted("  ·  ".join(parts), room, 11.5), 11.5, ink.INK)


def _stave(chart: Chart, stave: Stave, top: float) -> float:
    """Draws all lanes of a stave; returns where it ends."""
    sheet, y = chart.sheet, top
    under = sheet.here()
    bands = []
    for name, lane in _LANES:
        height = lane(chart, stave, y)
        sheet.text(_MARGIN, y + 10, name, 10, ink.QUIET, weight=STRONG)
        bands.append((y, height))
        y += height + 6
    start = sheet.here()
    for index, (lane_y, height) in enumerate(bands[1:]):
        if index % 2 == 0:
            sheet.rect(_MARGIN - 6, lane_y - 3, WIDTH - 2 * _MARGIN + 12, height + 6, ink.PANEL, opacity=0.55)
    for beat in chart.beats_of(stave):
        sheet.line(stave.x(beat.span.start), top + 17, stave.x(beat.span.start), y - 6, ink.LINE)
    sheet.line(stave.end, top + 17, stave.end, y - 6, ink.INK if stave.span.end == chart.plan.frames else ink.LINE)
    if stave.span.start <= chart.plan.slot < stave.span.end:
        x = stave.x(chart.plan.slot)
        sheet.rect(x, top, stave.end - x, y - 6 - top, ink.WARNING, opacity=0.12)
        sheet.line(x, top - 8, x, y - 6, ink.WARNING, width=1.6)
        sheet.text(x - 5, top - 1, "the slot ends here", 9.5, ink.WARNING, weight=STRONG, anchor="end")
    sheet.lay_under(start, under)
    return y


def _legend(chart: Chart, y: float) -> float:
    """What the signs mean."""
    sheet, x = chart.sheet, float(_MARGIN)
    sheet.line(_MARGIN, y - 8, WIDTH - _MARGIN, y - 8, ink.LINE)

    def sign(draw: Callable[[float], None], width: float, text: str) -> None:
        nonlocal x, y
        if x + width + 6 + text_width(text, 9.5) > WIDTH - _MARGIN:
            x, y = float(_MARGIN), y + 18
        draw(x)
        sheet.text(x + width + 5, y + 9, text, 9.5, ink.INK)
        x += width + text_width(text, 9.5) + 22

    sign(lambda at: sheet.rect(at, y, 16, 10, ink.SEA, radius=2), 16, "elastic beat")
    sign(lambda at: sheet.rect(at, y, 16, 10, ink.SLATE, radius=2), 16, "rigid beat")

    def room(at: float) -> None:
        sheet.rect(at, y + 3, 44, 5, ink.PAPER, stroke=ink.SLACK)
        sheet.rect(at, y + 3, 30, 5, ink.SLACK)
        sheet.rect(at, y + 3, 18, 5, ink.SEA)
        sheet.line(at + 24, y + 1, at + 24, y + 10, ink.INK, width=1)

    sign(room, 44, "least, what it has, most; | nominal")
    sign(lambda at: sheet.rect(at, y, 16, 10, ink.SEA_PALE, stroke=ink.LINE), 16, "in motion")
    sign(lambda at: sheet.rect(at, y, 16, 10, ink.PANEL, stroke=ink.LINE), 16, "frozen")
    sign(lambda at: sheet.rect(at, y, 16, 10, ink.SAND, stroke=ink.LINE), 16, "board or still")
    for role, colour in ink.STROKES.items():
        sign(
            lambda at, c=colour: sheet.polygon([(at, y + 10), (at + 8, y), (at + 24, y), (at + 24, y + 10)], c),  # type: ignore[misc]
            24,
            f"{role} stroke, drawn in",
        )
    sign(lambda at: sheet.rect(at, y + 5, 20, 1.2, ink.STROKES["reference"], opacity=0.55), 20, "kept")
    for speaker, colour in voice_colours(chart).items():
        shown = next(line.shown for line in chart.plan.speech if line.speaker == speaker)
        sign(lambda at, c=colour: sheet.rect(at, y + 1, 10, 8, c), 10, shown)  # type: ignore[misc]
    sign(
        lambda at: sheet.text(at, y + 9, "{words}", 9.5, ink.SUN, weight=REGULAR),
        text_width("{words}", 9.5),
        "may be left out",
    )
    return y + 16


def write_chart(
    out: Path,
    plan: Plan,
    board: Storyboard,
    *,
    thumbnails: Mapping[str, bytes] | None = None,
    envelopes: Mapping[tuple[str, int], Envelope] | None = None,
) -> Path:
    """Writes the chart as `.html`, `.svg` or `.png`, by the name's ending.

    Raises:
        OutputFailed: for another ending, when a PNG is asked for without the library that draws it, or when the disk
            refuses.
    """
    sheet, height = draw_chart(plan, board, thumbnails=thumbnails, envelopes=envelopes)
    match out.suffix.lower():
        case ".html" | ".htm":
            content = chart_page(plan.title, sheet.svg(WIDTH, height, fonts=False)).encode()
        case ".svg":
            content = sheet.svg(WIDTH, height).encode()
        case ".png":
            content = _png(sheet.svg(WIDTH, height, fonts=False), out)
        case other:
            raise OutputFailed(
                f"{out} — a chart is not written as {other or 'a file without ending'} — .html, .svg and .png are — "
                "give the file one of these endings"
            )
    with writing(out) as partial:
        partial.write_bytes(content)
    return out


def _png(svg: str, out: Path) -> bytes:
    """The drawing as a PNG at twice its size."""
    try:
        import resvg_py  # noqa: PLC0415  an extra
    except ImportError:
        raise OutputFailed(
            f"{out} — a PNG needs the library resvg-py, which is not installed — pip install 'segmentkit[chart]', or "
            "write .html or .svg"
        ) from None
    fonts = [str(font_file(weight)) for weight in (REGULAR, STRONG)]
    return bytes(resvg_py.svg_to_bytes(svg_string=svg, zoom=2, font_files=fonts, skip_system_fonts=True))

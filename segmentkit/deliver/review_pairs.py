"""Before and after on paper: frozen pictures that look different, old beside new, and what changed in their beat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path

from segmentkit.deliver import ink
from segmentkit.deliver.paper import A4, Format, Paper, PdfPaper, PicturePaper, column, wrapped
from segmentkit.deliver.review_changes import Change, Pair
from segmentkit.media import safe
from segmentkit.media.stills import Rgb

_MARGIN, _GAP, _HEAD = 12.0, 6.0, 18.0
_TEXT, _LINES = 17.0, 3
_ROWS = 2


def draw_pairs(
    paper: Paper,
    title: str,
    names: tuple[str, str],
    pairs: Sequence[Pair],
    found: Sequence[Change],
    before: Mapping[str, Rgb],
    after: Mapping[str, Rgb],
) -> None:
    """Draws two pairs a page on paper that lies on its side.

    Args:
        paper: where to.
        title: the segment's.
        names: of both versions, old first.
        pairs: the pictures that look different.
        found: all that changed; told below the pair of its beat.
        before: pictures by shot, uint8, shape (height, width, 3), full range.
        after: likewise.
    """
    wide = (paper.format.width - 2 * _MARGIN - _GAP) / 2
    high = (paper.format.height - 2 * _MARGIN - _HEAD) / _ROWS - _TEXT - _GAP
    for number, pair in enumerate(pairs):
        row = number % _ROWS
        if not row:
            paper.page()
            paper.text(_MARGIN, _MARGIN + 4, f"{title}: before and after", 14, ink.SLATE, strong=True)
            for k, name in enumerate(names):
                paper.text(_MARGIN + k * (wide + _GAP), _MARGIN + 12, name, 10, ink.QUIET)
        top = _MARGIN + _HEAD + row * (high + _TEXT + _GAP)
        for k, rgb in enumerate((before.get(pair.old), after.get(pair.new))):
            _cell(paper, _MARGIN + k * (wide + _GAP), top, wide, high, rgb)
        beat = (pair.new or pair.old).partition("/")[0]
        told = "; ".join(f"{one.where}: {one.what}" for one in found if one.beat == beat) or "drawn anew"
        across = 2 * wide + _GAP
        end = column(paper, _MARGIN, top + high + 1, [pair.name], 10, ink.SLATE, strong=True)
        column(paper, _MARGIN, end, wrapped(told, across, 8.5)[:_LINES], 8.5, ink.INK)


def _cell(paper: Paper, x: float, y: float, wide: float, high: float, rgb: Rgb | None) -> None:
    if rgb is None:
        paper.rect(x, y, wide, high, None, ink.QUIET)
        paper.text(x + 4, y + high / 2, "not in this version", 9, ink.QUIET)
        return
    scale = min(wide / rgb.shape[1], high / rgb.shape[0])
    paper.picture(x, y, rgb.shape[1] * scale, rgb.shape[0] * scale, rgb)
    paper.rect(x, y, rgb.shape[1] * scale, rgb.shape[0] * scale, None, ink.SLATE)


def write_pairs(
    out: Path,
    title: str,
    names: tuple[str, str],
    pairs: Sequence[Pair],
    found: Sequence[Change],
    before: Mapping[str, Rgb],
    after: Mapping[str, Rgb],
    format_: Format = A4,
) -> tuple[Path, ...]:
    """Writes the pairs as PDF, or one PNG a page, by the name's suffix; nothing when no picture looks different.

    Raises:
        OutputFailed: when it cannot be written, or the library for PDFs is not installed.
    """
    if not pairs:
        return ()
    paper = format_.across
    if out.suffix.lower() == ".pdf":
        sheet = PdfPaper(paper, f"{title} — before and after", "en", out)
        draw_pairs(sheet, title, names, pairs, found, before, after)
        with safe.writing(out) as partial:
            partial.write_bytes(sheet.data())
        return (out,)
    drawn = PicturePaper(paper)
    draw_pairs(drawn, title, names, pairs, found, before, after)
    return drawn.save(out)

"""The page and the wall of a season: every item with its fate, and each viewer's name beside the face."""

from __future__ import annotations

import base64
import io
from html import escape
from pathlib import Path

import numpy as np
from PIL import Image

from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.deliver.paper import Format, PicturePaper, column, width_of, wrapped
from segmentkit.media import safe
from segmentkit.season.journal import FAILED_QC
from segmentkit.season.outcome import Outcome, SeasonReport
from segmentkit.season.summary import failures, summary

PAGE, WALL = "season.html", "wall.png"
_STATE = {
    "done": ("●", "done", "good"), "kept": ("○", "as before", "good"), "ready": ("…", "ready", "plain"),
    "explained": ("✕", "explained", "bad"), FAILED_QC: ("✕", "failed quality control", "bad"),
}  # fmt: skip
_STYLE = f"""
body {{ margin: 0; padding: 28px 36px 60px; background: {ink.PANEL}; color: {ink.INK}; font: 15px/1.45 sans-serif; }}
h1 {{ font-size: 24px; margin: 0 0 2px; color: {ink.SLATE}; }} h2 {{ font-size: 17px; margin: 30px 0 8px; }}
p.sum {{ margin: 0 0 4px; color: {ink.QUIET}; }} p.sum + table {{ margin-top: 18px; }} p.sum a {{ color: {ink.SEA}; }}
table {{ width: 100%; border-collapse: collapse; background: {ink.PAPER}; }}
th, td {{ text-align: left; vertical-align: top; padding: 10px 12px; border-bottom: 1px solid {ink.PANEL}; }}
thead th {{ font-size: 13px; color: {ink.QUIET}; }}
.word {{ font-weight: 650; white-space: nowrap; }} .good {{ color: {ink.SEA}; }} .bad {{ color: {ink.WARNING}; }}
td.day, td.files {{ white-space: nowrap; }} td a {{ color: {ink.SEA}; }}
.small {{ font-size: 13px; color: {ink.QUIET}; }} ul {{ margin: 4px 0 0; padding-left: 18px; }}
.wall {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(min(540px, 100%), 1fr)); gap: 16px; }}
figure {{ margin: 0; background: {ink.PAPER}; padding: 10px; break-inside: avoid; }}
figure div {{ display: flex; gap: 8px; align-items: flex-end; }}
figure img {{ display: block; max-height: 150px; min-width: 0; flex: 0 1 auto; object-fit: contain; }}
figcaption {{ margin-top: 6px; }} figcaption b {{ font-size: 17px; }}
@media (max-width: 700px) {{ body {{ padding: 14px; }} thead {{ display: none; }}
  tr, td {{ display: block; border: 0; padding: 4px 10px; }} tr {{ border-bottom: 1px solid {ink.QUIET}; }} }}
@media print {{ body {{ padding: 0; background: none; }} tr {{ break-inside: avoid; }} }}
"""


def write_pages(report: SeasonReport) -> tuple[Path, Path | None]:
    """Writes page and wall into the output folder; returns them, the wall None where nobody is to be seen.

    Raises:
        OutputFailed: when one cannot be written.
    """
    html, wall = report.out / PAGE, report.out / WALL
    cards = [card for one in report.outcomes if (card := _card(report, one)) is not None]
    with safe.writing(html) as partial:
        partial.write_text(season_page(report, cards), "utf-8")
    if not cards:
        safe.discard(wall)  # an older one may show somebody who may not be shown any more
        return html, None
    data = io.BytesIO()
    draw_wall(report, cards).pages[0].save(data, "PNG")
    with safe.writing(wall) as partial:
        partial.write_bytes(data.getvalue())
    return html, wall


class Card:
    """One viewer on the wall: the item, the name in the record, pictures as JPEG."""

    def __init__(self, outcome: Outcome, face: bytes, named: bytes) -> None:
        self.outcome, self.face, self.named = outcome, face, named

    @property
    def under(self) -> str:
        """What is written below: item and day."""
        item = self.outcome.entry.item
        return f"{item.id}" + (f" · on air {item.air}" if item.air else "")


def _card(report: SeasonReport, one: Outcome) -> Card | None:
    if one.state not in {"done", "kept", FAILED_QC} or one.line is None:
        return None
    names = {made.file for made in one.line.files}

    def read(kind: str) -> bytes:
        path = report.out / one.entry.id / f"{one.entry.id}-{kind}.jpg"
        return path.read_bytes() if path.name in names and path.is_file() else b""

    named = read("lower-third")
    return Card(one, read("face"), named) if named else None


def season_page(report: SeasonReport, cards: list[Card]) -> str:
    """The page as HTML; pictures are inside it."""
    rows = "\n".join(_row(one) for one in report.outcomes)
    clashes = "".join(f"<li>{escape(f.where)}: {escape(f.what)} — {escape(f.remedy)}</li>" for f in report.clashes)
    wall = "\n".join(_figure(card) for card in cards)
    parts = [
        f"<h1>{escape(report.title)}</h1>", *(f'<p class="sum">{escape(line)}</p>' for line in summary(report)[:2]),
        '<p class="sum">Every file with its length, levels and checksum: <a href="deliveries.html">deliveries</a></p>',
        "<table><thead><tr><th>Item</th><th>Viewer</th><th>On air</th><th>What became of it</th><th>Files</th></tr>"
        f"</thead><tbody>{rows}</tbody></table>",
        f"<h2>Side by side on air</h2><ul>{clashes}</ul>" if clashes else "",
        '<h2>Name beside face</h2><p class="small">As sent, and as it goes on air. The name below is the record\'s.</p>'
        f'<div class="wall">{wall}</div>' if wall else "",
    ]  # fmt: skip
    return page(report.title, _STYLE, "\n".join(part for part in parts if part))


def _row(one: Outcome) -> str:
    mark, word, kind = _STATE[one.state]
    item = one.entry.item
    texts = [f"{one.why.what} [{one.why.id}]"] if one.why is not None else []
    held = one.line.held if one.line is not None and one.state != "explained" else ()
    texts += failures(one)
    texts += [f"no {name}: {what}" for name, what in held]
    texts += [*one.entry.notes, *(one.line.notes if one.line is not None and one.state != "explained" else ())]
    listed = "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>" if texts else ""
    files = one.line.files if one.line is not None and one.state != "explained" else ()
    links = "<br>".join(
        f'<a href="{escape(one.entry.id)}/{escape(made.file)}">{escape(made.file)}</a>'
        for made in files
        if made.seconds
    )
    for failed in one.line.failed if one.line is not None and one.state == FAILED_QC else ():
        folder, page_ = escape(one.entry.id), escape(failed.page)
        links += f'<br><a href="{folder}/{escape(failed.made.file)}">{escape(failed.made.file)}</a>'
        links += f' · <a href="{folder}/{page_}">report</a>' if page_ else ""
    links = links.removeprefix("<br>")
    about = " · ".join(filter(None, (item.fault, item.model)))
    return (
        f'<tr><td><b>{escape(item.id)}</b><div class="small">{escape(about)}</div></td>'
        f'<td>{escape("" if _taken_back(one) else one.entry.shown)}</td><td class="day">{item.air or ""}</td>'
        f'<td><span class="word {kind}">{mark} {word}</span>{listed}</td><td class="files">{links}</td></tr>'
    )


def _taken_back(one: Outcome) -> bool:
    """Whether the viewer has taken the release back: then the name is not written any more."""
    return one.why is not None and one.why.id in {"withdrawn", "release-withdrawn"}


def _figure(card: Card) -> str:
    images = "".join(
        f'<img alt="{what}" src="data:image/jpeg;base64,{base64.b64encode(data).decode()}">'
        for what, data in (("as sent", card.face), ("as on air", card.named)) if data
    )  # fmt: skip
    name = escape(card.outcome.entry.shown or "nobody is named")
    return f"<figure><div>{images}</div><figcaption><b>{name}</b><br>{escape(card.under)}</figcaption></figure>"


_CELL, _TALL, _TEXT, _MARGIN, _GAP, _HEAD = 158.0, 44.0, 13.0, 10.0, 7.0, 15.0  # millimetres
_DOTS = 110


def draw_wall(report: SeasonReport, cards: list[Card]) -> PicturePaper:
    """All viewers on one sheet: as sent, as on air, and the record's name in large type."""
    columns = max(1, min(range(1, len(cards) + 1), key=lambda n: abs(n * _CELL - 1.5 * -(-len(cards) // n) * 65)))
    rows = -(-len(cards) // columns)
    wide = columns * _CELL + (columns - 1) * _GAP + 2 * _MARGIN
    high = rows * (_TALL + _TEXT) + (rows - 1) * _GAP + 2 * _MARGIN + _HEAD
    paper = PicturePaper(Format("wall", wide, high), _DOTS)
    paper.page()
    paper.text(_MARGIN, _MARGIN + 7, report.title, 16, ink.SLATE, strong=True)
    says = f"{len(cards)} viewers"
    paper.text(wide - _MARGIN - width_of(says, 9), _MARGIN + 7, says, 9, ink.INK)
    paper.line(_MARGIN, _MARGIN + 10, wide - _MARGIN, _MARGIN + 10, ink.SLATE, 0.5)
    for k, card in enumerate(cards):
        x = _MARGIN + (k % columns) * (_CELL + _GAP)
        y = _MARGIN + _HEAD + (k // columns) * (_TALL + _TEXT + _GAP)
        _draw_card(paper, x, y, card)
    return paper


def _draw_card(paper: PicturePaper, x: float, y: float, card: Card) -> None:
    left = x
    for data in (card.face, card.named):
        if not data:
            continue
        rgb = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
        width = min(_TALL * rgb.shape[1] / rgb.shape[0], _TALL * 16 / 9)
        tall = width * rgb.shape[0] / rgb.shape[1]
        paper.picture(left, y + _TALL - tall, width, tall, rgb)
        left += width + 2
    at = column(paper, x, y + _TALL + 1.2, [card.outcome.entry.shown or "nobody is named"], 13, ink.SLATE, strong=True)
    column(paper, x, at, wrapped(card.under, _CELL, 8)[:1], 8, ink.QUIET)

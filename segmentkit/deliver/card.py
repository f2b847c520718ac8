"""The delivery card: each delivery with a picture, its length and its ticks, on a page that opens without a network."""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from PIL import Image

from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.deliver.svg import FAMILY
from segmentkit.media import safe
from segmentkit.media.stills import Rgb

_WIDE = 640
"""Longer side of a picture on the card, in pixels."""
_STYLE = f"""
body {{ font: 16px/1.4 {FAMILY}, sans-serif; color: {ink.INK}; background: {ink.PAPER}; max-width: 84rem;
  margin: 0 auto; padding: 2rem 1.5rem 4rem; }}
h1 {{ color: {ink.SLATE}; margin: 0; line-height: 1.1; }}
.sum {{ color: {ink.QUIET}; margin: .2rem 0 1.4rem; }}
main {{ display: grid; grid-template-columns: repeat(auto-fill, minmax(min(100%, 19rem), 1fr)); gap: 1.2rem; }}
article {{ background: {ink.PANEL}; border: 1px solid {ink.LINE}; border-radius: 10px; overflow: hidden;
  break-inside: avoid; display: flex; flex-direction: column; }}
figure {{ margin: 0; height: 11.5rem; background: {ink.SLATE}; display: grid; place-items: center; }}
figure img {{ max-width: 100%; max-height: 11.5rem; display: block; }}
figure span {{ color: {ink.SEA_PALE}; }}
h2 {{ font-size: 1.15rem; margin: 0; color: {ink.SLATE}; display: flex; justify-content: space-between; gap: .6rem; }}
h2 b {{ font-variant-numeric: tabular-nums; }}
section {{ padding: .8rem 1rem 1rem; }}
section > p {{ margin: .1rem 0 .6rem; color: {ink.QUIET}; overflow-wrap: anywhere; }}
ul {{ list-style: none; margin: 0; padding: 0; }}
li {{ display: grid; grid-template-columns: 1.5rem 1fr; padding: .16rem 0; border-top: 1px solid {ink.LINE}; }}
li i {{ font-style: normal; font-weight: 700; }}
.yes i {{ color: {ink.STROKES["good"]}; }}
.no i, .no {{ color: {ink.WARNING}; font-weight: 600; }}
.open i {{ color: {ink.QUIET}; }}
@media print {{ body {{ background: none; padding: 0; font-size: 9.5pt; }} }}
"""
_MARKS = {True: ("yes", "✓"), False: ("no", "✗"), None: ("open", "–")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """One line of a card: what was looked at and what was found; None where there was nothing to look at."""

    says: str
    good: bool | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """One delivery on the card.

    Attributes:
        name: of the profile; `what` it is for.
        file: name of the finished file, or None.
        length: running time.
        picture: a frame of it, uint8, shape (height, width, 3); None where there is none to show.
        ticks: what was looked at.
    """

    name: str
    what: str
    file: str | None
    length: str
    picture: Rgb | None
    ticks: tuple[Tick, ...]

    @property
    def done(self) -> bool:
        """Whether there is a file and nothing speaks against it."""
        return self.file is not None and all(tick.good is not False for tick in self.ticks)


def card_page(title: str, tickets: Sequence[Ticket], language: str = "en") -> str:
    """The page."""
    done = sum(ticket.done for ticket in tickets)
    body = (
        f'<h1>{escape(title)}</h1>\n<p class="sum">{done} of {len(tickets)} deliveries are finished</p>\n'
        f"<main>\n{chr(10).join(map(_article, tickets))}\n</main>"
    )
    return page(f"{title} — deliveries", _STYLE, body, language=language)


def write_card(out: Path, title: str, tickets: Sequence[Ticket], language: str = "en") -> Path:
    """Writes the page and returns its path.

    Raises:
        OutputFailed: when it cannot be written.
    """
    with safe.writing(out) as partial:
        partial.write_text(card_page(title, tickets, language), "utf-8")
    return out


def _article(ticket: Ticket) -> str:
    rows = "".join(
        f'<li class="{kind}"><i>{mark}</i>{escape(tick.says)}</li>'
        for tick, (kind, mark) in ((tick, _MARKS[tick.good]) for tick in ticket.ticks)
    )
    return (
        f"<article><figure>{_image(ticket.picture)}</figure><section>"
        f"<h2><span>{escape(ticket.name)}</span><b>{escape(ticket.length)}</b></h2>"
        f"<p>{escape(ticket.what)}{'<br>' + escape(ticket.file) if ticket.file else ''}</p><ul>{rows}</ul>"
        "</section></article>"
    )


def _image(picture: Rgb | None) -> str:
    if picture is None:
        return "<span>no picture</span>"
    image = Image.fromarray(picture)
    image.thumbnail((_WIDE, _WIDE))
    data = io.BytesIO()
    image.save(data, "JPEG", quality=86)
    return f'<img alt="" src="data:image/jpeg;base64,{base64.b64encode(data.getvalue()).decode("ascii")}">'

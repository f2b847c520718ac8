"""The delivery list of a season: every movie with what whoever takes it in asks for, as a table and as a page.

It is made of the journal alone, so it is whole after any run, however often that was stopped. It may leave the house,
so it names no viewer and gives no reason that speaks of one; those are on the season's page.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from pathlib import Path

from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.deliver.rights import as_csv
from segmentkit.media import safe
from segmentkit.season.clashes import by_air
from segmentkit.season.estimate import sized
from segmentkit.season.journal import FAILED_QC, PAPERS, Journal, Line, Made
from segmentkit.season.outcome import SeasonReport
from segmentkit.storyboard.profiles import delivery_name
from segmentkit.storyboard.season import Item, LoadedSeason

LIST = "deliveries"
HEAD = ("item", "on air", "profile", "allowed for", "file", "length", "loudness LUFS", "true peak dBTP", "bytes",
        "SHA-256", "quality control", "papers", "state")  # fmt: skip
_QC = {"pass": "passed", "warn": "passed, with warnings", "fail": "failed", "": "not judged"}
DELIVERED, ASIDE, HELD, OPEN = "delivered", "kept aside, no delivery", "not delivered", "not made yet"


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One movie, or why there is none.

    Attributes:
        item: the item.
        profile: what it was to be made for; empty where the whole item was not made.
        made: the movie; None where there is none.
        state: one of DELIVERED, ASIDE, HELD and OPEN.
        papers: how many papers lie beside it.
        note: the check that it failed.
    """

    item: Item
    profile: str
    made: Made | None
    state: str
    papers: int = 0
    note: str = ""

    @property
    def cells(self) -> tuple[str, ...]:
        """As HEAD has them."""
        made = self.made
        air = str(self.item.air or "")
        if made is None:
            return (self.item.id, air, self.profile, *("",) * 9, self.state)
        return (
            self.item.id, air, self.profile, made.scope, f"{self.item.id}/{made.file}", made.length,
            "" if made.loudness is None else f"{made.loudness:.1f}", "" if made.peak is None else f"{made.peak:.1f}",
            str(made.bytes), made.sha256, _QC[made.qc], str(self.papers or ""),
            f"{self.state}: {self.note}" if self.note else self.state,
        )  # fmt: skip


def rows_of(season: LoadedSeason, lines: Mapping[str, Line]) -> tuple[Row, ...]:
    """One row a movie, in the order of airing; items and profiles without one have a row that says why."""
    return tuple(row for item in by_air(season.season.items) for row in _rows(item, lines.get(item.id)))


def _rows(item: Item, line: Line | None) -> Iterator[Row]:
    if line is None:
        yield Row(item=item, profile="", made=None, state=OPEN)
        return
    if line.state not in {"done", FAILED_QC}:
        yield Row(item=item, profile="", made=None, state=HELD)
        return
    papers = sum(made.file.startswith(f"{PAPERS}/") for made in line.files)
    for made in line.files:
        if made.seconds:
            name = delivery_name(made.profile)
            yield Row(item=item, profile=name, made=made, state=DELIVERED, papers=papers)
    for one in line.failed:
        name = delivery_name(one.made.profile)
        yield Row(item=item, profile=name, made=one.made, state=ASIDE, note=one.why)
    for name, _ in line.held:
        yield Row(item=item, profile=delivery_name(name), made=None, state=HELD)


def write_delivery_list(report: SeasonReport, season: LoadedSeason, today: datetime.date) -> tuple[Path, Path]:
    """Writes the list as CSV (RFC 4180) and as a page; returns both.

    Args:
        report: of the run that has just ended.
        season: all its items are listed, also those that this run left out.
        today: the day on which releases and licences were asked.

    Raises:
        OutputFailed: when one cannot be written.
    """
    rows = rows_of(season, Journal(report.out).lines())
    table, html = (report.out / f"{LIST}.{suffix}" for suffix in ("csv", "html"))
    with safe.writing(table) as partial:
        partial.write_bytes(as_csv(HEAD, [row.cells for row in rows]).encode())
    with safe.writing(html) as partial:
        partial.write_text(list_page(season, rows, today), "utf-8")
    return table, html


_STYLE = f"""
body {{ margin: 0; padding: 28px 36px 60px; background: {ink.PANEL}; color: {ink.INK}; font: 15px/1.45 sans-serif; }}
h1 {{ font-size: 24px; margin: 0 0 2px; color: {ink.SLATE}; }}
p.sum {{ margin: 0 0 18px; color: {ink.QUIET}; }}
table {{ width: 100%; border-collapse: collapse; background: {ink.PAPER}; }}
th, td {{ text-align: left; vertical-align: top; padding: 9px 12px; border-bottom: 1px solid {ink.PANEL}; }}
thead th {{ font-size: 13px; color: {ink.QUIET}; }} td.num, th.num {{ text-align: right; white-space: nowrap;
  font-variant-numeric: tabular-nums; }} tr.first td {{ border-top: 2px solid {ink.LINE}; }}
td.day, td.item {{ white-space: nowrap; }} a {{ color: {ink.SEA}; }} td a {{ overflow-wrap: anywhere; }}
code {{ display: block; margin-top: 3px; font: 11.5px/1.35 monospace; color: {ink.QUIET}; white-space: nowrap; }}
.good {{ color: {ink.SEA}; }} .bad {{ color: {ink.WARNING}; font-weight: 650; }} .small {{ font-size: 13px; }}
.quiet {{ color: {ink.QUIET}; }}
@media print {{ body {{ padding: 0; background: none; font-size: 9pt; }} tr {{ break-inside: avoid; }}
  thead {{ display: table-header-group; }} * {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }} }}
@page {{ size: A4 landscape; margin: 12mm; }}
"""


def list_page(season: LoadedSeason, rows: Sequence[Row], today: datetime.date) -> str:
    """The page as HTML. It names items and no viewers."""
    given = [row for row in rows if row.state == DELIVERED]
    aside = sum(row.state == ASIDE for row in rows)
    items = len({row.item.id for row in given})
    said = [f"{len(given)} files of {items} {'item' if items == 1 else 'items'} delivered"]
    said += [f"{aside} failed quality control"] if aside else []
    missing = sum(row.made is None for row in rows)
    said += [f"{missing} not delivered"] if missing else []
    title = season.season.season
    before = ["", *(row.item.id for row in rows)]
    body = (
        f"<h1>{escape(title)}</h1>"
        f'<p class="sum">Deliveries: {escape(", ".join(said))}. Releases and licences were asked on {today}.'
        ' Why something was not delivered is said on <a href="season.html">the season\'s page</a>.</p>'
        "<table><thead><tr><th>Item</th><th>On air</th><th>Profile</th><th>Allowed for</th><th>File and SHA-256</th>"
        '<th class="num">Length</th><th class="num">Loudness</th><th class="num">True peak</th>'
        '<th class="num">Size</th><th>Quality control</th></tr></thead><tbody>'
        + "\n".join(_tr(row, first=row.item.id != last) for row, last in zip(rows, before, strict=False))
        + "</tbody></table>"
    )
    return page(f"{title} — deliveries", _STYLE, body)


def _tr(row: Row, *, first: bool) -> str:
    item, made = row.item, row.made
    head = (
        f'<tr class="first"><td class="item"><b>{escape(item.id)}</b></td><td class="day">{item.air or ""}</td>'
        if first else "<tr><td></td><td></td>"
    )  # fmt: skip
    head += f"<td>{escape(row.profile)}</td>"
    if made is None:
        return f'{head}<td></td><td colspan="6" class="small quiet">{row.state}</td></tr>'
    name = Path(made.file).name
    link = f'<a href="{escape(item.id)}/{escape(made.file)}">{escape(name)}</a>'
    folder = f"{escape(item.id)}/{PAPERS}/"
    link += f' · <a href="{folder}">{row.papers} papers</a>' if row.papers and first else ""
    loud = "–" if made.loudness is None else f"{made.loudness:.1f} LUFS"
    peak = "–" if made.peak is None else f"{made.peak:.1f} dBTP"
    kind = {"pass": "good", "fail": "bad"}.get(made.qc, "quiet" if not made.qc else "")
    verdict = f'<span class="{kind}">{_QC[made.qc]}</span>'
    verdict += f'<div class="small">{escape(row.note)}</div>' if row.note else ""
    aside = f'<div class="bad small">{ASIDE}</div>' if row.state == ASIDE else ""
    return (
        f"{head}<td>{escape(made.scope)}</td><td>{link}{aside}<code>{made.sha256[:32]}<br>{made.sha256[32:]}</code></td>"
        f'<td class="num">{made.length}</td><td class="num">{loud}</td><td class="num">{peak}</td>'
        f'<td class="num">{sized(made.bytes)}</td><td>{verdict}</td></tr>'
    )

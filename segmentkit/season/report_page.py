"""The season's statistics as one page: opens without a network, prints, reads on a telephone, in light and in dark."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from html import escape

from segmentkit import __version__
from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.season.report import FEWEST, NOT_WRITTEN, Figures
from segmentkit.season.report_plots import bars, calendar_plot, spread

LIGHT = {
    "ground": ink.PANEL, "paper": ink.PAPER, "line": ink.LINE, "ink": ink.INK, "quiet": "#5f5c51", "bar": ink.SEA,
    "inside": ink.PAPER, "warn": ink.WARNING, "stat": ink.SUN,
}  # fmt: skip
DARK = {
    "ground": "#0f1d23", "paper": "#172a32", "line": "#3a525b", "ink": "#efe8d8", "quiet": "#b4b0a2", "bar": "#8fc3c9",
    "inside": "#0f1d23", "warn": "#ff9d8f", "stat": "#f0b070",
}  # fmt: skip
"""Each text on its ground has at least 4.5 to 1 (WCAG 2.2, 1.4.3), each bar 3 to 1 (1.4.11)."""


def _variables(colours: dict[str, str]) -> str:
    return "".join(f"--{name}: {value};" for name, value in colours.items())


_STYLE = f"""
:root {{ color-scheme: light dark; {_variables(LIGHT)} }}
@media (prefers-color-scheme: dark) {{ :root {{ {_variables(DARK)} }} }}
* {{ box-sizing: border-box; }}
body {{ margin: 0; background: var(--ground); color: var(--ink); font: 16px/1.45 Signika, sans-serif; }}
main {{ max-width: 1080px; margin: 0 auto; padding: 28px 20px 60px; }}
h1 {{ font-size: 28px; line-height: 1.15; margin: 0; font-weight: 600; }}
h2 {{ font-size: 18px; margin: 0 0 10px; font-weight: 600; }}
.quiet, footer {{ color: var(--quiet); }} header p {{ margin: 4px 0 20px; }}
.tiles {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(130px, 1fr)); gap: 10px; margin: 0 0 14px; }}
.tile {{ background: var(--paper); border: 1px solid var(--line); border-radius: 6px; padding: 10px 14px; }}
.tile b {{ display: block; font-size: 30px; line-height: 1.1; font-weight: 600; }}
.grid {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(min(100%, 440px), 1fr)); gap: 14px; }}
section {{ background: var(--paper); border: 1px solid var(--line); border-radius: 6px; padding: 14px 16px;
  min-width: 0; }}
section.wide {{ grid-column: 1 / -1; }}
svg {{ display: block; overflow: visible; }}
svg text {{ font: 14px Signika, sans-serif; fill: var(--ink); }}
svg .n {{ font-weight: 600; paint-order: stroke; stroke: var(--paper); stroke-width: 4px; }}
svg .bar {{ fill: var(--bar); }} svg .axis {{ stroke: var(--line); stroke-width: 1.5; }}
svg .tick {{ fill: var(--quiet); text-anchor: middle; }} svg .dot {{ fill: var(--bar); }}
svg .stat {{ stroke: var(--stat); stroke-width: 1.5; }}
svg .mark circle {{ fill: var(--bar); }} svg .mark .in {{ fill: var(--inside); text-anchor: middle; font-weight: 600; }}
svg .clash circle {{ stroke: var(--warn); stroke-width: 3; }}
section > :last-child {{ margin-bottom: 0; }} section p {{ margin: 8px 0; }}
ul {{ margin: 0; padding-left: 20px; }} li {{ margin: 3px 0; }} .warn {{ color: var(--warn); }}
table {{ width: 100%; border-collapse: collapse; }} td, th {{ text-align: left; padding: 5px 10px 5px 0;
  border-bottom: 1px solid var(--line); vertical-align: top; }} th {{ font-weight: 600; color: var(--quiet); }}
td:last-child, th:last-child {{ text-align: right; padding-right: 0; }}
footer {{ margin-top: 22px; font-size: 14px; }}
@media print {{ :root {{ {_variables({**LIGHT, "ground": "#fff", "paper": "#fff"})} }}
  main {{ padding: 0; max-width: none; }} section, .tile {{ break-inside: avoid; }}
  .grid {{ grid-template-columns: 1fr 1fr; }} .tiles {{ grid-template-columns: repeat(6, 1fr); }}
  * {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }} }}
@page {{ size: A4; margin: 12mm; }}
"""


def season_page(figures: Figures) -> str:
    """The page as HTML. Nobody is named in it."""
    letters = {name: chr(65 + k) for k, (name, _) in enumerate(figures.faults[:26]) if name != NOT_WRITTEN}
    clashing = {day for clash in figures.clashes for day in (clash.first, clash.second)}
    folded = f'<p class="quiet">Places with fewer than {FEWEST} viewers are one group.</p>'
    sections = [
        _section("On air", calendar_plot(figures.airings, letters, clashing) + _clashes(figures), wide=True),
        _section("What is taught", bars(figures.faults, letters)),
        _section("Who demonstrates", bars(figures.models)),
        _section("What became of the submissions", bars(figures.verdicts)),
        _section("Why some were not used", bars(figures.reasons)),
        _section(
            "From receipt to air, in days",
            spread(figures.turnaround, figures.median, figures.ninety, "Days from receipt to air"),
        ),
        _section("Follow-ups", _follow_ups(figures)),
        _section("Plays from the", bars(figures.hands)),
        _section("Sex, as given by the viewers", bars(figures.sexes)),
        _section("Places", bars(figures.places) + folded),
        _section("When releases end", _releases(figures)),
        _section("Music", _music(figures)),
        _section("Sponsors", _sponsors(figures)),
        _section("Files delivered, by profile", bars(figures.delivered)),
        *([_section("Files that failed quality control", bars(figures.failed))] if figures.failed else []),
    ]  # fmt: skip
    head = " · ".join(filter(None, (figures.programme, f"as of {figures.today}")))
    body = (
        f'<main><header><h1>{escape(figures.title)}</h1><p class="quiet">{escape(head)}</p></header>'
        f'<div class="tiles">{_tiles(figures)}</div><div class="grid">{"".join(sections)}</div>'
        "<footer>Nobody is named on this page; demonstrators are letters."
        f" Made by segmentkit {__version__}.</footer></main>"
    )
    return page(f"{figures.title} — the season in figures", _STYLE, body)


def _section(title: str, inner: str, *, wide: bool = False) -> str:
    return f"<section{' class=wide' if wide else ''}><h2>{escape(title)}</h2>{inner}</section>"


def _tiles(figures: Figures) -> str:
    rate = f"{figures.answered} of {figures.asked}" if figures.asked else "–"
    tiles = (
        (f"{figures.came}", "submissions in"), (f"{figures.used}", "used"),
        (f"{figures.items}", "items"), (f"{figures.aired}", "aired"),
        (f"{figures.median:g}" if figures.median is not None else "–", "days to air, median"),
        (rate, "follow-ups answered"),
    )  # fmt: skip
    return "".join(f'<div class="tile"><b>{number}</b>{word}</div>' for number, word in tiles)


def _clashes(figures: Figures) -> str:
    undated = figures.items - figures.dated
    more = f'<p class="quiet">{undated} item{"s have" if undated > 1 else " has"} no day yet.</p>' if undated else ""
    if not figures.airings:
        return more
    key = '<p class="quiet">A letter is what is taught, see below; a ring marks neighbours that are too alike.</p>'
    if not figures.clashes:
        return key + more
    return key + f'<ul class="warn">{"".join(f"<li>{escape(str(clash))}</li>" for clash in figures.clashes)}</ul>{more}'


def _follow_ups(figures: Figures) -> str:
    if not figures.asked:
        return '<p class="quiet">None is due yet.</p>'
    rate = 100 * figures.answered / figures.asked
    counts = (("answered", figures.answered), ("due, no answer yet", figures.due))
    barred = f'<p class="quiet">{figures.barred} not to be asked.</p>' if figures.barred else ""
    told = (
        f"<p>{figures.answered} of {figures.asked} whose day has come have answered: {rate:.0f}\N{NO-BREAK SPACE}%.</p>"
    )
    return told + bars([pair for pair in counts if pair[1]]) + barred


def _releases(figures: Figures) -> str:
    rows = [(f"{day}{' (ended)' if day < figures.today else ''}", f"{count}") for day, count in figures.releases]
    if figures.endless:
        rows.append(("no end written", f"{figures.endless}"))
    if figures.missing:
        rows.append(("no release", f"{figures.missing}"))
    return _table(("Last day", "People"), rows)


def _music(figures: Figures) -> str:
    rows = [
        (use.title, use.credit or "–", f"{use.items}", seconds_text(use.seconds))
        for use in figures.music
    ]  # fmt: skip
    return _table(("Title", "Credit", "Items", "Length"), rows) + _how_planned(figures)


def _sponsors(figures: Figures) -> str:
    if not figures.sponsors:
        return '<p class="quiet">No item has a sponsor or a prize.</p>'
    some = f"{figures.sponsors} item{'s have' if figures.sponsors > 1 else ' has'} a sponsor or a prize"
    told = f"<p>{some}; disclosures stand for {seconds_text(figures.sponsor_seconds)} in all.</p>"
    return told + _how_planned(figures)


def _how_planned(figures: Figures) -> str:
    if not figures.planned:
        return '<p class="quiet">Lengths are not known: no storyboard was planned for this page.</p>'
    if figures.unplanned:
        return f'<p class="quiet">{figures.unplanned} storyboards could not be planned and are not in the lengths.</p>'
    return ""


def seconds_text(seconds: Fraction | None) -> str:
    """A length for people, to a tenth of a second: 1:03.4, or 8.0 s below a minute."""
    if seconds is None:
        return "not known"
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths % 600 / 10:04.1f}" if tenths >= 600 else f"{tenths / 10:.1f} s"


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    if not rows:
        return '<p class="quiet">nothing to list</p>'
    heads = "".join(f"<th>{escape(cell)}</th>" for cell in head)
    body = "".join(f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"

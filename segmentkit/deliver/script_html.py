"""The script as a page: three columns, made to be printed on A4."""

from __future__ import annotations

from html import escape

from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.deliver.script import Ink, ScriptBeat, ScriptLine, script_beats, script_figures
from segmentkit.deliver.svg import FAMILY
from segmentkit.plan.backtime import over_meaning, over_text
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard

_STYLE = f"""
html {{ background: {ink.PANEL}; }}
body {{ font: 15px/1.45 {FAMILY}, sans-serif; color: {ink.INK}; background: {ink.PAPER}; max-width: 60rem;
  margin: 0 auto;  padding: 2.2rem 2.4rem 3rem; box-sizing: border-box; }}
header {{ display: grid; grid-template-columns: 1fr auto; gap: 0 2rem; border-bottom: 3px solid {ink.SLATE};
  padding-bottom: .7rem; }}
header p {{ margin: 0; color: {ink.QUIET}; }}
h1 {{ margin: .1rem 0; font-size: 2rem; line-height: 1.1; color: {ink.SLATE}; font-weight: 600; }}
.over {{ text-align: right; grid-row: 1 / span 3; grid-column: 2; }}
.over b {{ display: block; font-size: 2rem; line-height: 1.1; font-weight: 600; color: {ink.SEA}; }}
.over.off b, .over.off {{ color: {ink.WARNING}; }}
table {{ border-collapse: collapse; width: 100%; }}
th {{ text-align: left; font-weight: 600; color: {ink.QUIET}; padding: .5rem .6rem;
  border-bottom: 1px solid {ink.LINE}; }}
td {{ vertical-align: top; padding: .7rem .6rem; border-bottom: 1px solid {ink.LINE}; }}
td:first-child, th:first-child {{ padding-left: 0; white-space: nowrap; width: 6.2rem; }}
td:nth-child(2) {{ width: 36%; }}
.clock {{ font-size: 1.3rem; font-weight: 600; line-height: 1.15; color: {ink.SLATE}; }}
.togo {{ color: {ink.QUIET}; }}
.name {{ font-weight: 600; color: {ink.SEA}; }}
.rigid {{ display: inline-block; background: {ink.SLATE}; color: {ink.PAPER}; border-radius: 3px; font-size: .75rem;
  padding: 0 .4em; }}
.pictures p {{ margin: 0 0 .25rem; }}
.extras p {{ margin: 0 0 .25rem; font-size: .84rem; color: {ink.QUIET}; }}
.say p {{ margin: 0 0 .45rem; font-size: 1.06rem; }}
.who {{ font-weight: 600; color: {ink.SUN}; display: block; font-size: .84rem; }}
.spare {{ color: {ink.SUN}; }}
.spare::before {{ content: "{{"; }} .spare::after {{ content: "}}"; }}
.cue {{ font-size: .74rem; font-weight: 600; border-radius: 3px; padding: .05em .4em; white-space: nowrap;
  background: {ink.SEA_PALE}; color: {ink.SLATE}; }}
.cue.card {{ background: {ink.SAND}; }}
.count {{ font-size: .8rem; color: {ink.QUIET}; }}
.pause {{ color: {ink.QUIET}; font-size: .8rem; }}
@page {{ size: A4; margin: 14mm 13mm; }}
@media print {{ html, body {{ background: none; }} body {{ max-width: none; padding: 0; font-size: 10.5pt; }}
  tr {{ break-inside: avoid; }} * {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }} }}
"""


def script_page(plan: Plan, board: Storyboard) -> str:
    """The whole page."""
    beats = script_beats(plan, board)
    segment = board.segment
    over = plan.frames - plan.slot
    above = " · ".join(text for text in (segment.programme, segment.item) if text)
    figures = script_figures(plan)
    head = (
        f'<header><p>{escape(above)}</p><div class="over{" off" if over else ""}">'
        f"<b>{over_text(over, plan.rate)}</b>{over_meaning(over)}</div>"
        f"<h1>{escape(plan.title)}</h1><p>{figures}</p></header>"
    )
    rows = "\n".join(_row(beat) for beat in beats)
    table = (
        "<table><thead><tr><th>Clock</th><th>Picture</th><th>Words</th></tr></thead>\n"
        f"<tbody>\n{rows}\n</tbody></table>"
    )
    return page(f"{plan.title} — script", _STYLE, f"{head}\n{table}", language=segment.language)


def _row(beat: ScriptBeat) -> str:
    rigid = ' <span class="rigid">rigid</span>' if beat.rigid else ""
    time = (
        f'<div class="clock">{beat.start}</div><div class="togo">−{beat.to_go}</div>'
        f'<div class="name">{escape(beat.name)}</div><div class="togo">{beat.length}{rigid}</div>'
    )
    pictures = "".join(f"<p>{escape(text)}</p>" for text in beat.pictures)
    extras = "".join(f"<p>{escape(text)}</p>" for text in beat.extras)
    said = "".join(_line(line) for line in beat.lines)
    return (
        f'<tr><td>{time}</td><td><div class="pictures">{pictures}</div><div class="extras">{extras}</div></td>'
        f'<td><div class="say">{said}</div><div class="count">{beat.count}</div></td></tr>'
    )


def _line(line: ScriptLine) -> str:
    words = []
    for run in line.runs:
        text = escape(run.text, quote=False)
        match run.ink:
            case Ink.WORDS:
                words.append(text)
            case Ink.SPARE:
                words.append(f'<span class="spare">{text}</span>')
            case Ink.STROKE:
                words.append(f'<span class="cue" title="this stroke starts here">{text}</span>')
            case Ink.CARD:
                words.append(f'<span class="cue card" title="this card starts here">{text}</span>')
    return f'<p><span class="who">{escape(line.shown)}</span>{" ".join(words)}</p>'

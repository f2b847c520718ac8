"""The batch as one page: opens without a network, sorts by a click, prints; each colour has its word beside it."""

from __future__ import annotations

import base64
import datetime
from html import escape

from segmentkit.intake.batch import SubmissionReport
from segmentkit.intake.verdict import PartReport, Reason
from segmentkit.storyboard.submission import VerdictWord

_CLASS = {
    VerdictWord.USE: "use", VerdictWord.LIMITED: "limited", VerdictWord.RESHOOT: "reshoot",
    VerdictWord.NOT_USED: "unused",
}  # fmt: skip
_MARK = {
    VerdictWord.USE: "●", VerdictWord.LIMITED: "◐", VerdictWord.RESHOOT: "↻", VerdictWord.NOT_USED: "✕",
}  # fmt: skip
"""A shape beside word and colour, so that a print in grey tells them apart at a glance."""

_STYLE = """
:root { color-scheme: light; --ink: #1d2521; --soft: #5a655f; --line: #d5dbd6; --ground: #f6f7f4; }
* { box-sizing: border-box; }
body { margin: 0; padding: 28px 36px 60px; background: var(--ground); color: var(--ink);
  font: 15px/1.45 system-ui, "Segoe UI", "Noto Sans", "DejaVu Sans", sans-serif; }
h1 { font-size: 24px; margin: 0 0 2px; } .sum { color: var(--soft); margin: 0 0 18px; }
table { width: 100%; border-collapse: collapse; background: #fff; border: 1px solid var(--line); }
th, td { text-align: left; vertical-align: top; padding: 12px 14px; border-bottom: 1px solid var(--line); }
thead th { position: sticky; top: 0; background: #e9ede8; font-size: 13px; }
thead button { all: unset; cursor: pointer; font-weight: 650; } thead button:focus-visible { outline: 2px solid; }
thead button::after { content: " ↕"; color: var(--soft); }
th[aria-sort=ascending] button::after { content: " ↑"; } th[aria-sort=descending] button::after { content: " ↓"; }
.word { display: inline-block; padding: 3px 10px; border-radius: 4px; font-weight: 650; white-space: nowrap; }
.use { background: #d6ecd8; color: #134a20; } .limited { background: #fbe9b7; color: #5a4200; }
.reshoot { background: #d9e4f5; color: #173c70; } .unused { background: #e4dfe0; color: #44363a; }
.id { font-weight: 650; } .small { color: var(--soft); font-size: 13px; }
ul { margin: 6px 0 0; padding-left: 18px; } li { margin: 2px 0; }
.part { margin: 0 0 14px; } .part:last-child { margin-bottom: 0; }
.thumbs { display: flex; flex-wrap: wrap; gap: 8px; margin: 6px 0 0; }
figure { margin: 0; width: 180px; } figure img { width: 180px; height: auto; display: block; border-radius: 3px; }
figcaption { font-size: 12px; line-height: 1.3; color: var(--soft); margin-top: 3px; }
figcaption b { color: var(--ink); }
details { margin-top: 8px; } summary { cursor: pointer; font-size: 13px; color: var(--soft); }
details table { margin-top: 6px; font-size: 12.5px; } details td, details th { padding: 4px 8px; position: static; }
td.parts { min-width: 420px; } td.why { min-width: 260px; }
@media print { body { padding: 0; background: #fff; } details { display: none; } tr { break-inside: avoid; }
  thead th { position: static; } }
"""
_SCRIPT = """
document.querySelectorAll('table.batch thead th').forEach((head, column) => {
  const button = head.querySelector('button');
  if (!button) return;
  button.addEventListener('click', () => {
    const body = document.querySelector('table.batch > tbody');
    const rising = head.getAttribute('aria-sort') !== 'ascending';
    document.querySelectorAll('table.batch thead th').forEach(other => other.removeAttribute('aria-sort'));
    head.setAttribute('aria-sort', rising ? 'ascending' : 'descending');
    const key = row => row.children[column].dataset.key;
    [...body.children].sort((a, b) => (rising ? 1 : -1) *
      key(a).localeCompare(key(b), undefined, {numeric: true})).forEach(row => body.append(row));
  });
});
"""


def batch_page(reports: tuple[SubmissionReport, ...], title: str, today: datetime.date) -> str:
    """The page as HTML text, pictures inside it. A policy in its head forbids it to load anything."""
    counts = ", ".join(
        f"{sum(report.word is word for report in reports)} {word.value}" for word in VerdictWord
    )  # fmt: skip
    heads = "".join(
        f'<th scope="col"><button type="button">{head}</button></th>' for head in ("Submission", "Verdict", "Why")
    )
    rows = "\n".join(_row(report) for report in reports)
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy"
 content="default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width"><title>{escape(title)}</title><style>{_STYLE}</style></head>
<body><h1>{escape(title)}</h1>
<p class="sum">{len(reports)} submissions on {today}: {counts}.
Moments are proposals until a person has chosen them.</p>
<table class="batch"><thead><tr>{heads}<th scope="col">Parts</th></tr></thead>
<tbody>
{rows}
</tbody></table><script>{_SCRIPT}</script></body></html>
"""


def _word(word: VerdictWord) -> str:
    return f'<span class="word {_CLASS[word]}">{_MARK[word]} {word.value}</span>'


def _row(report: SubmissionReport) -> str:
    who = ", ".join(filter(None, (report.shown, report.place)))
    about = [f'<div class="id">{escape(report.id)}</div>', f"<div>{escape(who)}</div>" if who else ""]
    if report.minor and report.shown:
        about.append('<div class="small">a minor, or of unknown age: first name only</div>')
    if report.question:
        about.append(f'<div class="small">asks: {escape(report.question)}</div>')
    if report.miss:
        about.append(f'<div class="small">usual miss: {escape(report.miss)}</div>')
    about.append(f'<div class="small">release allows: {escape(", ".join(report.uses) or "nothing")}</div>')
    decided = f'<div class="small">{escape(report.decided)}</div>' if report.decided else ""
    reasons = [*report.reasons, *(reason for part in report.parts for reason in part.reasons)]
    why = _list([reason.what for reason in report.reasons])
    if report.without and report.word.rank <= VerdictWord.LIMITED.rank:
        why += "<div><b>It cannot carry</b></div>" + _list(report.without)
    first = reasons[0].id if reasons else ""
    return (
        f'<tr><td data-key="{escape(report.id, quote=True)}">{"".join(about)}</td>'
        f'<td data-key="{report.word.rank} {escape(report.id, quote=True)}">{_word(report.word)}{decided}</td>'
        f'<td class="why" data-key="{escape(first, quote=True)}">{why or "nothing stands against it"}</td>'
        f'<td class="parts" data-key="{len(report.parts)}">'
        f"{''.join(_part(part) for part in report.parts) or 'nothing was opened'}</td></tr>"
    )


def _list(texts: list[str] | tuple[str, ...]) -> str:
    return "<ul>" + "".join(f"<li>{escape(text)}</li>" for text in texts) + "</ul>" if texts else ""


def _part(part: PartReport) -> str:
    reasons = "".join(_reason(reason) for reason in part.reasons)
    reasons = f"<ul>{reasons}</ul>" if reasons else ""
    proposals = {proposal.position: proposal for proposal in part.proposals}
    figures = []
    for position, jpeg in part.thumbs.items():
        data = base64.b64encode(jpeg).decode()
        proposal = proposals.get(position)
        caption = f"<b>{escape(position)}</b>"
        if proposal is not None:
            trust = "chosen by a person" if proposal.chosen else f"proposed, trust {proposal.trust}"
            caption += f" f{proposal.frame}, {float(proposal.second):.3f} s<br>{trust}"
        figures.append(
            f'<figure><img alt="{escape(position)}" src="data:image/jpeg;base64,{data}">'
            f"<figcaption>{caption}</figcaption></figure>"
        )
    thumbs = f'<div class="thumbs">{"".join(figures)}</div>' if figures else ""
    return f'<div class="part"><b>{escape(part.part)}</b> {_word(part.word)}{reasons}{thumbs}{_details(part)}</div>'


def _reason(reason: Reason) -> str:
    return f'<li>{escape(reason.what)} <span class="small">({reason.word.value}; {escape(reason.id)})</span></li>'


def _details(part: PartReport) -> str:
    if not part.measures and not part.notes:
        return ""
    rows = "".join(
        f"<tr><td><b>{escape(m.id)}</b></td><td>{escape(m.value)}</td><td>{escape(m.knows)}</td>"
        f"<td>{escape(m.cannot)}</td></tr>"
        for m in part.measures
    )
    table = (
        f"<table><thead><tr><th>Measure</th><th>Value</th><th>It knows</th><th>It cannot know</th></tr></thead>"
        f"<tbody>{rows}</tbody></table>"
        if rows
        else ""
    )
    return f"<details><summary>Numbers and what they cannot know</summary>{_list(part.notes)}{table}</details>"

"""The shooting sheet: one printed page with two plans and a frame, its numbers from the limits file."""

from __future__ import annotations

from html import escape
from pathlib import Path

from segmentkit.intake.words import filled, limit_fields
from segmentkit.storyboard.limits_file import IntakeLimits
from segmentkit.storyboard.wording_file import sheet_words

_STYLE = """
@page { size: A4 portrait; margin: 12mm 13mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; width: 184mm; color: #1b211e; background: #fff;
  font: 10.2pt/1.36 "Noto Sans", "DejaVu Sans", "Segoe UI", system-ui, sans-serif; }
h1 { font-size: 21pt; line-height: 1.1; margin: 0 0 1.5mm; } .lead { font-size: 11.5pt; margin: 0 0 4mm; }
.plans { display: grid; grid-template-columns: 1fr 1fr 1fr; gap: 5mm; margin-bottom: 4mm; }
figure { margin: 0; } figure svg { width: 100%; height: auto; display: block; border: 0.3mm solid #9aa39d; }
figcaption { font-size: 9.2pt; line-height: 1.3; margin-top: 1.2mm; }
@media screen { body { padding: 10mm 0; } }
.parts { columns: 2; column-gap: 8mm; } section { break-inside: avoid; margin: 0 0 3mm; }
h2 { font-size: 11.5pt; margin: 0 0 0.8mm; } ul { margin: 0; padding-left: 4.4mm; } li { margin: 0 0 0.7mm; }
.foot { border-top: 0.4mm solid #1b211e; padding-top: 2mm; margin: 1mm 0 0; font-size: 9.4pt; }
text { font: 600 11px "Noto Sans", "DejaVu Sans", sans-serif; fill: #1b211e; }
"""


def sheet_page(limits: IntakeLimits, own: Path | None = None) -> str:
    """The sheet as HTML text for printing on A4.

    Args:
        limits: the limits that its sentences name.
        own: folder of the house's own words.

    Raises:
        StoryboardUnreadable: when the words have faults.
    """
    words, fields = sheet_words(own), limit_fields(limits)

    def say(text: str) -> str:
        return escape(filled(text, fields, "sheet.yaml"))

    parts = "".join(
        f"<section><h2>{say(part.title)}</h2>"
        f"<ul>{''.join(f'<li>{say(line)}</li>' for line in part.lines)}</ul></section>"
        for part in words.parts
    )
    distance = f"{limits.distance:g} m"
    return f"""<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{say(words.title)}</title><style>{_STYLE}</style></head><body>
<h1>{say(words.title)}</h1><p class="lead">{say(words.lead)}</p>
<div class="plans">
<figure>{_from_behind(distance)}<figcaption>{say(words.down_the_line)}</figcaption></figure>
<figure>{_from_the_front(distance)}<figcaption>{say(words.face_on)}</figcaption></figure>
<figure>{_frame(f"{limits.figure_good:.0f} %")}<figcaption>{say(words.framing)}</figcaption></figure>
</div>
<div class="parts">{parts}</div>
<p class="foot">{say(words.foot)}</p></body></html>
"""


_OPEN = '<svg viewBox="0 0 220 250" role="img" xmlns="http://www.w3.org/2000/svg">'
_GROUND = '<rect width="220" height="250" fill="#eef2ec"/>'


def _player(x: float, y: float) -> str:
    """A player seen from above, facing right: shoulders, head, feet; the ball to the right, the target upward."""
    return (
        f'<ellipse cx="{x + 6}" cy="{y - 14}" rx="9" ry="4" fill="#6d7a72"/>'
        f'<ellipse cx="{x + 6}" cy="{y + 14}" rx="9" ry="4" fill="#6d7a72"/>'
        f'<ellipse cx="{x}" cy="{y}" rx="9" ry="21" fill="#2f4a3c"/>'
        f'<circle cx="{x + 5}" cy="{y}" r="8" fill="#c9b49a" stroke="#2f4a3c"/>'
        f'<line x1="{x + 18}" y1="{y}" x2="{x + 50}" y2="{y}" stroke="#1b211e" stroke-width="2.5"/>'
        f'<circle cx="{x + 55}" cy="{y}" r="3.6" fill="#fff" stroke="#1b211e"/>'
    )


def _camera(x: float, y: float, turn: float) -> str:
    """A phone seen from above with the angle that it sees; 0 looks upward, 90 to the right."""
    return (
        f'<g transform="translate({x} {y}) rotate({turn})"><path d="M0 0 L-34 -92 L34 -92 Z" fill="#2b6ca8" '
        'fill-opacity="0.16"/><rect x="-13" y="-3" width="26" height="8" rx="2" fill="#1b211e"/>'
        '<circle cx="0" cy="-4" r="3" fill="#2b6ca8"/></g>'
    )


def _target(x: float, y0: float, y1: float) -> str:
    return (
        f'<line x1="{x}" y1="{y0}" x2="{x}" y2="{y1}" stroke="#8a4b12" stroke-width="2" stroke-dasharray="6 4"/>'
        f'<path d="M{x - 6} {y1 + 10} L{x} {y1} L{x + 6} {y1 + 10}" fill="none" stroke="#8a4b12" stroke-width="2"/>'
    )


def _from_behind(distance: str) -> str:
    return (
        f"{_OPEN}<title>Plan: camera behind the player, on the line of the hands</title>{_GROUND}"
        f"{_target(131, 226, 16)}{_player(76, 72)}{_camera(98, 216, 0)}"
        '<line x1="98" y1="206" x2="98" y2="20" stroke="#2b6ca8" stroke-dasharray="2 4"/>'
        '<line x1="40" y1="76" x2="40" y2="212" stroke="#1b211e"/><path d="M35 76h10M35 212h10" stroke="#1b211e"/>'
        f'<text transform="translate(33 144) rotate(-90)" text-anchor="middle">{distance}</text>'
        '<text x="140" y="26">target</text><text x="116" y="238">phone</text></svg>'
    )


def _from_the_front(distance: str) -> str:
    return (
        f"{_OPEN}<title>Plan: camera opposite the player's hands</title>{_GROUND}"
        f"{_target(85, 226, 16)}{_player(30, 112)}{_camera(198, 112, -90)}"
        '<line x1="50" y1="186" x2="198" y2="186" stroke="#1b211e"/>'
        '<path d="M50 181v10M198 181v10" stroke="#1b211e"/>'
        f'<text x="124" y="202" text-anchor="middle">{distance}</text>'
        '<text x="94" y="26">target</text><text x="176" y="88">phone</text></svg>'
    )


def _frame(share: str) -> str:
    """The frame with a figure at the top of the swing, and air all round."""
    return (
        f"{_OPEN}<title>The picture: all of player and club, with room all round</title>{_GROUND}"
        '<rect x="14" y="12" width="192" height="226" fill="#fff" stroke="#1b211e" stroke-width="2"/>'
        '<rect x="34" y="32" width="136" height="186" fill="none" stroke="#2b6ca8" stroke-dasharray="5 4"/>'
        '<line x1="22" y1="212" x2="198" y2="212" stroke="#9aa39d"/>'
        '<g fill="none" stroke="#2f4a3c" stroke-linecap="round" stroke-linejoin="round">'
        '<path d="M92 206 L97 168 L88 136" stroke-width="9"/><path d="M112 206 L104 168 L88 136" stroke-width="9"/>'
        '<path d="M90 209 h14 M110 209 h14" stroke-width="5"/>'
        '<path d="M88 138 L108 98" stroke-width="15"/><path d="M106 102 L88 86 L82 68" stroke-width="6"/>'
        '<path d="M82 68 L112 46" stroke="#1b211e" stroke-width="2.5"/></g>'
        '<circle cx="121" cy="84" r="10" fill="#c9b49a" stroke="#2f4a3c"/>'
        '<path d="M109 44 l8 -1 l-2 7 z" fill="#1b211e"/>'
        '<circle cx="152" cy="208" r="3.6" fill="#fff" stroke="#1b211e"/>'
        '<path d="M196 42 V212 M191 42h10 M191 212h10" stroke="#1b211e" fill="none"/>'
        f'<text x="188" y="128" transform="rotate(-90 188 128)" text-anchor="middle">{share} or more</text></svg>'
    )

"""Pages that open without a network: fonts, styles and drawings are all inside."""

from __future__ import annotations

from html import escape

from segmentkit.deliver import ink
from segmentkit.deliver.svg import FAMILY, font_faces

_CHART_STYLE = f"""
html, body {{ margin: 0; background: {ink.PANEL}; font-family: {FAMILY}, sans-serif; color: {ink.INK}; }}
nav {{ position: fixed; right: 18px; bottom: 18px; display: flex; gap: 2px; background: {ink.SLATE}; border-radius: 8px;
  padding: 4px; box-shadow: 0 2px 10px #0005; }}
nav button {{ font: inherit; font-size: 15px; color: {ink.PAPER}; background: none; border: 0; border-radius: 6px;
  padding: 6px 12px; cursor: pointer; }}
nav button:hover, nav button:focus-visible {{ background: {ink.SEA}; }}
main {{ overflow: auto; height: 100vh; cursor: grab; }}
main svg {{ display: block; margin-bottom: 64px; height: auto;
  width: calc(100% * var(--zoom, 1)); background: {ink.PAPER}; }}
svg g:hover > rect, svg g:hover > polygon {{ filter: brightness(1.12); }}
@page {{ size: A3 landscape; margin: 8mm; }}
@media print {{ nav {{ display: none; }} main {{ overflow: visible; height: auto; }} main svg {{ width: 100%; }}
  html, body {{ background: none; }} * {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }} }}
"""
_CHART_SCRIPT = """
const main = document.querySelector('main');
let zoom = 1;
function to(wanted, x = main.clientWidth / 2, y = main.clientHeight / 2) {
  const next = Math.min(8, Math.max(1, wanted)), by = next / zoom;
  zoom = next;
  main.style.setProperty('--zoom', zoom);
  main.scrollLeft = (main.scrollLeft + x) * by - x;
  main.scrollTop = (main.scrollTop + y) * by - y;
}
document.getElementById('closer').onclick = () => to(zoom * 1.4);
document.getElementById('further').onclick = () => to(zoom / 1.4);
document.getElementById('whole').onclick = () => to(1);
main.addEventListener('wheel', e => {
  if (!e.ctrlKey && !e.metaKey) return;
  e.preventDefault();
  to(zoom * Math.exp(-e.deltaY / 300), e.clientX, e.clientY);
}, {passive: false});
addEventListener('keydown', e => {
  if (e.key === '+' || e.key === '=') to(zoom * 1.4);
  if (e.key === '-') to(zoom / 1.4);
  if (e.key === '0') to(1);
});
let held = null;
main.addEventListener('pointerdown', e => { held = [e.clientX + main.scrollLeft, e.clientY + main.scrollTop]; });
addEventListener('pointermove', e => {
  if (held) { main.scrollLeft = held[0] - e.clientX; main.scrollTop = held[1] - e.clientY; }
});
addEventListener('pointerup', () => { held = null; });
"""


def page(title: str, style: str, body: str, script: str = "", language: str = "en") -> str:
    """An HTML document with everything inside."""
    scripted = f"<script>{script}</script>\n" if script else ""
    return (
        f'<!doctype html>\n<html lang="{escape(language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>\n{font_faces()}\n{style}</style>\n</head>\n<body>\n{body}\n{scripted}"
        "</body>\n</html>\n"
    )


def chart_page(title: str, svg: str) -> str:
    """A drawing to scroll and zoom: buttons, + and -, or the wheel with Ctrl; drag to move; prints on A3."""
    buttons = (
        '<nav><button id="further" title="Further off (-)">−</button><button id="whole" title="Whole sheet (0)">whole'
        '</button><button id="closer" title="Closer (+)">+</button></nav>'
    )
    return page(f"{title} — timing chart", _CHART_STYLE, f"<main>{svg}</main>\n{buttons}", _CHART_SCRIPT)

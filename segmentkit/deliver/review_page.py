"""What changed, as a page that opens without a network: figures, words with marks, pictures before and after."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from html import escape

from PIL import Image

from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.deliver.review_changes import Change, Pair
from segmentkit.deliver.svg import FAMILY
from segmentkit.media.stills import Rgb

_STYLE = f"""
body {{ font: 16px/1.45 {FAMILY}, sans-serif; color: {ink.INK}; background: {ink.PAPER}; max-width: 72rem;
  margin: 0 auto; padding: 2rem 2rem 4rem; }}
h1 {{ color: {ink.SLATE}; margin: 0 0 .2rem; line-height: 1.1; }}
h2 {{ color: {ink.SEA}; border-bottom: 2px solid {ink.LINE}; margin: 2rem 0 .6rem; font-size: 1.25rem; }}
.sum {{ color: {ink.QUIET}; margin: 0; }}
table {{ border-collapse: collapse; width: 100%; }}
td {{ vertical-align: top; padding: .35rem .8rem .35rem 0; border-bottom: 1px solid {ink.LINE}; }}
td:first-child {{ width: 5.5rem; color: {ink.QUIET}; }}
td:nth-child(2) {{ width: 17rem; font-weight: 600; }}
del {{ color: {ink.WARNING}; }}
ins {{ color: {ink.STROKES["good"]}; text-decoration: none; border-bottom: 2px solid; font-weight: 600; }}
.pair {{ display: grid; grid-template-columns: 1fr 1fr; gap: .3rem 1rem; margin: 0 0 1.4rem; break-inside: avoid; }}
.pair h3 {{ grid-column: 1 / 3; margin: 0; font-size: 1rem; }}
.pair img {{ width: 100%; display: block; border: 1px solid {ink.SLATE}; }}
.pair p {{ margin: 0; color: {ink.QUIET}; }}
.none {{ display: grid; place-items: center; aspect-ratio: 16 / 9; border: 1px dashed {ink.QUIET};
  color: {ink.QUIET}; }}
@media print {{ body {{ background: none; padding: 0; font-size: 10pt; }} }}
"""


def changes_page(
    title: str,
    names: tuple[str, str],
    found: Sequence[Change],
    pairs: Sequence[Pair],
    before: Mapping[str, Rgb],
    after: Mapping[str, Rgb],
) -> str:
    """The page.

    Args:
        title: the segment's.
        names: of both versions, such as "version 3" and "now".
        found: what changed.
        pairs: the frozen pictures that look different.
        before: pictures by shot, uint8, shape (height, width, 3).
        after: likewise.
    """
    rows = "\n".join(_row(one) for one in found)
    told = "\n".join(_pair(one, names, before, after) for one in pairs)
    numbers = {**counts(found), **({"pictures that look different": len(pairs)} if pairs else {})}
    kinds = " · ".join(f"{kind}: {count}" for kind, count in numbers.items()) or "nothing changed"
    body = (
        f"<h1>{escape(title)}</h1>\n"
        f'<p class="sum">{escape(names[0])} → {escape(names[1])} · {kinds}</p>\n'
        f"<h2>What changed</h2>\n<table>\n{rows}\n</table>\n"
        f"<h2>Pictures before and after</h2>\n{told or '<p>All frozen pictures are the same.</p>'}"
    )
    return page(f"{title} — {names[0]} → {names[1]}", _STYLE, body)


def counts(found: Sequence[Change]) -> dict[str, int]:
    """How many changes of each kind."""
    numbers: dict[str, int] = {}
    for one in found:
        numbers[one.kind] = numbers.get(one.kind, 0) + 1
    return numbers


def _row(one: Change) -> str:
    marks = {"same": "{}", "gone": "<del>{}</del>", "new": "<ins>{}</ins>"}
    what = " ".join(marks[how].format(escape(text)) for text, how in one.runs) if one.runs else escape(one.what)
    return f"<tr><td>{one.kind}</td><td>{escape(one.where)}</td><td>{what}</td></tr>"


def _pair(one: Pair, names: tuple[str, str], before: Mapping[str, Rgb], after: Mapping[str, Rgb]) -> str:
    cells = [_cell(before.get(one.old)), _cell(after.get(one.new))]
    return (
        f'<div class="pair"><h3>{escape(one.name)}</h3>{"".join(cells)}'
        f"<p>{escape(names[0])}</p><p>{escape(names[1])}</p></div>"
    )


def _cell(rgb: Rgb | None) -> str:
    if rgb is None:
        return '<div class="none">not in this version</div>'
    data = io.BytesIO()
    Image.fromarray(rgb).save(data, "JPEG", quality=88)
    return f'<img alt="" src="data:image/jpeg;base64,{base64.b64encode(data.getvalue()).decode("ascii")}">'


def changes_text(names: tuple[str, str], found: Sequence[Change], pairs: Sequence[Pair]) -> str:
    """What changed, one line a change."""
    lines = [f"{names[0]} → {names[1]}"]
    lines += [f"{one.kind:<8} {one.where}: {one.what}" for one in found]
    lines += [f"{'looks':<8} {one.name}" for one in pairs]
    return "\n".join([*lines, *(["nothing changed"] if not found and not pairs else [])]) + "\n"

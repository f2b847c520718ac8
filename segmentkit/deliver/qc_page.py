"""Quality control as one page that needs no network: the verdict, each flag with picture and sound, every check."""

from __future__ import annotations

import base64
import io
from collections.abc import Mapping, Sequence
from html import escape
from pathlib import Path

from PIL import Image

from segmentkit.checks.qc import BEYOND, SUBJECTS, overall
from segmentkit.checks.qc_check import Flag, Outcome, Verdict
from segmentkit.deliver import ink
from segmentkit.deliver.page import page
from segmentkit.deliver.qc_data import Override
from segmentkit.deliver.qc_wave import strip, wave
from segmentkit.deliver.svg import FAMILY
from segmentkit.findings import Severity
from segmentkit.geometry import Rect
from segmentkit.media import safe
from segmentkit.media.stills import Rgb
from segmentkit.screened import Screened
from segmentkit.timebase import label_of_frame

_PASS = ink.STROKES["good"]
_COLOURS = {
    Outcome.PASS: _PASS, Outcome.WARN: ink.SUN, Outcome.FAIL: ink.WARNING, Outcome.NOT_CHECKED: ink.QUIET,
}  # fmt: skip
_WORDS = {Outcome.PASS: "pass", Outcome.WARN: "warn", Outcome.FAIL: "fail", Outcome.NOT_CHECKED: "not checked"}
_SHOWN = 60
"""Times told of further flags; a page with thousands helps nobody. All are in the data."""
_OF_A_KIND = 3
"""Flags of one check shown with pictures; of the others the page tells the times."""

_STYLE = f"""
* {{ box-sizing: border-box; }}
body {{ font: 16px/1.5 {FAMILY}, sans-serif; color: {ink.INK}; background: {ink.PAPER}; max-width: 76rem;
  margin: 0 auto; padding: 2rem clamp(1rem, 4vw, 2.5rem) 4rem; overflow-wrap: break-word; }}
h1 {{ color: {ink.SLATE}; margin: 0; line-height: 1.15; font-size: clamp(1.4rem, 4vw, 2rem); }}
h2 {{ color: {ink.SEA}; border-bottom: 2px solid {ink.LINE}; margin: 2.4rem 0 .8rem; font-size: 1.25rem; }}
h3 {{ margin: 0; font-size: 1.05rem; line-height: 1.3; }}
p {{ margin: .3rem 0; }}
.quiet, small {{ color: {ink.QUIET}; }}
.top {{ display: flex; flex-wrap: wrap; gap: .4rem 1.4rem; align-items: center; justify-content: space-between; }}
.stamp {{ font-weight: 600; font-size: 1.15rem; color: #fff; border-radius: .4rem; padding: .35rem 1rem; }}
.tag {{ display: inline-block; font-weight: 600; font-size: .85rem; line-height: 1.5; border-radius: .3rem;
  padding: 0 .55rem; color: #fff; white-space: nowrap; }}
.facts {{ display: grid; grid-template-columns: repeat(auto-fit, minmax(10.5rem, 1fr)); gap: .8rem 1.4rem;
  margin: 1.2rem 0 1.4rem; padding: 0; list-style: none; }}
.facts li {{ border-left: 3px solid {ink.SAND}; padding-left: .7rem; line-height: 1.35; }}
.facts small {{ display: block; }}
.override {{ border: 2px solid {ink.SUN}; border-radius: .4rem; padding: .7rem 1rem; margin: 1rem 0; }}
.strip svg, .wave svg {{ display: block; width: 100%; height: auto; }}
.strip {{ background: {ink.PANEL}; border-radius: .4rem; padding: .7rem .8rem .4rem; overflow-x: auto; }}
.strip svg {{ min-width: 44rem; }}
.flag {{ display: grid; grid-template-columns: minmax(0, 22rem) minmax(0, 1fr); gap: .4rem 1.4rem; padding: 1.1rem 0;
  border-bottom: 1px solid {ink.LINE}; break-inside: avoid; }}
.flag .see {{ display: grid; gap: .5rem; align-content: start; }}
.shot {{ position: relative; line-height: 0; background: {ink.SLATE}; }}
.shot img {{ width: 100%; height: auto; display: block; }}
.shot i {{ position: absolute; border: 3px solid #ffd23f; outline: 1px solid #000; }}
.trio {{ display: grid; grid-template-columns: repeat(3, 1fr); gap: 3px; }}
.trio .shot:nth-child(2) {{ outline: 3px solid {ink.WARNING}; z-index: 1; }}
.flag.plain {{ grid-template-columns: minmax(0, 1fr); padding: .8rem 0; }}
.more {{ padding: .8rem 0; border-bottom: 1px solid {ink.LINE}; margin: 0; }}
.flag dl {{ display: grid; grid-template-columns: 4.6rem minmax(0, 1fr); gap: .15rem .8rem; margin: .6rem 0 0; }}
.flag dt {{ color: {ink.QUIET}; }} .flag dd {{ margin: 0; }}
.when {{ font-weight: 600; color: {ink.SLATE}; font-variant-numeric: tabular-nums; }}
table {{ border-collapse: collapse; width: 100%; }}
th {{ text-align: left; font-weight: 600; color: {ink.SEA}; padding: 1.1rem .8rem .3rem 0; font-size: 1.05rem; }}
td {{ vertical-align: top; padding: .5rem .9rem .5rem 0; border-top: 1px solid {ink.LINE}; }}
td:nth-child(1) {{ width: 7.2rem; }} td:nth-child(2) {{ width: 15rem; }} td:nth-child(3) {{ width: 19rem; }}
td small {{ display: block; line-height: 1.4; }}
ul {{ padding-left: 1.2rem; margin: .4rem 0; }} li {{ margin: .25rem 0; }}
a {{ color: {ink.SEA}; }}
@media (max-width: 46rem) {{
  .flag {{ grid-template-columns: minmax(0, 1fr); }}
  table, tbody, tr, td, th {{ display: block; }}
  td, td:nth-child(n) {{ border: 0; padding: .1rem 0; width: auto; }}
  tr {{ border-top: 1px solid {ink.LINE}; padding: .55rem 0; }} tr.subject {{ border: 0; padding: 0; }}
}}
@media print {{ body {{ background: none; padding: 0; font-size: 10pt; }}
  * {{ print-color-adjust: exact; -webkit-print-color-adjust: exact; }} }}
"""


def flags_of(verdicts: Sequence[Verdict]) -> list[tuple[Verdict, Flag]]:
    """All flags, errors first, each kind in the order of time."""
    pairs = [(one, flag) for one in verdicts for flag in one.flags]
    return sorted(pairs, key=lambda pair: (pair[1].finding.severity.rank, pair[1].span.start if pair[1].span else -1))


def _groups(verdicts: Sequence[Verdict]) -> list[tuple[Verdict, list[Flag]]]:
    """Flags of one check and weight together, errors first, then as the time of their first one runs."""
    groups: dict[tuple[str, Severity], tuple[Verdict, list[Flag]]] = {}
    for one, flag in flags_of(verdicts):
        groups.setdefault((one.check.id, flag.finding.severity), (one, []))[1].append(flag)
    return list(groups.values())


def frames_to_show(verdicts: Sequence[Verdict], frames: int) -> tuple[int, ...]:
    """The frames that the page wants pictures of: each flag's worst moment, and both neighbours of a single frame."""
    wanted: set[int] = set()
    for one, group in _groups(verdicts):
        for flag in group[:_OF_A_KIND]:
            wanted |= set(_shown(one, flag))
    return tuple(sorted(frame for frame in wanted if 0 <= frame < frames))


def _shown(one: Verdict, flag: Flag) -> tuple[int, ...]:
    if flag.span is None:
        return ()
    if one.check.id in {"qc-flash-frame", "qc-cuts"}:
        return flag.span.start - 1, flag.span.start, flag.span.start + 1
    if one.check.id.startswith("qc-flashes") or one.check.id == "qc-red-flashes":
        middle = (flag.span.start + flag.span.end) // 2
        return middle - 3, middle, middle + 3
    return ((flag.span.start + flag.span.end - 1) // 2,)


def qc_page(
    title: str,
    measured: Screened,
    verdicts: Sequence[Verdict],
    pictures: Mapping[int, Rgb],
    *,
    name: str = "",
    override: Override | None = None,
) -> str:
    """The page.

    Args:
        title: of the segment, or the file's name.
        measured: what was measured.
        verdicts: how it was judged.
        pictures: by frame of the file, uint8, shape (height, width, 3); see `frames_to_show`.
        name: of the file, when it is to have another one than it has now.
        override: who lets it pass all the same.
    """
    worst = overall(tuple(verdicts))
    pairs = flags_of(verdicts)
    flags = "\n".join(_group(one, group, measured, pictures) for one, group in _groups(verdicts))
    unknown = [one for one in verdicts if one.because]
    body = (
        f'<div class="top"><h1>{escape(title)}</h1>{_stamp(worst, unknown)}</div>\n'
        f'<p class="quiet">{escape(name or measured.path.name)} · {_counts(verdicts)}</p>\n'
        f"{_override(override)}{_facts(measured)}\n"
        f'<div class="strip">{strip(measured, [flag for _, flag in pairs])}</div>\n'
        f"<h2>What was found</h2>\n{flags or '<p>Nothing to put right.</p>'}\n"
        f"<h2>What was checked</h2>\n<table>\n{_table(verdicts)}\n</table>\n"
        f"<h2>What could not be checked</h2>\n{_unknown(unknown)}"
        f"<h2>What no check here can tell</h2>\n<ul>{''.join(f'<li>{escape(one)}</li>' for one in BEYOND)}</ul>\n"
        f'<p class="quiet">Black, freezes, cuts and flashes were measured on pictures of {measured.reduced}, since '
        "they are defined by shares of the picture; levels and texts on full pictures. SHA-256 of the file: "
        f"{measured.content}</p>"
    )
    return page(f"{title} — quality control", _STYLE, body)


def write_qc_page(target: Path, text: str) -> Path:
    """Writes the page.

    Raises:
        OutputFailed: when it cannot be written.
    """
    with safe.writing(target) as partial:
        partial.write_text(text, "utf-8")
    return target


def _stamp(worst: Outcome, unknown: Sequence[Verdict]) -> str:
    words = {
        Outcome.FAIL: "fails — not to be handed over",
        Outcome.WARN: "passes with warnings",
        Outcome.PASS: "passes",
        Outcome.NOT_CHECKED: "not checked",
    }
    told = words[worst] + (f", {len(unknown)} not checked" if unknown and worst is not Outcome.FAIL else "")
    return f'<span class="stamp" style="background:{_COLOURS[worst]}">{told}</span>'


def _counts(verdicts: Sequence[Verdict]) -> str:
    parts = []
    for outcome in (Outcome.FAIL, Outcome.WARN, Outcome.PASS, Outcome.NOT_CHECKED):
        number = sum(one.outcome is outcome for one in verdicts)
        if number:
            parts.append(f"{number} {_WORDS[outcome]}")
    return f"{len(verdicts)} checks: " + ", ".join(parts)


def _override(override: Override | None) -> str:
    if override is None:
        return ""
    return (
        f'<p class="override"><b>Let pass by {escape(override.by)}</b> on {escape(override.on)}: '
        f"{escape(override.reason)}</p>\n"
    )


def _facts(measured: Screened) -> str:
    coded, sound = measured.coded, measured.sound
    frames = measured.programme.frames
    length = str(label_of_frame(frames, coded.rate)) if coded.rate.has_labels else f"{frames} frames"
    facts = [
        (length, f"{frames} frames at {coded.rate}"),
        (f"{coded.size}", f"{coded.picture}, {coded.pixels}"),
    ]
    if sound is not None:
        facts.append((f"{sound.loudness.integrated:.1f} LUFS", "integrated loudness"))
        facts.append((f"{sound.loudness.true_peak:.1f} dBTP", "true peak"))
        if sound.sync is not None:
            facts.append((f"{1000 * sound.sync.late:+.0f} ms", "sound against the plan's mix"))
    else:
        facts.append(("no sound", ""))
    facts.append((f"{measured.bytes / 1e6:.1f} MB", "on disk"))
    items = "".join(f"<li>{escape(value)}<small>{escape(what)}</small></li>" for value, what in facts)
    return f'<ul class="facts">{items}</ul>'


def _group(one: Verdict, group: Sequence[Flag], measured: Screened, pictures: Mapping[int, Rgb]) -> str:
    shown = [_flag(one, flag, measured, pictures) for flag in group[:_OF_A_KIND]]
    rest = group[_OF_A_KIND:]
    if rest:
        times = "; ".join(dict.fromkeys(flag.time or "the whole file" for flag in rest[:_SHOWN]))
        more = f" and {len(rest) - _SHOWN} more, which are in the data beside this page" if len(rest) > _SHOWN else ""
        shown.append(
            f'<p class="more">{_weight(group[0].finding.severity)} <b>{escape(one.check.title)}</b>, '
            f'{len(rest)} more: <span class="when">{escape(times)}</span>{more}</p>'
        )
    return "\n".join(shown)


def _flag(one: Verdict, flag: Flag, measured: Screened, pictures: Mapping[int, Rgb]) -> str:
    what, _, allowed = flag.finding.what.partition(" — ")
    frames = "" if flag.span is None else f" <small>frame {flag.span.start} of the file</small>"
    seen = [_shot(pictures.get(frame), flag.area) for frame in _shown(one, flag)]
    shots = "".join(seen)
    shots = f'<div class="trio">{shots}</div>' if len(seen) == 3 else shots
    heard = f'<div class="wave">{wave(measured, flag.span)}</div>' if flag.span and measured.sound else ""
    rows = [("allowed", allowed), ("source", one.check.source), ("do", flag.finding.remedy)]
    listed = "".join(f"<dt>{name}</dt><dd>{escape(text)}</dd>" for name, text in rows if text)
    see = f'<div class="see">{shots}{heard}</div>' if shots or heard else ""
    plain = "" if see else " plain"
    return (
        f'<section class="flag{plain}">{see}<div>'
        f"<h3>{_weight(flag.finding.severity)} {escape(one.check.title)}</h3>"
        f'<p class="when">{escape(flag.time or "the whole file")}{frames}</p>'
        f"<p>{escape(what)}</p><dl>{listed}</dl></div></section>"
    )


def _shot(rgb: Rgb | None, area: Rect | None) -> str:
    if rgb is None:
        return ""
    data = io.BytesIO()
    Image.fromarray(rgb).save(data, "JPEG", quality=82)
    url = base64.b64encode(data.getvalue()).decode("ascii")
    box = ""
    if area is not None and area.width * area.height < 0.98:
        sides = ";".join(
            f"{name}:{100 * min(max(value, 0.0), 1.0):.2f}%"
            for name, value in (("left", area.x), ("top", area.y), ("width", area.width), ("height", area.height))
        )
        box = f'<i style="{sides}"></i>'
    return f'<div class="shot"><img alt="" src="data:image/jpeg;base64,{url}">{box}</div>'


def _weight(severity: Severity) -> str:
    colours = {Severity.ERROR: ink.WARNING, Severity.WARNING: ink.SUN, Severity.NOTE: ink.SEA}
    words = {Severity.ERROR: "fail", Severity.WARNING: "warn", Severity.NOTE: "note"}
    return f'<span class="tag" style="background:{colours[severity]}">{words[severity]}</span>'


def _tag(outcome: Outcome) -> str:
    return f'<span class="tag" style="background:{_COLOURS[outcome]}">{_WORDS[outcome]}</span>'


def _table(verdicts: Sequence[Verdict]) -> str:
    by_id = {one.check.id: one for one in verdicts}
    rows = []
    for subject, checks in SUBJECTS:
        rows.append(f'<tr class="subject"><th colspan="4">{subject}</th></tr>')
        rows += [_row(by_id[check.id]) for check in checks if check.id in by_id]
    return "\n".join(rows)


def _row(one: Verdict) -> str:
    why = one.check.why.split("\n\n")[0].replace("\n", " ")
    value = escape(one.value or "—")
    because = f"<small>not judged, because {escape(one.because)}</small>" if one.because else ""
    return (
        f"<tr><td>{_tag(one.outcome)}</td><td><b>{escape(one.check.title)}</b><small>{escape(why)}</small></td>"
        f"<td>{value}{because}</td><td>{escape(one.check.limit)}<small>{escape(one.check.source)}</small></td></tr>"
    )


def _unknown(unknown: Sequence[Verdict]) -> str:
    if not unknown:
        return "<p>Everything on the list was checked.</p>\n"
    items = "".join(f"<li><b>{escape(one.check.title)}</b>: {escape(one.because)}.</li>" for one in unknown)
    return f"<ul>{items}</ul>\n"

"""What the speakers read: the words large, pauses as planned, hard names with how they are said.

The page scrolls at the pace of the plan, so that a line is at the reading height when it is due. Marks are left out:
they are for whoever draws.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from segmentkit.deliver.page import page
from segmentkit.deliver.svg import FAMILY
from segmentkit.plan.model import Plan
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import seconds_of_frame

PAUSE = 0.6
"""Silences from this many seconds on are shown; shorter ones are breath. Common practice, no source."""
_COLUMNS = 44
_CUE_WORDS = 6
_BARE = re.compile(r"^\W+|\W+$")
_POSSESSIVE = re.compile(r"['’]s$")


@dataclass(frozen=True, slots=True, kw_only=True)
class PromptLine:
    """A line to read.

    Attributes:
        beat: the beat's id, and `opens` whether this is its first line.
        speaker: id; `shown` the name.
        words: each word with how it is said, or None where that is plain.
        pause: silence before it in seconds; 0 where there is none to speak of.
        start: when it is due, in seconds; `end` when it is over.
        own: whether the reader of this page speaks it; else it is another's and only cues them.
    """

    beat: str
    opens: bool
    speaker: str
    shown: str
    words: tuple[tuple[str, str | None], ...]
    pause: float
    start: float
    end: float
    own: bool

    @property
    def cue(self) -> str:
        """The last words, for whoever speaks next."""
        texts = [word for word, _ in self.words]
        return ("… " if len(texts) > _CUE_WORDS else "") + " ".join(texts[-_CUE_WORDS:])


def prompt_lines(plan: Plan, board: Storyboard, speaker: str | None = None) -> tuple[PromptLine, ...]:
    """The lines of a plan in the order in which they are spoken.

    Args:
        plan: when each is due.
        board: its storyboard, for how words are said.
        speaker: whose page it is; None for one that all read from.
    """
    lines: list[PromptLine] = []
    heard = 0
    for line in sorted(plan.speech, key=lambda line: (line.span.start, line.line)):
        silence = float(seconds_of_frame(max(0, line.span.start - heard), plan.rate))
        lines.append(
            PromptLine(
                beat=line.beat,
                opens=not lines or lines[-1].beat != line.beat,
                speaker=line.speaker,
                shown=line.shown,
                words=tuple(said([word.text for word in line.words], board.voice.pronounce)),
                pause=silence if silence >= PAUSE else 0.0,
                start=float(seconds_of_frame(line.span.start, plan.rate)),
                end=float(seconds_of_frame(line.span.end, plan.rate)),
                own=speaker is None or line.speaker == speaker,
            )
        )
        heard = max(heard, line.span.end)
    return tuple(lines)


def said(words: Sequence[str], pronounce: Mapping[str, str]) -> Iterator[tuple[str, str | None]]:
    """Each word with how it is said; an entry of several words stands with the last of them, the longest entry wins."""
    keys = sorted(
        ((tuple(_plain(w) for w in key.split()), how) for key, how in pronounce.items()), key=lambda k: -len(k[0])
    )
    plain = [_plain(word) for word in words]
    notes: dict[int, str] = {}
    index = 0
    while index < len(words):
        size = 1
        for key, how in keys:
            if key and tuple(plain[index : index + len(key)]) == key:
                size = len(key)
                notes[index + size - 1] = how
                break
        index += size
    yield from ((word, notes.get(k)) for k, word in enumerate(words))


def _plain(word: str) -> str:
    return _POSSESSIVE.sub("", _BARE.sub("", word)).casefold()


def prompter_text(lines: Sequence[PromptLine], title: str) -> str:
    """The lines as plain text, narrow enough to be set large."""
    parts = [title]
    for line in lines:
        if line.opens:
            parts.append(f"—— {line.beat.replace('_', ' ')} · {_clock(line.start)} ——")
        if line.pause:
            parts.append(f"… {line.pause:.1f} s …")
        words = " ".join(f"{word} [{how}]" if how else word for word, how in line.words)
        body = "\n".join(textwrap.wrap(words, _COLUMNS, break_long_words=False, break_on_hyphens=False))
        parts.append(f"{line.shown.upper()}\n{body}" if line.own else f"({line.shown}: {line.cue})")
    return "\n\n".join(parts) + "\n"


def _clock(seconds: float) -> str:
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02}"


_STYLE = f"""
html {{ background: #0b171b; }}
body {{ margin: 0; color: #f8f0df; font: 600 var(--size, 64px)/1.28 {FAMILY}, sans-serif; overflow-x: hidden; }}
body.glass main {{ transform: scaleX(-1); }}
main {{ max-width: 22em; margin: 0 auto; padding: 42vh .6em 70vh; }}
.beat {{ font-size: .3em; color: #8fb0b5; border-top: 2px solid #2c5560; margin: 2.4em 0 1em; padding-top: .5em;
  display: flex; justify-content: space-between; font-weight: 400; }}
.who {{ display: block; font-size: .42em; color: #f0a560; margin-top: .5em; letter-spacing: .02em; }}
p {{ margin: 0 0 .35em; text-wrap: pretty; }}
.other {{ font-size: .46em; font-weight: 400; color: #8fb0b5; }}
.pause {{ font-size: .5em; color: #f6c544; letter-spacing: .3em; }}
.pause small {{ letter-spacing: 0; font-weight: 400; }}
rt {{ font-size: .4em; font-weight: 400; color: #f6c544; }}
.eye {{ position: fixed; left: 0; top: 40vh; border: solid transparent; border-width: .35em 0 .35em .55em;
  border-left-color: #f0a560; }}
nav {{ position: fixed; bottom: 0; left: 0; right: 0; font: 400 15px {FAMILY}, sans-serif; color: #cfc3a8;
  background: #0b171bd9; padding: .6em 1em; display: flex; gap: 1.6em; align-items: center; justify-content: center; }}
nav b {{ color: #f8f0df; font-weight: 600; }}
nav #time {{ min-width: 4em; font-size: 20px; color: #f0a560; }}
@page {{ size: A4; margin: 15mm; }}
@media print {{ html, body {{ background: none; color: #000; }} body {{ font-size: 26pt; }} main {{ padding: 0; }}
  nav, .eye {{ display: none; }} p {{ break-inside: avoid; }} .who, .pause, .beat, .other, rt {{ color: #444; }} }}
"""
_SCRIPT = """
const lines = [...document.querySelectorAll('[data-start]')];
const clock = document.getElementById('time');
let running = false, at = 0, last = 0, pace = 1, size = 64;
const height = line => line.offsetTop - innerHeight * 0.4;
function place(t) {
  let k = lines.findIndex(line => +line.dataset.end > t);
  if (k < 0) k = lines.length - 1;
  const line = lines[k], start = +line.dataset.start, end = +line.dataset.end;
  if (t < start) {
    const from = k ? height(lines[k - 1]) + lines[k - 1].offsetHeight : -innerHeight * 0.4;
    const since = k ? +lines[k - 1].dataset.end : 0;
    return from + (height(line) - from) * Math.min(1, (t - since) / Math.max(0.001, start - since));
  }
  return height(line) + line.offsetHeight * Math.min(1, (t - start) / Math.max(0.001, end - start));
}
function step(now) {
  if (!running) return;
  at += (now - last) / 1000 * pace;
  last = now;
  scrollTo(0, place(at));
  say();
  requestAnimationFrame(step);
}
function say() {
  clock.textContent = Math.floor(at / 60) + ':' + String(Math.floor(at % 60)).padStart(2, '0') +
    (pace === 1 ? '' : ' ×' + pace.toFixed(2));
}
addEventListener('keydown', e => {
  const root = document.documentElement.style;
  if (e.key === ' ') { e.preventDefault(); running = !running; last = performance.now(); requestAnimationFrame(step); }
  else if (e.key === 'Home') { e.preventDefault(); at = 0; scrollTo(0, place(0)); }
  else if (e.key === 'ArrowRight') pace = Math.min(2, pace + 0.05);
  else if (e.key === 'ArrowLeft') pace = Math.max(0.5, pace - 0.05);
  else if (e.key === '+' || e.key === '=') root.setProperty('--size', (size = Math.min(160, size + 4)) + 'px');
  else if (e.key === '-') root.setProperty('--size', (size = Math.max(24, size - 4)) + 'px');
  else if (e.key === 'm') document.body.classList.toggle('glass');
  say();
});
say();
"""
_KEYS = (
    '<nav><span id="time"></span><span><b>space</b> run, stop</span><span><b>← →</b> pace</span>'
    "<span><b>+ −</b> size</span><span><b>m</b> mirror for glass</span><span><b>Home</b> from the top</span></nav>"
)


def prompter_page(lines: Sequence[PromptLine], title: str, language: str = "en") -> str:
    """The lines as a page that scrolls by itself."""
    parts = []
    for line in lines:
        if line.opens:
            name = escape(line.beat.replace("_", " "))
            parts.append(f'<div class="beat"><span>{name}</span><span>{_clock(line.start)}</span></div>')
        if line.pause:
            parts.append(f'<p class="pause">… <small>{line.pause:.1f} s</small></p>')
        due = f'data-start="{line.start:.3f}" data-end="{line.end:.3f}"'
        if line.own:
            words = " ".join(_word(word, how) for word, how in line.words)
            parts.append(f'<p {due}><span class="who">{escape(line.shown)}</span>{words}</p>')
        else:
            parts.append(f'<p class="other" {due}>{escape(line.shown)}: {escape(line.cue)}</p>')
    body = f'<main>{"".join(parts)}</main><div class="eye"></div>{_KEYS}'
    return page(f"{title} — prompter", _STYLE, body, _SCRIPT, language)


def _word(word: str, how: str | None) -> str:
    text = escape(word, quote=False)
    return f"<ruby>{text}<rt>{escape(how, quote=False)}</rt></ruby>" if how else text

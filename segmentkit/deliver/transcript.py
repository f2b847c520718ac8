"""The words as spoken: a transcript for readers, and the as-broadcast script with times for the archive."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby

from segmentkit.deliver import ink
from segmentkit.plan.cards import GUIDE_MARK
from segmentkit.plan.model import Plan, Speech
from segmentkit.storyboard.model import Storyboard
from segmentkit.timebase import Span, clock_text, label_of_frame, seconds_of_frame

_STYLE = f"""
body {{ font: 18px/1.55 system-ui, sans-serif; color: {ink.INK}; background: {ink.PAPER}; max-width: 40rem;
  margin: 0 auto; padding: 2rem 1.2rem 4rem; }}
h1 {{ color: {ink.SLATE}; line-height: 1.15; margin: .2rem 0 1.4rem; }}
.above, time {{ color: {ink.QUIET}; }}
.above {{ margin: 0; }}
section {{ display: grid; grid-template-columns: 4.2rem 1fr; gap: 0 1rem; margin-bottom: 1rem; }}
section p {{ margin: 0; grid-column: 2; }}
time {{ grid-column: 1; font-variant-numeric: tabular-nums; }}
b {{ display: block; color: {ink.SEA}; font-weight: 600; grid-column: 2; }}
@media print {{ body {{ background: none; padding: 0; font-size: 11pt; }} section {{ break-inside: avoid; }} }}
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What one person says within a beat until somebody else speaks: a paragraph."""

    speaker: str
    start: int
    text: str


def turns(plan: Plan) -> tuple[Turn, ...]:
    """Who says what, in the order in which it is heard."""
    spoken = sorted(plan.speech, key=lambda line: (line.span.start, line.line))
    made = []
    for (_, _, shown), lines in groupby(spoken, key=lambda line: (line.beat, line.speaker, line.shown)):
        held = list(lines)
        made.append(Turn(speaker=shown, start=held[0].span.start, text=" ".join(line.text for line in held)))
    return tuple(made)


def transcript_text(plan: Plan) -> str:
    """The words as plain text, in paragraphs, each change of speaker told."""
    told = [f"{turn.speaker}: {turn.text}" if first else turn.text for turn, first in _changes(plan)]
    return "\n\n".join([plan.title, *told]) + "\n"


def _changes(plan: Plan) -> Iterator[tuple[Turn, bool]]:
    """Each paragraph, and whether another person spoke before it."""
    before = ""
    for turn in turns(plan):
        yield turn, turn.speaker != before
        before = turn.speaker


def transcript_page(plan: Plan, board: Storyboard) -> str:
    """The words as a page, with the time of each turn; in the reader's own font, so that it is light on the web."""
    segment = board.segment
    above = " · ".join(text for text in (segment.programme, segment.item) if text)
    told = "\n".join(
        f"<section><time>{clock_text(seconds_of_frame(turn.start, plan.rate))}</time>"
        f"{f'<b>{escape(turn.speaker)}</b>' if first else ''}"
        f'<p dir="auto">{escape(turn.text)}</p></section>'
        for turn, first in _changes(plan)
    )
    return (
        f'<!doctype html>\n<html lang="{escape(segment.language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(plan.title)} — transcript</title>\n<style>{_STYLE}</style>\n</head>\n<body>\n"
        f'<p class="above">{escape(above)}</p>\n<h1>{escape(plan.title)}</h1>\n{told}\n</body>\n</html>\n'
    )


def as_broadcast(plan: Plan, board: Storyboard) -> str:
    """What went on air and when, one line an event: words as spoken, texts as shown, music. Plain text."""
    segment = board.segment
    head = [
        " · ".join(text for text in (segment.programme, segment.item, plan.title) if text),
        f"As broadcast: {label_of_frame(plan.frames, plan.rate)}, {plan.frames} frames at {plan.rate}; in, out, what",
        "",
    ]
    events = sorted(_events(plan), key=lambda event: (event[0].start, event[0].end))
    lines = [
        f"{label_of_frame(span.start, plan.rate)}  {label_of_frame(span.end, plan.rate)}  {what}"
        for span, what in events
    ]
    return "\n".join([*head, *lines]) + "\n"


def _events(plan: Plan) -> Iterator[tuple[Span, str]]:
    for line in plan.speech:
        yield line.span, f"{_heard(line)}: {line.text}"
    for card in plan.cards:
        if card.kind != GUIDE_MARK:
            texts = " / ".join(text for _, text in card.fields)
            yield card.span, f"[{card.kind.replace('_', ' ')}] {texts}"
    for shot in plan.shots:
        for pane in shot.panes:
            if pane.label:
                yield shot.span, f"[name] {' / '.join(text for text in (pane.label, pane.note) if text)}"
    for stroke in plan.strokes:
        if stroke.label and not stroke.kept:
            yield stroke.span, f"[label] {stroke.label}"
    for cue in plan.music:
        yield cue.span, f"[music] {cue.path.name}"


def _heard(line: Speech) -> str:
    if line.is_guide:
        return f"{line.shown} (guide voice)"
    return line.shown if line.path is not None else f"{line.shown} (not recorded)"

"""The fit as text: a table of the beats, who could give or take, and which words could go."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from segmentkit.plan.advice import Advice, Option
from segmentkit.plan.backtime import over_text
from segmentkit.plan.fit_report import BeatFit, FitReport, verdict
from segmentkit.plan.spare import SpareWords
from segmentkit.timebase import Rate, clock_text, label_of_frame, seconds_of_frame, seconds_text

_ENOUGH = 60


def fit_text(report: FitReport, advice: Advice) -> str:
    """The whole report for reading in a terminal."""
    parts = [_head(report), _table(report), *_room(report), *_words(advice, report.rate)]
    return "\n\n".join(parts) + "\n"


def _head(report: FitReport) -> str:
    lines = [report.title, verdict(report)]
    if report.before_slot is not None:
        lines.append(
            f"compared with the slot {label_of_frame(report.before_slot, report.rate)} ({report.before_slot} frames), "
            f"a change of {over_text(report.slot - report.before_slot, report.rate)}"
        )
    return "\n".join(lines)


def _table(report: FitReport) -> str:
    head = ["beat", "starts", "to go", "least", "nominal", "most"]
    head += ["before", "now"] if report.before_slot is not None else ["now"]
    rows = [[*head, "change", "frames", ""]]
    rows += [_row(beat, report) for beat in report.beats]
    rows.append(_sums(report))
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = [_line(row, widths) for row in rows]
    rule = "─" * max(len(line) for line in lines)
    return "\n".join([lines[0], rule, *lines[1:-1], rule, lines[-1]])


def _line(row: Sequence[str], widths: Sequence[int]) -> str:
    cells = [
        cell.ljust(width) if c in {0, len(row) - 1} else cell.rjust(width)
        for c, (cell, width) in enumerate(zip(row, widths, strict=True))
    ]
    return "  ".join(cells).rstrip()


def _row(beat: BeatFit, report: FitReport) -> list[str]:
    rate = report.rate
    lengths = [beat.least, beat.nominal, beat.most]
    lengths += [beat.before, beat.given] if report.before_slot is not None else [beat.given]
    return [
        beat.id,
        clock_text(seconds_of_frame(beat.time.start, rate)),
        clock_text(seconds_of_frame(beat.time.to_go, rate)),
        *(_seconds(frames, rate) for frames in lengths),
        _signed(beat.change, rate) if beat.change else "·",
        f"{beat.change:+d}" if beat.change else "·",
        "rigid" if beat.rigid else f"gives {beat.gives}" if beat.gives != 5 else "",
    ]


def _sums(report: FitReport) -> list[str]:
    beats, rate = report.beats, report.rate
    sums = [sum(b.least for b in beats), sum(b.nominal for b in beats), sum(b.most for b in beats)]
    sums += [sum(b.before for b in beats), report.frames] if report.before_slot is not None else [report.frames]
    change = sum(beat.change for beat in beats)
    return ["all", "", "", *(_seconds(frames, rate) for frames in sums), _signed(change, rate), f"{change:+d}", ""]


def _seconds(frames: int, rate: Rate) -> str:
    return f"{float(seconds_of_frame(frames, rate)):.2f}"


def _signed(frames: int, rate: Rate) -> str:
    return f"{float(seconds_of_frame(frames, rate)):+.2f}"


def _room(report: FitReport) -> Iterator[str]:
    rate = report.rate
    for what, beats, sizes in (
        ("could still give", report.givers, [b.can_give for b in report.givers]),
        ("could still take", report.takers, [b.can_take for b in report.takers]),
    ):
        if beats:
            names = ", ".join(f"{beat.id} {_lasting(size, rate)}" for beat, size in zip(beats, sizes, strict=True))
            yield f"{what} {_lasting(sum(sizes), rate)}: {names}"
        else:
            yield f"nobody {what.replace('could', 'can')} time"


def _lasting(frames: int, rate: Rate) -> str:
    return seconds_text(seconds_of_frame(frames, rate), 2)


def _words(advice: Advice, rate: Rate) -> Iterator[str]:
    if advice.over and advice.options:
        yield "leave out words in braces to get back:\n" + "\n".join(
            f"  {number}. {_option(option, rate)}" for number, option in enumerate(advice.options, 1)
        )
    elif advice.over and advice.spared:
        yield (
            f"leaving out all words in braces that may go gains {_lasting(advice.most, rate)}, "
            f"{_lasting(advice.over - advice.most, rate)} short of what is needed"
            if advice.most < advice.over
            else "no set of the words in braces brings it into the slot"
        )
    elif advice.over:
        yield "no words are in braces, so none are offered: put {…} around sentences that may go"
    if advice.spared:
        lines = []
        for spared in advice.spared:
            gain = f"stays: {spared.stays}" if spared.stays else _gain(spared.gain, rate)
            lines.append(f"  {spared.words.beat}: {_quoted(spared.words.text)} — {gain}{_hanging(spared.words)}")
        yield "words in braces:\n" + "\n".join(lines)


def _gain(frames: int, rate: Rate) -> str:
    return f"gains {_lasting(frames, rate)}" if frames else "gains nothing, the pictures of the beat are that long"


def _option(option: Option, rate: Rate) -> str:
    parts = [f"{words.beat}: {_quoted(words.text)}{_hanging(words)}{_take(words)}" for words in option.words]
    what = "this" if len(parts) == 1 else f"these {len(parts)}"
    return f"drop {what}, gain {_lasting(option.gain, rate)} — " + "; ".join(parts)


def _hanging(words: SpareWords) -> str:
    gone = [f"stroke {id_}" for id_ in words.strokes] + [f"the {kind.replace('_', ' ')} card" for kind in words.cards]
    return f" ({' and '.join(gone)} would go with it)" if gone else ""


def _take(words: SpareWords) -> str:
    if words.path is None:
        return ""
    return f" ({words.path.name} from {seconds_text(words.take_from, 2)} to {seconds_text(words.take_to, 2)})"


def _quoted(text: str) -> str:
    """The words, those in the middle left out when they are many."""
    words = text.split()
    while len(words) > 2 and len(" ".join(words)) > _ENOUGH:
        words.pop(len(words) // 2)
    if len(words) < len(text.split()):
        words.insert(len(words) // 2, "…")
    return f'"{" ".join(words)}"'


def fit_data(report: FitReport, advice: Advice) -> dict[str, object]:
    """The same report as plain data for machines; lengths in frames."""
    return {
        "rate": str(report.rate),
        "slot": report.slot,
        "frames": report.frames,
        "over": report.over,
        "verdict": verdict(report),
        "beats": [
            {
                "beat": beat.id,
                "start": beat.time.start,
                "must_start": beat.time.must_start,
                "to_go": beat.time.to_go,
                "least": beat.least,
                "nominal": beat.nominal,
                "most": beat.most,
                "before": beat.before,
                "given": beat.given,
                "gives": beat.gives,
                "rigid": beat.rigid,
            }
            for beat in report.beats
        ],
        "spare_words": [
            {"beat": s.words.beat, "line": s.words.line, "text": s.words.text, "gain": s.gain, "stays": s.stays}
            for s in advice.spared
        ],
        "options": [
            {"gain": option.gain, "words": [{"beat": w.beat, "text": w.text} for w in option.words]}
            for option in advice.options
        ],
    }

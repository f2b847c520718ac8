"""A run in words that fit one screen, and as data for machines."""

from __future__ import annotations

from dataclasses import asdict

from segmentkit.season.estimate import sized
from segmentkit.season.journal import FAILED_QC
from segmentkit.season.outcome import Outcome, SeasonReport

LINES, WIDTH = 24, 80


def summary(report: SeasonReport, page: str = "") -> list[str]:
    """At most 24 lines of 80 characters; what has no room is counted and on the page, whose path is never cut."""
    counts = {state: [one for one in report.outcomes if one.state == state] for state in _WORDS}
    said = [f"{len(found)} {_WORDS[state]}" for state, found in counts.items() if found]
    head = f"{report.title}: {len(report.outcomes)} items: {', '.join(said) or 'none'}"
    top = [head, _figures(report)]
    foot = [f"page: {page}"] if page else []
    blocks = [
        ("failed quality control, kept aside", [line for one in report.outcomes for line in failures(one)]),
        ("explained, nothing made", [_explained(one) for one in report.outcomes if one.state == "explained"]),
        ("without some profiles", [line for one in report.outcomes for line in _held(one)]),
        ("side by side on air", [f"{one.where}: {one.what}" for one in report.clashes]),
        ("to look at", [f"{one.entry.id}: {note}" for one in report.outcomes for note in _notes(one)]),
    ]
    blocks = [(title, lines) for title, lines in blocks if lines]
    room = LINES - len(top) - len(foot) - len(blocks)
    shown = _shared([len(lines) for _, lines in blocks], room)
    body: list[str] = []
    for (title, lines), count in zip(blocks, shown, strict=True):
        body.append(f"{title}:" if count == len(lines) else f"{title}, {count} of {len(lines)}:")
        body += [f"  {line}" for line in lines[:count]]
    return [*(_cut(line) for line in (*top, *body)), *foot]


_WORDS = {
    "done": "done", "kept": "as before", FAILED_QC: "failed quality control", "ready": "ready to be made",
    "explained": "explained",
}  # fmt: skip


def _figures(report: SeasonReport) -> str:
    fresh = [one for one in report.outcomes if one.state in {"done", FAILED_QC} and not one.before]
    made = [one.line for one in fresh if one.line is not None]
    size = sum(file.bytes for line in made for file in line.every)
    if not made:
        needed = report.needed
        if not any(one.state == "ready" for one in report.outcomes):
            return f"nothing was made, in {report.took:.0f} s"
        how = "measured" if needed.measured else "usual"
        return (
            f"to make: {needed.seconds / 60:.1f} min, about {sized(needed.delivered)}, and"
            f" {sized(needed.kept)} in the store ({how} bit rates)"
        )
    work = sum(line.took for line in made)
    again = sum(line.tries > 1 for line in made)
    return f"{sized(size)} in {report.took:.0f} s ({work:.0f} s of work" + (f", {again} tried again)" if again else ")")


def _explained(one: Outcome) -> str:
    why = one.why
    return f"{one.entry.id}: {why.what} [{why.id}]" if why is not None else one.entry.id


def failures(one: Outcome) -> list[str]:
    """Each file of an item that failed quality control: where it is kept, and why."""
    failed = one.line.failed if one.line is not None and one.state == FAILED_QC else ()
    return [f"{one.entry.id}/{each.made.file}: {each.what} [{each.why}]" for each in failed]


def _held(one: Outcome) -> list[str]:
    if one.state == "explained":
        return []
    held = one.line.held if one.line is not None else tuple((name, why.what) for name, why in one.entry.held)
    return [f"{one.entry.id}: no {name}: {what}" for name, what in held]


def _notes(one: Outcome) -> tuple[str, ...]:
    return (*one.entry.notes, *(one.line.notes if one.line is not None and one.state in {"done", FAILED_QC} else ()))


def _shared(wanted: list[int], room: int) -> list[int]:
    """Lines for each block: all get as much as they want, or an equal part of what is there."""
    given = [0] * len(wanted)
    while sum(given) < min(room, sum(wanted)):
        for index, want in enumerate(wanted):
            if given[index] < want and sum(given) < room:
                given[index] += 1
    return given


def _cut(line: str) -> str:
    """A line within the width; a reason's name at its end stays."""
    line = " ".join(line.split()) if not line.startswith("  ") else "  " + " ".join(line.split())
    if len(line) <= WIDTH:
        return line
    tail = line[line.rfind(" [") :] if line.endswith("]") and len(line) - line.rfind(" [") < 30 else ""
    return line[: WIDTH - len(tail) - 1].rstrip() + "…" + tail


def outcome_data(one: Outcome) -> dict[str, object]:
    """An item's fate as plain data."""
    line = one.line
    return {
        "item": one.entry.id,
        "state": one.state,
        "shown": "" if one.why is not None and one.why.id in {"withdrawn", "release-withdrawn"} else one.entry.shown,
        "air": str(one.entry.item.air) if one.entry.item.air else None,
        "why": {"id": one.why.id, "what": one.why.what} if one.why is not None else None,
        "held": [{"profile": name, "what": what} for name, what in line.held] if line is not None
        else [{"profile": name, "what": why.what} for name, why in one.entry.held],
        "files": [asdict(made) for made in line.files] if line is not None and one.state != "explained" else [],
        "failed": [asdict(each) for each in line.failed] if line is not None and one.state == FAILED_QC else [],
        "took": line.took if line is not None else 0.0,
        "tries": line.tries if line is not None else 0,
        "notes": list(_notes(one)),
    }  # fmt: skip


def report_data(report: SeasonReport) -> dict[str, object]:
    """A run as plain data."""
    counts = {state: sum(one.state == state for one in report.outcomes) for state in _WORDS}
    return {
        "season": report.title,
        "out": str(report.out),
        "counts": counts,
        "needed": asdict(report.needed),
        "took": round(report.took, 2),
        "exit": report.exit_code,
        "clashes": [finding.as_data() for finding in report.clashes],
    }

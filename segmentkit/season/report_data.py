"""The figures for machines: JSON, and CSV with a line a number; and, apart from them, the list that names people."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from segmentkit import __version__
from segmentkit.media import safe
from segmentkit.season.everyone import everyone
from segmentkit.season.follow_due import Due
from segmentkit.season.report import Figures
from segmentkit.storyboard.season import LoadedSeason

HEAD = ("figure", "of", "number")
PEOPLE_HEAD = ("what", "day", "person", "item", "state")


def as_data(figures: Figures) -> dict[str, Any]:
    """The figures as plain data. Lengths are exact fractions of seconds as text."""
    counts = ("verdicts", "reasons", "faults", "models", "hands", "sexes", "places", "delivered", "failed")
    return {
        "tool": f"segmentkit {__version__}", "season": figures.title, "programme": figures.programme,
        "today": figures.today.isoformat(),
        "items": {"all": figures.items, "dated": figures.dated, "aired": figures.aired},
        "submissions": {"came": figures.came, "used": figures.used},
        **{name: dict(getattr(figures, name)) for name in counts},
        "airings": [
            {"day": one.day.isoformat(), "fault": one.fault, "model": one.model, "follows": one.follows}
            for one in figures.airings
        ],
        "clashes": [str(clash) for clash in figures.clashes],
        "turnaround_days": {
            "values": list(figures.turnaround), "median": figures.median, "nine_in_ten": figures.ninety,
        },
        "follow_ups": {
            "asked": figures.asked, "answered": figures.answered, "due": figures.due, "barred": figures.barred,
        },
        "releases": {
            "ends": [{"day": day.isoformat(), "people": count} for day, count in figures.releases],
            "no_end": figures.endless, "none": figures.missing,
        },
        "music": [
            {
                "title": use.title, "credit": use.credit, "items": use.items,
                "seconds": None if use.seconds is None else str(use.seconds),
            }
            for use in figures.music
        ],
        "sponsors": {
            "items": figures.sponsors,
            "seconds": None if figures.sponsor_seconds is None else str(figures.sponsor_seconds),
        },
        "planned": figures.planned, "unplanned": figures.unplanned,
    }  # fmt: skip


def csv_text(figures: Figures) -> str:
    """A line a number, for a spreadsheet (RFC 4180). A cell never begins like a formula."""
    return _csv(HEAD, _rows(figures))


def _rows(figures: Figures) -> Iterator[tuple[str, str, str]]:
    data = as_data(figures)
    for name in (
        "items",
        "submissions",
        "verdicts",
        "reasons",
        "faults",
        "models",
        "hands",
        "sexes",
        "places",
        "delivered",
        "failed",
    ):
        for of, number in data[name].items():
            yield name, of, str(number)
    for airing in figures.airings:
        yield "on air", airing.day.isoformat(), airing.fault
    for name in ("median", "nine_in_ten"):
        value = data["turnaround_days"][name]
        yield "turnaround days", name, "" if value is None else f"{value:g}"
    for of, number in data["follow_ups"].items():
        yield "follow-ups", of, str(number)
    for day, count in figures.releases:
        yield "releases that end", day.isoformat(), str(count)
    yield "releases", "no end", str(figures.endless)
    yield "releases", "none", str(figures.missing)
    for use in figures.music:
        yield "music seconds", use.title, "" if use.seconds is None else f"{float(use.seconds):.2f}"
    seconds = figures.sponsor_seconds
    yield "sponsor seconds", "all", "" if seconds is None else f"{float(seconds):.2f}"


def people_text(season: LoadedSeason, figures: Figures, due: Sequence[Due]) -> str:
    """Whose turn it is: follow-ups, releases that end, and which letter is which demonstrator. It names people."""
    return _csv(PEOPLE_HEAD, _people(season, figures, due))


def _people(season: LoadedSeason, figures: Figures, due: Sequence[Due]) -> Iterator[tuple[str, ...]]:
    for one in due:
        yield "follow-up", one.on.isoformat(), one.sent.person_id, one.item, one.stage.value
    ends: dict[str, datetime.date] = {}
    for sent in everyone(season.folder):
        release = sent.person.release
        if release is not None and release.until is not None:
            ends[sent.person_id] = max(release.until, ends.get(sent.person_id, release.until))
    for who, day in sorted(ends.items(), key=lambda pair: (pair[1], pair[0])):
        yield "release ends", day.isoformat(), who, "", "ended" if day < figures.today else "holds"
    for model, letter in figures.letters.items():
        yield "demonstrator", "", model, "", letter


def _csv(head: Sequence[str], rows: Iterator[tuple[str, ...]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(head)
    for row in rows:
        writer.writerow([f"'{cell}" if cell[:1] in {"=", "+", "-", "@", "\t", "\r"} else cell for cell in row])
    return out.getvalue()


def write_people(path: Path, text: str) -> Path:
    """Writes the list that names people; only its owner may read it.

    Raises:
        OutputFailed: when the disk refuses.
    """
    with safe.writing(path) as partial:
        partial.touch(mode=0o600)
        partial.write_text(text, "utf-8", newline="")
    return path

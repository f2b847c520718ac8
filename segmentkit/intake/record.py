"""The batch as data: JSON and CSV for machines, and what a later run needs for letters. No contact is in it."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path
from typing import Any

from segmentkit import __version__
from segmentkit.errors import StoryboardUnreadable
from segmentkit.intake.batch import SubmissionReport
from segmentkit.intake.verdict import PartReport, Reason
from segmentkit.media import safe

COLUMNS = ("submission", "shown", "verdict", "part", "part verdict", "reasons", "limited to", "uses", "impact frame")


def as_data(reports: tuple[SubmissionReport, ...]) -> dict[str, Any]:
    """The batch as plain data."""
    return {"tool": f"segmentkit {__version__}", "submissions": [_submission(report) for report in reports]}


def _submission(report: SubmissionReport) -> dict[str, Any]:
    return {
        "submission": report.id, "person": report.person, "shown": report.shown, "minor": report.minor,
        "verdict": report.word.value, "decided": report.decided,
        "reasons": [_reason(reason) for reason in report.reasons],
        "without": list(report.without), "uses": list(report.uses), "question": report.question, "miss": report.miss,
        "parts": [_part(part) for part in report.parts],
    }  # fmt: skip


def _part(part: PartReport) -> dict[str, Any]:
    return {
        "part": part.part, "verdict": part.word.value, "content": part.content,
        "reasons": [_reason(reason) for reason in part.reasons], "notes": list(part.notes),
        "measures": {measure.id: measure.value for measure in part.measures},
        "proposals": [
            {
                "position": p.position, "frame": p.frame, "seconds": str(p.second), "trust": p.trust, "why": p.why,
                "chosen": p.chosen,
            }
            for p in part.proposals
        ],
    }  # fmt: skip


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "id": reason.id, "verdict": reason.word.value, "what": reason.what, "without": reason.without,
        "numbers": dict(reason.numbers),
    }  # fmt: skip


def csv_text(reports: tuple[SubmissionReport, ...]) -> str:
    """One line a part, for a spreadsheet. A cell never begins like a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180, 2.1
    writer.writerow(COLUMNS)
    for report in reports:
        for part in report.parts or (None,):
            reasons = [*report.reasons, *(part.reasons if part else ())]
            impact = next((p.frame for p in part.proposals if p.position == "impact"), "") if part else ""
            row = (
                report.id, report.shown, report.word.value, part.part if part else "", part.word.value if part else "",
                "; ".join(reason.id for reason in reasons), "; ".join(report.without), " ".join(report.uses), impact,
            )  # fmt: skip
            writer.writerow([_cell(str(value)) for value in row])
    return out.getvalue()


def _cell(text: str) -> str:
    """Text that a spreadsheet does not take for a formula."""
    return f"'{text}" if text[:1] in {"=", "+", "-", "@", "\t", "\r"} else text


def write_text(path: Path, text: str) -> Path:
    """Writes a text whole or not at all.

    Raises:
        OutputFailed: when the disk refuses.
    """
    with safe.writing(path) as partial:
        partial.write_text(text, "utf-8", newline="")
    return path


def read_data(path: Path) -> dict[str, dict[str, Any]]:
    """The submissions of a written batch, by id.

    Raises:
        StoryboardUnreadable: when the file is not there or is not one of ours.
    """
    try:
        data = json.loads(path.read_text("utf-8"))
        return {str(entry["submission"]): entry for entry in data["submissions"]}
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StoryboardUnreadable(
            f"{path} — is not the report of an intake ({type(error).__name__}) — letters are filled from it"
            " — run `segmentkit intake` first"
        ) from None

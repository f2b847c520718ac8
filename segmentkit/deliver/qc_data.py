"""Quality control as data: every check with its verdict, value, limit and source, for machines and archives."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit import __version__
from segmentkit.checks.qc import BEYOND, overall
from segmentkit.checks.qc_check import Flag, Verdict
from segmentkit.media import safe
from segmentkit.screened import Screened
from segmentkit.timebase import label_of_frame


@dataclass(frozen=True, slots=True, kw_only=True)
class Override:
    """A person's word that a file is handed over although checks fail.

    Attributes:
        by: who says so.
        reason: why.
        on: the day, as year-month-day.
    """

    by: str
    reason: str
    on: str


def qc_data(
    measured: Screened, verdicts: Sequence[Verdict], *, name: str = "", override: Override | None = None
) -> dict[str, object]:
    """The whole report as plain data; words of the headers are not repeated.

    Args:
        measured: what was measured.
        verdicts: how it was judged.
        name: of the file, when it is to have another one than it has now.
        override: who lets it pass all the same.
    """
    coded, pictures, sound = measured.coded, measured.pictures, measured.sound
    length = str(label_of_frame(measured.programme.frames, coded.rate)) if coded.rate.has_labels else None
    return {
        "tool": f"segmentkit {__version__}",
        "file": name or measured.path.name,
        "sha256": measured.content,
        "bytes": measured.bytes,
        "verdict": overall(tuple(verdicts)).value,
        "override": None if override is None else {"by": override.by, "reason": override.reason, "on": override.on},
        "measured": {
            "frames": pictures.frames,
            "programme": {"first": measured.programme.start, "frames": measured.programme.frames, "length": length},
            "rate": str(coded.rate),
            "size": str(coded.size),
            "picture": f"{coded.picture} {coded.pixels}",
            "colour": coded.colour,
            "sound": coded.sound,
            "timecode": coded.timecode,
            "loudness_lufs": None if sound is None else _number(sound.loudness.integrated),
            "true_peak_dbtp": None if sound is None else _number(sound.loudness.true_peak),
            "loudness_range_lu": None if sound is None else _number(sound.loudness.range),
            "momentary_lufs": None if sound is None else _number(sound.momentary),
            "short_term_lufs": None if sound is None else _number(sound.short_term),
            "sound_late_ms": None if sound is None or sound.sync is None else round(1000 * sound.sync.late, 1),
            "measured_on": f"pictures of {measured.reduced} for black, freezes, cuts and flashes; full pictures for "
            "levels and texts",
        },
        "checks": [_check(one) for one in verdicts],
        "not_checked": [{"id": one.check.id, "because": one.because} for one in verdicts if one.because],
        "beyond": list(BEYOND),
    }


def _check(one: Verdict) -> dict[str, object]:
    return {
        "id": one.check.id,
        "title": one.check.title,
        "outcome": one.outcome.value,
        "value": one.value,
        "limit": one.check.limit,
        "source": one.check.source,
        "because": one.because,
        "flags": [_flag(flag) for flag in one.flags],
    }


def _flag(flag: Flag) -> dict[str, object]:
    area = flag.area
    return {
        **flag.finding.as_data(),
        "time": flag.time,
        "first_frame": None if flag.span is None else flag.span.start,
        "frames": None if flag.span is None else flag.span.frames,
        "area": None if area is None else [round(one, 4) for one in (area.x, area.y, area.width, area.height)],
    }


def _number(value: float) -> float | None:
    return round(value, 2) if math.isfinite(value) else None


def write_qc_data(target: Path, data: dict[str, object]) -> Path:
    """Writes the report as JSON.

    Raises:
        OutputFailed: when it cannot be written.
    """
    with safe.writing(target) as partial:
        partial.write_text(json.dumps(data, indent=2, ensure_ascii=False) + "\n", "utf-8")
    return target

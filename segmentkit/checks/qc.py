"""Judges a finished file by what was measured of it; knows the list of checks and nothing of what they are about."""

from __future__ import annotations

from segmentkit.checks import qc_file, qc_flash, qc_picture, qc_sound, qc_text
from segmentkit.checks.qc_check import Outcome, QcCheck, Verdict, verdict
from segmentkit.checks.qc_wanted import Wanted
from segmentkit.findings import Finding, worst_first
from segmentkit.screened import Screened

SUBJECTS: tuple[tuple[str, tuple[QcCheck, ...]], ...] = (
    (
        "File",
        (
            qc_file.length,
            qc_file.constant_rate,
            qc_file.coding,
            qc_file.tracks,
            qc_file.metadata,
            qc_file.captions,
        ),
    ),
    (
        "Picture",
        (
            qc_picture.black,
            qc_picture.frozen,
            qc_picture.flash_frame,
            qc_picture.cuts,
            qc_picture.levels,
        ),
    ),
    (
        "Flashes",
        (
            qc_flash.general,
            qc_flash.red,
            qc_flash.sustained,
            qc_flash.cross_check,
        ),
    ),
    (
        "Sound",
        (
            qc_sound.loudness,
            qc_sound.true_peak,
            qc_sound.loudness_range,
            qc_sound.clipping,
            qc_sound.silence,
            qc_sound.dropouts,
            qc_sound.sync,
            qc_sound.channels,
        ),
    ),
    (
        "Texts",
        (
            qc_text.safe_area,
            qc_text.size,
            qc_text.contrast,
            qc_text.seen,
        ),
    ),
)
QC_CHECKS: tuple[QcCheck, ...] = tuple(check for _, checks in SUBJECTS for check in checks)

BEYOND: tuple[str, ...] = (
    "Whether pictures are sharp, well framed or the right ones: a person looks, once, at full length.",
    "Whether lips and words agree: sound is compared with the planned sound, not with mouths.",
    "Regular patterns such as stripes, which can also harm (ITU-R BT.1702, annex 1): they are not searched for.",
    "Flicker faster than the pictures change, and which field of an interlaced frame comes first: taken as flagged.",
    "Whether words are understood: loudness says how loud, not how clear.",
)
"""What no check here can tell, for the page."""


def judge(measured: Screened, wanted: Wanted) -> tuple[Verdict, ...]:
    """Every check's verdict, in the order of the list."""
    return tuple(verdict(check, measured, wanted) for check in QC_CHECKS)


def findings_of(verdicts: tuple[Verdict, ...]) -> tuple[Finding, ...]:
    """All findings, worst first."""
    return tuple(worst_first([flag.finding for one in verdicts for flag in one.flags]))


def overall(verdicts: tuple[Verdict, ...]) -> Outcome:
    """The worst of all: fail, warn or pass. What could not be checked does not count, and is said beside it."""
    outcomes = {one.outcome for one in verdicts}
    return next((one for one in (Outcome.FAIL, Outcome.WARN) if one in outcomes), Outcome.PASS)

"""The door to a delivery: a file gets its name when nothing fails, or when a person says so and why."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit import __version__
from segmentkit.checks.qc import overall
from segmentkit.checks.qc_check import Outcome, Verdict
from segmentkit.deliver.qc_data import Override, qc_data, write_qc_data
from segmentkit.deliver.qc_page import frames_to_show, qc_page, write_qc_page
from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import safe
from segmentkit.media.stills import Rgb
from segmentkit.media.store import sha256_of
from segmentkit.screened import Screened

FAILED = "failed-qc"
Pictures = Callable[[Sequence[int]], Mapping[int, Rgb]]
"""Gives small pictures of frames of the file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Released:
    """What became of a file.

    Attributes:
        path: where it lies now.
        passed: whether it has the name of a delivery.
        page: the report to look at; `data` the same for machines.
        entry: what the manifest says of it.
    """

    path: Path
    passed: bool
    page: Path
    data: Path
    entry: dict[str, object]


def failed_name(final: Path) -> Path:
    """The name under which a file that fails is kept for looking at."""
    return final.with_name(f"{final.stem}.{FAILED}{final.suffix}")


def write_qc(
    page_path: Path,
    title: str,
    measured: Screened,
    verdicts: tuple[Verdict, ...],
    pictures: Pictures,
    *,
    name: str = "",
    override: Override | None = None,
) -> tuple[Path, Path]:
    """Writes the page and the data beside it; returns both.

    Args:
        page_path: of the page; the data has the same name and ends in `.json`.
        title: of the segment, or the file's name.
        measured: what was measured.
        verdicts: how it was judged.
        pictures: gives small pictures of frames of the file.
        name: of the file, when it is to have another one than it has now.
        override: who lets it pass all the same.

    Raises:
        OutputFailed: when one cannot be written.
    """
    shown = pictures(frames_to_show(verdicts, measured.pictures.frames))
    text = qc_page(title, measured, verdicts, shown, name=name, override=override)
    data = write_qc_data(page_path.with_suffix(".json"), qc_data(measured, verdicts, name=name, override=override))
    return write_qc_page(page_path, text), data


def release(
    partial: Path,
    final: Path,
    title: str,
    measured: Screened,
    verdicts: tuple[Verdict, ...],
    pictures: Pictures,
    *,
    override: Override | None = None,
) -> Released:
    """Gives a finished file the name of a delivery when nothing fails; else keeps it under a name that says so.

    The report is written first: no file has its name without one. An older file of that name stays when this one fails,
    and an older failed one goes when this one passes.

    Args:
        partial: the whole, flushed file beside its final name.
        final: the name of the delivery.
        title: of the segment.
        measured: what was measured of the partial file.
        verdicts: how it was judged.
        pictures: gives small pictures of frames of the file.
        override: who lets it pass all the same, and why.

    Raises:
        OutputFailed: when an override names nobody or gives no reason, or the disk refuses.
    """
    if override is not None and not (override.by.strip() and override.reason.strip()):
        raise OutputFailed(
            f"{final} — an override without {'a name' if not override.by.strip() else 'a reason'} — a person answers "
            "for it by name, and says why — give both"
        )
    fails = overall(verdicts) is Outcome.FAIL
    passed = not fails or override is not None
    used = override if fails else None
    target = final if passed else failed_name(final)
    page, data = write_qc(
        target.with_name(f"{target.stem}.qc.html"), title, measured, verdicts, pictures, name=target.name, override=used
    )
    try:
        safe.commit(partial, target)
    except OSError as error:
        safe.discard(page)
        safe.discard(data)
        raise OutputFailed(safe.cannot_write(target, error)) from error
    if passed:
        _forget_failed(final)
    entry = qc_entry(verdicts, page, used)
    return Released(path=target, passed=passed, page=page, data=data, entry=entry)


def passed_before(final: Path, content: str) -> bool:
    """Whether a delivery lies there whose report is about these very bytes, by this version, and let it pass.

    Args:
        final: the name of the delivery.
        content: SHA-256 of the bytes that would be handed over, in hex.
    """
    report = final.with_name(f"{final.stem}.qc.json")
    try:
        data = json.loads(report.read_text("utf-8"))
        same = (data["tool"], data["sha256"]) == (f"segmentkit {__version__}", content)
        let_pass = data["verdict"] != Outcome.FAIL.value or data["override"] is not None
        return bool(same and let_pass) and sha256_of(final) == content
    except (OSError, ValueError, KeyError, TypeError, MediaUnusable):
        return False


def qc_entry(verdicts: tuple[Verdict, ...], page: Path, override: Override | None) -> dict[str, object]:
    """What a manifest says of quality control: the verdict, what fails or warns, what was not checked, who overrode."""
    by = {
        outcome: [one.check.id for one in verdicts if one.outcome is outcome]
        for outcome in (Outcome.FAIL, Outcome.WARN, Outcome.NOT_CHECKED)
    }
    return {
        "verdict": overall(verdicts).value,
        "failed": by[Outcome.FAIL],
        "warned": by[Outcome.WARN],
        "not_checked": by[Outcome.NOT_CHECKED],
        "report": page.name,
        "override": None if override is None else {"by": override.by, "reason": override.reason, "on": override.on},
    }


def _forget_failed(final: Path) -> None:
    """Removes what an earlier, failed file of this name left."""
    failed = failed_name(final)
    for path in (failed, failed.with_name(f"{failed.stem}.qc.html"), failed.with_name(f"{failed.stem}.qc.json")):
        safe.discard(path)

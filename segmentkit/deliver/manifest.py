"""The manifest: what a finished file is, written beside it, and which storyboard and tool made it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from segmentkit import __version__
from segmentkit.checks.uses import people_used
from segmentkit.facts import Facts, MovieFacts
from segmentkit.findings import Finding
from segmentkit.media import safe
from segmentkit.media.store import sha256_of
from segmentkit.plan.model import Plan
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.timebase import Rate, label_of_frame


def held(loaded: LoadedStoryboard, facts: Facts) -> dict[str, object]:
    """Who and what a finished file holds, so that it can be found when somebody takes a release back.

    People by their names in the storyboard, never as shown; pictures by the SHA-256 of their bytes.
    """
    board = loaded.board
    measured = [(id_, board.clips[id_].person, clip.content) for id_, clip in facts.clips.items()]
    measured += [(id_, board.stills[id_].person, still.content) for id_, still in facts.stills.items()]
    return {
        "people": list(people_used(board)),
        "sources": [{"id": id_, "person": person, "sha256": content} for id_, person, content in measured],
    }


def manifest(
    plan: Plan,
    movie: MovieFacts,
    content: str,
    findings: tuple[Finding, ...],
    burned: Mapping[str, str] | None = None,
    holds: Mapping[str, object] | None = None,
    qc: Mapping[str, object] | None = None,
    beside: Sequence[Path] = (),
) -> dict[str, object]:
    """The manifest as plain data.

    Args:
        plan: what was rendered.
        movie: the file as read back.
        content: SHA-256 of the file's bytes, in hex.
        findings: how the plan was judged.
        burned: what is in the picture beside the segment itself: "captions" by which rules, "review" with which text.
        holds: who and what it holds, from `held`.
        qc: the verdict of quality control, where there was one.
        beside: reports that belong to it.
    """
    return {
        "tool": f"segmentkit {__version__}",
        "title": plan.title,
        "file": movie.path.name,
        "sha256": content,
        "bytes": movie.path.stat().st_size,
        "frames": movie.frames,
        "rate": str(Rate(movie.rate)),
        "length": str(label_of_frame(movie.running, Rate(movie.rate))),
        "size": str(movie.size),
        "samples": movie.samples,
        "video": movie.video_codec,
        "audio": movie.audio_codec,
        "colour": movie.colour,
        "loudness_lufs": round(movie.loudness.integrated, 2),
        "true_peak_dbtp": round(movie.loudness.true_peak, 2),
        "loudness_range_lu": round(movie.loudness.range, 2),
        "chapters": movie.chapters,
        "burned": dict(burned or {}),
        "qc": dict(qc) if qc is not None else None,
        "files": delivered(beside),
        **(holds or {}),
        "beats": [
            {"beat": beat.id, "start": str(label_of_frame(beat.span.start, plan.rate)), "frames": beat.span.frames}
            for beat in plan.beats
        ],
        "findings": [finding.as_data() for finding in findings],
    }


def write_manifest(
    out: Path,
    plan: Plan,
    movie: MovieFacts,
    findings: tuple[Finding, ...],
    burned: Mapping[str, str] | None = None,
    holds: Mapping[str, object] | None = None,
    qc: Mapping[str, object] | None = None,
    beside: Sequence[Path] = (),
) -> Path:
    """Writes the manifest beside a finished file and returns its path; the rest as in `manifest`."""
    target = out.with_name(f"{out.stem}.manifest.json")
    data = manifest(plan, movie, sha256_of(out), findings, burned, holds, qc, beside)
    text = json.dumps(data, indent=2, ensure_ascii=False)
    with safe.writing(target) as partial:
        partial.write_text(text + "\n", "utf-8")
    return target


def delivered(files: Iterable[Path]) -> list[dict[str, object]]:
    """Name, bytes and SHA-256 of each file that is handed over.

    Raises:
        MediaUnusable: when one cannot be read.
    """
    return [{"file": file.name, "bytes": file.stat().st_size, "sha256": sha256_of(file)} for file in files]


def write_delivery_list(
    out: Path, plan: Plan, files: Iterable[Path], holds: Mapping[str, object] | None = None
) -> Path:
    """Writes what is handed over, with hashes, length and tool, as JSON and returns its path; `holds` as in `manifest`.

    Raises:
        MediaUnusable: when a file cannot be read.
        OutputFailed: when the list cannot be written.
    """
    data = {
        "tool": f"segmentkit {__version__}",
        "title": plan.title,
        "frames": plan.frames,
        "rate": str(plan.rate),
        "length": str(label_of_frame(plan.frames, plan.rate)),
        **(holds or {}),
        "files": delivered(files),
    }
    with safe.writing(out) as partial:
        partial.write_text(json.dumps(data, indent=2, ensure_ascii=False) + "\n", "utf-8")
    return out

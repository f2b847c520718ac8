"""Recorded readings: which file belongs to which line.

Names: `<beat>.wav`, then `<beat>_t02.wav`, `<beat>_t03.wav` for further takes. A beat with several lines numbers them
from 1: `<beat>_l1.wav`, `<beat>_l2_t02.wav`. The number after `t` is the take; a name without one is take 1. The last
take is used, unless the producer marked one as good. Endings: see `sound.SUFFIXES`; capitals do not matter.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from pathlib import Path

from segmentkit.errors import MediaUnusable
from segmentkit.facts import SpeechRequest
from segmentkit.media.sound import SUFFIXES

_NAME = re.compile(r"(?P<beat>[a-z][a-z0-9_-]*?)(_l(?P<line>\d{1,3}))?(_t(?P<take>\d{1,3}))?")
_MARKED = re.compile(r"t?(\d{1,3})", re.IGNORECASE)


def find_takes(folder: Path, requests: Sequence[SpeechRequest]) -> dict[tuple[str, int], Path]:
    """The file to use for each line that has one, by beat and index of the line.

    Raises:
        MediaUnusable: when there is no such folder, two files claim to be the same take, a marked take is missing, or a
            beat of several lines has a file that does not say which line it is.
    """
    if not folder.is_dir():
        raise MediaUnusable(
            f"{folder} — there is no such folder — `takes` names the folder of readings — make it, or mend the name"
        )
    sorted_out = _sort_out(folder, requests)
    chosen: dict[tuple[str, int], Path] = {}
    for request in requests:
        key = (request.beat, request.line)
        takes = sorted_out.get(key, {})
        marked = _marked(request)
        if marked is not None and marked in takes:
            chosen[key] = takes[marked]
        elif marked is not None and not any(
            marked in sorted_out.get((other.beat, other.line), {}) for other in requests if other.beat == request.beat
        ):
            there = ", ".join(path.name for path in takes.values()) or "no take of it at all"
            raise MediaUnusable(
                f"{folder} — take t{marked:02} of beat {request.beat!r} is marked as good, but there is {there}"
                f" — a marked take must be there — put {_stem(request)}_t{marked:02}.wav there, or mark another"
            )
        elif takes:
            chosen[key] = takes[max(takes)]
    return chosen


def all_takes(folder: Path, requests: Sequence[SpeechRequest]) -> tuple[tuple[tuple[str, int], Path], ...]:
    """Every take of every line, also those that are not used: beat and index of the line, and the file.

    Raises:
        MediaUnusable: when two files claim to be the same take, or one does not say which line it is.
    """
    sorted_out = _sort_out(folder, requests)
    return tuple((key, path) for key in sorted(sorted_out) for _, path in sorted(sorted_out[key].items()))


def unused_files(folder: Path, requests: Sequence[SpeechRequest]) -> tuple[str, ...]:
    """Sound files that fit no line, one sentence each, with the name that may have been meant."""
    fitting = {path for takes in _sort_out(folder, requests).values() for path in takes.values()}
    stems = [_stem(request) for request in requests]
    sentences = []
    for path in _sound_files(folder):
        if path not in fitting:
            near = difflib.get_close_matches(path.stem.lower(), stems, 1, 0.6)
            hint = f"did you mean {near[0]}{path.suffix}?" if near else "name it after its beat, or take it away"
            sentences.append(f"{path.name} — belongs to no beat with words — {hint}")
    return tuple(sentences)


def _sort_out(folder: Path, requests: Sequence[SpeechRequest]) -> dict[tuple[str, int], dict[int, Path]]:
    """Files by line and take number."""
    lines = {request.beat: request.lines for request in requests}
    wanted = {(request.beat, request.line) for request in requests}
    sorted_out: dict[tuple[str, int], dict[int, Path]] = {}
    for path in _sound_files(folder):
        found = _belongs(path.stem.lower(), lines)
        if found is None:
            continue
        beat, line, take = found
        if line is None and lines[beat] > 1:
            raise MediaUnusable(
                f"{path} — beat {beat!r} has {lines[beat]} lines, and the name does not say which one this is"
                f" — one file for each line — name them {beat}_l1{path.suffix} to {beat}_l{lines[beat]}{path.suffix}"
            )
        key = (beat, (line or 1) - 1)
        if key not in wanted:
            continue
        takes = sorted_out.setdefault(key, {})
        if take in takes:
            raise MediaUnusable(
                f"{path} — is take {take} of the same line as {takes[take].name} — one file for each take — number or"
                " remove one of them"
            )
        takes[take] = path
    return sorted_out


def _belongs(stem: str, lines: dict[str, int]) -> tuple[str, int | None, int] | None:
    """Beat, line from 1 and take of a file name; a beat whose own name ends like a line or take comes first."""
    if stem in lines:
        return stem, None, 1
    without_take, found, number = stem.rpartition("_t")
    if found and number.isdigit() and without_take in lines:
        return without_take, None, int(number)
    match = _NAME.fullmatch(stem)
    if match is None or match["beat"] not in lines:
        return None
    return match["beat"], int(match["line"]) if match["line"] else None, int(match["take"] or 1)


def _sound_files(folder: Path) -> list[Path]:
    return sorted(p for p in folder.iterdir() if p.suffix.lower() in SUFFIXES and not p.name.startswith("."))


def _marked(request: SpeechRequest) -> int | None:
    if request.good is None:
        return None
    match = _MARKED.fullmatch(request.good.strip())
    if match is None:
        raise MediaUnusable(
            f"good: {request.good!r} for beat {request.beat!r} — is not a take — write its number such as t02"
        )
    return int(match[1])


def _stem(request: SpeechRequest) -> str:
    return request.beat if request.lines == 1 else f"{request.beat}_l{request.line + 1}"

"""Notes by timecode in a plain text file: read, written, and carried along when the segment is re-timed.

A note is made against a version. It is kept with the word that was spoken there, so that when takes, holds or beats
change it is found again at that word; without one it keeps its part of the way through the beat.

    version 3
    00:01:05:12 A.B. factual: the arrow should point at the belt
    x 00:00:12:00 C. taste: hold the finish longer
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

from segmentkit.errors import SegmentkitError
from segmentkit.media import safe
from segmentkit.timebase import (
    Rate,
    Timecode,
    TimeNotationError,
    frame_of_label,
    label_of_frame,
    parse_rate,
    parse_time,
)

Data = dict[str, Any]
FILE = "notes.txt"
KINDS = ("factual", "taste", "structural")
HEAD = """\
# One note a line: timecode, who, kind (factual, taste or structural), a colon, the text.
# A note belongs to the version named above it. An x in front closes it.
"""
_NOTE = re.compile(
    r"(?P<closed>x[ \t]+)?(?P<time>\d\d:\d\d:\d\d[:;]\d{2,3})[ \t]+(?P<by>[^:]*?)[ \t]*\b(?P<kind>[a-z]+)[ \t]*:[ \t]*"
    r"(?P<text>.*\S)[ \t]*"
)
_VERSION = re.compile(r"version[ \t]+(\d{1,6})[ \t]*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One note; `line` is its number in the file, `number` what people call it."""

    number: int
    line: int
    version: int
    time: str
    by: str
    kind: str
    text: str
    closed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A note and where it is now.

    Attributes:
        note: the note.
        beat: the beat it was made on; empty when its version is not kept.
        frame: of the segment as it is now; None when the beat is gone or the version unknown.
        near: the word it is kept with.
    """

    note: Note
    beat: str
    frame: int | None
    near: str


def read_notes(text: str, name: str = FILE) -> tuple[Note, ...]:
    """The notes of a file's text.

    Raises:
        SegmentkitError: with every line that is not one.
    """
    notes: list[Note] = []
    faults: list[str] = []
    version = 0
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.strip()
        if not line or line.startswith("#"):
            continue
        if match := _VERSION.fullmatch(line):
            version = int(match[1])
            continue
        match = _NOTE.fullmatch(line)
        if match is None:
            faults.append(
                f"{name}:{number} — {line[:50]!r} is not a note — write timecode, who, kind and text, such as "
                "00:01:05:12 A.B. factual: the text"
            )
        elif match["kind"] not in KINDS:
            faults.append(f"{name}:{number} — `{match['kind']}` is not a kind of note — write {', '.join(KINDS)}")
        elif not version:
            faults.append(f"{name}:{number} — the note has no version — write `version 3` on a line above it")
        else:
            notes.append(
                Note(
                    number=len(notes) + 1,
                    line=number,
                    version=version,
                    time=match["time"],
                    by=match["by"],
                    kind=match["kind"],
                    text=match["text"],
                    closed=bool(match["closed"]),
                )
            )
    if faults:
        raise SegmentkitError("\n".join(faults))
    return tuple(notes)


def note_line(note: Note) -> str:
    """A note as it stands in the file."""
    who = f"{note.by} " if note.by else ""
    return f"{'x ' if note.closed else ''}{note.time} {who}{note.kind}: {note.text}"


def with_note(text: str, note: Note) -> str:
    """The file's text with a note at its end, under its version; all else stays as it is."""
    body = text or HEAD
    if not body.endswith("\n"):
        body += "\n"
    last = [match[1] for line in body.splitlines() if (match := _VERSION.fullmatch(line.strip()))]
    if not last or int(last[-1]) != note.version:
        body += f"\nversion {note.version}\n"
    return f"{body}{note_line(note)}\n"


def with_closed(text: str, number: int, *, closed: bool) -> str:
    """The file's text with one note closed or opened again; its line alone changes.

    Raises:
        SegmentkitError: when there is no note of that number.
    """
    notes = read_notes(text)
    found = next((note for note in notes if note.number == number), None)
    if found is None:
        raise SegmentkitError(
            f"{FILE} — there is no note {number} — {len(notes)} are there — give one of their numbers"
        )
    lines = text.splitlines(keepends=True)
    raw = lines[found.line - 1]
    end = raw[len(raw.rstrip("\r\n")) :]
    lines[found.line - 1] = note_line(replace(found, closed=closed)) + end
    return "".join(lines)


def find(notes: Sequence[Note], versions: dict[int, Data], now: Data) -> tuple[Found, ...]:
    """Where each note is now.

    Args:
        notes: from the file.
        versions: the snapshots that are kept, by number.
        now: the segment as it is.
    """
    return tuple(_found(note, versions.get(note.version), now) for note in notes)


def _found(note: Note, then: Data | None, now: Data) -> Found:
    missing = Found(note=note, beat="", frame=None, near="")
    if then is None:
        return missing
    frame = frame_of(note.time, parse_rate(then["rate"]))
    beat = next((one for one in then["beats"] if one["start"] <= frame < one["start"] + one["frames"]), None)
    if beat is None:
        return missing
    offset = frame - beat["start"]
    spoken = _spoken(then, beat["id"], offset)
    near = spoken[2] if spoken else ""
    target = next((one for one in now["beats"] if one["id"] == beat["id"]), None)
    if target is None:
        return Found(note=note, beat=beat["id"], frame=None, near=near)
    scale = parse_rate(now["rate"]).fps / parse_rate(then["rate"]).fps
    moved = _again(now, beat["id"], spoken) if spoken else None
    if moved is not None and spoken is not None:
        at = moved + round((offset - spoken[3]) * scale)
    else:
        at = round(Fraction(offset * target["frames"], beat["frames"]))
    inside = min(max(0, at), target["frames"] - 1)
    return Found(note=note, beat=beat["id"], frame=target["start"] + inside, near=near)


Spoken = tuple[int, int, str, int]
"""Line, word's index in it, the word, its frame within the beat."""


def _spoken(data: Data, beat: str, offset: int) -> Spoken | None:
    """The last word that had started at a moment of a beat."""
    words: list[Spoken] = [
        (line["line"], index, text, frame)
        for line in data["speech"]
        if line["beat"] == beat
        for index, (text, frame) in enumerate(line["words"])
        if frame <= offset
    ]
    return max(words, key=lambda word: word[3], default=None)


def _again(data: Data, beat: str, spoken: Spoken) -> int | None:
    """Where the same word is spoken now: the one of that text that is nearest to its old number in the line."""
    same = [
        (abs(line["line"] - spoken[0]), abs(index - spoken[1]), frame)
        for line in data["speech"]
        if line["beat"] == beat
        for index, (text, frame) in enumerate(line["words"])
        if text == spoken[2]
    ]
    return min(same)[2] if same else None


def frame_of(time: str, rate: Rate) -> int:
    """The frame of a note's timecode.

    Raises:
        SegmentkitError: when there is no such label at that rate.
    """
    try:
        label = parse_time(time)
        if not isinstance(label, Timecode):
            raise TimeNotationError(f"{time} is not a timecode — write 00:01:05:12")
        return frame_of_label(label, rate)
    except TimeNotationError as error:
        raise SegmentkitError(f"{FILE}: {error}") from None


def note_list(found: Sequence[Found], rate: Rate) -> str:
    """The notes for reading: number, where it is now, who, kind, text; open ones first."""
    lines = []
    for one in sorted(found, key=lambda one: (one.note.closed, one.frame is None, one.frame or 0, one.note.number)):
        note = one.note
        now = str(label_of_frame(one.frame, rate)) if one.frame is not None else "-- gone --"
        was = f" (was {note.time} in version {note.version})" if now != note.time else ""
        spot = f", beat {one.beat}" if one.beat else ""
        near = f', at "{one.near}"' if one.near else ""
        state = "closed" if note.closed else "open  "
        lines.append(f"{note.number:>3} {state} {now}{was}{spot}{near}\n      {note.by} {note.kind}: {note.text}")
    open_ = sum(not one.note.closed for one in found)
    lines.append(f"{open_} open, {len(found) - open_} closed")
    return "\n".join(lines) + "\n"


def save(target: Path, text: str) -> None:
    """Writes the file of notes.

    Raises:
        OutputFailed: when it cannot be written.
    """
    with safe.writing(target) as partial:
        partial.write_bytes(text.encode())

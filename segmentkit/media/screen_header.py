"""What the headers of a file say: tracks, coding, time code, and every word of metadata that it carries."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any, BinaryIO

from segmentkit.geometry import Size
from segmentkit.media.verify import colour_of
from segmentkit.screened import Coded, Tag
from segmentkit.timebase import Rate

_BOXES_READ = 16 << 20
_HEAD_READ = 1 << 18
_TRACES = {
    b"loci": "location box (3GPP TS 26.244)",
    b"\xa9xyz": "location atom",
    b"ISO6709": "location key",
    b"<x:xmpmeta": "XMP packet",
    b"GPSLatitude": "EXIF position",
}
_PATHS = re.compile(rb"(?:/home/|/Users/|/root/|[A-Z]:\\Users\\)[\w./\\-]{1,80}")


def coded_of(container: Any, video: Any, audio: Any | None) -> Coded:
    """How a file says that it is made."""
    context = video.codec_context
    others = [
        stream.type for stream in container.streams
        if stream.type not in {"video", "audio"} and not _is_house_track(stream)
    ]  # fmt: skip
    pixels = context.pix_fmt or "unknown"
    depth = re.search(r"p(\d\d)(?:le|be)$", pixels)
    sound = ""
    if audio is not None:
        heard = audio.codec_context
        sound = f"{heard.name} {heard.sample_rate} Hz {heard.layout.name}"
    return Coded(
        container=container.format.name,
        size=Size(context.width, context.height),
        aspect=Fraction(context.sample_aspect_ratio or 1) or Fraction(1),
        rate=stated_rate(Fraction(video.average_rate or video.guessed_rate or 25)),
        pixels=pixels,
        bits=int(depth[1]) if depth else 8,
        picture=f"{context.name} {context.profile or ''}".strip(),
        colour=colour_of(context),
        fields=False,
        pictures=len(container.streams.video),
        sounds=len(container.streams.audio),
        sound=sound,
        others=tuple(others),
        timecode=_timecode(container),
    )


_USUAL = tuple(
    Rate(Fraction(number * 1000, thousand)) for number in (24, 25, 30, 48, 50, 60) for thousand in (1000, 1001)
)


def stated_rate(mean: Fraction) -> Rate:
    """The usual rate that a mean over all frames comes near, since time stamps are rounded; else the mean itself."""
    return next((rate for rate in _USUAL if abs(mean / rate.fps - 1) < Fraction(1, 4000)), Rate(mean))


def _is_house_track(stream: Any) -> bool:
    """Whether it is the list of chapters or the time code, which a delivery may carry."""
    name = str(stream.metadata.get("handler_name", ""))
    return "timecode" in stream.metadata or "TimeCode" in name or _is_text(stream)


def _is_text(stream: Any) -> bool:
    return stream.type == "subtitle" or (
        stream.type == "data" and getattr(stream, "codec_context", None) is None and stream.duration is not None
    )


def _timecode(container: Any) -> str | None:
    for metadata in (container.metadata, *(stream.metadata for stream in container.streams)):
        if label := metadata.get("timecode"):
            return str(label)
    return None


def tags_of(path: Path, container: Any) -> tuple[Tag, ...]:
    """All metadata: of the file, of each track, of chapters, and traces of what libav does not show."""
    found = [Tag(where="file", name=name, value=value) for name, value in container.metadata.items()]
    for stream in container.streams:
        where = f"track {stream.index} ({stream.type})"
        found += [Tag(where=where, name=name, value=value) for name, value in stream.metadata.items()]
    for number, chapter in enumerate(container.chapters(), 1):
        found += [Tag(where=f"chapter {number}", name=name, value=value) for name, value in chapter["metadata"].items()]
    return (*found, *_traces(path))


def _traces(path: Path) -> Iterator[Tag]:
    """Places and paths in the bytes of the headers, also where no reader of metadata looks."""
    seen = set()
    with path.open("rb") as file:
        for data in _headers(file):
            for mark, what in _TRACES.items():
                if mark in data:
                    seen.add((what, mark.decode("latin-1")))
            seen |= {("path in a header", match.group().decode("latin-1")) for match in _PATHS.finditer(data)}
    yield from (Tag(where="bytes of the header", name=what, value=value) for what, value in sorted(seen))


def _headers(file: BinaryIO) -> Iterator[bytes]:
    """Everything but the pictures: all top boxes but `mdat` of an MP4 or MOV; head and tail of another file."""
    head = file.read(12)
    size = file.seek(0, 2)
    if head[4:8] not in {b"ftyp", b"moov", b"wide", b"free"}:
        file.seek(0)
        yield file.read(_HEAD_READ)
        if size > 2 * _HEAD_READ:
            file.seek(size - _HEAD_READ)
            yield file.read(_HEAD_READ)
        return
    at = 0
    while at + 8 <= size:
        file.seek(at)
        length, kind = int.from_bytes(file.read(4)), file.read(4)
        if length == 1:
            length = int.from_bytes(file.read(8))
        length = size - at if length == 0 else length
        if length < 8:
            return
        if kind != b"mdat":
            file.seek(at)
            yield file.read(min(length, _BOXES_READ))
        at += length

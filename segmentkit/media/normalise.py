"""The working copy of a clip: frame k of the copy is frame k of the source, whatever the source was.

The copy is upright, with square pixels, BT.709, 8-bit, at a constant rate on paper; the true moments of the frames are
kept beside it. Each picture stands alone, so any frame is reached exactly and none is decoded that nobody asked for.
"""

from __future__ import annotations

import contextlib
import json
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import av
from av.container import OutputContainer

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.facts import ClipFacts
from segmentkit.geometry import Size
from segmentkit.media import safe
from segmentkit.media.avframes import BT709, LIMITED
from segmentkit.media.clipsound import write_clip_sound
from segmentkit.media.container import said
from segmentkit.media.convert import upright
from segmentkit.media.decode import FEW, DecodedClip
from segmentkit.media.moments import between, last_length
from segmentkit.media.probe import ClipProbe, probe
from segmentkit.media.store import Store
from segmentkit.timebase import seconds_text

RECIPE = 2
"""Version of what is done to a clip; a higher one makes every working copy anew."""
THREADS = 4
"""Encoder threads. The number is part of what makes the bytes, so it does not follow the machine."""
_RATES = (10, 12, 15, 20, 24, 25, 30, 48, 50, 60, 90, 100, 120, 200, 240)
"""Whole rates that MPEG-2 can state (ITU-T H.262, 6.3.3 and 6.3.5: a rate of the table, times n, by d)."""
_ALONE = 4096
"""A side that is a multiple of this cannot be stated in MPEG-2 (ITU-T H.262, 6.3.3: the lower 12 bits are not zero)."""
_FINEST = 1
"""Step of the quantiser: the least there is."""
_QSCALE, _LOW_DELAY = 1 << 1, 1 << 19  # libavcodec/avcodec.h, AV_CODEC_FLAG_*: by a fixed step; no picture waits
_LAMBDA = 118  # libavutil/avutil.h, FF_QP2LAMBDA
_KIND = "clip"


def normalise(path: Path, store: Store) -> ClipFacts:
    """Makes the working copy of a clip, or finds the one that was made before from the same bytes.

    Raises:
        MediaUnusable: when the clip cannot be used.
        OutputFailed: when the working folder cannot be written to.
    """
    content = store.content_of(path)
    entry = copy_entry(content, store)
    return store.make(entry, lambda made: _read(made, path, content), lambda partial: _make(path, entry, partial))


def copy_entry(content: str, store: Store) -> Path:
    """Where the facts of the working copy of these bytes are kept; picture and sound lie beside them."""
    return store.path_for(_KIND, RECIPE, content, suffix=".json")


def working_copy(path: Path, content: str, store: Store) -> ClipFacts | None:
    """The working copy that was made before from these bytes, if there is one; nothing is decoded."""
    try:
        return _read(copy_entry(content, store), path, content)
    except (ValueError, KeyError, TypeError, OSError):
        return None


def facts_of(found: ClipProbe, content: str) -> ClipFacts:
    """What a probe alone tells, for a check that needs no pictures."""
    return ClipFacts(
        path=found.path, content=content, size=found.look.upright, times=found.times, duration=found.duration,
        has_sound=found.sound is not None, notes=found.notes,
    )  # fmt: skip


def _picture_of(entry: Path) -> Path:
    return entry.with_suffix(".mp4")


def _sound_of(entry: Path) -> Path:
    return entry.with_suffix(".wav")


def _read(entry: Path, path: Path, content: str) -> ClipFacts:
    """Reads an entry; raises ValueError or KeyError when a part of it is missing or was cut off."""
    data = json.loads(entry.read_text())
    picture, sound = _picture_of(entry), _sound_of(entry)
    if picture.stat().st_size != data["picture_bytes"]:
        raise ValueError("the working copy has another length than when it was made")
    if data["sound_bytes"] is not None and sound.stat().st_size != data["sound_bytes"]:
        raise ValueError("the working copy's sound has another length than when it was made")
    unit = Fraction(data["unit"])
    return ClipFacts(
        path=path,
        content=content,
        size=Size(*data["size"]),
        times=tuple(tick * unit for tick in data["ticks"]),
        duration=Fraction(data["duration"]),
        has_sound=data["sound_bytes"] is not None,
        normalised=picture,
        sound=None if data["sound_bytes"] is None else sound,
        notes=tuple(data["notes"]),
    )


def _make(path: Path, entry: Path, partial: Path) -> None:
    """Makes picture, sound and facts; the facts come last, so that an entry with facts is whole."""
    found = probe(path)
    with safe.writing(_picture_of(entry)) as picture:
        made = _write_picture(found, picture)
        _verify(picture, made)
    picture_bytes = _picture_of(entry).stat().st_size
    sound_bytes: int | None = None
    sound_notes: tuple[str, ...] = ()
    if found.sound is not None:
        with safe.writing(_sound_of(entry)) as sound:
            sound_notes = write_clip_sound(_retimed(found, made), sound)
        sound_bytes = _sound_of(entry).stat().st_size
    unit = Fraction(1, _common_denominator((*made.times, made.duration)))
    partial.write_text(
        json.dumps({
            "size": [made.size.width, made.size.height],
            "unit": str(unit),
            "ticks": [int(time / unit) for time in made.times],
            "duration": str(made.duration),
            "picture_bytes": picture_bytes,
            "sound_bytes": sound_bytes,
            "notes": [*found.notes, *made.notes, *sound_notes],
        })
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class _Made:
    """What was written: size, true moments from the first frame, duration, moment of the first frame, notes."""

    size: Size
    times: tuple[Fraction, ...]
    duration: Fraction
    first: Fraction
    notes: tuple[str, ...]


def _retimed(found: ClipProbe, made: _Made) -> ClipProbe:
    return replace(found, first=made.first, times=made.times, duration=made.duration)


def _common_denominator(times: Sequence[Fraction]) -> int:
    return math.lcm(*(time.denominator for time in times))


def _write_picture(found: ClipProbe, path: Path) -> _Made:
    """Decodes, converts and encodes every frame."""
    decoded = DecodedClip(found)
    size = found.look.upright
    rate = _paper_rate(found.times)
    written = 0
    try:
        with av.open(str(path), "w", format="mp4") as output:
            stream = _stream(output, size, rate)
            with contextlib.closing(upright(found, iter(decoded))) as frames:
                for frame in frames:
                    frame.pts, frame.time_base = written, Fraction(1, rate)
                    frame.duration = 1
                    output.mux(stream.encode(frame))
                    written += 1
            output.mux(stream.encode(None))
    except av.FFmpegError as error:
        raise OutputFailed(
            f"{path.parent} — the working copy of {found.path.name} could not be written ({said(error)})"
            " — nothing was left of it — make room on the disk"
        ) from error
    return _account(found, decoded, written)


def _stream(output: OutputContainer, size: Size, rate: int) -> Any:
    """The track of the pictures, coded one by one.

    MPEG-2 at its finest step, since nothing of the kind decodes sooner: 5 ms for a picture of 1920x1080 with grain, at
    48 dB from the source. The few sizes that it cannot state are coded in H.264, which takes twice as long.
    """
    plain = size.width % _ALONE and size.height % _ALONE
    stream: Any = output.add_stream("mpeg2video" if plain else "libx264", rate=rate)
    stream.width, stream.height, stream.pix_fmt = size.width, size.height, "yuv420p"
    context = stream.codec_context
    context.time_base = Fraction(1, rate)
    context.colorspace = context.color_primaries = context.color_trc = BT709
    context.color_range = LIMITED
    context.thread_count = THREADS
    if plain:
        context.flags |= _QSCALE | _LOW_DELAY
        context.qmin = context.qmax = _FINEST
        context.options = {"g": "1", "global_quality": str(_FINEST * _LAMBDA), "intra_vlc": "1", "dc": "10"}
    else:
        context.options = {"preset": "superfast", "tune": "fastdecode", "crf": "8", "x264-params": "keyint=1"}
    return stream


def _account(found: ClipProbe, decoded: DecodedClip, written: int) -> _Made:
    """Compares what was written with what was promised."""
    if not decoded.ticks:
        raise MediaUnusable(
            f"{found.path} — holds no pictures: 0 frames decode — a clip needs some — ask for the file again"
        )
    moments = [tick * decoded.unit for tick in decoded.ticks]
    first = moments[0]
    duration = moments[-1] - first + last_length(moments, decoded.last * decoded.unit)
    times = tuple(moment - first for moment in moments)
    if found.look.interlaced:
        times = between(times, duration)
    if written != len(times):
        raise OutputFailed(
            f"{found.path} — the working copy has {written} frames instead of {len(times)}"
            " — each frame must be there once — report this clip"
        )
    missing = len(found.times) - len(times)
    if missing > max(FEW, len(found.times) // 10):
        raise MediaUnusable(
            f"{found.path} — only {len(times)} of {len(found.times)} frames decode — a clip must decode from start to"
            " end — ask for the file again"
        )
    notes = []
    if missing:
        notes.append(f"{missing} of {len(found.times)} frames could not be decoded and are left out.")
    if decoded.lenient:
        notes.append("A strict decoder takes this file for damaged; look at a picture before freezing it.")
    if decoded.damaged is not None:
        notes.append(
            f"The file is damaged at {seconds_text(decoded.damaged, 2)}: pictures soon after it may be flawed."
        )
    return _Made(size=found.look.upright, times=times, duration=duration, first=first, notes=tuple(notes))


def _paper_rate(times: Sequence[Fraction]) -> int:
    """The whole rate that the copy states: the one nearest to the usual interval."""
    steps = [float(later - earlier) for earlier, later in pairwise(times)]
    usual = 1 / statistics.median(steps) if steps else 30
    return min(_RATES, key=lambda rate: abs(math.log(rate / usual)))


def _verify(path: Path, made: _Made) -> None:
    """Reads the copy's packets again: as many as frames, each a key frame at its moment, the right size."""
    fault = ""
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        packets = [packet for packet in container.demux(stream) if packet.size]
        if len(packets) != len(made.times):
            fault = f"{len(packets)} frames instead of {len(made.times)}"
        elif not all(packet.is_keyframe for packet in packets):
            fault = "pictures that do not stand alone"
        elif (stream.width, stream.height) != (made.size.width, made.size.height):
            fault = f"pictures of {stream.width}x{stream.height} instead of {made.size}"
    if fault:
        raise OutputFailed(f"{path} — the working copy has {fault} — it was removed — check the disk")

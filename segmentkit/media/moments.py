"""When each frame of a clip begins, by the file's own time stamps; never by a rate."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from av.container import InputContainer
from av.video.frame import VideoFrame

from segmentkit.errors import MediaUnusable
from segmentkit.media.container import declared_end, opened
from segmentkit.timebase import seconds_text

MOST_FRAMES = 150_000


def moments_of(
    path: Path, container: InputContainer, video: Any, *, interlaced: bool
) -> tuple[list[Fraction], Fraction]:
    """Moments at which the frames begin and the last one ends, on the file's clock.

    The packets tell them where the container is an orderly one; else all frames are decoded.

    Raises:
        MediaUnusable: when the file was cut off.
    """
    orderly = container.format.name.startswith(("mov", "matroska")) and not interlaced
    ticks, last = (None, 0)
    if orderly:
        ticks, last = _packet_ticks(path, container, video)
    if ticks is None:
        with opened(path) as again:
            video = again.streams[video.index]
            ticks, last = _frame_ticks(again, video)
    base = Fraction(video.time_base)
    moments = [tick * base for tick in ticks]
    return moments, moments[-1] + last_length(moments, last * base)


def last_length(moments: Sequence[Fraction], stated: Fraction) -> Fraction:
    """How long the last frame stays: as stated where that is likely, else as long as the one before it."""
    before = moments[-1] - moments[-2] if len(moments) > 1 else Fraction(1, 30)
    return stated if before / 2 <= stated <= max(before * 4, Fraction(2)) else before


def _packet_ticks(path: Path, container: InputContainer, video: Any) -> tuple[list[int] | None, int]:
    """Time stamps by the packets alone; None when they do not tell the frames one by one."""
    promised = sum(not entry.is_discard for entry in video.index_entries)
    stamps: dict[int, int] = {}
    packets = 0
    for packet in container.demux(video):
        if packet.size == 0 or packet.is_discard:
            continue
        if packet.pts is None or packet.pts in stamps:
            return None, 0
        if packet.is_corrupt:
            break
        stamps[packet.pts] = packet.duration or 0
        packets += 1
    ticks = sorted(stamps)
    if container.format.name.startswith("mov") and packets < promised:
        raise MediaUnusable(_cut_off(path, container, video, ticks))
    if not ticks:
        return None, 0
    declared = declared_end(container, video)
    end = (ticks[-1] - ticks[0] + stamps[ticks[-1]]) * video.time_base
    if container.format.name.startswith("matroska") and declared is not None and end < declared - 2:
        raise MediaUnusable(_cut_off(path, container, video, ticks))
    return ticks, stamps[ticks[-1]]


def _frame_ticks(container: InputContainer, video: Any) -> tuple[list[int], int]:
    video.thread_type = "AUTO"
    ticks: list[int] = []
    length = 0
    for frame in container.decode(video):
        ticks.append(stamp_of(frame, ticks))
        length = frame.duration
        if len(ticks) > MOST_FRAMES:
            break
    return ticks, length


def stamp_of(frame: VideoFrame, before: Sequence[int]) -> int:
    """A frame's time stamp; where the file gives none, or one that does not rise, the interval before is repeated."""
    stamp = frame.pts if frame.pts is not None else frame.dts
    if before and (stamp is None or stamp <= before[-1]):
        step = before[-1] - before[-2] if len(before) > 1 else max(1, frame.duration)
        return before[-1] + max(1, step)
    return stamp or 0


def between(times: Sequence[Fraction], end: Fraction) -> tuple[Fraction, ...]:
    """The moments of both fields of each frame: the second lies half way to the next frame."""
    fields: list[Fraction] = []
    for moment, following in zip(times, (*times[1:], end), strict=True):
        fields += [moment, (moment + following) / 2]
    return tuple(fields)


def _cut_off(path: Path, container: InputContainer, video: Any, ticks: Sequence[int]) -> str:
    there = (ticks[-1] - ticks[0]) * Fraction(video.time_base) if ticks else Fraction(0)
    declared = declared_end(container, video)
    of = f" of {seconds_text(declared, 1)}" if declared else ""
    return (
        f"{path} — was cut off: its pictures end at {seconds_text(there, 1)}{of} — a whole file is needed"
        " — the upload or copy stopped early; ask for the file again"
    )

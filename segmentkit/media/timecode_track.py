"""The label of a file's first frame: checked, told to the container, written into groups of MPEG-2, read back.

MP4 and MOV hold it in a track of its own, MXF in the material package and the packages below it. MPEG-2 has a label in
the header of each group (ISO/IEC 13818-2, 6.2.2.6); those of pieces count from zero, so they are written anew where
pieces are joined. A group's label has four bytes of its own: no picture depends on it.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from segmentkit.errors import OutputFailed
from segmentkit.timebase import (
    Rate,
    Timecode,
    TimeNotationError,
    frame_of_label,
    label_fault,
    label_of_frame,
    parse_time,
)

_GROUP = b"\x00\x00\x01\xb8"
_LABEL_BITS = 25
_MARKER = 1 << 12  # a bit among those of the label that is always set


def start_frame(timecode: str | None, rate: Rate, place: str) -> int:
    """The frame that a label stands for, counted from 00:00:00:00; 0 where there is none.

    Args:
        timecode: such as `10:00:00:00`, or with `;` before the frames in drop-frame counting.
        rate: frames a second of the file.
        place: what errors speak of.

    Raises:
        OutputFailed: when it is no label, or none of this rate.
    """
    if timecode is None:
        return 0
    try:
        label = parse_time(timecode)
        if isinstance(label, Timecode) and label_fault(label, rate) is None:
            return frame_of_label(label, rate)
        fault = label_fault(label, rate) if isinstance(label, Timecode) else f"{timecode} is not a label"
    except TimeNotationError as error:
        fault = str(error)
    raise OutputFailed(
        f"{place} — {fault} — a file's first frame has a label that its rate counts, such as 10:00:00:00"
    )


def drops(timecode: str | None) -> bool:
    """Whether a label counts in drop-frame."""
    return timecode is not None and ";" in timecode


def read_timecode(container: Any, first_picture: bytes | None = None) -> str | None:
    """The label of the first frame as a file states it; None where it states none.

    Args:
        container: open for reading.
        first_picture: its first coded picture, where that may hold a label.
    """
    tagged = [container.metadata, *(stream.metadata for stream in container.streams)]
    for tags in tagged:
        if found := tags.get("timecode"):
            return str(found)
    label = group_label(first_picture) if first_picture else None
    return None if label is None else str(label)


def group_label(data: bytes) -> Timecode | None:
    """The label in a coded picture of MPEG-2; None when no group begins with it."""
    spot = data.find(_GROUP)
    if spot < 0 or len(data) < spot + 8:
        return None
    bits = int.from_bytes(data[spot + 4 : spot + 8], "big") >> (32 - _LABEL_BITS)
    return Timecode(
        bits >> 19 & 31, bits >> 13 & 63, bits >> 6 & 63, bits & 63, drop=bool(bits >> 24)
    )  # fmt: skip


def with_label(data: bytes, frame: int, rate: Rate, *, drop: bool) -> bytes:
    """A coded picture of MPEG-2 whose group, where one begins with it, is labelled for a frame.

    Args:
        data: the coded picture.
        frame: counted from 00:00:00:00; that of the group's first shown picture.
        rate: frames a second.
        drop: whether labels count in drop-frame.
    """
    spot = data.find(_GROUP)
    if spot < 0 or len(data) < spot + 8:
        return data
    label = label_of_frame(frame, rate, drop=drop)
    bits = label.drop << 24 | label.hours << 19 | label.minutes << 13 | _MARKER | label.seconds << 6 | label.frames
    return _replaced(data, spot, bits)


def without_label(data: bytes) -> bytes:
    """A coded picture of MPEG-2 with an empty label: what stays the same wherever a piece is shown."""
    spot = data.find(_GROUP)
    return data if spot < 0 or len(data) < spot + 8 else _replaced(data, spot, _MARKER)


def _replaced(data: bytes, spot: int, bits: int) -> bytes:
    kept = int.from_bytes(data[spot + 4 : spot + 8], "big") & ((1 << 32 - _LABEL_BITS) - 1)
    word = bits << 32 - _LABEL_BITS | kept
    return data[: spot + 4] + word.to_bytes(4, "big") + data[spot + 8 :]


def comparable(codec: str, data: bytes) -> bytes:
    """A coded picture as its piece and the joined file have it in common.

    Args:
        codec: as libav names it.
        data: the coded picture.
    """
    return without_label(data) if codec == "mpeg2video" else data


def exact(rate: Fraction) -> Fraction:
    """A rate that a file states in rounded form, as the exact one that is meant; any other as it is."""
    whole = round(rate)
    for candidate in (Fraction(whole), whole * Fraction(1000, 1001)):
        if candidate and abs(rate / candidate - 1) < Fraction(1, 200_000):
            return candidate
    return rate

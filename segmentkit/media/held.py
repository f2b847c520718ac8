"""Encodes frozen pictures once and writes their repetitions as pictures of skipped blocks, a few bytes each.

Every decoder shows the very same picture for them, at the constant rate of the others. The encoder is handed two of a
frozen picture's frames and told that the second one stays for a while; it does not see the rest. Key frames lie where
they would lie anyway.

The encoder counts places in showing order by what it sees, so these are written anew: its own headers leave too little
room for them (`h264.widened`).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from av.packet import Packet
from av.video.frame import PictureType, VideoFrame

from segmentkit.media import h264, h264_bits, h264_repeat

LEAST = 8
"""Repetitions from which it is worth skipping them."""
_SEEN = 2  # frames of a frozen picture that the encoder sees: one as it comes, and one that may mend it


@dataclass(frozen=True, slots=True)
class _Sent:
    """A frame that the encoder was given: which of the file it is, and which of those that were given."""

    frame: int
    number: int


@dataclass(frozen=True, slots=True)
class _Hold:
    """A frame that is repeated, and how often."""

    frame: int
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """A frame that the encoder is given.

    Attributes:
        frame: which of the file it is.
        key: whether it must stand alone.
        copy: whether it shows what the frame before it shows, and others lean on it.
        stays: frames until the next one that the encoder is given.
        lasts: frames for which the encoder may be told that it stays.
    """

    frame: int
    key: bool
    copy: bool = False
    stays: int = 1
    lasts: int = 1


def steps(start: int, repeat: int, *, group: int, length: int) -> Iterator[Step]:
    """Which frames of a picture the encoder is given.

    Args:
        start: the picture's first frame.
        repeat: how many frames it stays.
        group: frames from one key frame to the next.
        length: frames of the file.
    """
    end = start + repeat
    while start < end:
        until = min(end, start + group - start % group)
        # How long a frame stays follows from the one after it, so the last hold of a file has one more.
        seen = _SEEN + (until == length)
        if until - start < seen + LEAST:
            yield from (Step(frame=frame, key=frame % group == 0) for frame in range(start, until))
        else:
            rest = until - start - seen + 1
            yield Step(frame=start, key=start % group == 0)
            for frame in range(start + 1, start + seen):
                stays = rest if frame == start + seen - 1 else 1
                yield Step(frame=frame, key=False, copy=True, stays=stays, lasts=rest)
        start = until


def quiet_steps(
    repeats: Iterable[int], still: Sequence[tuple[int, int]], *, group: int, length: int
) -> list[tuple[int, int]]:
    """Runs of still frames as the encoder counts them, without key frames.

    Args:
        repeats: how many frames each picture stays.
        still: runs of frames of the file that look like the one before, or nearly so, as first and one after the last.
        group: frames from one key frame to the next.
        length: frames of the file.
    """
    runs: list[tuple[int, int]] = []
    start = number = 0
    for repeat in repeats:
        for step in steps(start, repeat, group=group, length=length):
            if not step.key and any(first <= step.frame < end for first, end in still):
                joined = runs.pop()[0] if runs and runs[-1][1] == number else number
                runs.append((joined, number + 1))
            number += 1
        start += repeat
    return runs


class HoldingEncoder:
    """An open encoder of H.264 whose repeated pictures are skipped.

    Args:
        context: the encoder, open, set up by `codecs.configure` with `held`.
        rate: frames a second.
        group: frames from one key frame to the next.
        length: frames of the file.
        stay: frames for which the encoder is told that a frozen picture stays, at most.

    Raises:
        Unfit: when the encoder writes what is not understood.
    """

    def __init__(self, context: Any, *, rate: Fraction, group: int, length: int, stay: int) -> None:
        self._context, self._unit = context, 1 / rate
        self._group, self._length, self._stay = group, length, stay
        self._headers = h264.headers(bytes(context.extradata or b""))
        self._sent: dict[int, _Sent] = {}
        self._holds: deque[_Hold] = deque()
        self._frame = self._number = self._moment = 0
        self._decoded = 0
        self._key = _Sent(0, 0)
        self._shown: h264.Slice | None = None
        self._latest: h264.Slice | None = None

    @property
    def extradata(self) -> bytes:
        """The headers of the file, as a byte stream."""
        return h264.widened(self._headers)

    def encode(self, picture: VideoFrame, repeat: int) -> Iterator[Packet[Any]]:
        """Takes a picture and how many frames it stays; gives what is ready.

        Raises:
            Unfit: when the encoder writes what is not understood.
        """
        for step in steps(self._frame, repeat, group=self._group, length=self._length):
            picture.time_base, picture.pts = self._unit, self._moment
            picture.pict_type = PictureType.I if step.key else PictureType.P if step.copy else PictureType.NONE
            self._sent[self._moment] = _Sent(step.frame, self._number)
            self._number += 1
            self._moment += min(step.lasts, self._stay)
            if step.stays > 1:
                self._holds.append(_Hold(step.frame, step.stays - 1))
            for packet in self._context.encode(picture):
                yield from self._passed(packet)
        self._frame += repeat

    def finish(self) -> Iterator[Packet[Any]]:
        """Gives the rest."""
        for packet in self._context.encode(None):
            yield from self._passed(packet)
        while self._holds:
            yield from self._repeated(self._holds.popleft())

    def _passed(self, packet: Packet[Any]) -> Iterator[Packet[Any]]:
        """A packet of the encoder at its true place, after what is repeated before it."""
        sent = self._sent.pop(packet.pts or 0)
        while self._holds and sent.frame > self._holds[0].frame:
            yield from self._repeated(self._holds.popleft())
        units = h264_bits.units(bytes(packet))
        slices = {
            place: h264.slice_of(unit, self._headers)
            for place, unit in enumerate(units)
            if unit[0] & 31 in {h264.SLICE, h264.KEY_SLICE}
        }
        one = next(iter(slices.values()))
        if one.key:
            self._key = sent
        if one.order != 2 * (sent.number - self._key.number) % (1 << self._headers.order_bits):
            raise h264_bits.Unfit("places in showing order are counted in another way")
        if one.reference:
            self._latest = one
        if self._holds and sent.frame == self._holds[0].frame:
            self._shown = one if one.reference else None
        for place, part in slices.items():
            units[place] = h264.placed(part, 2 * (sent.frame - self._key.frame), self._headers)
        yield self._timed(h264_bits.stream(units), sent.frame, key=one.key)

    def _repeated(self, hold: _Hold) -> Iterator[Packet[Any]]:
        if self._shown is None or self._latest is None or self._decoded != hold.frame + 1:
            raise h264_bits.Unfit("a frozen picture is not one that others may lean on")
        for frame in range(hold.frame + 1, hold.frame + 1 + hold.count):
            order = 2 * (frame - self._key.frame)
            unit = h264_repeat.repeated(self._shown, self._latest, order, self._headers)
            yield self._timed(h264_bits.stream([unit]), frame, key=False)

    def _timed(self, data: bytes, frame: int, *, key: bool) -> Packet[Any]:
        packet: Packet[Any] = Packet(data)
        packet.time_base = self._unit
        packet.pts, packet.dts, packet.duration = frame, self._decoded - self._headers.reordered, 1
        packet.is_keyframe = key
        self._decoded += 1
        return packet

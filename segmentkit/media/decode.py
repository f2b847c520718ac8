"""The frames of a clip in order, with their time stamps; and what to do about pictures that do not decode."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import av
from av.video.frame import VideoFrame

from segmentkit.errors import MediaUnusable
from segmentkit.media.container import opened, said
from segmentkit.media.moments import stamp_of
from segmentkit.media.probe import ClipProbe
from segmentkit.timebase import seconds_text

FEW = 2
"""Damaged frames that are left out with a note; more make a clip unusable."""
_PATIENCE = 16  # packets without a single frame, after which the decoder is asked to be less strict


class DecodedClip:
    """Decodes a clip once, in order.

    At first the decoder is strict: it refuses a damaged picture instead of patching it up from its neighbours. Some
    recorders write side messages that a strict decoder takes for damage in every picture; when it gives no frame at all
    from packets that a lenient one can decode, the clip is decoded leniently from its start.

    Attributes:
        ticks: time stamps of the frames given so far.
        unit: seconds of a tick.
        last: how many ticks the last frame stays.
        damaged: moment of the first damage, in seconds from the first frame; None for a sound clip.
        lenient: whether the strict decoder gave no frame.
    """

    def __init__(self, found: ClipProbe) -> None:
        self._found = found
        self.ticks: list[int] = []
        self.unit = Fraction(1)
        self.last = 0
        self.damaged: Fraction | None = None
        self.lenient = False
        self._faults = 0

    def __iter__(self) -> Iterator[VideoFrame]:
        yield from self._decode(strict=True)
        if not self.ticks:
            self.lenient = True
            yield from self._decode(strict=False)

    def _decode(self, *, strict: bool) -> Iterator[VideoFrame]:
        refused = 0
        with opened(self._found.path) as container:
            stream: Any = container.streams[self._found.video]
            stream.thread_type = "AUTO"
            stream.codec_context.options = {"err_detect": "explode"} if strict else {}
            self.unit = Fraction(stream.time_base)
            for packet in container.demux(stream):
                try:
                    frames = packet.decode()
                except av.FFmpegError as error:
                    refused += 1
                    if strict and not self.ticks and refused >= _PATIENCE:
                        return
                    self._fault(said(error))
                    continue
                for frame in frames:
                    if frame.is_corrupt and self.ticks:
                        self._fault("damaged picture")
                        continue
                    self.ticks.append(stamp_of(frame, self.ticks))
                    self.last = frame.duration
                    yield frame

    def _fault(self, what: str) -> None:
        if not self.ticks:
            return  # a file may begin in the middle of a group of pictures; what cannot be shown yet is left out
        moment = (self.ticks[-1] - self.ticks[0]) * self.unit
        self.damaged = moment if self.damaged is None else self.damaged
        self._faults += 1
        if self._faults > FEW:
            raise MediaUnusable(
                f"{self._found.path} — is damaged from {seconds_text(moment)} on ({what}) — a clip must decode from"
                " start to end — ask for the file again, or cut it before that"
            )

"""Any frame of a clip, exactly: from the working copy, where each picture stands alone.

Only those that are asked for are decoded: a clip of 240 frames a second shown at 30 costs no more than one of 30.
"""

from __future__ import annotations

from collections import OrderedDict
from fractions import Fraction
from typing import Any

import av
from av.video.frame import VideoFrame

from segmentkit.errors import MediaUnusable
from segmentkit.facts import ClipFacts
from segmentkit.media.avframes import plane_view
from segmentkit.media.planes import Planes

KEPT = 12
"""Decoded pictures that a reader remembers unless told otherwise."""
_READ_ON = 4  # coded pictures that are passed over rather than sought past


class ClipReader:
    """Reads frames of a normalised clip by their number.

    Use as a context manager, from one thread at a time. A frame that is asked for is decoded, and no other; the last
    ones are kept, so that stepping back is quick too.

    Args:
        facts: of a clip that was normalised.
        kept: how many decoded frames are remembered.
    """

    def __init__(self, facts: ClipFacts, kept: int = KEPT) -> None:
        if facts.normalised is None:
            raise ValueError(f"{facts.path} was not normalised")
        self._facts = facts
        self._path = facts.normalised
        self._kept = max(1, kept)
        self._cache: OrderedDict[int, Planes] = OrderedDict()
        self._container: Any = None
        self._next = 0

    def __enter__(self) -> ClipReader:
        self._open()
        return self

    def __exit__(self, *exception: object) -> None:
        self.close()

    def close(self) -> None:
        """Closes the file; a later `planes` opens it again."""
        self._cache.clear()
        if self._container is not None:
            self._container.close()
            self._container = None

    def planes(self, frame: int) -> Planes:
        """The picture of a frame, counted from 0. It is shared with later calls: copy it before drawing on it.

        Raises:
            IndexError: when the clip has no such frame.
            MediaUnusable: when the working copy cannot be read.
        """
        if not 0 <= frame < self._facts.frames:
            raise IndexError(f"{self._facts.path.name} has frames f0 to f{self._facts.frames - 1}, not f{frame}")
        if frame in self._cache:
            self._cache.move_to_end(frame)
            return self._cache[frame]
        if self._container is None:
            self._open()
        if not self._next <= frame <= self._next + _READ_ON:
            self._seek(frame)
        picture = self._decoded(frame)
        if picture is not None:
            # The decoder's own memory: it is not written to again as long as somebody looks at it.
            planes = Planes(*(plane_view(picture, index) for index in range(3)))
            self._remember(frame, planes)
            return planes
        raise MediaUnusable(
            f"{self._path} — frame f{frame} of the working copy of {self._facts.path.name} cannot be read"
            " — every frame must be there — delete the working folder, it is made again"
        )

    def _remember(self, number: int, planes: Planes) -> None:
        self._cache[number] = planes
        while len(self._cache) > self._kept:
            self._cache.popitem(last=False)

    def _open(self) -> None:
        try:
            self._container = av.open(str(self._path))
        except (av.FFmpegError, OSError) as error:
            raise MediaUnusable(
                f"{self._path} — the working copy of {self._facts.path.name} cannot be opened ({error.strerror})"
                " — it must be whole — delete the working folder, it is made again"
            ) from error
        self._stream = self._container.streams.video[0]
        self._stream.thread_type = "SLICE"
        self._stream.codec_context.thread_count = 1
        self._tick = 1 / (Fraction(self._stream.average_rate) * Fraction(self._stream.time_base))
        self._packets = self._container.demux(self._stream)
        self._next = 0

    def _seek(self, frame: int) -> None:
        self._container.seek(int(frame * self._tick), stream=self._stream, backward=True, any_frame=False)
        self._packets = self._container.demux(self._stream)
        self._next = frame

    def _decoded(self, frame: int) -> VideoFrame | None:
        """Reads on up to a frame; None when it is not there or does not decode."""
        try:
            for packet in self._packets:
                if not packet.size:
                    return None
                number = round(packet.pts / self._tick)
                self._next = number + 1
                if number >= frame:
                    return next(iter(packet.decode()), None) if number == frame else None
        except av.FFmpegError:
            return None
        return None

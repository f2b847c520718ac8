"""Any frame of a clip, exactly: from the working copy, where each twelfth frame is a key frame."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import av
from av.video.frame import VideoFrame

from segmentkit.errors import MediaUnusable
from segmentkit.facts import ClipFacts
from segmentkit.media.avframes import planes_of
from segmentkit.media.normalise import GROUP
from segmentkit.media.planes import Planes


class ClipReader:
    """Reads frames of a normalised clip by their number.

    Use as a context manager, from one thread at a time. In order it decodes each frame once; the frames of the last
    group are kept, so that stepping back is quick too.

    Args:
        facts: of a clip that was normalised.
        kept: how many decoded frames are remembered.
        threads: decoder threads; 0 leaves it to the decoder.
    """

    def __init__(self, facts: ClipFacts, kept: int = GROUP, threads: int = 2) -> None:
        if facts.normalised is None:
            raise ValueError(f"{facts.path} was not normalised")
        self._facts = facts
        self._path = facts.normalised
        self._kept = max(1, kept)
        self._threads = threads
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
        group = frame // GROUP * GROUP
        if frame < self._next or group > self._next + GROUP:
            self._seek(group)
        for number, picture in self._decoded:
            self._next = number + 1
            if number < group:
                continue
            planes = planes_of(picture)
            self._remember(number, planes)
            if number == frame:
                return planes
            if number > frame:
                break
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
        self._stream.thread_type = "FRAME"
        self._stream.codec_context.thread_count = self._threads
        self._unit = Fraction(self._stream.time_base)
        self._tick = 1 / (Fraction(self._stream.average_rate) * self._unit)
        self._decoded = self._frames()
        self._next = 0

    def _seek(self, group: int) -> None:
        self._container.seek(int(group * self._tick), stream=self._stream, backward=True, any_frame=False)
        self._decoded = self._frames()
        self._next = group

    def _frames(self) -> Iterator[tuple[int, VideoFrame]]:
        try:
            for picture in self._container.decode(self._stream):
                yield round(picture.pts / self._tick), picture
        except av.FFmpegError:
            return

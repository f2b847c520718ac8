"""Encodes pieces one after the other, without a pause between them.

One piece is encoded at a time, so that one encoder's memory is held; meanwhile the pictures of the next one are drawn,
and the one before is proven. Each piece is encoded by an encoder of its own and depends on nothing that
came before it, so it has the same bytes whichever others were found ready.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from types import TracebackType
from typing import Self

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.geometry import Size
from segmentkit.media import safe
from segmentkit.media.codecs import THREADS
from segmentkit.media.encode import PictureWriter
from segmentkit.media.join import write_sound
from segmentkit.media.memory import give_back, keep_large_apart
from segmentkit.media.pieces import Piece, Pieces
from segmentkit.media.pieces_read import pictures_measured, sound_measured
from segmentkit.media.sound import Samples
from segmentkit.media.verify import file_rate
from segmentkit.timebase import Rate

CODING = f"4, {THREADS} threads"
"""Version of how pieces are coded; another one makes every piece anew."""
_AHEAD = 3  # pieces that may wait to be finished; their files are open


class PieceMaker:
    """Makes the pieces of one movie. Use as a context manager: leaving it stops what is not finished.

    Args:
        pieces: where they are kept.
        size: of the pictures.
        rate: pictures a second.
        delivery: how to code.
    """

    def __init__(self, pieces: Pieces, *, size: Size, rate: Rate, delivery: Delivery) -> None:
        self._pieces, self._size, self._rate, self._delivery = pieces, size, rate, delivery
        keep_large_apart()
        self._turn = threading.Lock()
        self._finisher = ThreadPoolExecutor(1, "finisher")
        self._writers: deque[tuple[PictureWriter, Future[Piece] | None]] = deque()
        self._partials = ExitStack()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        for writer, future in self._writers:
            if future is None or not future.done():
                writer.abort()
        self._finisher.shutdown(cancel_futures=True)
        self._partials.close()

    def begin(
        self, key: str, frames: int, still: Sequence[tuple[int, int]] = (), repeats: Sequence[int] = ()
    ) -> PictureWriter:
        """A writer for the pictures of a piece; hand it to `end` when all are written.

        Args:
            key: of the piece.
            frames: how many pictures will be written.
            still: runs of them that look like the one before, or nearly so; they are encoded with less effort.
            repeats: how often each picture will be written, where it is known.

        Raises:
            OutputFailed: when an earlier piece has failed.
        """
        while len(self._writers) >= _AHEAD:
            _, future = self._writers.popleft()
            if future is not None:
                future.result()
        partial = self._partials.enter_context(self._pieces.making(key))
        writer = PictureWriter(
            partial, size=self._size, rate=self._rate, delivery=self._delivery, told_as=self._pieces.path_for(key),
            length=frames, turn=self._turn, still=still, repeats=repeats,
        )  # fmt: skip
        self._writers.append((writer, None))
        return writer

    def end(self, key: str, writer: PictureWriter) -> Future[Piece]:
        """Has a piece finished, proven and kept; nobody waits for it yet."""
        writer.close()
        future = self._finisher.submit(self._finished, key, writer)
        self._writers[-1] = (writer, future)
        return future

    def _finished(self, key: str, writer: PictureWriter) -> Piece:
        frames = writer.finish()
        give_back()
        rate = file_rate(self._delivery, self._rate)
        return self._pieces.keep(key, writer.path, pictures_measured(writer.path, frames, rate.fps, writer.handed))


def sound_piece(
    pieces: Pieces, key: str, samples: Samples, delivery: Delivery, programme: slice = slice(None)
) -> Piece:
    """Encodes the sound of a movie, proves it and keeps it; the loudness of the `programme` in it is measured.

    Raises:
        OutputFailed: when it cannot be written or does not verify.
    """
    with pieces.making(key) as partial:
        try:
            write_sound(samples, partial, delivery)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(pieces.path_for(key), error)) from error
        made = pieces.keep(key, partial, sound_measured(partial, programme))
    give_back()
    return made

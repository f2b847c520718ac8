"""Writes the finished movie: pictures in order, sound, chapters; whole under its name, or not there at all.

Same pictures, same sound, same versions of the libraries: same bytes. So the number of encoder threads is fixed, and no
date and no path goes into the file.
"""

from __future__ import annotations

import contextlib
import hashlib
import queue
import threading
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.packet import Packet
from av.video.frame import VideoFrame

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.facts import MovieFacts
from segmentkit.geometry import Size
from segmentkit.media import h264_bits, safe
from segmentkit.media.avframes import frame_of
from segmentkit.media.codecs import CODECS, THREADS, configure, encoder_of, group_of, pixels_of
from segmentkit.media.depth import frame_of_samples, samples_of
from segmentkit.media.hardware import SOFTWARE
from segmentkit.media.held import HoldingEncoder, quiet_steps
from segmentkit.media.holding import holds
from segmentkit.media.interlace import Flagger, Weaver
from segmentkit.media.join import Chapter, join, write_sound
from segmentkit.media.planes import Planes
from segmentkit.media.sound import Samples
from segmentkit.media.verify import file_rate, not_as_asked, read_back
from segmentkit.media.x264 import told_stay
from segmentkit.timebase import SAMPLE_RATE, Rate, sample_of_frame

_WAITING_BYTES = 18 << 20  # of pictures that may wait for the encoder; bounds memory


class PictureWriter:
    """Encodes pictures to a file on a thread of its own, so that what draws them can go on.

    Files of the same size, rate and delivery can be joined without encoding again: each starts with a key frame, no
    group of pictures looks into another, and their headers are equal. Where a delivery is interlaced, two pictures are
    woven into each frame of the file.

    Args:
        path: where to write; removed again by `abort`.
        told_as: the name that errors speak of; `path` unless given.
        size: of the pictures, even numbers.
        rate: pictures a second.
        delivery: says how to code.
        length: how many pictures will be written, where it is known: then key frames lie at even distances and none of
            them last, since two pictures that stand alone must not meet where files are joined (see `group_of`).
        turn: held while encoding; writers that share one encode one after the other, and what draws the pictures of the
            next may already go on.
        still: runs of pictures that look like the one before, or nearly so, as first and one after the last.
        repeats: how often each picture will be written, where it is known.

    Attributes:
        frames: pictures written so far.
        handed: SHA-256 of the coded pictures as a file of them keeps them, in hex, when all is done and the encoder is
            one whose pictures need not be decoded to know that they can be.
    """

    def __init__(
        self,
        path: Path,
        *,
        size: Size,
        rate: Rate,
        delivery: Delivery,
        told_as: Path | None = None,
        length: int | None = None,
        turn: threading.Lock | None = None,
        still: Sequence[tuple[int, int]] = (),
        repeats: Sequence[int] = (),
    ) -> None:
        if size.width % 2 or size.height % 2:
            raise ValueError(f"{size}: 4:2:0 pictures have even sizes")
        if delivery.fields is not None and (size.height % 4 or (length or 0) % 2):
            raise OutputFailed(
                f"{told_as or path} — {length or 'some'} pictures of {size} are to be interlaced — a frame takes two"
                " pictures of a height that four divides — choose another size, or begin stretches at whole frames"
            )
        self.path, self._size, self._rate, self._delivery = path, size, rate, delivery
        self._told_as = told_as or path
        self._length, self._still, self._repeats = length, still, repeats
        self._turn = turn or threading.Lock()
        waiting = _WAITING_BYTES // (size.width * size.height * 3 // 2)
        self._queue: queue.Queue[tuple[VideoFrame, int] | None] = queue.Queue(min(24, max(3, waiting)))
        self._stop = threading.Event()
        self._error: BaseException | None = None
        self._closed = False
        self.frames = 0
        self.handed: str | None = None
        self._coded = 0
        self._thread = threading.Thread(target=self._encode, name="encoder", daemon=True)
        self._thread.start()

    def write(self, planes: Planes, repeat: int = 1) -> None:
        """Adds a picture, `repeat` frames long. It is copied, so it may be drawn on afterwards.

        Raises:
            OutputFailed: when the encoder has failed.
        """
        if planes.size != self._size:
            raise ValueError(f"a picture of {planes.size} for a movie of {self._size}")
        if repeat < 1:
            raise ValueError(f"a picture shown {repeat} times")
        self._put((frame_of(planes), repeat))
        self.frames += repeat

    def finish(self) -> int:
        """Waits until all is encoded and the file is closed; returns the number of frames in it.

        Raises:
            OutputFailed: when the encoder has failed or was stopped.
        """
        self.close()
        self._thread.join()
        self._check()
        if self._stop.is_set():
            raise OutputFailed(f"{self._told_as} — was stopped before its end — nothing was left under that name")
        return self._coded

    def close(self) -> None:
        """Says that no picture will follow, and does not wait."""
        if not self._closed:
            self._put(None)
            self._closed = True

    def abort(self) -> None:
        """Stops the encoder and removes the file."""
        self._stop.set()
        with contextlib.suppress(queue.Empty):
            while True:
                self._queue.get_nowait()
        with contextlib.suppress(queue.Full):
            self._queue.put_nowait(None)
        self._thread.join()
        safe.discard(self.path)

    def _put(self, item: tuple[VideoFrame, int] | None) -> None:
        while True:
            self._check()
            with contextlib.suppress(queue.Full):
                self._queue.put(item, timeout=0.5)
                return

    def _check(self) -> None:
        if self._error is not None:
            raise _failed(self._told_as, self._error) from self._error

    def _encode(self) -> None:
        try:
            self._run()
        except BaseException as error:
            self._error = error

    def _run(self) -> None:
        rate = file_rate(self._delivery, self._rate)
        length = self._length and self._length // (2 if self._delivery.fields else 1)
        coding = self._delivery.picture
        group = group_of(coding, rate.fps, length)
        held = length is not None and holds(self._delivery)
        still = self._still
        if held and length is not None:
            still = quiet_steps(self._repeats, still, group=group, length=length)
        with self._turn, av.open(str(self.path), "w", format=CODECS[coding.codec].piece) as output:
            stream: Any = output.add_stream(encoder_of(coding), rate=rate.fps)
            configure(
                stream.codec_context, self._delivery, size=self._size, rate=rate, group=group,
                even=length is not None, still=still, length=length, held=held,
            )  # fmt: skip
            packets = self._held(stream, rate, group) if held else self._plain(stream, rate)
            # What the software encoder gives is known to decode, so it is enough that it is what the file holds.
            handed = hashlib.sha256() if coding.encoder == SOFTWARE else None
            for packet in packets:
                if handed is not None:
                    handed.update(h264_bits.counted(bytes(packet)))
                packet.stream = stream
                output.mux(packet)
            self.handed = None if handed is None else handed.hexdigest()

    def _plain(self, stream: Any, rate: Rate) -> Iterator[Packet[Any]]:
        """Each frame goes through the encoder."""
        for frame, repeat in self._frames():
            frame.time_base, frame.duration = 1 / rate.fps, 1
            for _ in range(repeat):
                if self._stop.is_set():
                    return
                frame.pts = self._coded
                yield from stream.encode(frame)
                self._coded += 1
        if self._coded and not self._stop.is_set():
            yield from stream.encode(None)

    def _held(self, stream: Any, rate: Rate, group: int) -> Iterator[Packet[Any]]:
        """Frozen pictures go through the encoder once."""
        context = stream.codec_context
        context.open()
        encoder = HoldingEncoder(
            context, rate=rate.fps, group=group, length=self._length or 0, stay=told_stay(self._delivery.picture)
        )
        context.extradata = encoder.extradata
        for frame, repeat in self._frames():
            if self._stop.is_set():
                return
            yield from encoder.encode(frame, repeat)
            self._coded += repeat
        if self._coded and not self._stop.is_set():
            yield from encoder.finish()

    def _frames(self) -> Iterator[tuple[VideoFrame, int]]:
        """What goes to the encoder, each with how often it is shown."""
        pixels, order = pixels_of(self._delivery.picture), self._delivery.fields
        weaver = Weaver(order) if order else None
        flagger = Flagger(order) if order else None
        while not self._stop.is_set() and (item := self._queue.get()) is not None:
            frame, repeat = item
            if weaver is None or flagger is None:
                yield frame if pixels == "yuv420p" else frame_of_samples(samples_of(frame, pixels), pixels), repeat
                continue
            for made, shown in weaver.frames(samples_of(frame, pixels), repeat):
                yield flagger.marked(frame_of_samples(made, pixels)), shown
        if weaver is not None and weaver.waiting and not self._stop.is_set():
            raise OutputFailed(
                f"{self._told_as} — {self.frames} pictures are to be interlaced — frames take two pictures each"
                " — report this storyboard"
            )


class MovieWriter:
    """Writes a movie under its final name once it was decoded to its end and found right; else nothing.

    Use as a context manager and call `finish`. Leaving the block without it, by an error or otherwise, leaves nothing.

    Args:
        final: the file; its folder is made.
        size: of the pictures, even numbers.
        rate: pictures a second.
        delivery: how to code.
        chapters: title, first picture and picture after the last of each, in order.
        title: of the movie.
        frames: how many pictures will be written; the end of the last chapter when not given.
        timecode: the label of the first frame, where the kind of file holds one.
    """

    def __init__(
        self,
        final: Path,
        *,
        size: Size,
        rate: Rate,
        delivery: Delivery,
        chapters: Sequence[Chapter] = (),
        title: str = "",
        frames: int | None = None,
        timecode: str | None = None,
    ) -> None:
        self._final, self._timecode = final, timecode
        self._size, self._rate, self._delivery = size, rate, delivery
        self._chapters, self._title = tuple(chapters), title
        self._promised = frames if frames is not None else (self._chapters[-1][2] if self._chapters else None)
        self._sound: Samples | None = None
        self._finished = False
        self._pictures: PictureWriter | None = None
        self._partials: list[Path] = []

    def __enter__(self) -> MovieWriter:
        try:
            self._final.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(self._final, error)) from error
        safe.clear_stale(self._final.parent)
        self._pictures = PictureWriter(
            self._partial(), size=self._size, rate=self._rate, delivery=self._delivery, told_as=self._final
        )
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        if self._pictures is not None:
            self._pictures.abort()
        for partial in self._partials:
            safe.discard(partial)
        if kind is None and not self._finished:
            raise OutputFailed(f"{self._final} — was never finished — nothing was left under that name — call finish()")

    def write(self, planes: Planes, repeat: int = 1) -> None:
        """Adds a picture, `repeat` frames long. It is copied, so it may be drawn on afterwards.

        Raises:
            OutputFailed: when the encoder has failed.
        """
        self._open().write(planes, repeat)

    def write_sound(self, samples: Samples) -> None:
        """Gives the sound of the whole movie.

        Args:
            samples: float32 at 48 kHz, shape (n, 2), -1 to 1; as long as the pictures, to within a frame.
        """
        if samples.ndim != 2 or samples.shape[1] != 2:
            raise ValueError(f"sound of shape {samples.shape}: (n, 2) is written")
        self._sound = samples

    def finish(self, samples: Samples | None = None) -> MovieFacts:
        """Ends the pictures, adds the sound, reads the file back and gives it its name.

        Raises:
            OutputFailed: when frames or sound are not as long as promised, or the file does not verify.
        """
        if samples is not None:
            self.write_sound(samples)
        pictures = self._open()
        if pictures.frames == 0:
            raise OutputFailed(f"{self._final} — no picture was written — a movie has at least one — nothing was left")
        if self._promised is not None and pictures.frames != self._promised:
            raise OutputFailed(
                f"{self._final} — {pictures.frames} frames were written, {self._promised} were promised"
                " — the two must be equal — nothing was left under that name; report this storyboard"
            )
        sound = self._fitted(pictures.frames)
        coded = pictures.finish()
        heard, partial = self._partial(), self._partial()
        try:
            if self._delivery.sound is not None:
                write_sound(sound, heard, self._delivery)
            join(
                [self._partials[0]], partial, rate=self._rate, sound=heard if self._delivery.sound else None,
                chapters=self._chapters, title=self._title, delivery=self._delivery, timecode=self._timecode,
            )  # fmt: skip
        except Exception as error:
            raise _failed(self._final, error) from error
        facts = self._verified(partial, coded, len(sound))
        try:
            safe.commit(partial, self._final)
        except OSError as error:
            raise OutputFailed(safe.cannot_write(self._final, error)) from error
        self._finished = True
        return facts

    def _open(self) -> PictureWriter:
        if self._pictures is None or self._finished:
            raise ValueError("a MovieWriter is written to inside its `with` block and before finish()")
        return self._pictures

    def _partial(self) -> Path:
        self._partials.append(safe.partial_beside(self._final))
        return self._partials[-1]

    def _fitted(self, frames: int) -> Samples:
        """The sound cut or filled with silence to the pictures' exact length; at most by a frame."""
        wanted = sample_of_frame(frames, self._rate)
        sound = np.zeros((wanted, 2), np.float32) if self._sound is None else self._sound
        if abs(len(sound) - wanted) > SAMPLE_RATE / self._rate.fps:
            raise OutputFailed(
                f"{self._final} — {len(sound)} samples of sound for {frames} frames, which last {wanted}"
                " — they may differ by a frame — nothing was left under that name; report this storyboard"
            )
        if len(sound) < wanted:
            return np.concatenate([sound, np.zeros((wanted - len(sound), 2), np.float32)])
        return sound[:wanted]

    def _verified(self, partial: Path, frames: int, samples: int) -> MovieFacts:
        facts = read_back(partial, threads=THREADS)
        wrong = not_as_asked(
            facts, self._delivery, size=self._size, rate=file_rate(self._delivery, self._rate), frames=frames,
            chapters=len(self._chapters), timecode=self._timecode,
        )  # fmt: skip
        if self._delivery.sound and abs(facts.samples - samples) > SAMPLE_RATE / self._rate.fps:
            wrong.append(f"samples {facts.samples} instead of {samples}")
        if wrong:
            raise OutputFailed(
                f"{self._final} — was not written as asked: {'; '.join(wrong)} — nothing was left under that name"
                " — check the disk, then render again"
            )
        return replace(facts, path=self._final)


def _failed(path: Path, error: BaseException) -> OutputFailed:
    if isinstance(error, OutputFailed):
        return error
    if isinstance(error, OSError):
        return OutputFailed(safe.cannot_write(path, error))
    return OutputFailed(f"{path} — the encoder failed ({error}) — nothing was left under that name — render again")

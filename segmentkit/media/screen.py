"""Decodes a finished file to its end once and measures everything that can be measured of it on the way.

Full pictures are looked at for legal levels and for texts in their places; the rest works on pictures of about 320x180
(see `screen_reduce`). Memory does not grow with the length but for a few numbers a frame and each 10 ms of sound.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Rect, Size
from segmentkit.media.container import admit, opened, said
from segmentkit.media.screen_header import coded_of, tags_of
from segmentkit.media.screen_kept import Archive, Keeper, Kept, Measured
from segmentkit.media.screen_picture import PictureMeter
from segmentkit.media.screen_reduce import full_planes
from segmentkit.media.screen_sound import SoundMeter
from segmentkit.media.screen_sync import Reference, reference_of
from segmentkit.media.sound import Samples
from segmentkit.media.store import sha256_of
from segmentkit.screened import Coded, JoinedPiece, Look, Screened
from segmentkit.timebase import SAMPLE_RATE, Rate, Span

_AAC_BLOCK = 1024
_FULL_RANGE = 2
_EIGHT = 8
_PLAIN = ("yuv420p", "yuv422p")

Told = Callable[[int, int], None]


def untold(done: int, of: int) -> None:
    """Tells nobody."""


def screen(
    path: Path,
    *,
    reference: Samples | Reference | None = None,
    programme: Span | None = None,
    looks: Sequence[Look] = (),
    threads: int = 2,
    told: Told = untold,
    parts: Sequence[JoinedPiece] = (),
    archive: Archive | None = None,
) -> Screened:
    """Measures a finished file.

    Args:
        path: MP4, MOV, MXF or WebM (or what else holds pictures).
        reference: the sound that was planned for the programme: float32, 48 kHz, shape (n, 1) or (n, 2), or what
            `reference_of` made of it.
        programme: the frames between leader and tail; the whole file when None.
        looks: places of texts to look at.
        threads: of the decoder.
        told: told the frames done and the frames there are.
        parts: the pieces that it was joined from, in order, each of closed groups; their packets are those in the file.
        archive: where it is kept what was measured of a piece; its pictures are not decoded again then.

    Raises:
        MediaUnusable: when the file cannot be opened, holds no pictures, or does not decode to its end.
    """
    admit(path)
    try:
        with opened(path) as container:
            return _screen(path, container, reference, programme, looks, threads, told, parts, archive)
    except (av.FFmpegError, OSError) as error:
        raise MediaUnusable(
            f"{path} — cannot be decoded to its end ({said(error)}) — a delivery must decode — make the file again"
        ) from error


def _screen(
    path: Path,
    container: Any,
    reference: Samples | Reference | None,
    programme: Span | None,
    looks: Sequence[Look],
    threads: int,
    told: Told,
    parts: Sequence[JoinedPiece],
    archive: Archive | None,
) -> Screened:
    if not container.streams.video:
        raise MediaUnusable(f"{path} — holds no pictures, 0 tracks — a delivery has one — name the movie")
    video: Any = container.streams.video[0]
    audio: Any = container.streams.audio[0] if container.streams.audio else None
    video.thread_type = "AUTO"
    video.codec_context.thread_count = threads
    video.codec_context.options = {"err_detect": "explode"}
    coded = coded_of(container, video, audio)
    of = video.frames or (round(container.duration / 1_000_000 * coded.rate.fps) if container.duration else 0)
    reader = _Reader(video, audio, coded.rate, reference, programme, looks)
    _read(container, video, audio, of, reader, told, parts, archive)
    if not reader.frames:
        raise MediaUnusable(f"{path} — 0 pictures decode — a delivery has some — make the file again")
    return reader.screened(path, container, coded)


def _read(
    container: Any, video: Any, audio: Any, of: int, reader: _Reader, told: Told, parts: Sequence[JoinedPiece],
    archive: Archive | None,
) -> None:  # fmt: skip
    """Hands all pictures and all sound to the meters."""
    pieces = _Pieces(reader, video, parts, archive) if archive is not None else None
    for packet in container.demux([stream for stream in (video, audio) if stream is not None]):
        if packet.stream is not video:
            for frame in packet.decode():
                reader.block(frame)
            continue
        if pieces is None or not pieces.took(packet):
            for frame in packet.decode():
                reader.picture(frame)
        told(reader.frames, max(of, reader.frames))
    if archive is not None:
        archive.close()


class _Pieces:
    """Takes the packets of a file piece by piece: those of a known one are passed over, others decoded and kept."""

    def __init__(self, reader: _Reader, video: Any, parts: Sequence[JoinedPiece], archive: Archive) -> None:
        self._reader, self._video, self._archive = reader, video, archive
        self._parts = list(reversed(parts))
        self._taken = 0
        self._kept: Kept | None = None
        self._keeper: Keeper | None = None
        self._moments: list[int | None] = []

    def took(self, packet: Any) -> bool:
        """Whether a packet of pictures was dealt with; packets behind the last piece are not."""
        if not self._parts:
            return False
        if not packet.size:
            return True
        part = self._parts[-1]
        if self._taken == 0:
            self._begin(part)
        self._taken += 1
        if self._kept is not None:
            self._moments.append(packet.pts)
        else:
            self._decoded(packet)
        if self._taken == part.frames:
            self._end(part)
        return True

    def _begin(self, part: JoinedPiece) -> None:
        self._kept = self._archive.find(part) if self._reader.may_recall else None
        if self._kept is not None and not self._reader.recalls(self._kept):
            self._kept = None
        self._keeper = None
        self._moments.clear()

    def _end(self, part: JoinedPiece) -> None:
        self._parts.pop()
        self._taken = 0
        if self._kept is not None:
            # Packets come in the order of decoding.
            self._reader.recall(self._kept, sorted(self._moments, key=lambda moment: moment or 0))
            return
        # What the decoder still holds belongs to this piece, and the next one may not follow in it.
        self._decoded(None)
        self._video.codec_context.flush_buffers()
        if self._keeper is not None and self._keeper.frames == part.frames:
            self._archive.keep(part, self._keeper)

    def _decoded(self, packet: Any) -> None:
        for frame in self._video.codec_context.decode(packet):
            measured, looked = self._reader.picture(frame)
            if self._keeper is None and self._reader.may_keep:
                self._keeper = Keeper(self._reader.reduced)
            if self._keeper is not None:
                self._keeper.take(measured, looked)


class _Reader:
    """Feeds the meters with what is decoded; they are made when the first picture says what it is."""

    def __init__(
        self, video: Any, audio: Any | None, rate: Rate, reference: Samples | Reference | None, programme: Span | None,
        looks: Sequence[Look],
    ) -> None:  # fmt: skip
        self._video, self._audio, self._rate = video, audio, rate
        self._reference = reference if isinstance(reference, Reference) else None
        if reference is not None and not isinstance(reference, Reference) and len(reference):
            self._reference = reference_of(reference)
        self._programme, self._looks = programme, looks
        self._pictures: PictureMeter | None = None
        self._sound: SoundMeter | None = None
        self._early: list[Any] = []
        self._resampler: Any = None
        self._first = Fraction(0)
        self._uneven: int | None = None
        self._pace: tuple[Fraction, int | Fraction, int, int] | None = None  # unit of time, first moment, units a frame
        self._fields = self._plain = False

    @property
    def frames(self) -> int:
        """How many pictures were decoded."""
        return 0 if self._pictures is None else self._pictures.frames

    @property
    def reduced(self) -> Size:
        """The size of small pictures."""
        return self._meter.reduced

    @property
    def may_keep(self) -> bool:
        """Whether the last picture is of the kind of which a small one says all: eight bits, limited range, whole."""
        return self._plain

    @property
    def may_recall(self) -> bool:
        """Whether pictures may be passed over: this is a file of such pictures, by what its track says."""
        context = self._video.codec_context
        return context.pix_fmt in _PLAIN and int(context.color_range) != _FULL_RANGE and not self._fields

    @property
    def _meter(self) -> PictureMeter:
        assert self._pictures is not None
        return self._pictures

    def picture(self, frame: Any) -> tuple[Measured, list[tuple[Rect, float]]]:
        """Takes a decoded picture; returns what was measured of it."""
        if self._pictures is None:
            self._begin(Size(frame.width, frame.height), _moment(frame, self._video), bool(frame.interlaced_frame))
        self._look_at_moment(frame.pts, Fraction(frame.time_base) if frame.time_base else None)
        planes = full_planes(frame, full=int(frame.color_range) == _FULL_RANGE)
        self._plain = planes.bits == _EIGHT and not planes.full and not self._fields
        return self._meter.feed(planes)

    def recalls(self, kept: Kept) -> bool:
        """Whether what was kept of the piece that begins here is all that is asked."""
        if self._pictures is None:
            context = self._video.codec_context
            first = self._video.start_time or 0
            self._begin(Size(context.width, context.height), first * Fraction(self._video.time_base), False)
        start = self._meter.frames
        asked = self._meter.areas(Span(start, start + kept.frames))
        return all(kept.contrast(number, area) is not None for number, area in asked)

    def recall(self, kept: Kept, moments: Sequence[int | None]) -> None:
        """Takes the pictures of a piece as they were measured before."""
        unit = Fraction(self._video.time_base)
        start = self._meter.frames
        asked: dict[int, dict[Rect, float]] = {}
        for number, area in self._meter.areas(Span(start, start + kept.frames)):
            asked.setdefault(number, {})[area] = kept.contrast(number, area) or 1.0
        for number, (measured, moment) in enumerate(zip(kept, moments, strict=True)):
            self._look_at_moment(moment, unit)
            self._meter.recall(measured, asked.get(number, {}))

    def _begin(self, size: Size, first: Fraction, fields: bool) -> None:
        self._first, self._fields = first, fields
        self._pictures = PictureMeter(
            size,
            self._rate,
            fields=fields,
            looks=self._looks,
            first=self._programme.start if self._programme else 0,
            last=self._programme.end if self._programme else None,
        )
        for early in self._early:
            self._hear(early)
        self._early.clear()

    def _look_at_moment(self, moment: int | None, unit: Fraction | None) -> None:
        number = self._meter.frames
        if self._uneven is None and moment is not None and unit is not None and self._is_uneven(moment, unit, number):
            self._uneven = number

    def _is_uneven(self, moment: int, unit: Fraction, number: int) -> bool:
        if self._pace is None or unit != self._pace[0]:
            step = 1 / (self._rate.fps * unit)
            self._pace = unit, _whole(self._first / unit), step.numerator, step.denominator
        _, first, units, frames = self._pace
        # Time stamps are rounded to the unit of the file.
        apart: Any = (moment - first) * frames - number * units
        return bool(abs(apart) > frames)

    def block(self, frame: Any) -> None:
        """Takes a decoded block of sound."""
        if self._pictures is None:
            self._early.append(frame)
        else:
            self._hear(frame)

    def _hear(self, frame: Any) -> None:
        if self._sound is None:
            channels = frame.layout.nb_channels
            start = _moment(frame, self._audio) - self._first
            self._resampler = av.AudioResampler(format="fltp", layout=frame.layout.name, rate=SAMPLE_RATE)
            self._sound = SoundMeter(
                channels, self._rate, start=start, programme=self._programme, reference=self._reference
            )
        frame.pts = None
        for made in self._resampler.resample(frame):
            self._sound.feed(np.ascontiguousarray(made.to_ndarray().T))

    def screened(self, path: Path, container: Any, coded: Coded) -> Screened:
        """All of it."""
        assert self._pictures is not None
        for early in self._early:
            self._hear(early)
        if self._sound is not None:
            for made in self._resampler.resample(None):
                self._sound.feed(np.ascontiguousarray(made.to_ndarray().T))
        pictures = self._pictures.finish(self._uneven)
        sound = None if self._sound is None else self._sound.finish()
        if sound is not None:
            sound = replace(sound, samples=_as_stated(sound.samples, self._audio))
        return Screened(
            path=path,
            content=sha256_of(path),
            bytes=path.stat().st_size,
            coded=replace(coded, fields=self._fields),
            tags=tags_of(path, container),
            programme=self._programme or Span(0, pictures.frames),
            pictures=pictures,
            sound=sound,
            reduced=self._pictures.reduced,
        )


def _whole(number: Fraction) -> int | Fraction:
    """An integer where it is one: sums of those are quick."""
    return number.numerator if number.denominator == 1 else number


def _moment(frame: Any, stream: Any) -> Fraction:
    """When it begins, in seconds; 0 where the file does not say."""
    return Fraction(0) if frame.pts is None else frame.pts * Fraction(frame.time_base or stream.time_base)


def _as_stated(samples: int, audio: Any) -> int:
    """Decoded samples without the silence that fills up a coder's last block, where the track states its length."""
    stated = round((audio.duration or 0) * audio.time_base * SAMPLE_RATE)
    return stated if 0 < stated <= samples < stated + _AAC_BLOCK else samples

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
from segmentkit.geometry import Size
from segmentkit.media.container import admit, opened, said
from segmentkit.media.screen_header import coded_of, tags_of
from segmentkit.media.screen_picture import PictureMeter
from segmentkit.media.screen_reduce import full_planes
from segmentkit.media.screen_sound import SoundMeter
from segmentkit.media.screen_sync import reference_of
from segmentkit.media.sound import Samples
from segmentkit.media.store import sha256_of
from segmentkit.screened import Coded, Look, Screened
from segmentkit.timebase import SAMPLE_RATE, Rate, Span

_AAC_BLOCK = 1024
_FULL_RANGE = 2

Told = Callable[[int, int], None]


def untold(done: int, of: int) -> None:
    """Tells nobody."""


def screen(
    path: Path,
    *,
    reference: Samples | None = None,
    programme: Span | None = None,
    looks: Sequence[Look] = (),
    threads: int = 2,
    told: Told = untold,
) -> Screened:
    """Measures a finished file.

    Args:
        path: MP4, MOV, MXF or WebM (or what else holds pictures).
        reference: the sound that was planned for the programme: float32, 48 kHz, shape (n, 1) or (n, 2).
        programme: the frames between leader and tail; the whole file when None.
        looks: places of texts to look at.
        threads: of the decoder.
        told: told the frames done and the frames there are.

    Raises:
        MediaUnusable: when the file cannot be opened, holds no pictures, or does not decode to its end.
    """
    admit(path)
    try:
        with opened(path) as container:
            return _screen(path, container, reference, programme, looks, threads, told)
    except (av.FFmpegError, OSError) as error:
        raise MediaUnusable(
            f"{path} — cannot be decoded to its end ({said(error)}) — a delivery must decode — make the file again"
        ) from error


def _screen(
    path: Path,
    container: Any,
    reference: Samples | None,
    programme: Span | None,
    looks: Sequence[Look],
    threads: int,
    told: Told,
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
    for packet in container.demux([stream for stream in (video, audio) if stream is not None]):
        for frame in packet.decode():
            if packet.stream is video:
                reader.picture(frame)
                told(reader.frames, max(of, reader.frames))
            else:
                reader.block(frame)
    if not reader.frames:
        raise MediaUnusable(f"{path} — 0 pictures decode — a delivery has some — make the file again")
    return reader.screened(path, container, coded)


class _Reader:
    """Feeds the meters with what is decoded; they are made when the first picture says what it is."""

    def __init__(
        self, video: Any, audio: Any | None, rate: Rate, reference: Samples | None, programme: Span | None,
        looks: Sequence[Look],
    ) -> None:  # fmt: skip
        self._video, self._audio, self._rate = video, audio, rate
        self._reference = None if reference is None or not len(reference) else reference_of(reference)
        self._programme, self._looks = programme, looks
        self._pictures: PictureMeter | None = None
        self._sound: SoundMeter | None = None
        self._early: list[Any] = []
        self._resampler: Any = None
        self._first = Fraction(0)
        self._uneven: int | None = None
        self._pace: tuple[Fraction, int | Fraction, int, int] | None = None  # unit of time, first moment, units a frame
        self._fields = False

    @property
    def frames(self) -> int:
        """How many pictures were decoded."""
        return 0 if self._pictures is None else self._pictures.frames

    def picture(self, frame: Any) -> None:
        """Takes a decoded picture."""
        if self._pictures is None:
            self._first = _moment(frame, self._video)
            self._fields = bool(frame.interlaced_frame)
            self._pictures = PictureMeter(
                Size(frame.width, frame.height),
                self._rate,
                fields=self._fields,
                looks=self._looks,
                first=self._programme.start if self._programme else 0,
                last=self._programme.end if self._programme else None,
            )
            for early in self._early:
                self._hear(early)
            self._early.clear()
        number = self._pictures.frames
        if self._uneven is None and self._is_uneven(frame, number):
            self._uneven = number
        self._pictures.feed(full_planes(frame, full=int(frame.color_range) == _FULL_RANGE))

    def _is_uneven(self, frame: Any, number: int) -> bool:
        if frame.pts is None:
            return False
        unit = Fraction(frame.time_base)
        if self._pace is None or unit != self._pace[0]:
            step = 1 / (self._rate.fps * unit)
            self._pace = unit, _whole(self._first / unit), step.numerator, step.denominator
        _, first, units, frames = self._pace
        # Time stamps are rounded to the unit of the file.
        return bool(abs((frame.pts - first) * frames - number * units) > frames)

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

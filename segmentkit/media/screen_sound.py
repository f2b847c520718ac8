"""Measures a sound as it streams by, in memory that does not grow with its length but for a few numbers each 10 ms."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from segmentkit.facts import Loudness
from segmentkit.media.loudness import BIN, Levels, bin_power, integrated, loudness_range, peaks
from segmentkit.media.screen_reduce import runs
from segmentkit.media.screen_sync import Reference, SyncMeter
from segmentkit.media.sound import Samples
from segmentkit.screened import Clipped, Sound
from segmentkit.timebase import SAMPLE_RATE, Rate, Span, sample_of_frame

SILENT = 1e-6
"""Mean square below which a channel is silent: -60 dBFS, as in ffmpeg's silencedetect. Common practice, no source."""
_NOTHING = 1e-9  # -90 dBFS: no room and no noise of a microphone is that quiet
_LOUD = 10 ** (-45 / 10)
_SILENCE_LEAST = 30  # bins of 10 ms
_GAP_LEAST, _GAP_MOST = 1, 50
_FULL_SCALE = 1 - 2**-14
_CLIPPED_RUN = 3
_CHUNK = 510 * BIN
"""What is measured at a time; with what comes before and after it fills the transforms of `loudness` best."""
_BEFORE = 18 * BIN  # what the loudness filter remembers, in whole bins
_ENVELOPE_BINS = 5
_DRAWN_AT_ONCE = SAMPLE_RATE  # samples
_HUNDRED = 100
_LONGEST_LEAD = 60 * SAMPLE_RATE


class SoundMeter:
    """Takes the samples of a file in order.

    Args:
        channels: how many; of six, the fourth is the low-frequency one and counts for no loudness (BS.1770-4).
        rate: frames a second of the pictures beside it.
        start: seconds from the first picture to the first sample.
        programme: the frames to judge; all when None.
        reference: the sound that was planned, if there is one to compare with.
    """

    def __init__(
        self, channels: int, rate: Rate, *, start: Fraction = Fraction(0), programme: Span | None = None,
        reference: Reference | None = None,
    ) -> None:  # fmt: skip
        self._channels, self._rate, self._start = channels, rate, start
        begin = 0 if programme is None else sample_of_frame(programme.start, rate)
        self._end = None if programme is None else sample_of_frame(programme.end, rate)
        self._begin = begin
        self._waiting: list[Samples] = []
        self._held = 0
        self._past = np.zeros((_BEFORE, channels), np.float32)
        self._at = round(start * SAMPLE_RATE)  # position of the next sample, from the first picture
        self._drop = max(0, begin - self._at)
        if self._at > begin:  # what is not there yet is silence, so that all that follows keeps its moment
            self._held = min(self._at - begin, _LONGEST_LEAD)
            self._waiting.append(np.zeros((self._held, channels), np.float32))
        self.samples = 0
        self._power: list[Levels] = []
        self._squares: list[Levels] = []
        self._peaks: list[Levels] = []
        self._clipped: list[tuple[int, int]] = []
        self._sums = np.zeros((channels, channels))
        self._apart = 0.0
        self._counted = 0
        self._envelope: list[float] = []
        self._undrawn: list[Samples] = []
        self._undrawn_count = 0
        self._sync = None if reference is None else SyncMeter(reference)

    def feed(self, block: Samples) -> None:
        """Takes the next samples: float32, 48 kHz, shape (n, channels)."""
        self.samples += len(block)
        self._draw(block)
        if self._end is not None:
            block = block[: max(0, self._end - self._at)]
        self._at += len(block)
        if self._drop:
            dropped = min(self._drop, len(block))
            block, self._drop = block[dropped:], self._drop - dropped
        if len(block):
            self._waiting.append(block)
            self._held += len(block)
        while self._held >= _CHUNK + BIN:
            self._measure(self._take(_CHUNK), self._peek(BIN))

    def finish(self) -> Sound:
        """What was found."""
        if self._held:
            rest = self._take(self._held)
            self._measure(rest, np.zeros((0, self._channels), np.float32))
        self._draw_all()
        if self._undrawn_count:
            self._envelope.append(float(np.abs(self._undrawn[0]).max()))
        power = np.concatenate(self._power) if self._power else np.zeros(0)
        squares = np.concatenate(self._squares) if self._squares else np.zeros((0, self._channels))
        highest = max((float(one.max()) for one in self._peaks if len(one)), default=0.0)
        sync = None if self._sync is None else self._sync.finish(self._frame)
        late = 0.0 if sync is None else sync.late
        return Sound(
            samples=self.samples,
            start=self._start,
            channels=self._channels,
            loudness=Loudness(
                integrated=integrated(power), range=loudness_range(power), true_peak=_decibels(highest, 20)
            ),
            momentary=_loudest(power, 40),
            short_term=_loudest(power, 300),
            powers=tuple(_decibels(self._sums[k, k] / max(1, self._counted), 10) for k in range(self._channels)),
            correlation=self._correlation(),
            apart=self._difference(),
            silences=tuple(
                self._span(start, end)
                for start, end in runs(np.asarray((squares <= SILENT).all(axis=1), bool))
                if end - start >= _SILENCE_LEAST
            ),
            gaps=self._gaps(squares),
            missing=self._missing(squares, late),
            clipped=self._clips(),
            envelope=tuple(self._envelope),
            sync=sync,
        )

    def _take(self, count: int) -> Samples:
        whole = np.concatenate(self._waiting)
        self._waiting = [whole[count:]] if len(whole) > count else []
        self._held = len(whole) - count
        return whole[:count]

    def _peek(self, count: int) -> Samples:
        return self._waiting[0][:count] if self._waiting else np.zeros((0, self._channels), np.float32)

    def _measure(self, block: Samples, after: Samples) -> None:
        joined = np.concatenate([self._past, block])
        weighed = np.delete(joined, 3, axis=1) if self._channels == 6 else joined[:, :5]
        whole = len(block) // BIN
        self._power.append(bin_power(weighed)[_BEFORE // BIN :])
        square = np.square(block[: whole * BIN], dtype=np.float64).reshape(whole, BIN, self._channels).mean(axis=1)
        self._squares.append(square)
        around = np.concatenate([self._past[-BIN:], block, after])
        self._peaks.append(peaks(around, BIN)[1 : 1 + -(-len(block) // BIN)])
        self._find_clipped(block)
        wide = block.astype(np.float64)
        self._sums += wide.T @ wide
        if self._channels >= 2:
            self._apart += float(np.square(wide[:, 0] - wide[:, 1]).sum())
        if self._sync is not None:
            self._sync.feed(block)
        self._past = joined[-_BEFORE:]
        self._counted += len(block)

    def _find_clipped(self, block: Samples) -> None:
        for channel in range(self._channels):
            sound = block[:, channel]
            for sign in (1, -1):
                full = sign * sound >= _FULL_SCALE
                if full.any():
                    self._clipped += [
                        (self._counted + start, end - start) for start, end in runs(full) if end - start >= _CLIPPED_RUN
                    ]

    def _clips(self) -> tuple[Clipped, ...]:
        """Runs at full scale, those within a second of one another as one."""
        made: list[Clipped] = []
        for at, length in sorted(self._clipped):
            span = self._span_of_samples(at, at + length)
            if made and span.start - made[-1].span.end <= self._rate.fps:
                last = made.pop()
                span = Span(last.span.start, max(span.end, last.span.end))
                made.append(Clipped(span=span, runs=last.runs + 1, longest=max(last.longest, length)))
            else:
                made.append(Clipped(span=span, runs=1, longest=length))
        return tuple(made)

    def _gaps(self, squares: Levels) -> tuple[tuple[Span, float], ...]:
        """Where all channels fall from a loud sound to nothing and come back within half a second."""
        if not len(squares):
            return ()
        loudest = squares.max(axis=1)
        found = []
        for start, end in runs(loudest <= _NOTHING):
            if not _GAP_LEAST <= end - start <= _GAP_MOST or start < 3 or end > len(squares) - 3:
                continue
            if loudest[start - 3 : start].max() >= _LOUD and loudest[end : end + 3].max() >= _LOUD:
                found.append((self._span(start, end), (end - start) / _HUNDRED))
        return tuple(found)

    def _missing(self, squares: Levels, late: float) -> tuple[tuple[Span, float], ...]:
        """Where the plan's own mix is heard, and this sound, 40 dB below it, is not."""
        if self._sync is None or not len(squares):
            return ()
        planned = self._sync.reference.squares
        shift = round(late * _HUNDRED)
        heard = squares.mean(axis=1)
        count = min(len(planned), len(heard))
        at = np.arange(count) + shift
        inside = (at >= 0) & (at < len(heard))
        there = np.ones(count, bool)
        there[inside] = _widened(heard)[at[inside]] >= planned[:count][inside] * 1e-4
        lost = ~there & (planned[:count] >= _LOUD)
        return tuple(
            (self._span(start + shift, end + shift), (end - start) / _HUNDRED)
            for start, end in runs(lost)
            if end - start >= 2
        )

    def _correlation(self) -> float | None:
        if self._channels != 2:
            return None
        scale = float(np.sqrt(self._sums[0, 0] * self._sums[1, 1]))
        if scale < SILENT * max(1, self._counted) * 1e-3:
            return None
        return float(self._sums[0, 1]) / scale

    def _difference(self) -> float | None:
        if self._channels != 2 or not self._sums.any():
            return None
        return _decibels(self._apart / float(max(self._sums[0, 0], self._sums[1, 1])), 10)

    def _draw(self, block: Samples) -> None:
        if len(block):
            self._undrawn.append(block)
            self._undrawn_count += len(block)
        if self._undrawn_count >= _DRAWN_AT_ONCE:
            self._draw_all()

    def _draw_all(self) -> None:
        """Notes the highest sample of each 50 ms; what is less than that is left."""
        joined = np.concatenate(self._undrawn) if self._undrawn else np.zeros((0, self._channels), np.float32)
        step = _ENVELOPE_BINS * BIN
        whole = len(joined) // step
        if whole:
            tops = np.abs(joined[: whole * step]).reshape(whole, -1).max(axis=1)
            self._envelope += [round(float(top), 4) for top in tops]
        self._undrawn_count = len(joined) - whole * step
        self._undrawn = [joined[whole * step :]] if self._undrawn_count else []

    def _frame(self, seconds: float) -> int:
        """The frame of the file at a moment of the programme's sound."""
        return int((self._begin / SAMPLE_RATE + seconds) * float(self._rate.fps) + 1e-6)

    def _span(self, first: int, last: int) -> Span:
        """The frames that hold bins of 10 ms."""
        start = self._frame(max(0, first) / _HUNDRED)
        return Span(start, max(start + 1, self._frame(last / _HUNDRED)))

    def _span_of_samples(self, first: int, last: int) -> Span:
        start = self._frame(first / SAMPLE_RATE)
        return Span(start, max(start + 1, self._frame(last / SAMPLE_RATE) + 1))


def _widened(levels: NDArray[np.float64]) -> NDArray[np.float64]:
    """The loudest of each bin and its neighbours, so that a shift of less than a bin is no loss."""
    padded = np.concatenate([levels[:1], levels, levels[-1:]])
    return np.asarray(np.maximum(np.maximum(padded[:-2], padded[1:-1]), padded[2:]))


def _loudest(power: Levels, width: int) -> float:
    """Highest loudness in LUFS over `width` bins, at each 10 ms (EBU Tech 3341, clause 2.2)."""
    if len(power) < width:
        return -np.inf
    sums = np.cumsum(np.concatenate([[0.0], power]))
    mean = float((sums[width:] - sums[:-width]).max()) / width
    return float(-0.691 + 10 * np.log10(mean)) if mean > 1e-15 else -np.inf


def _decibels(value: float, factor: int) -> float:
    return float(factor * np.log10(value)) if value > 0 else -np.inf

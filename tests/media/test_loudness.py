"""The meter against published signals.

Expected values and tolerances: EBU Tech 3341 (minimum-requirement signals) and Tech 3342 (loudness range), as collected
from open test code; signals 6 and 9-19 and the levels of Tech 3342 are from memory and confirmed by computing.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from segmentkit.media import loudness
from segmentkit.media.loudness import SILENCE, TooShortToMeasure, measure, momentary, short_term, true_peak

RATE = 48_000


def tone(steps, *, channels=2, frequency=1000.0):
    """Sine of continuous phase; `steps` are (peak dBFS or None for silence, seconds)."""
    gains = np.concatenate([np.full(round(s * RATE), 0.0 if db is None else 10 ** (db / 20)) for db, s in steps])
    wave = gains * np.sin(2 * np.pi * frequency * np.arange(len(gains)) / RATE)
    return np.repeat(wave[:, None], channels, axis=1).astype(np.float32)


class TestIntegrated:
    @pytest.mark.slow
    @pytest.mark.parametrize(
        ("steps", "expected"),
        [
            ([(-23, 20)], -23.0),
            ([(-33, 20)], -33.0),
            ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
            ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
            ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
        ],
        ids=["3341-1", "3341-2", "3341-3", "3341-4", "3341-5"],
    )
    def test_tech_3341_signals_1_to_5(self, steps, expected):
        assert measure(tone(steps)).integrated == pytest.approx(expected, abs=0.1)

    @pytest.mark.parametrize("level", [-23, -33])
    def test_tech_3341_signals_1_and_2_read_the_same_momentary_and_short_term(self, level):
        sound = tone([(level, 20)])
        assert np.abs(momentary(sound) - level).max() <= 0.1
        assert np.abs(short_term(sound) - level).max() <= 0.1

    @pytest.mark.slow
    def test_tech_3341_signal_6_weights_five_channels(self):
        levels = (-28, -28, -24, -30, -30)
        sound = np.concatenate([tone([(db, 20)], channels=1) for db in levels], axis=1)
        assert measure(sound).integrated == pytest.approx(-23.0, abs=0.1)

    def test_a_full_scale_sine_at_997_hz_in_one_channel_reads_minus_3_01(self):
        """BS.1770-4 Annex 1: a 0 dBFS 997 Hz sine on one front channel is -3.01 LKFS."""
        assert measure(tone([(0, 10)], channels=1, frequency=997.0)).integrated == pytest.approx(-3.01, abs=0.01)

    def test_one_channel_heard_on_two_loudspeakers_is_3_01_lu_more(self):
        mono = tone([(-23, 5)], channels=1)
        assert measure(mono).integrated == pytest.approx(-26.0, abs=0.05)
        assert measure(mono, dual_mono=True).integrated == pytest.approx(measure(tone([(-23, 5)])).integrated, abs=1e-9)

    def test_agrees_with_pyloudnorm_on_noise_that_comes_and_goes(self):
        """Reference library pyloudnorm 0.2, which reads up to 0.06 LU low of the published signals."""
        import pyloudnorm

        random = np.random.default_rng(7)
        shape = 0.05 + 0.2 * (1 + np.sin(2 * np.pi * np.arange(8 * RATE) / RATE / 3.7))
        sound = (random.standard_normal((8 * RATE, 2)) * shape[:, None] * 0.2).astype(np.float32)
        expected = pyloudnorm.Meter(RATE).integrated_loudness(sound.astype(np.float64))
        assert measure(sound).integrated == pytest.approx(expected, abs=0.06)

    def test_agrees_with_ffmpegs_ebur128(self):
        """Reference: libavfilter, whose range is left out: it counts windows that are not full yet."""
        import av

        random = np.random.default_rng(11)
        sound = (random.standard_normal((10 * RATE, 2)) * np.linspace(0.01, 0.3, 10 * RATE)[:, None]).astype(np.float32)
        graph = av.filter.Graph()
        source = graph.add_abuffer(sample_rate=RATE, format="flt", layout="stereo", time_base="1/48000")
        meter, sink = graph.add("ebur128", "metadata=1:peak=true"), graph.add("abuffersink")
        source.link_to(meter)
        meter.link_to(sink)
        graph.configure()
        frame = av.AudioFrame.from_ndarray(sound.reshape(1, -1), format="flt", layout="stereo")
        frame.sample_rate, frame.pts = RATE, 0
        source.push(frame)
        source.push(None)
        last = {}
        while True:
            try:
                last = dict(sink.pull().metadata) or last
            except (av.EOFError, av.BlockingIOError):
                break
        ours = measure(sound)
        assert ours.integrated == pytest.approx(float(last["lavfi.r128.I"]), abs=0.05)
        theirs = 20 * math.log10(max(float(last[f"lavfi.r128.true_peaks_ch{k}"]) for k in (0, 1)))
        assert ours.true_peak == pytest.approx(theirs, abs=0.2)

    def test_length_need_not_be_a_whole_number_of_blocks(self):
        random = np.random.default_rng(3)
        sound = (random.standard_normal((RATE * 8 + 333, 2)) * 0.1).astype(np.float32)
        assert measure(sound).integrated == pytest.approx(measure(sound[: RATE * 8]).integrated, abs=0.05)


class TestMomentaryAndShortTerm:
    def test_tech_3341_signal_9_short_term_stays_constant(self):
        levels = short_term(tone([(-20, 1.34), (-30, 1.66)] * 5))
        assert np.abs(levels + 23.0).max() <= 0.1

    @pytest.mark.parametrize("shift", range(20))
    def test_tech_3341_signal_10_short_term_maximum(self, shift):
        levels = short_term(tone([(None, shift * 0.15), (-23, 3), (None, 1)]))
        assert levels.max() == pytest.approx(-23.0, abs=0.1)

    @pytest.mark.slow
    def test_tech_3341_signal_11_short_term_maxima_follow_the_level(self):
        steps = [part for i in range(20) for part in ((None, i * 0.15), (-38 + i, 3), (None, 3 - i * 0.15))]
        levels = short_term(tone(steps))
        for i in range(20):
            # Windows that end within the segment: the first one ends 3 s into the whole signal.
            assert levels[max(0, i * 600 - 299) : i * 600 + 301].max() == pytest.approx(-38 + i, abs=0.1)

    def test_tech_3341_signal_12_momentary_stays_constant(self):
        levels = momentary(tone([(-20, 0.18), (-30, 0.22)] * 25))
        assert np.abs(levels[60:] + 23.0).max() <= 0.1

    @pytest.mark.parametrize("shift", range(20))
    def test_tech_3341_signal_13_momentary_maximum(self, shift):
        levels = momentary(tone([(None, shift * 0.02), (-23, 0.4), (None, 1)]))
        assert levels.max() == pytest.approx(-23.0, abs=0.1)

    def test_tech_3341_signal_14_momentary_maxima_follow_the_level(self):
        steps = [part for i in range(20) for part in ((None, i * 0.02), (-38 + i, 0.4), (None, 0.4 - i * 0.02))]
        levels = momentary(tone(steps))
        for i in range(20):
            assert levels[max(0, i * 80 - 39) : i * 80 + 41].max() == pytest.approx(-38 + i, abs=0.1)

    def test_below_one_window_there_is_no_level(self):
        assert len(momentary(tone([(-23, 0.39)]))) == 0
        assert len(short_term(tone([(-23, 2.9)]))) == 0


class TestRange:
    @pytest.mark.slow
    @pytest.mark.parametrize(
        ("levels", "expected"),
        [([-20, -30], 10), ([-20, -15], 5), ([-40, -20], 20), ([-50, -35, -20, -35, -50], 15)],
        ids=["3342-1", "3342-2", "3342-3", "3342-4"],
    )
    def test_tech_3342_signals(self, levels, expected):
        assert measure(tone([(db, 20) for db in levels])).range == pytest.approx(expected, abs=1.0)


def burst(frequency, degrees, amplitude):
    """Half a second at `frequency`, ends faded over 50 ms so that the edges do not ring."""
    n = np.arange(RATE // 2)
    wave = amplitude * np.sin(2 * np.pi * frequency * n / RATE + np.deg2rad(degrees))
    fade = np.minimum(1, np.minimum(n, n[::-1]) / (0.05 * RATE))
    return np.repeat((wave * (0.5 - 0.5 * np.cos(np.pi * fade)))[:, None], 2, axis=1).astype(np.float32)


class TestTruePeak:
    SIGNALS = (
        (15, RATE / 4, 0, 0.50, -6.0), (16, RATE / 4, 45, 0.50, -6.0), (17, RATE / 6, 60, 0.50, -6.0),
        (18, RATE / 8, 67.5, 0.50, -6.0), (19, RATE / 4, 45, 1.41, 3.0),
    )  # fmt: skip

    @pytest.mark.parametrize(("frequency", "degrees", "amplitude", "expected"), [signal[1:] for signal in SIGNALS])
    def test_tech_3341_signals_15_to_19(self, frequency, degrees, amplitude, expected):
        found = true_peak(burst(frequency, degrees, amplitude))
        assert expected - 0.4 <= found <= expected + 0.2

    @pytest.mark.parametrize("case", [16, 19])
    def test_a_sample_peak_meter_would_miss_them_by_3_db(self, case):
        _, frequency, degrees, amplitude, expected = next(s for s in self.SIGNALS if s[0] == case)
        sampled = 20 * math.log10(np.abs(burst(frequency, degrees, amplitude)).max())
        assert sampled < expected - 2.9

    def test_a_peak_at_the_seam_of_two_blocks_is_found(self):
        sound = np.zeros((loudness._PEAK_BLOCK * 2, 1), np.float32)
        cut = loudness._PEAK_BLOCK
        sound[cut - RATE // 4 : cut + RATE // 4] = burst(RATE / 4, 45, 0.5)[:, :1]
        assert true_peak(sound) == pytest.approx(-6.0, abs=0.1)

    def test_peaks_by_step_have_the_true_peak_as_their_maximum(self):
        sound = burst(RATE / 6, 60, 0.5)
        steps = loudness.peaks(sound, 16)
        assert len(steps) == -(-len(sound) // 16)
        assert 20 * math.log10(steps.max()) == pytest.approx(true_peak(sound), abs=1e-6)


class TestNothingToMeasure:
    def test_silence_is_a_case_of_its_own(self):
        assert measure(np.zeros((RATE, 2), np.float32)) == SILENCE

    def test_below_the_gate_there_is_a_peak_but_no_loudness(self):
        found = measure(tone([(-90, 2)]))
        assert found.integrated == -math.inf
        assert found.range == 0
        assert found.true_peak == pytest.approx(-90, abs=0.1)

    def test_less_than_a_gating_block_is_an_error_that_says_so(self):
        with pytest.raises(TooShortToMeasure, match=r"0\.399 s .* 0\.4 s"):
            measure(np.zeros((int(0.399 * RATE), 2), np.float32))

    def test_six_channels_are_refused(self):
        with pytest.raises(ValueError, match="6 channels"):
            measure(np.zeros((RATE, 6), np.float32))

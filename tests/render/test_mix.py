"""The mix: places to the sample, levels against one another, loudness and true peak of the whole."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.errors import MediaUnusable
from segmentkit.facts import WordSource
from segmentkit.geometry import Size
from segmentkit.media.guide import GuideVoice
from segmentkit.media.loudness import SILENCE, bin_power, integrated, measure, momentary, true_peak
from segmentkit.media.sound import read_sound, to_mono, write_wav
from segmentkit.media.store import Store
from segmentkit.plan.model import MusicCue, NaturalSound, Plan, PlannedBeat, Speech
from segmentkit.render import mix as mix_module
from segmentkit.render.bed import bed, lowered
from segmentkit.render.dynamics import compressed, studio_voice, telephone_voice
from segmentkit.render.limiter import limit
from segmentkit.render.mix import mix, stems
from segmentkit.timebase import Rate, Span, sample_of_frame

RATE = 48_000
P25, P2997 = Rate(Fraction(25)), Rate(Fraction(30000, 1001))
LINE = "Now the downswing. Stop it at impact, and there's daylight between her hips and that line."


def delivery(loudness=-23.0, true_peak=-1.0):
    return Delivery(
        name="web",
        scope="web",
        loudness=loudness,
        true_peak=true_peak,
        picture=PictureCoding(preset="medium", quality=20),
        sound=SoundCoding(bit_rate=192_000),
    )


def plan(seconds, *, rate=P25, speech=(), natural=(), music=()):
    frames = int(seconds * rate.fps)
    beat = PlannedBeat(
        id="a", span=Span(0, frames), least=frames, nominal=frames, most=frames, words_end=None, needs=0, rigid=True
    )
    return Plan(
        title="T", rate=rate, size=Size(1920, 1080), slot=frames, beats=(beat,), shots=(), strokes=(), cards=(),
        speech=tuple(speech), natural=tuple(natural), music=tuple(music),
    )  # fmt: skip


def line(path, at, length, *, rate=P25, source_start=Fraction(0), gain_db=0.0, telephone=False):
    length = Fraction(length)
    return Speech(
        beat="a", line=0, speaker="p", shown="P", text=LINE, span=Span(at, at + int(length * rate.fps) + 1), path=path,
        source_start=source_start, length=length, gain_db=gain_db, telephone=telephone, words=(),
        word_source=WordSource.GUIDE, expected_error=Fraction(0), is_guide=True,
    )  # fmt: skip


def noise(seconds, level, channels=2, seed=3):
    random = np.random.default_rng(seed)
    return (random.standard_normal((round(seconds * RATE), channels)) * 10 ** (level / 20)).astype(np.float32)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Two voices as takes of very different level, and stretches of noise as music and as a clip's sound."""
    folder = tmp_path_factory.mktemp("sounds")
    with GuideVoice(Store(folder / "store")) as voice:
        for name, spoken_by, level in (("one", "en-us", 1.0), ("two", "en-gb-scotland+f2", 0.05)):
            reading = voice.speak(tuple(LINE.split()), spoken_by, 150)
            write_wav(folder / f"{name}.wav", to_mono(read_sound(reading.path))[: int(reading.length * RATE)] * level)
    write_wav(folder / "music.wav", noise(7, -30) * np.linspace(0.7, 1.3, 7 * RATE, dtype=np.float32)[:, None])
    write_wav(folder / "clip.wav", noise(12, -40, seed=9))
    return folder


def seconds(path):
    return Fraction(len(read_sound(path)), RATE)


def spoken(folder, name, at, **options):
    return line(folder / f"{name}.wav", at, seconds(folder / f"{name}.wav"), **options)


def loudness_of(samples):
    return integrated(bin_power(samples))


class TestLengthAndPlace:
    @pytest.mark.parametrize(("rate", "length"), [(P25, 4), (P2997, 4), (Rate(Fraction(24000, 1001)), 3)])
    def test_exactly_as_many_samples_as_the_frames_last(self, rate, length):
        whole = plan(length, rate=rate)
        samples, found = mix(whole, {}, delivery())
        assert samples.shape == (sample_of_frame(whole.frames, rate), 2)
        assert samples.dtype == np.float32
        assert found == SILENCE

    @pytest.mark.parametrize("rate", [P25, P2997])
    def test_a_reading_starts_on_the_sample_of_its_frame(self, tmp_path, rate):
        """A click 0.2 s into a take that is used from 0.1 s on sounds 0.1 s after the start of its frame."""
        take = noise(1.0, -80, 1)
        take[int(0.2 * RATE)] = 0.5
        write_wav(tmp_path / "click.wav", take)
        at = 37
        cue = line(tmp_path / "click.wav", at, Fraction(1, 2), rate=rate, source_start=Fraction(1, 10))
        whole = plan(4, rate=rate, speech=[cue])
        samples, _ = mix(whole, {}, delivery())
        place = int(np.argmax(np.abs(samples[:, 0])))
        assert abs(place - (sample_of_frame(at, rate) + RATE // 10)) <= 24  # half a millisecond: the filters' delay

    @pytest.mark.slow
    def test_both_sides_carry_a_voice_alike(self, folder):
        samples, _ = mix(plan(9, speech=[spoken(folder, "one", 10)]), {}, delivery())
        assert np.array_equal(samples[:, 0], samples[:, 1])

    def test_what_runs_past_the_end_is_cut_there(self, folder):
        samples, _ = mix(plan(4, speech=[spoken(folder, "one", 50)]), {}, delivery())
        assert len(samples) == 4 * RATE

    @pytest.mark.slow
    def test_the_same_plan_gives_the_same_samples(self, folder):
        whole = plan(
            9, speech=[spoken(folder, "two", 10)],
            music=[MusicCue(path=folder / "music.wav", span=Span(0, 225), level_db=-6, under_speech_db=-14,
                            fade_in=12, fade_out=30)],
        )  # fmt: skip
        assert np.array_equal(mix(whole, {}, delivery())[0], mix(whole, {}, delivery())[0])

    def test_a_take_that_has_shrunk_since_it_was_measured(self, folder):
        cue = line(folder / "one.wav", 0, 2, source_start=Fraction(100))
        with pytest.raises(MediaUnusable, match="must not change while it is used"):
            mix(plan(5, speech=[cue]), {}, delivery())


class TestLoudness:
    @pytest.mark.parametrize(
        ("target", "peak"),
        [
            (-23.0, -1.0),
            (-16.0, -1.0),
            pytest.param(-24.0, -2.0, marks=pytest.mark.slow),
            pytest.param(-14.0, -1.0, marks=pytest.mark.slow),
        ],
    )
    def test_the_whole_meets_the_delivery(self, folder, target, peak):
        """Tolerance of EBU R 128 for a measurement at quality control: 0.2 LU."""
        whole = plan(
            16, speech=[spoken(folder, "one", 10), spoken(folder, "two", 230)],
            natural=[NaturalSound(clip="v", span=Span(160, 260), source_start=Fraction(2))],
            music=[MusicCue(path=folder / "music.wav", span=Span(0, 400), level_db=-6, under_speech_db=-14,
                            fade_in=12, fade_out=37)],
        )  # fmt: skip
        samples, found = mix(whole, {"v": folder / "clip.wav"}, delivery(target, peak))
        assert found == measure(samples)
        assert abs(found.integrated - target) <= 0.2
        assert found.true_peak <= peak

    def test_pyloudnorm_agrees(self, folder):
        import pyloudnorm

        samples, found = mix(plan(9, speech=[spoken(folder, "one", 10)]), {}, delivery(-16))
        theirs = pyloudnorm.Meter(RATE).integrated_loudness(samples.astype(np.float64))
        assert theirs == pytest.approx(found.integrated, abs=0.1)

    def test_takes_of_different_level_are_heard_alike(self, folder):
        whole = plan(18, speech=[spoken(folder, "one", 0), spoken(folder, "two", 225)])
        voices = stems(whole, {}).voices
        assert loudness_of(voices[: 9 * RATE]) == pytest.approx(loudness_of(voices[9 * RATE :]), abs=0.1)

    def test_a_speakers_own_level_and_the_telephone_are_kept(self, folder):
        """The telephone is 3 dB softer; half of the band is gone and a meter hears little of it below 300 Hz."""
        plain, soft, telephone = (
            loudness_of(stems(plan(9, speech=[spoken(folder, "one", 0, **options)]), {}).voices)
            for options in ({}, {"gain_db": -4.0}, {"telephone": True})
        )
        assert soft - plain == pytest.approx(-4.0, abs=0.05)
        assert telephone - plain == pytest.approx(-3.0, abs=0.05)

    def test_a_line_shorter_than_a_gating_block_is_levelled_too(self, folder):
        write = to_mono(read_sound(folder / "one.wav"))[RATE // 4 : RATE // 4 + RATE * 3 // 10]
        write_wav(folder / "short.wav", write * 0.02)
        part = stems(plan(2, speech=[spoken(folder, "short", 0)]), {}).voices
        power = bin_power(part[: len(write)])
        assert -0.691 + 10 * np.log10(power.mean()) == pytest.approx(mix_module.DIALOGUE, abs=1.0)

    def test_silence_stays_silent(self, tmp_path):
        write_wav(tmp_path / "still.wav", np.zeros((RATE, 1), np.float32))
        samples, found = mix(plan(3, speech=[line(tmp_path / "still.wav", 0, 1)]), {}, delivery())
        assert found == SILENCE
        assert not samples.any()

    def test_a_plan_of_a_few_frames_is_no_fault(self):
        samples, found = mix(plan(Fraction(8, 25)), {}, delivery())
        assert len(samples) == sample_of_frame(8, P25)
        assert found.integrated == -np.inf


class TestMusic:
    def cue(self, folder, **changes):
        options = {"span": Span(0, 500), "level_db": -6.0, "under_speech_db": -14.0, "fade_in": 0, "fade_out": 0}
        return MusicCue(path=folder / "music.wav", **{**options, **changes})

    def test_it_is_ten_lu_below_the_voice_while_someone_speaks(self, folder):
        """At least 10 LU over music: listening test in JAES 67(12), 2019."""
        spoken_line = spoken(folder, "one", 200)
        parts = stems(plan(20, speech=[spoken_line], music=[self.cue(folder)]), {})
        begin, end = (sample_of_frame(frame, P25) for frame in (spoken_line.span.start, spoken_line.span.end))
        voice, under = loudness_of(parts.voices[begin:end]), loudness_of(parts.music[begin:end])
        assert voice - under >= 10
        free = loudness_of(parts.music[: 7 * RATE])
        assert voice - free == pytest.approx(6, abs=1.0)

    def test_it_fills_its_span_and_nothing_else(self, folder):
        music = stems(plan(20, music=[self.cue(folder, span=Span(50, 450))]), {}).music
        heard = momentary(music)
        assert not music[: 2 * RATE].any()
        assert not music[18 * RATE :].any()
        inside = heard[2 * 100 : 18 * 100 - 40]
        assert inside.min() > inside.max() - 7  # no gap where the seven seconds repeat

    def test_fades_are_monotone(self, tmp_path):
        write_wav(tmp_path / "even.wav", np.full((10 * RATE, 2), 0.25, np.float32))
        music = bed(tmp_path / "even.wav", 8 * RATE, RATE, 2 * RATE)
        level = np.abs(music[:, 0]).reshape(-1, 480).mean(axis=1)
        assert (np.diff(level[:100]) > 0).all()
        assert (np.diff(level[-200:]) < 0).all()
        assert level[100:-200] == pytest.approx(0.25, abs=1e-6)
        assert level[0] < 0.005
        assert level[-1] < 0.005

    @pytest.mark.slow
    def test_a_seamless_file_repeats_without_a_step(self, tmp_path):
        """A whole number of periods plus the overlap again: the joints must not be found in the result."""
        wave = 0.3 * np.sin(2 * np.pi * 50 * np.arange(22 * RATE) / RATE)
        write_wav(tmp_path / "tone.wav", np.repeat(wave[:, None], 2, axis=1).astype(np.float32))
        music = bed(tmp_path / "tone.wav", 70 * RATE, 0, 0)
        expected = 0.3 * np.sin(2 * np.pi * 50 * np.arange(70 * RATE) / RATE)
        assert len(music) == 70 * RATE
        assert np.abs(music[:, 0] - expected).max() < 2e-3

    @pytest.mark.parametrize("length", [1, 100, 3 * RATE, 7 * RATE, 7 * RATE + 1, 60 * RATE + 7])
    def test_any_length_can_be_had(self, folder, length):
        music = bed(folder / "music.wav", length, 480, 480)
        assert music.shape == (length, 2)
        assert np.isfinite(music).all()

    def test_it_goes_down_ahead_of_speech_holds_over_short_gaps_and_comes_up_slowly(self):
        curve = lowered(10 * RATE, [(2 * RATE, 3 * RATE), (3 * RATE + 40_000, 5 * RATE)])
        assert (curve[: int(1.75 * RATE)] == 0).all()
        assert (curve[2 * RATE : 5 * RATE] == 1).all()
        assert (np.diff(curve[int(1.75 * RATE) : 2 * RATE]) >= 0).all()
        assert (np.diff(curve[5 * RATE :]) <= 0).all()
        assert (curve[int(5.8 * RATE) :] == 0).all()
        assert np.abs(np.diff(curve)).max() < 2e-4

    def test_it_comes_up_in_gaps_of_a_second_and_more(self):
        curve = lowered(10 * RATE, [(2 * RATE, 3 * RATE), (5 * RATE, 6 * RATE)])
        assert curve[4 * RATE] == 0

    def test_speech_at_the_very_edges(self):
        assert (lowered(RATE, [(0, RATE)]) == 1).all()
        assert lowered(RATE, [(-RATE, 0), (2 * RATE, 3 * RATE)])[0] == pytest.approx(1)


class TestNaturalSound:
    def test_it_is_softer_than_the_voice_and_softer_still_under_it(self, folder):
        """At least 15 LU over ambience: listening test in JAES 67(12), 2019."""
        cue = NaturalSound(clip="v", span=Span(0, 250), source_start=Fraction(1))
        voice = spoken(folder, "one", 125)
        parts = stems(plan(12, speech=[voice], natural=[cue]), {"v": folder / "clip.wav"})
        begin, end = (sample_of_frame(frame, P25) for frame in (125, 250))
        assert loudness_of(parts.voices[begin:end]) - loudness_of(parts.natural[begin:end]) >= 15
        assert loudness_of(parts.natural[: 4 * RATE]) == pytest.approx(mix_module.DIALOGUE - 10, abs=0.5)

    def test_it_keeps_its_place_in_the_clip(self, tmp_path):
        clip = noise(5, -75)
        clip[int(3.25 * RATE)] = 0.5
        write_wav(tmp_path / "clip.wav", clip)
        cue = NaturalSound(clip="v", span=Span(25, 100), source_start=Fraction(2))
        natural = stems(plan(5, natural=[cue]), {"v": tmp_path / "clip.wav"}).natural
        assert int(np.argmax(np.abs(natural[:, 0]))) == RATE + int(1.25 * RATE)

    def test_a_silent_clip_is_no_fault(self):
        cue = NaturalSound(clip="v", span=Span(0, 50), source_start=Fraction(0))
        assert not stems(plan(2, natural=[cue]), {}).natural.any()


class TestVoiceTreatment:
    def response(self, treat, hertz):
        """Level of a soft tone after treatment, against before, in its middle."""
        wave = 1e-3 * np.sin(2 * np.pi * hertz * np.arange(RATE) / RATE)
        out = treat(wave[:, None].astype(np.float32))[RATE // 4 : -RATE // 4, 0]
        return 20 * np.log10(np.sqrt(np.mean(out.astype(np.float64) ** 2)) * np.sqrt(2) / 1e-3)

    def test_the_telephone_passes_300_to_3400_hz(self):
        """Butterworth by definition: 3 dB down at its corner, 24 dB an octave beyond for the fourth order."""
        assert self.response(telephone_voice, 1000) == pytest.approx(0, abs=0.2)
        assert self.response(telephone_voice, 300) == pytest.approx(-3, abs=0.2)
        assert self.response(telephone_voice, 3400) == pytest.approx(-3, abs=0.2)
        assert self.response(telephone_voice, 150) == pytest.approx(-24.1, abs=0.5)
        assert self.response(telephone_voice, 6800) == pytest.approx(-24.1, abs=0.5)

    def test_the_studio_loses_its_rumble_and_nothing_else(self):
        assert self.response(studio_voice, 80) == pytest.approx(-3, abs=0.2)
        assert self.response(studio_voice, 20) < -22
        assert self.response(studio_voice, 300) == pytest.approx(0, abs=0.1)
        assert self.response(studio_voice, 8000) == pytest.approx(0, abs=0.1)

    def test_compression_halves_what_is_above_the_knee(self):
        def level(db):
            wave = 10 ** (db / 20) * np.sqrt(2) * np.sin(2 * np.pi * 400 * np.arange(2 * RATE) / RATE)
            out = compressed(wave[:, None].astype(np.float32), threshold=-22, ratio=2)[RATE:]
            return 10 * np.log10(np.mean(out.astype(np.float64) ** 2))

        assert level(-40) == pytest.approx(-40, abs=0.05)
        assert level(-8) - level(-12) == pytest.approx(2.0, abs=0.05)


class TestLimiter:
    @pytest.mark.parametrize("ceiling", [-1.0, -3.0, -9.0])
    def test_nothing_passes_the_ceiling_even_between_samples(self, ceiling):
        sound = noise(4, -14)
        sound[RATE : RATE + 5000] *= 4
        assert true_peak(sound) > 3
        limit(sound, ceiling)
        assert ceiling - 0.5 < true_peak(sound) <= ceiling + 0.1

    def test_a_peak_between_samples_is_caught(self):
        """A quarter of the sample rate at 45 degrees: samples stay 3 dB below the wave (EBU Tech 3341, signal 19)."""
        n = np.arange(RATE)
        wave = 1.41 * np.sin(np.pi / 2 * n + np.pi / 4) * np.minimum(1, np.minimum(n, n[::-1]) / 4800)
        sound = np.repeat(wave[:, None], 2, axis=1).astype(np.float32)
        assert np.abs(sound).max() < 1
        limit(sound, -1.0)
        assert true_peak(sound) <= -0.95

    def test_what_is_low_enough_is_left_alone(self):
        sound = noise(3, -30)
        before = sound.copy()
        sound[2 * RATE] = 1.2
        lowered_samples = limit(sound, -1.0)
        assert np.array_equal(sound[: 2 * RATE - 2000], before[: 2 * RATE - 2000])
        assert 0 < lowered_samples < RATE // 4

    def test_gain_has_no_steps(self):
        sound = np.full((RATE, 2), 0.2, np.float32)
        sound[RATE // 2 : RATE // 2 + 20] = 1.0
        limit(sound, -3.0)
        quiet = np.concatenate([sound[: RATE // 2, 0], sound[RATE // 2 + 60 :, 0]])
        assert np.abs(np.diff(quiet)).max() < 0.003

    def test_silence_and_nothing(self):
        assert limit(np.zeros((1000, 2), np.float32), -1.0) == 0
        assert limit(np.zeros((0, 2), np.float32), -1.0) == 0

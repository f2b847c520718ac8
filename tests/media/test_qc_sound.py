"""Sound measured in a stream, against the test signals of EBU Tech 3341 and 3342 and against other programs."""

from __future__ import annotations

import re
from fractions import Fraction

import numpy as np
import pyloudnorm
import pytest

from segmentkit.media import ffmpeg
from segmentkit.media.loudness import measure
from segmentkit.media.screen import screen
from segmentkit.media.screen_sound import SoundMeter
from segmentkit.media.screen_sync import reference_of
from segmentkit.media.sound import write_wav
from segmentkit.screened import Sound
from segmentkit.timebase import Rate, Span
from tests.clips import Track, make_clip, steady
from tests.spoiled import sound as words

PACE = 48_000
RATE = Rate(Fraction(25))


def tone(level: float, seconds: float, hertz: float = 1000) -> np.ndarray:
    """A sine on both channels with a peak level in dBFS."""
    moment = np.arange(round(seconds * PACE)) / PACE
    wave = 10 ** (level / 20) * np.sin(2 * np.pi * hertz * moment)
    return np.repeat(wave[:, None], 2, axis=1).astype(np.float32)


def steps(*parts: tuple[float, float]) -> np.ndarray:
    return np.concatenate([tone(level, seconds) for level, seconds in parts])


def heard(samples: np.ndarray, block: int = 1024, **how: object) -> Sound:
    """What a meter says when samples come in blocks as a decoder gives them."""
    meter = SoundMeter(samples.shape[1], RATE, **how)  # type: ignore[arg-type]
    for start in range(0, len(samples), block):
        meter.feed(samples[start : start + block])
    return meter.finish()


# EBU Tech 3341 (2023), minimum requirements, signals 1 to 6; the levels of signal 6 are from memory.
@pytest.mark.slow
@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        (((-23, 20),), -23.0),
        (((-33, 20),), -33.0),
        (((-36, 10), (-23, 60), (-36, 10)), -23.0),
        (((-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)), -23.0),
        (((-26, 20), (-20, 20.1), (-26, 20)), -23.0),
    ],
)
def test_integrated_loudness_of_tech_3341(parts, expected):
    found = heard(steps(*parts))
    assert found.loudness.integrated == pytest.approx(expected, abs=0.1)
    if len(parts) == 1:
        assert found.momentary == pytest.approx(expected, abs=0.1)
        assert found.short_term == pytest.approx(expected, abs=0.1)


@pytest.mark.slow
def test_five_channels_of_tech_3341():
    parts = [tone(level, 20)[:, :1] for level in (-28, -28, -24, -30, -30)]
    assert heard(np.concatenate(parts, axis=1)).loudness.integrated == pytest.approx(-23.0, abs=0.1)


@pytest.mark.slow
def test_the_low_frequency_channel_of_six_does_not_count():
    parts = [tone(level, 20)[:, :1] for level in (-28, -28, -24, -3, -30, -30)]
    assert heard(np.concatenate(parts, axis=1)).loudness.integrated == pytest.approx(-23.0, abs=0.1)


def test_short_term_and_momentary_of_tech_3341():
    # Signals 9 and 12.
    assert heard(steps(*[(-20, 1.34), (-30, 1.66)] * 5)).short_term == pytest.approx(-23.0, abs=0.1)
    assert heard(steps(*[(-20, 0.18), (-30, 0.22)] * 25)).momentary == pytest.approx(-23.0, abs=0.1)


@pytest.mark.parametrize("lead", [0, 7, 13, 19])
def test_a_burst_of_400_ms_is_caught_wherever_it_begins(lead):
    # Signal 13, some of its twenty files.
    burst = np.concatenate([tone(-200, 0.02 * lead + 0.001), tone(-23, 0.4), tone(-200, 1)])
    assert heard(burst).momentary == pytest.approx(-23.0, abs=0.1)


# Signals 15 to 19: frequency as a part of 48 kHz, phase in degrees, amplitude, true peak; tolerance +0.2/-0.4 dB.
@pytest.mark.parametrize(
    ("part", "phase", "amplitude", "expected"),
    [(4, 0, 0.50, -6.0), (4, 45, 0.50, -6.0), (6, 60, 0.50, -6.0), (8, 67.5, 0.50, -6.0), (4, 45, 1.41, 3.0)],
)
def test_true_peak_of_tech_3341(part, phase, amplitude, expected):
    count = np.arange(PACE)
    wave = amplitude * np.sin(2 * np.pi * count / part + np.deg2rad(phase))
    edge = np.sin(np.linspace(0, np.pi / 2, 2400)) ** 2
    wave[:2400] *= edge
    wave[-2400:] *= edge[::-1]
    found = heard(np.repeat(wave[:, None], 2, axis=1).astype(np.float32))
    assert -0.4 <= found.loudness.true_peak - expected <= 0.2


# EBU Tech 3342 (2023), signals 1 to 4; the levels are from memory.
@pytest.mark.slow
@pytest.mark.parametrize(
    ("levels", "expected"), [((-20, -30), 10), ((-20, -15), 5), ((-40, -20), 20), ((-50, -35, -20, -35, -50), 15)]
)
def test_loudness_range_of_tech_3342(levels, expected):
    found = heard(steps(*[(level, 20) for level in levels]))
    assert found.loudness.range == pytest.approx(expected, abs=1)


@pytest.mark.parametrize("block", [1, 960, 1024, 333_333])
def test_blocks_make_no_difference(block):
    samples = words(2.0) if block == 1 else words()
    found, whole = heard(samples[: 96_000 if block == 1 else None], block), measure(samples)
    if block != 1:
        assert found.loudness.integrated == pytest.approx(whole.integrated, abs=1e-3)
        assert found.loudness.true_peak == pytest.approx(whole.true_peak, abs=1e-3)
    assert found.samples == len(samples)


def test_loudness_agrees_with_pyloudnorm():
    samples = words()
    judge = pyloudnorm.Meter(PACE).integrated_loudness(samples.astype(np.float64))
    assert heard(samples).loudness.integrated == pytest.approx(judge, abs=0.1)


def test_loudness_and_silence_agree_with_ffmpeg(tmp_path):
    """ebur128 and silencedetect of another program, on words with a second and a half cut out."""
    samples = words(12.0)
    samples[96_000 : 96_000 + 72_000] = 0
    samples[300_000:] = tone(-30, 12)[: len(samples) - 300_000]
    write_wav(tmp_path / "words.wav", samples)
    meters = "silencedetect=noise=-60dB:duration=0.3,ebur128=peak=true"
    said = ffmpeg.run([
        "-loglevel", "info", "-i", ffmpeg.named(tmp_path / "words.wav"), "-af", meters, "-f", "null", "-",
    ]).said  # fmt: skip
    found = heard(samples)
    summary = said[said.rindex("Integrated loudness") :]
    assert found.loudness.integrated == pytest.approx(float(re.search(r"I:\s+(-[\d.]+)", summary)[1]), abs=0.1)
    assert found.loudness.true_peak == pytest.approx(float(re.search(r"Peak:\s+(-[\d.]+)", summary)[1]), abs=0.2)
    starts = [float(one) for one in re.findall(r"silence_start: ([\d.]+)", said)]
    ends = [float(one) for one in re.findall(r"silence_end: ([\d.]+)", said)]
    assert len(starts) == len(found.silences) == 1
    assert found.silences[0].start == pytest.approx(starts[0] * 25, abs=1.5)
    assert found.silences[0].end == pytest.approx(ends[0] * 25, abs=1.5)


@pytest.mark.parametrize("milliseconds", [-250, -45, -38, 0, 55, 65, 300])
def test_a_shift_is_found_to_a_millisecond(milliseconds):
    planned = words()
    shifted = np.roll(planned, milliseconds * 48, axis=0)
    found = heard(shifted, reference=reference_of(planned)).sync
    assert found is not None
    assert 1000 * found.late == pytest.approx(milliseconds, abs=1)
    assert found.likeness > 0.95


@pytest.mark.slow
def test_a_shift_at_the_end_alone_shows_in_the_windows():
    planned = words(12.0)
    cut = planned.copy()
    cut[8 * PACE :] = np.roll(planned, 4_800, axis=0)[8 * PACE :]
    found = heard(cut, reference=reference_of(planned)).sync
    assert found is not None
    assert found.windows[0][1] == pytest.approx(0, abs=0.001)
    assert found.windows[-1][1] == pytest.approx(0.1, abs=0.001)


def test_other_words_are_not_taken_for_the_planned_ones():
    found = heard(words(seed=9), reference=reference_of(words())).sync
    assert found is not None
    assert found.likeness < 0.5


@pytest.mark.slow
def test_sides_that_were_swapped():
    planned = words()
    assert not heard(planned, reference=reference_of(planned)).sync.swapped
    assert heard(planned[:, ::-1].copy(), reference=reference_of(planned)).sync.swapped
    same = np.repeat(planned[:, :1], 2, axis=1)
    assert not heard(same, reference=reference_of(same)).sync.swapped


def test_channels_are_told_apart():
    samples = words()
    same = heard(np.repeat(samples[:, :1], 2, axis=1))
    assert same.apart == -np.inf
    assert same.correlation == pytest.approx(1)
    against = heard(np.stack([samples[:, 0], -samples[:, 0]], axis=1))
    assert against.correlation == pytest.approx(-1)
    dead = samples.copy()
    dead[:, 1] = 0
    lone = heard(dead)
    assert lone.correlation is None
    assert lone.powers[1] == -np.inf
    assert lone.powers[0] == pytest.approx(10 * np.log10(np.square(samples[:, 0], dtype=np.float64).mean()), abs=1e-3)


def test_samples_at_full_scale():
    samples = words() * 0.5
    samples[50_000:50_004, 0] = 1.0
    samples[60_000:60_002, 1] = -1.0
    samples[200_000:200_010, 1] = -1.0
    found = heard(samples).clipped
    assert [(one.runs, one.longest) for one in found] == [(1, 4), (1, 10)]
    assert found[0].span.start == 26


def test_a_hole_in_the_sound():
    steady_ = tone(-20, 6) + np.random.default_rng(1).normal(0, 1e-4, (6 * PACE, 2)).astype(np.float32)
    holed = steady_.copy()
    holed[100_000:103_000] = 0
    (gap,) = heard(holed).gaps
    assert gap[1] == pytest.approx(0.06, abs=0.011)
    assert gap[0].start == 52
    (missing,) = heard(holed, reference=reference_of(steady_)).missing
    assert missing[1] == pytest.approx(0.05, abs=0.021)
    assert not heard(steady_, reference=reference_of(steady_)).missing


def test_the_programme_alone_is_measured():
    """A louder tone of line-up before and after it does not count."""
    samples = np.concatenate([tone(-6, 2), words(), tone(-6, 2)])
    found = heard(samples, programme=Span(50, 200), reference=reference_of(words()))
    assert found.loudness.integrated == pytest.approx(-16, abs=0.05)
    assert found.sync is not None
    assert abs(found.sync.late) < 0.001
    assert len(found.envelope) == 200


@pytest.mark.slow
def test_a_track_that_starts_late_is_late(tmp_path):
    path = make_clip(
        tmp_path / "late.mov", steady(25, 6), tracks=[Track(samples=words(), codec="pcm_s16le", start=Fraction(1, 10))]
    )
    found = screen(path, reference=words(), threads=1).sound
    assert found.start == Fraction(1, 10)
    assert found.sync.late == pytest.approx(0.1, abs=0.001)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("suffix", "codec"), [("mp4", "aac"), ("mov", "pcm_s24le"), ("mkv", "libopus"), ("mxf", "pcm_s16le")]
)
def test_coders_add_no_delay(tmp_path, suffix, codec):
    """A coder's priming is taken off as the file states it."""
    path = tmp_path / f"a.{suffix}"
    write_wav(tmp_path / "words.wav", words())
    picture = "mpeg2video" if suffix == "mxf" else "libx264"
    ffmpeg.run([
        "-f", "lavfi", "-i", "testsrc2=size=320x180:rate=25:duration=6", "-i", ffmpeg.named(tmp_path / "words.wav"),
        "-c:v", picture, "-pix_fmt", "yuv420p", "-c:a", codec, ffmpeg.named(path),
    ])  # fmt: skip
    found = screen(path, reference=words(), threads=1).sound
    assert abs(found.sync.late) < 0.002
    assert found.loudness.integrated == pytest.approx(-16, abs=0.2)
    assert abs(found.samples - 6 * PACE) <= 1024

"""Noise is lowered by what was asked for, words stay, and nothing moves by a sample."""

from __future__ import annotations

import numpy as np
import pytest

from segmentkit.media.denoise import denoised, noise_floor
from tests.clips import beep


def speech(seconds=4.0, noise_db=-50.0, seed=1):
    """Bursts of a voice-like sound with pauses, and steady hiss under it all."""
    rng = np.random.default_rng(seed)
    time = np.arange(round(seconds * 48_000)) / 48_000
    voice = sum(np.sin(2 * np.pi * 140 * k * time) / k for k in range(1, 20))
    gate = (np.sin(2 * np.pi * 0.9 * time) > 0.1).astype(float)
    gate = np.convolve(gate, np.ones(480) / 480, "same")
    clean = 0.08 * voice * gate
    hiss = rng.standard_normal(len(time)) * 10 ** (noise_db / 20)
    return clean.astype(np.float32)[:, None], (clean + hiss).astype(np.float32)[:, None], gate < 1e-6


def level(sound):
    return 10 * np.log10(np.mean(np.square(sound.astype(np.float64))))


@pytest.mark.parametrize("noise", [-60.0, -50.0, -40.0])
def test_the_floor_is_that_of_the_pauses(noise):
    _, dirty, _ = speech(noise_db=noise)
    assert noise_floor(dirty) == pytest.approx(noise, abs=1.0)


def test_digital_silence_says_nothing_of_the_noise():
    _, dirty, _ = speech()
    padded = np.concatenate([np.zeros((48_000, 1), np.float32), dirty])
    assert noise_floor(padded) == pytest.approx(-50, abs=1.0)


@pytest.mark.slow
@pytest.mark.parametrize("reduction", [6.0, 12.0])
def test_pauses_get_quieter_by_about_what_was_asked(reduction):
    _, dirty, pauses = speech()
    quiet = denoised(dirty, reduction)
    inner = np.convolve(pauses, np.ones(7200) / 7200, "same") > 0.999  # away from the words
    assert level(dirty[inner]) - level(quiet[inner]) == pytest.approx(reduction, abs=2.5)


def test_words_keep_their_level_and_their_moment():
    clean, dirty, pauses = speech()
    quiet = denoised(dirty, 12.0)
    assert level(quiet[~pauses]) == pytest.approx(level(dirty[~pauses]), abs=0.3)
    # Correlated with the clean voice, the best lag is no lag.
    width = 1 << 19
    match = np.fft.irfft(np.fft.rfft(quiet[:, 0], width) * np.conj(np.fft.rfft(clean[:, 0], width)))
    assert int(match.argmax()) == 0
    assert quiet.shape == dirty.shape


def test_a_clean_take_and_no_wish_are_left_as_they_are():
    _, dirty, _ = speech()
    assert denoised(dirty, 0.0) is dirty
    silent = np.zeros((4800, 1), np.float32)
    assert denoised(silent, 12.0) is silent
    beeps = beep(1.0, [0.5], channels=1)
    assert denoised(beeps, 12.0).shape == beeps.shape
    assert denoised(np.zeros((0, 1), np.float32), 12.0).shape == (0, 1)

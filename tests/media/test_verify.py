"""Reading a finished movie back finds what is wrong with it."""

from __future__ import annotations

from fractions import Fraction

import pytest

from segmentkit.errors import OutputFailed
from segmentkit.geometry import Size
from segmentkit.media import ffmpeg
from segmentkit.media.loudness import SILENCE
from segmentkit.media.verify import read_back
from tests.clips import Coding, Track, beep, cut_short, damage, make_clip, steady, varying
from tests.media.test_encode import write_coded


@pytest.mark.slow
def test_what_another_program_wrote_is_told_as_it_is(tmp_path):
    path = tmp_path / "a.mp4"
    ffmpeg.run([
        "-f", "lavfi", "-i", "smptebars=size=640x480:rate=30000/1001:duration=2",
        "-f", "lavfi", "-i", "sine=frequency=997:sample_rate=48000:duration=2", "-ac", "2",
        "-c:v", "libx264", "-profile:v", "main", "-pix_fmt", "yuv420p", ffmpeg.named(path),
    ])  # fmt: skip
    facts = read_back(path)
    assert (facts.size, facts.rate, facts.frames) == (Size(640, 480), Fraction(30000, 1001), 60)
    assert facts.video_codec == "h264 Main yuv420p"
    assert facts.audio_codec == "aac 48000 Hz"
    assert "unspecified" in facts.colour
    assert abs(facts.samples - 96_000) <= 1024
    assert facts.chapters == 0


def test_sound_too_short_to_measure_counts_as_silence(tmp_path):
    facts = read_back(
        make_clip(tmp_path / "a.mp4", steady(25, Fraction(1, 5)), tracks=[Track(samples=beep(0.2, [0.1]))])
    )
    assert facts.loudness == SILENCE


def refused(path, match):
    with pytest.raises(OutputFailed, match=match) as raised:
        read_back(path)
    assert "\n" not in str(raised.value)


def test_one_that_was_cut_off(tmp_path):
    write_coded(tmp_path / "whole.mp4", 60)
    cut_short(tmp_path / "whole.mp4", tmp_path / "a.mp4", 0.5)
    refused(tmp_path / "a.mp4", r"ends after \d+ of 60 frames|cannot be decoded")


def test_one_with_damaged_pictures(tmp_path):
    write_coded(tmp_path / "whole.mp4", 60)
    refused(damage(tmp_path / "whole.mp4", tmp_path / "a.mp4", lambda k: k % 2 == 1), "cannot be decoded")


def test_no_file_at_all(tmp_path):
    refused(tmp_path / "none.mp4", "cannot be decoded")


def test_no_sound_is_told(tmp_path):
    facts = read_back(make_clip(tmp_path / "a.mp4", steady(25, 1)))
    assert (facts.audio_codec, facts.samples, facts.loudness) == ("none", 0, SILENCE)


def test_two_picture_tracks(tmp_path):
    make_clip(tmp_path / "one.mp4", steady(25, 1), tracks=[Track(samples=beep(1.0))])
    ffmpeg.run([
        "-i", ffmpeg.named(tmp_path / "one.mp4"), "-map", "0:v", "-map", "0:v", "-map", "0:a", "-c", "copy",
        ffmpeg.named(tmp_path / "a.mp4"),
    ])  # fmt: skip
    refused(tmp_path / "a.mp4", "2 picture and 1 sound tracks")


def test_a_rate_that_varies(tmp_path):
    times = varying([(10, 25), (5, 10), (10, 25)])
    refused(make_clip(tmp_path / "a.mp4", times, tracks=[Track(samples=beep(1.3))]), "constant rate")


def test_full_range_shows(tmp_path):
    path = make_clip(tmp_path / "a.mp4", steady(25, 1), coding=Coding(full=True), tracks=[Track(samples=beep(1.0))])
    assert read_back(path).colour == "bt709/bt709/bt709/pc"

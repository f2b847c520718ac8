"""Sound files in and out."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media import ffmpeg
from segmentkit.media.sound import SoundLimits, duration, read_sound, to_mono, to_stereo, write_wav

RATE = 48_000


def clicks(channels=1, seconds=3):
    """Quiet noise with clicks at samples 1,000 and 70,000 and at the very last one."""
    sound = np.random.default_rng(1).standard_normal((seconds * RATE, channels)) * 0.01
    sound[[1000, 70_000, -1]] = 0.8
    return sound.astype(np.float32)


def convert(source, target, *options):
    ffmpeg.run(["-i", ffmpeg.named(source), *options, ffmpeg.named(target)])
    return target


@pytest.fixture
def take(tmp_path):
    write_wav(tmp_path / "take.wav", clicks())
    return tmp_path / "take.wav"


class TestReading:
    @pytest.mark.parametrize("bits", [16, 24])
    def test_what_was_written_is_read_back_to_half_a_step(self, tmp_path, bits):
        write_wav(tmp_path / "a.wav", clicks(2), bits)
        read = read_sound(tmp_path / "a.wav")
        assert read.dtype == np.float32
        assert read.shape == (3 * RATE, 2)
        assert np.abs(read - clicks(2)).max() <= 0.51 / 2 ** (bits - 1) + 1e-7

    @pytest.mark.parametrize("name", ["a.flac", "a.mp3", "a.m4a", "a.ogg", "a.aiff", "a.mka"])
    def test_every_format_keeps_the_place_of_a_click(self, take, name):
        read = to_mono(read_sound(convert(take, take.with_name(name))))[:, 0]
        for place in (1000, 70_000):
            near = np.abs(read[place - 900 : place + 900])
            assert abs(int(np.argmax(near)) - 900) <= 1
        assert len(read) == pytest.approx(3 * RATE, abs=1024)

    @pytest.mark.parametrize("rate", [8000, 22_050, 44_100, 96_000])
    def test_another_sample_rate_is_converted_without_a_shift(self, take, rate):
        read = read_sound(convert(take, take.with_name("b.wav"), "-ar", str(rate)))[:, 0]
        near = np.abs(read[70_000 - 900 : 70_000 + 900])
        assert abs(int(np.argmax(near)) - 900) <= RATE // rate
        assert abs(len(read) - 3 * RATE) <= RATE // rate + 2

    def test_of_two_tracks_the_default_one_is_taken(self, take, tmp_path):
        quiet = tmp_path / "quiet.wav"
        write_wav(quiet, clicks(2) * 0.1)
        both = tmp_path / "both.mka"
        ffmpeg.run([
            "-i", ffmpeg.named(quiet), "-i", ffmpeg.named(take), "-map", "0:a", "-map", "1:a", "-c:a", "pcm_s16le",
            "-disposition:a:0", "0", "-disposition:a:1", "default", ffmpeg.named(both),
        ])  # fmt: skip
        assert np.abs(read_sound(both)).max() == pytest.approx(0.8, abs=0.01)

    def test_five_channels_come_out_as_two(self, take, tmp_path):
        wide = convert(take, tmp_path / "wide.wav", "-ac", "6")
        assert read_sound(wide).shape == (3 * RATE, 2)

    def test_length_is_exact(self):
        assert duration(np.zeros((RATE + 1, 1), np.float32)) == Fraction(48_001, 48_000)


class TestRefusals:
    def test_a_missing_file_and_a_folder(self, tmp_path):
        with pytest.raises(MediaUnusable, match="no such file"):
            read_sound(tmp_path / "none.wav")
        with pytest.raises(MediaUnusable, match="is a folder"):
            read_sound(tmp_path)

    @pytest.mark.parametrize("content", [b"", b"no sound at all\n" * 50, bytes(5000)], ids=["empty", "text", "zeros"])
    def test_what_is_no_sound(self, tmp_path, content):
        (tmp_path / "a.wav").write_bytes(content)
        with pytest.raises(MediaUnusable, match=r"cannot be decoded as sound .* export it again"):
            read_sound(tmp_path / "a.wav")

    def test_a_list_of_other_files_is_not_followed(self, take, tmp_path):
        (tmp_path / "a.wav").write_text(f"ffconcat version 1.0\nfile '{take}'\n")
        with pytest.raises(MediaUnusable, match="cannot be decoded"):
            read_sound(tmp_path / "a.wav")

    def test_a_file_that_stops_early_is_not_taken_for_a_short_one(self, take):
        take.write_bytes(take.read_bytes()[: 44 + 3 * RATE])
        with pytest.raises(MediaUnusable, match=r"stops early: 0\.14 MB of samples, .* promises 0\.43 MB"):
            read_sound(take)

    @pytest.mark.parametrize(
        ("name", "said"),
        [("a.aiff", r"stops after 1\.\d+ s, but its header promises 3\.00 s"), ("a.flac", "cannot be decoded")],
    )
    def test_other_formats_that_stop_early(self, take, name, said):
        other = convert(take, take.with_name(name))
        other.write_bytes(other.read_bytes()[: other.stat().st_size // 2])
        with pytest.raises(MediaUnusable, match=said):
            read_sound(other)

    def test_a_header_without_samples(self, tmp_path):
        write_wav(tmp_path / "a.wav", np.zeros((0, 1), np.float32))
        with pytest.raises(MediaUnusable, match="no sound"):
            read_sound(tmp_path / "a.wav")

    def test_a_picture_without_sound(self, tmp_path):
        ffmpeg.run(["-f", "lavfi", "-i", "color=s=64x64:d=0.2", ffmpeg.named(tmp_path / "a.mp4")])
        with pytest.raises(MediaUnusable, match="no sound track"):
            read_sound(tmp_path / "a.mp4")

    def test_samples_that_are_no_numbers(self, tmp_path):
        source = tmp_path / "nan.f32"
        source.write_bytes(np.array([0, np.nan, 0.1] * 100, "<f4").tobytes())
        ffmpeg.run([
            "-f", "f32le", "-ar", "48000", "-ac", "1", "-i", ffmpeg.named(source), "-c:a", "pcm_f32le",
            ffmpeg.named(tmp_path / "nan.wav"),
        ])  # fmt: skip
        with pytest.raises(MediaUnusable, match="no numbers"):
            read_sound(tmp_path / "nan.wav")

    def test_longer_or_larger_than_allowed(self, take):
        with pytest.raises(MediaUnusable, match="longer than 2 s"):
            read_sound(take, SoundLimits(seconds=2))
        with pytest.raises(MediaUnusable, match="at most 0 MB"):
            read_sound(take, SoundLimits(size=1000))


class TestChannels:
    def test_a_silent_side_does_not_halve_the_other(self):
        one_sided = np.concatenate([clicks(), np.zeros_like(clicks())], axis=1)
        assert np.array_equal(to_mono(one_sided), clicks())
        assert np.array_equal(to_stereo(one_sided), np.repeat(clicks(), 2, axis=1))

    @pytest.mark.slow
    def test_two_sides_are_averaged(self):
        both = np.concatenate([clicks(), clicks() * 0.5], axis=1)
        assert to_mono(both) == pytest.approx(clicks() * 0.75)
        assert to_stereo(both) is both


class TestWriting:
    def test_beyond_full_scale_is_held_there(self, tmp_path):
        write_wav(tmp_path / "a.wav", np.array([[2.0], [-2.0], [0.5]], np.float32), 16)
        assert read_sound(tmp_path / "a.wav")[:, 0] == pytest.approx([1, -1, 0.5], abs=1e-4)

    def test_nothing_is_left_where_it_cannot_be_written(self, tmp_path):
        (tmp_path / "file").write_text("in the way")
        with pytest.raises(OutputFailed):
            write_wav(tmp_path / "file" / "a.wav", clicks())
        assert [path.name for path in tmp_path.iterdir()] == ["file"]

    def test_other_depths_are_refused(self, tmp_path):
        with pytest.raises(ValueError, match="16 or 24"):
            write_wav(tmp_path / "a.wav", clicks(), 32)

"""Animated stills: every picture at its moment as far as the format can say it, colours near enough for mail."""

from __future__ import annotations

from fractions import Fraction

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from segmentkit.errors import OutputFailed
from segmentkit.media import ffmpeg
from segmentkit.media.animated import animated_facts, begins, path_kind
from segmentkit.timebase import Rate
from tests.clips import PATCHES, read_number, read_patches
from tests.media.joined import LENGTHS, R25, R2997, SIZE, delivery, joined, numbered

KINDS = ("gif", "webp")


def shown(path):
    """Every picture of a file with the millisecond at which it begins, as Pillow reads it: RGB, uint8."""
    now, found = 0, []
    with Image.open(path) as picture:
        for index in range(picture.n_frames):
            picture.seek(index)
            picture.load()
            found.append((now, np.asarray(picture.convert("RGB"))))
            now += round(picture.info["duration"])
    return found, now


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("rate", [R25, R2997, Rate(Fraction(25, 2))])
def test_each_picture_begins_at_the_nearest_unit(tmp_path, kind, rate):
    with joined(tmp_path, delivery(kind, kind), rate=rate) as movie:
        pictures, end = shown(movie.path)
        facts = movie.facts
    unit = {"gif": 10, "webp": 1}[kind]
    assert [read_number(rgb) for _, rgb in pictures] == list(range(sum(LENGTHS)))
    for k, (moment, _) in enumerate(pictures):
        assert abs(moment - k * 1000 / rate.fps) <= Fraction(unit, 2)
        assert moment % unit == 0
    assert abs(end - sum(LENGTHS) * 1000 / rate.fps) <= Fraction(unit, 2)
    assert (facts.frames, facts.rate, facts.size, facts.samples) == (sum(LENGTHS), rate.fps, SIZE, 0)
    assert (facts.video_codec, facts.audio_codec) == (kind, "none")


def test_another_program_sees_the_gif_the_same(tmp_path):
    with joined(tmp_path, delivery("gif", "gif"), rate=R25) as movie:
        raw = ffmpeg.run([
            "-i", ffmpeg.named(movie.path), "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1",
        ]).output  # fmt: skip
        with av.open(str(movie.path)) as source:
            moments = [Fraction(f.pts * f.time_base) for f in source.decode(video=0)]
    pictures = np.frombuffer(raw, np.uint8).reshape(-1, SIZE.height, SIZE.width, 3)
    assert [read_number(rgb) for rgb in pictures] == list(range(sum(LENGTHS)))
    assert moments == [Fraction(k, 25) for k in range(sum(LENGTHS))]


@pytest.mark.parametrize(("kind", "most"), [("gif", 12), ("webp", 8)])
def test_colours_are_those_of_the_picture(tmp_path, kind, most):
    with joined(tmp_path, delivery(kind, kind), lengths=(3,)) as movie:
        rgb = shown(movie.path)[0][0][1]
    assert np.abs(read_patches(rgb) - np.array(PATCHES)).max() <= most


@pytest.mark.parametrize("kind", KINDS)
def test_a_frozen_picture_is_stored_once(tmp_path, kind):
    with joined(tmp_path, delivery(kind, kind), lengths=(30,), draw=lambda k: numbered(min(k, 9))) as movie:
        pictures, end = shown(movie.path)
        assert movie.facts.frames == 30
    assert (len(pictures), end) == (10, 1200)


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_bytes_again(tmp_path, kind):
    found = []
    for name in "ab":
        (tmp_path / name).mkdir()
        with joined(tmp_path / name, delivery(kind, kind), lengths=(4, 3)) as movie:
            found.append(movie.path.read_bytes())
    assert found[0] == found[1]
    assert str(tmp_path).encode() not in found[0]


@pytest.mark.parametrize("kind", KINDS)
def test_it_goes_round_for_ever(tmp_path, kind):
    with joined(tmp_path, delivery(kind, kind), lengths=(4,)) as movie, Image.open(movie.path) as picture:
        assert picture.info["loop"] == 0


@given(
    st.integers(0, 10_000),
    st.sampled_from([Rate(Fraction(r)) for r in ("10", "12", "25/2", "24000/1001", "30000/1001", "30", "50")]),
)
def test_rounding_never_adds_up(frame, rate):
    for kind, unit in (("gif", 100), ("webp", 1000)):
        assert abs(Fraction(begins(frame, rate, kind), unit) - frame / rate.fps) <= Fraction(1, 2 * unit)
        assert begins(frame + 1, rate, kind) > begins(frame, rate, kind)


class TestFaults:
    def test_another_length_is_found(self, tmp_path):
        with joined(tmp_path, delivery("gif", "gif")) as movie:
            with pytest.raises(OutputFailed, match="it lasts 1680 ms instead of 1640 ms"):
                animated_facts(movie.path, frames=sum(LENGTHS) - 1, size=SIZE, rate=R25)
            with pytest.raises(OutputFailed, match="between two frames"):
                animated_facts(movie.path, frames=sum(LENGTHS), size=SIZE, rate=R2997)

    def test_one_that_was_cut_off(self, tmp_path):
        with joined(tmp_path, delivery("webp", "webp")) as movie:
            data = movie.path.read_bytes()
        (tmp_path / "short.webp").write_bytes(data[: len(data) // 2])
        with pytest.raises(OutputFailed, match=r"does not decode|not written as asked"):
            animated_facts(tmp_path / "short.webp", frames=sum(LENGTHS), size=SIZE, rate=R25)

    def test_something_else(self, tmp_path):
        (tmp_path / "a.gif").write_bytes(b"text and no picture")
        with pytest.raises(OutputFailed, match="neither a GIF nor a WebP"):
            path_kind(tmp_path / "a.gif")
        with pytest.raises(OutputFailed, match="cannot be read"):
            path_kind(tmp_path / "none.gif")

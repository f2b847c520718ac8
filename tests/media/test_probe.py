"""What is refused at the door, in which words, and how quickly."""

from __future__ import annotations

import os
import time
from fractions import Fraction

import av
import cv2
import numpy as np
import pytest

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Size
from segmentkit.media import ffmpeg
from segmentkit.media.avframes import blank_frame
from segmentkit.media.normalise import normalise
from segmentkit.media.probe import probe
from segmentkit.media.store import Store
from tests.clips import Coding, Track, beep, coded, cut_short, damage, make_clip, steady
from tests.media.test_ffmpeg import children

SECOND = steady(30, 1)


def refusal(path, store=None):
    """The text with which a file is refused: one line, with its name, a remedy, and no traces of the library."""
    with pytest.raises(MediaUnusable) as raised:
        normalise(path, store) if store else probe(path)
    text = str(raised.value)
    assert text.startswith(str(path))
    assert text.count(" — ") >= 2
    assert "\n" not in text
    assert "@ 0x" not in text
    assert "Errno" not in text
    return text


@pytest.fixture
def whole(tmp_path):
    return make_clip(tmp_path / "whole.mp4", steady(30, 2), tracks=[Track(samples=beep(2.0))])


class TestRefused:
    def test_no_such_file(self, tmp_path):
        assert "there is no such file" in refusal(tmp_path / "none.mp4")

    def test_a_folder(self, tmp_path):
        assert "is a folder" in refusal(tmp_path)

    def test_a_pipe_does_not_wait_for_ever(self, tmp_path):
        os.mkfifo(tmp_path / "pipe.mp4")
        assert "is a device or a pipe" in refusal(tmp_path / "pipe.mp4")

    def test_nothing_in_it(self, tmp_path):
        (tmp_path / "a.mp4").write_bytes(b"")
        assert "is empty, 0 bytes" in refusal(tmp_path / "a.mp4")

    def test_text(self, tmp_path):
        (tmp_path / "a.mp4").write_text("Dear team, the clip is attached — é.\n" * 50)
        assert "is text, not a clip" in refusal(tmp_path / "a.mp4")

    def test_noise(self, tmp_path):
        (tmp_path / "a.mp4").write_bytes(np.random.default_rng(1).integers(0, 256, 9000, np.uint8).tobytes())
        assert "cannot be opened as a clip" in refusal(tmp_path / "a.mp4")

    @pytest.mark.parametrize(
        "text",
        ["ffconcat version 1.0\nfile whole.mp4\n", "#EXTM3U\n#EXT-X-TARGETDURATION:2\n#EXTINF:2,\nwhole.mp4\n"],
        ids=["concat", "m3u8"],
    )
    def test_a_play_list_is_not_followed(self, tmp_path, whole, text):
        assert whole.name in text  # it would be there to be read
        (tmp_path / "a.mp4").write_text(text)
        assert "is a play list" in refusal(tmp_path / "a.mp4")

    def test_a_picture_with_the_wrong_name(self, tmp_path):
        cv2.imwrite(str(tmp_path / "a.jpg"), coded(3))
        (tmp_path / "a.jpg").rename(tmp_path / "a.mp4")
        assert "is a still picture" in refusal(tmp_path / "a.mp4")

    def test_sound_only(self, tmp_path):
        ffmpeg.run(["-f", "lavfi", "-i", "sine=duration=1", ffmpeg.named(tmp_path / "a.m4a")])
        assert "holds sound only" in refusal(tmp_path / "a.m4a")

    def test_no_frames(self, tmp_path):
        with av.open(str(tmp_path / "a.mkv"), "w") as output:
            stream = output.add_stream("libx264", rate=30)
            stream.width, stream.height, stream.pix_fmt = 320, 180, "yuv420p"
            output.start_encoding()
        assert "0 frames decode" in refusal(tmp_path / "a.mkv")

    def test_cut_off_before_the_index(self, tmp_path, whole):
        assert "the part that lists its pictures is missing" in refusal(cut_short(whole, tmp_path / "a.mp4", 0.6))

    def test_cut_off_after_the_index(self, tmp_path):
        whole = make_clip(tmp_path / "w.mp4", steady(30, 2), container={"movflags": "+faststart"})
        text = refusal(cut_short(whole, tmp_path / "a.mp4", 0.6))
        assert "was cut off: its pictures end at " in text
        assert "of 2s" in text

    def test_cut_off_matroska(self, tmp_path):
        whole = make_clip(tmp_path / "w.mkv", steady(30, 5), ticks=Fraction(1, 1000))
        assert "was cut off" in refusal(cut_short(whole, tmp_path / "a.mkv", 0.3))

    def test_damaged_from_some_point_on(self, tmp_path, whole):
        path = damage(whole, tmp_path / "a.mp4", lambda k: k >= 30)
        text = refusal(path, Store(tmp_path / "s"))
        assert "is damaged from " in text
        assert "cut it before that" in text

    def test_damaged_from_the_start(self, tmp_path, whole):
        path = damage(whole, tmp_path / "a.mp4", lambda _: True)
        assert "none of its pictures decodes" in refusal(path, Store(tmp_path / "s"))

    @pytest.mark.slow
    def test_a_long_damaged_file_does_not_hang_and_leaves_no_process(self, tmp_path):
        before = children()
        whole = make_clip(tmp_path / "w.mp4", steady(30, 60), size=Size(64, 48))
        start = time.monotonic()
        refusal(damage(whole, tmp_path / "a.mp4", lambda k: k % 3 > 0), Store(tmp_path / "s"))
        assert time.monotonic() - start < 30
        assert children() == before

    @pytest.mark.parametrize("size", [Size(8192, 8192), pytest.param(Size(16000, 8000), marks=pytest.mark.slow)])
    def test_a_huge_picture_before_it_is_decoded(self, tmp_path, size):
        coding = Coding(options={"preset": "ultrafast", "crf": "50"})
        blank = blank_frame(size)
        path = make_clip(tmp_path / "a.mp4", (Fraction(0),), size=size, coding=coding, frame=lambda _: blank)
        start = time.process_time()
        assert f"pictures are {size}" in refusal(path)
        assert time.process_time() - start < 1

    def test_a_clip_of_hours(self, tmp_path):
        path = make_clip(tmp_path / "a.mp4", (Fraction(0), Fraction(3600), Fraction(7200)), size=Size(64, 48))
        assert "at most 600s are taken" in refusal(path)

    def test_pictures_that_change_their_size(self, tmp_path):
        one = make_clip(tmp_path / "a.ts", steady(30, 1))
        two = make_clip(tmp_path / "b.ts", steady(30, 1), size=Size(160, 90))
        (tmp_path / "c.ts").write_bytes(one.read_bytes() + two.read_bytes())
        text = refusal(tmp_path / "c.ts", Store(tmp_path / "s"))
        assert "change from 320x180 yuv420p to 160x90" in text


class TestTold:
    def test_the_tracks_of_a_phone(self, tmp_path):
        path = make_clip(
            tmp_path / "a.mov", SECOND, timecode="01:00:00:00", tracks=[Track(samples=beep(1.0))], start=Fraction(1, 2)
        )
        found = probe(path)
        assert (found.container[:3], found.codec, found.first) == ("mov", "h264", Fraction(1, 2))
        assert found.sound.channels == 2
        assert found.times == SECOND
        assert found.duration == 1

    def test_the_track_that_moves(self, tmp_path):
        with av.open(str(tmp_path / "a.mov"), "w") as output:
            streams = [output.add_stream("libx264", rate=30) for _ in range(2)]
            for stream, size in zip(streams, (Size(640, 360), Size(320, 180)), strict=True):
                stream.width, stream.height, stream.pix_fmt = size.width, size.height, "yuv420p"
            for index, stream in enumerate(streams):
                for k in range(1 if index == 0 else 30):
                    picture = coded(k, Size(stream.width, stream.height))
                    output.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
                output.mux(stream.encode(None))
        found = probe(tmp_path / "a.mov")
        assert (found.video, len(found.times), found.look.size) == (1, 30, Size(320, 180))

    def test_names_are_names(self, tmp_path, monkeypatch):
        monkeypatch.chdir(tmp_path)
        for name in ("it's.mp4", "a:b,c[1];d.mp4", "-dash.mp4", "100%.mp4", "é ü.mp4"):
            path = make_clip(tmp_path / name, steady(30, Fraction(1, 3)))
            assert len(probe(path.relative_to(tmp_path)).times) == 10

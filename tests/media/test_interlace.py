"""Interlaced frames: lines of the right moments, in the right order, and said so."""

from __future__ import annotations

import re

import av
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pymediainfo import MediaInfo

from segmentkit.errors import OutputFailed
from segmentkit.media import ffmpeg
from segmentkit.media.avframes import plane_view
from segmentkit.media.encode import PictureWriter
from segmentkit.media.interlace import Weaver, field_rows, woven
from segmentkit.media.planes import Planes, blank
from segmentkit.media.verify import read_back
from tests.media.joined import R50, R5994, SIZE, delivery, joined, number_of, seen, tried

FILES = tried([
    ("h264", "mp4"), ("h264", "mov"), ("prores", "mov"), ("mpeg2", "mxf"), ("mpeg2main", "mxf"), ("mpeg2main", "mpg"),
])  # fmt: skip
LENGTHS = (4, 30, 10)


def moving(k):
    """A pattern of slanting waves that moves by three pixels a picture, with chroma that moves too."""
    y, x = np.mgrid[0 : SIZE.height, 0 : SIZE.width]
    luma = 125 + 90 * np.sin((x + 0.7 * y - 3 * k) / 7)
    cb = 128 + 60 * np.sin((x[::2, ::2] - 3 * k) / 9)
    return Planes(*(np.rint(plane).astype(np.uint8) for plane in (luma, cb, 256 - cb)))


def field(frame, first):
    """A field as a picture of the frame's height."""
    return np.repeat(frame[first::2], 2, axis=0)[: len(frame)]


class TestWeaving:
    def test_flat_pictures_stay_flat(self):
        early, late = ([np.full((8, 4), value, np.uint8)] for value in (50, 200))
        made = woven(early, late, "top")[0]
        assert made[:, 0].tolist() == [50, 200] * 4
        assert woven(early, late, "bottom")[0][:, 0].tolist() == [200, 50] * 4

    def test_lines_that_alternate_are_taken_out_and_slow_ones_kept(self):
        """Weights 1/4, 1/2, 1/4: nothing is left at one line up, one line down; half at two up, two down."""
        fast = np.tile(np.array([100, 140], np.uint8), 8)[:, None].repeat(4, axis=1)
        assert set(np.unique(field_rows(fast, 0)[1:-1])) == {120}
        slow = np.tile(np.array([100, 100, 140, 140], np.uint8), 4)[:, None].repeat(4, axis=1)
        assert set(np.unique(field_rows(slow, 0)[1:-1])) == {110, 130}

    @pytest.mark.parametrize("order", ["top", "bottom"])
    def test_another_program_weaves_the_same(self, order):
        """Against the tinterlace filter of ffmpeg with its low-pass, on noise; it rounds 1/2 down: within one step.

        At the edges it has the field's own line stand in, where here the picture's does; those lines are left out.
        """
        noise = np.random.default_rng(5)
        pictures = [
            Planes(*(noise.integers(16, 236, (SIZE.height // k, SIZE.width // k), np.uint8) for k in (1, 2, 2)))
            for _ in range(8)
        ]
        data = b"".join(plane.tobytes() for p in pictures for plane in (p.y, p.u, p.v))
        done = ffmpeg.run(
            ["-f", "rawvideo", "-pix_fmt", "yuv420p", "-s", str(SIZE), "-r", "50", "-i", "pipe:0", "-vf",
             f"tinterlace=interleave_{order}:flags=low_pass_filter", "-f", "rawvideo", "pipe:1"],
            given=data,
        )  # fmt: skip
        other = np.frombuffer(done.output, np.uint8).reshape(4, -1)
        for k in range(4):
            early, late = ((p.y, p.u, p.v) for p in pictures[2 * k : 2 * k + 2])
            at = 0
            for plane in woven(early, late, order):
                theirs = other[k, at : at + plane.size].reshape(plane.shape)
                assert np.abs(plane.astype(int) - theirs)[2:-2].max() <= 1
                at += plane.size

    @given(st.lists(st.integers(1, 7), min_size=1, max_size=12))
    def test_two_pictures_a_frame_whatever_they_come_as(self, repeats):
        """A law: the fields in order are the pictures in order, each as often as it was given."""
        weaver, shown = Weaver("top"), []
        for number, repeat in enumerate(repeats):
            for planes, times in weaver.frames([np.full((4, 2), number, np.uint8)], repeat):
                shown += [int(planes[0][0, 0]), int(planes[0][1, 0])] * times
        given_ = [number for number, repeat in enumerate(repeats) for _ in range(repeat)]
        assert shown == given_[: len(given_) // 2 * 2]
        assert weaver.waiting == bool(len(given_) % 2)

    def test_a_frozen_picture_is_the_same_in_both_fields(self):
        picture = moving(3)
        planes = (picture.y, picture.u, picture.v)
        ((frame, times),) = Weaver("top").frames(planes, 10)
        assert times == 5
        assert np.array_equal(frame[0][0::2], field_rows(picture.y, 0))
        assert np.array_equal(frame[0][1::2], field_rows(picture.y, 1))


@pytest.mark.parametrize("order", ["top", "bottom"])
@pytest.mark.parametrize(("coding", "container"), FILES)
class TestFiles:
    def test_each_field_is_of_its_moment(self, tmp_path, coding, container, order):
        with joined(tmp_path, delivery(coding, container, order), rate=R5994, lengths=LENGTHS) as movie:
            frames = seen(movie.path)
            facts = read_back(movie.path)
        first = {"top": 0, "bottom": 1}[order]
        numbers = [number_of(field(frame, row)) for frame in frames for row in (first, 1 - first)]
        assert numbers == list(range(sum(LENGTHS)))
        assert (facts.frames, facts.rate, facts.field_order) == (sum(LENGTHS) // 2, R5994.fps / 2, order)
        assert movie.facts.field_order == order

    def test_a_detector_of_fields_says_so(self, tmp_path, coding, container, order):
        """The idet filter of ffmpeg, which looks at pictures and not at marks (values for moving pictures)."""
        with joined(tmp_path, delivery(coding, container, order), rate=R50, lengths=LENGTHS, draw=moving) as movie:
            told = ffmpeg.run([
                "-i", ffmpeg.named(movie.path), "-map", "0:v", "-vf", "idet,metadata=print:file=-", "-f", "null", "-",
            ]).output.decode()  # fmt: skip
        last = {key: float(value) for key, value in re.findall(r"lavfi\.idet\.(multiple\.\w+)=([\d.]+)", told)}
        letters = {"top": "tff", "bottom": "bff"}
        other = letters["bottom" if order == "top" else "top"]
        assert last[f"multiple.{letters[order]}"] >= sum(LENGTHS) // 2 - 2
        assert last[f"multiple.{other}"] == last["multiple.progressive"] == 0

    def test_another_reader_tells_the_order(self, tmp_path, coding, container, order):
        with joined(tmp_path, delivery(coding, container, order), rate=R50, lengths=LENGTHS) as movie:
            picture = MediaInfo.parse(movie.path).video_tracks[0].to_data()
        assert picture["scan_type"] in {"Interlaced", "MBAFF"}
        assert picture["scan_order"] == {"top": "TFF", "bottom": "BFF"}[order]
        assert picture["frame_rate"] == "25.000"


@pytest.mark.parametrize(
    ("coding", "container"), [("h264", "mp4"), ("mpeg2main", "mxf"), ("mpeg2", "mxf"), ("prores", "mov")]
)
@pytest.mark.parametrize("order", ["top", "bottom"])
def test_chroma_belongs_to_its_field(tmp_path, coding, container, order):
    """In 4:2:0 rows of chroma belong to the fields in turn, as in 4:2:2 (ISO/IEC 13818-2, 6.1.1.8)."""
    to = delivery(coding, container, order)
    with (
        joined(tmp_path, to, rate=R50, lengths=(4, 8), draw=lambda k: blank(SIZE, 120, 100 + 50 * (k % 2))) as movie,
        av.open(str(movie.path)) as source,
    ):
        frames = [frame.reformat(format=frame.format.name.replace("10le", "")) for frame in source.decode(video=0)]
    first = {"top": 0, "bottom": 1}[order]
    for frame in frames:
        cb = plane_view(frame, 1).astype(int)
        assert np.abs(cb[first::2] - 100).max() <= 4
        assert np.abs(cb[1 - first :: 2] - 150).max() <= 4


def test_every_frame_is_marked(tmp_path):
    """Deinterlacers go by the mark of each frame: `separatefields` takes the marked one first."""
    with (
        joined(tmp_path, delivery("mpeg2", "mxf", "bottom"), rate=R50, lengths=LENGTHS) as movie,
        av.open(str(movie.path)) as source,
    ):
        assert all(frame.interlaced_frame for frame in source.decode(video=0))


def test_an_odd_piece_is_refused_before_it_is_encoded(tmp_path):
    with pytest.raises(OutputFailed, match="a frame takes two pictures"):
        PictureWriter(tmp_path / "a.mp4", size=SIZE, rate=R50, delivery=delivery("h264", "mp4", "top"), length=7)


def test_an_odd_number_of_pictures_is_refused_at_the_end(tmp_path):
    writer = PictureWriter(tmp_path / "a.mp4", size=SIZE, rate=R50, delivery=delivery("h264", "mp4", "top"))
    writer.write(blank(SIZE), 7)
    with pytest.raises(OutputFailed, match="7 pictures are to be interlaced"):
        writer.finish()
    writer.abort()

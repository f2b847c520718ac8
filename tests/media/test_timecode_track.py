"""The label of the first frame: in every kind of file, in drop-frame, in groups of MPEG-2, and read by others."""

from __future__ import annotations

import re
from fractions import Fraction

import av
import pytest
from pymediainfo import MediaInfo

from segmentkit.errors import OutputFailed
from segmentkit.media import ffmpeg
from segmentkit.media.timecode_track import comparable, exact, group_label, start_frame, with_label, without_label
from segmentkit.timebase import label_of_frame
from tests.media.joined import LENGTHS, R25, R50, R2997, R5994, delivery, joined, tried

FILES = tried([
    ("h264", "mp4"), ("hevc", "mov"), ("prores", "mov"), ("prores", "mxf"), ("dnxhr", "mxf"), ("mpeg2", "mxf"),
    ("mpeg2main", "mpg"),
])  # fmt: skip
VECTORS = {
    "00:00:00;00": 0, "00:00:59;29": 1799, "00:01:00;02": 1800, "00:05:00;02": 8992, "00:09:59;29": 17981,
    "00:10:00;00": 17982, "01:00:00;00": 107892, "02:30:00;00": 269730, "10:00:00;00": 1078920, "10:03:00;05": 1084319,
}  # fmt: skip
"""Labels of 30000/1001 in drop-frame and their frames: tests of OpenTimelineIO, test_opentime.py."""
GROUP = bytes.fromhex("000001b3 1234 000001b8 00080000 00000100")


def told(path):
    """Labels of the first frame as MediaInfo reads them, by kind of track."""
    return [
        (track.track_type, label)
        for track in MediaInfo.parse(path).tracks
        if (label := track.to_data().get("time_code_of_first_frame"))
    ]


@pytest.mark.parametrize(("label", "frame"), VECTORS.items())
def test_published_vectors(label, frame):
    assert start_frame(label, R2997, "x") == frame
    made = with_label(GROUP, frame, R2997, drop=True)
    assert str(group_label(made)) == label


@pytest.mark.parametrize(
    ("label", "rate", "says"),
    [
        ("00:01:00;00", R2997, "does not exist"),
        ("10:00:00;00", R25, "is a drop-frame label"),
        ("10:00:00:25", R25, "frame 25"),
        ("24:00:00:00", R25, "24 hours"),
        ("10s", R25, "is not a label"),
        ("ten", R25, "is not a time"),
    ],
)
def test_what_is_no_label_is_refused(label, rate, says):
    with pytest.raises(OutputFailed, match=says) as raised:
        start_frame(label, rate, "broadcast, timecode")
    assert str(raised.value).startswith("broadcast, timecode — ")


@pytest.mark.parametrize(("coding", "container"), FILES)
@pytest.mark.parametrize(
    ("rate", "label"),
    [(R25, "09:59:30:00"), (R2997, "00:59:59;28"), (R50, "10:00:00:00"), (R5994, "00:09:59;59")],
)
def test_others_read_it_back(tmp_path, coding, container, rate, label):
    with joined(tmp_path, delivery(coding, container), rate=rate, timecode=label) as movie:
        assert movie.facts.timecode == label
        read = told(movie.path)
    assert read
    assert {found for _, found in read} == {label}
    if container == "mxf":
        assert len([kind for kind, _ in read if kind == "Other"]) == 3  # material package, source package, system item


@pytest.mark.parametrize("container", ["mxf", "mpg", "mov"])
def test_labels_of_groups_run_on_over_the_seams(tmp_path, container):
    to = delivery("mpeg2main", container)
    with joined(tmp_path, to, rate=R2997, lengths=(20, 41, 17), timecode="00:00:59;10") as movie:
        raw = ffmpeg.run([
            "-i", ffmpeg.named(movie.path), "-map", "0:v", "-c", "copy", "-f", "mpeg2video", "pipe:1",
        ]).output  # fmt: skip
        with av.open(str(movie.path)) as source:
            first = [k for k, p in enumerate(p for p in source.demux(video=0) if p.size) if p.is_keyframe]
    groups = [str(group_label(raw[spot.start() : spot.start() + 8])) for spot in re.finditer(b"\0\0\1\xb8", raw)]
    start = start_frame("00:00:59;10", R2997, "x")
    assert {0, 20, 61} < set(first)
    assert groups == [str(label_of_frame(start + frame, R2997, drop=True)) for frame in first]


def test_without_one_labels_start_at_zero(tmp_path):
    with joined(tmp_path, delivery("mpeg2", "mxf"), rate=R25, lengths=LENGTHS) as movie:
        assert movie.facts.timecode == "00:00:00:00"


@pytest.mark.parametrize(("coding", "container"), [("vp9", "webm"), ("webp", "webp"), ("gif", "gif")])
def test_a_file_that_holds_none_says_so(tmp_path, coding, container):
    with (
        pytest.raises(OutputFailed, match=f"a {container} file holds no label"),
        joined(tmp_path, delivery(coding, container), timecode="10:00:00:00"),
    ):
        pass


class TestGroupHeaders:
    def test_only_the_label_changes(self):
        made = with_label(GROUP, 1800, R2997, drop=True)
        assert len(made) == len(GROUP)
        assert without_label(made) == without_label(GROUP)
        assert made[-4:] == GROUP[-4:]
        assert comparable("mpeg2video", made) == comparable("mpeg2video", GROUP)
        assert comparable("h264", made) == made

    def test_the_bits_are_where_the_standard_has_them(self):
        """ISO/IEC 13818-2, table 6-11: drop 1 bit, hours 5, minutes 6, marker 1, seconds 6, pictures 6."""
        made = with_label(GROUP, start_frame("12:34:56;07", R2997, "x"), R2997, drop=True)
        word = int.from_bytes(made[10:14], "big")
        assert f"{word >> 7:025b}" == "1" + f"{12:05b}" + f"{34:06b}" + "1" + f"{56:06b}" + f"{7:06b}"

    def test_pictures_without_a_group_are_left_alone(self):
        data = bytes.fromhex("00000100 0012")
        assert with_label(data, 5, R25, drop=False) == data
        assert group_label(data) is None


@pytest.mark.parametrize("rate", [R25, R50, R2997, R5994])
def test_rounded_rates_are_told_as_they_are_meant(rate):
    """Matroska states how long a frame lasts in whole nanoseconds."""
    assert exact(Fraction(10**9, round(10**9 / rate.fps))) == rate.fps
    assert exact(Fraction(23, 2)) == Fraction(23, 2)

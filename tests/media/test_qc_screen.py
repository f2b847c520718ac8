"""A finished file decoded again: containers, depths, fields; black, freezes and flashes as other programs find them."""

from __future__ import annotations

import re
from fractions import Fraction

import numpy as np
import pytest

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Rect, Size
from segmentkit.media import ffmpeg
from segmentkit.media.screen import screen
from segmentkit.media.screen_reduce import reduced_size
from segmentkit.screened import FlashKind, LightModel, Look
from segmentkit.timebase import Rate, Span
from tests import spoiled
from tests.clips import Track, beep, cut_short, damage, make_clip, make_interlaced, steady, varying
from tests.spoiled import picture, sound, write


def spoilt(k):
    """Black from frame 60 to 65 and a stand-still from frame 101 to 145."""
    if 60 <= k < 65:
        return np.zeros((90, 160, 3), np.uint8)
    return picture(101) if 101 <= k < 145 else picture(k)


def said(path, graph):
    return ffmpeg.run(["-loglevel", "info", "-i", ffmpeg.named(path), "-vf", graph, "-an", "-f", "null", "-"]).said


@pytest.fixture(scope="module")
def spoilt_file(tmp_path_factory):
    return write(tmp_path_factory.mktemp("spoilt") / "spoilt.mp4", pictures=spoilt)


@pytest.mark.slow
def test_black_as_blackdetect_finds_it(spoilt_file):
    found = screen(spoilt_file, threads=1).pictures.black
    text = said(spoilt_file, "blackdetect=d=0.04:pic_th=0.98:pix_th=0.10")
    (pair,) = re.findall(r"black_start:([\d.]+) black_end:([\d.]+)", text)
    assert (
        [(one.start, one.end) for one in found] == [tuple(round(float(moment) * 25) for moment in pair)] == [(60, 65)]
    )


def test_freezes_as_freezedetect_finds_them(spoilt_file):
    found = screen(spoilt_file, threads=1).pictures.frozen
    text = said(spoilt_file, "freezedetect=n=0.001:d=0.5")
    starts = [round(float(one) * 25) for one in re.findall(r"freeze_start: ([\d.]+)", text)]
    # The planned freeze is broken by the black frames; its parts last 10 and 35 frames, the second counts.
    assert [one.start for one in found] == starts == [65, 101]
    assert found[-1] == Span(101, 145)


@pytest.mark.slow
def test_the_planned_freeze_and_all_cuts_are_found(tmp_path):
    found = screen(write(tmp_path / "a.mp4"), threads=1).pictures
    assert found.frozen == (Span(50, 100),)
    assert [cut for cut in found.cuts if cut in {50, 100}] == [50, 100]
    assert found.odd == ()
    assert found.black == ()
    assert found.flashes == ()


def flashing(k):
    return np.full((90, 160, 3), 235 if k // 3 % 2 else 20, np.uint8)


@pytest.mark.slow
def test_flashes_where_another_program_dims_them(tmp_path):
    """ffmpeg's photosensitivity filter reports a badness above its threshold where it has to act, and 0 at rest."""
    wild, calm = write(tmp_path / "wild.mp4", pictures=flashing), write(tmp_path / "calm.mp4")

    def acts(path):
        text = said(path, "photosensitivity,metadata=mode=print:key=lavfi.photosensitivity.badness")
        values = [float(one) for one in re.findall(r"badness=([\d.]+)", text)]
        return bool(values) and max(values) > 1

    for path, expected in ((wild, True), (calm, False)):
        found = screen(path, threads=1).pictures.flashes
        assert any(not one.sustained for one in found) is expected
        assert acts(path) is expected
    both = {one.model for one in screen(wild, threads=1).pictures.flashes if one.kind is FlashKind.GENERAL}
    assert both == {LightModel.RELATIVE, LightModel.SCREEN}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("suffix", "arguments", "pixels", "bits"),
    [
        ("mov", ["-c:v", "prores_ks", "-profile:v", "3", "-pix_fmt", "yuv422p10le", "-c:a", "pcm_s24le"],
         "yuv422p10le", 10),
        ("mxf", ["-c:v", "mpeg2video", "-q:v", "2", "-pix_fmt", "yuv422p", "-c:a", "pcm_s16le"], "yuv422p", 8),
        ("webm", ["-c:v", "libvpx-vp9", "-cpu-used", "8", "-crf", "20", "-b:v", "0", "-c:a", "libopus"], "yuv420p", 8),
        ("mp4", ["-c:v", "libx265", "-preset", "ultrafast", "-x265-params", "log-level=error:qp=8", "-pix_fmt",
                 "yuv420p10le", "-c:a", "aac"], "yuv420p10le", 10),
    ],
)  # fmt: skip
def test_containers_and_depths(tmp_path, suffix, arguments, pixels, bits):
    source, path = write(tmp_path / "source.mkv", pictures=spoilt), tmp_path / f"a.{suffix}"
    ffmpeg.run(["-i", ffmpeg.named(source), *arguments, ffmpeg.named(path)])
    found = screen(path, reference=sound(), threads=1)
    assert (found.coded.pixels, found.coded.bits, found.pictures.frames) == (pixels, bits, 150)
    assert found.pictures.black == (Span(60, 65),)
    assert found.pictures.uneven is None
    assert found.pictures.levels == ()
    assert any(one.overlap(Span(101, 145)) >= 40 for one in found.pictures.frozen)
    assert found.sound is not None
    assert found.sound.sync is not None
    assert abs(found.sound.sync.late) < 0.002
    assert found.sound.loudness.integrated == pytest.approx(-16, abs=0.2)


@pytest.mark.slow
def test_flashes_in_fields_are_counted_in_fields(tmp_path, monkeypatch):
    """Fields that alternate light and dark, 25 changes a second: a frame holds one of each and never changes."""
    from tests import clips

    monkeypatch.setattr(
        clips, "coded", lambda k, size: np.full((size.height, size.width, 3), 230 if k % 2 else 20, np.uint8)
    )
    path = make_interlaced(tmp_path / "a.mkv", 50, top_first=True, arguments=["-c:v", "ffv1"], size=Size(320, 180))
    found = screen(path, threads=1)
    assert found.coded.fields
    assert found.pictures.frozen == (Span(0, 50),)
    flashes = [one for one in found.pictures.flashes if one.kind is FlashKind.GENERAL]
    assert flashes
    assert max(one.changes for one in flashes) > 20
    assert max(one.span.end for one in flashes) <= 50


@pytest.mark.slow
def test_a_varying_rate_is_told(tmp_path):
    path = make_clip(tmp_path / "a.mp4", varying([(20, 25), (20, 20)]), tracks=[Track(samples=beep(1.8))])
    assert screen(path, threads=1).pictures.uneven is not None
    assert screen(make_clip(tmp_path / "b.mp4", steady(Fraction(30000, 1001), 2)), threads=1).pictures.uneven is None


@pytest.mark.slow
def test_a_look_sees_the_contrast_of_a_place(tmp_path):
    inside = Rect(32 / 160, 60 / 90, 80 / 160, 10 / 90)
    looks = [Look(name="0", frame=120, area=inside), Look(name="1", frame=60, area=Rect(0.4, 0.1, 0.02, 0.02))]
    seen = {
        one.look.name: one.contrast for one in screen(write(tmp_path / "a.mp4"), looks=looks, threads=1).pictures.looked
    }
    # White of 225 on a panel of 28 by WCAG 2.2: (0.7529 + 0.05) / (0.0116 + 0.05).
    assert seen["0"] == pytest.approx(13.0, rel=0.1)
    assert seen["1"] < 2


def test_headers_are_read(tmp_path):
    path = make_clip(
        tmp_path / "a.mov", steady(25, 1), tracks=[Track(samples=beep(1), codec="pcm_s16le")],
        tags={"title": "Room", "location": "+54.6000+018.2000/"}, timecode="10:00:00:00",
    )  # fmt: skip
    found = screen(path, threads=1)
    assert found.coded.timecode == "10:00:00:00"
    assert (found.coded.pictures, found.coded.sounds) == (1, 1)
    assert {"title", "location"} <= {tag.name for tag in found.tags}
    assert any(tag.where == "bytes of the header" for tag in found.tags)


def test_a_file_without_sound(tmp_path):
    assert screen(make_clip(tmp_path / "a.mp4", steady(25, 1)), threads=1).sound is None


def test_what_cannot_be_decoded_is_told(tmp_path):
    whole = write(tmp_path / "whole.mp4", pictures=spoilt)
    broken = damage(whole, tmp_path / "broken.mp4", lambda k: k % 3 == 1)
    for path in (tmp_path / "none.mp4", broken):
        with pytest.raises(MediaUnusable) as raised:
            screen(path, threads=1)
        assert str(raised.value).count(" — ") >= 2
    short = cut_short(whole, tmp_path / "short.mp4", 0.5)
    with pytest.raises(MediaUnusable):
        screen(short, threads=1)


@pytest.mark.parametrize(
    ("size", "reduced"),
    [
        (Size(1920, 1080), Size(320, 180)),
        (Size(1080, 1920), Size(180, 320)),
        (Size(1080, 1080), Size(240, 240)),
        (Size(160, 90), Size(160, 90)),
    ],
)
def test_reduced_pictures_keep_the_shape(size, reduced):
    assert reduced_size(size) == reduced


@pytest.mark.slow
def test_memory_does_not_grow_with_length(tmp_path):
    """Peak memory of a process of its own, for half a minute and for two."""
    import subprocess
    import sys

    peaks = []
    for seconds in (30, 120):
        path = tmp_path / f"{seconds}.mp4"
        ffmpeg.run([
            "-f", "lavfi", "-i", f"testsrc2=size=320x180:rate=25:duration={seconds}",
            "-f", "lavfi", "-i", f"anoisesrc=r=48000:d={seconds}:a=0.1", "-ac", "2", "-preset", "ultrafast",
            "-pix_fmt", "yuv420p", ffmpeg.named(path),
        ])  # fmt: skip
        code = (
            "import resource, sys; from pathlib import Path; from segmentkit.media.screen import screen;"
            "screen(Path(sys.argv[1]), threads=1); print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)"
        )
        done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
        peaks.append(int(done.stdout))
    assert peaks[1] - peaks[0] < 20, peaks


def test_the_good_file_is_what_it_says(tmp_path):
    found = spoiled.measured(write(tmp_path / "a.mp4"))
    assert (found.pictures.frames, found.coded.rate, found.coded.size) == (150, Rate(Fraction(25)), spoiled.SIZE)
    assert found.programme == Span(0, 150)
    assert len(found.content) == 64

"""Strange files are opened in a process that may fail: one line each, nothing runs on, nothing leaks."""

from __future__ import annotations

import json
import os
import random
import re
import struct
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Size
from segmentkit.media.guarded import GuardLimits, guarded_clip, guarded_still
from segmentkit.media.guarded_worker import _mean_of
from segmentkit.media.store import Store
from tests.clips import SMALL, Track, beep, coded, cut_short, make_clip, steady

LIMITS = GuardLimits()


def children() -> set[int]:
    """Processes that this one has started and not yet buried."""
    return {int(p) for task in Path("/proc/self/task").iterdir() for p in (task / "children").read_text().split()}


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "store")


@pytest.fixture
def clip(tmp_path):
    return make_clip(tmp_path / "clip.mp4", steady(30, 1), tracks=(Track(samples=beep(1.0)),))


def test_a_clip_is_made_safe_once_and_its_source_stays(clip, store):
    before = clip.read_bytes()
    first = guarded_clip(clip, store)
    assert (first.facts.frames, first.facts.size, first.header.codec) == (30, SMALL, "h264")
    assert first.header.channels == 2
    assert 0 < first.peak < 600_000_000
    again = guarded_clip(clip, store)
    assert again.facts == first.facts
    assert again.peak == 0
    assert clip.read_bytes() == before
    assert not children()


@pytest.mark.slow
def test_an_evicted_working_copy_is_made_again(clip, store):
    first = guarded_clip(clip, store)
    first.facts.normalised.unlink()
    assert guarded_clip(clip, store).facts.frames == 30


@pytest.mark.parametrize(
    ("limits", "said"),
    [
        (replace(LIMITS, pixels=50_000), r"0\.1 million pixels — at most 0\.1"),
        (replace(LIMITS, frames=20), "30 frames — at most 20"),
        (replace(LIMITS, seconds=0), "lasts 1s — at most 0 s"),
        (replace(LIMITS, size=1000), "MB — at most 0 MB"),
        (replace(LIMITS, memory=120_000_000), "memory|broke down"),
        (replace(LIMITS, wall=0.0), "was given up"),
    ],
)
def test_each_limit_holds_and_no_process_is_left(clip, store, limits, said):
    with pytest.raises(MediaUnusable, match=said) as refused:
        guarded_clip(clip, store, limits)
    assert "\n" not in str(refused.value)
    assert not children()
    assert not list(store.root.rglob("*.partial*"))


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    [
        "it's one.mp4",
        'say "hi".mp4',
        "two\nlines.mp4",
        "-dash.mp4",
        "a:b,c[1];d.mp4",
        "%d%s.mp4",
        "schön été 高尔夫.mp4",
        "concat:x.mp4",
    ],
)
def test_odd_names_are_names(clip, store, name, tmp_path):
    odd = tmp_path / name
    clip.rename(odd)
    assert guarded_clip(odd, store).facts.frames == 30


@pytest.mark.slow
def test_a_name_of_broken_bytes_is_a_name(clip, store, tmp_path):
    odd = Path(os.fsdecode(os.fsencode(tmp_path) + b"/bad\xff\xfe.mp4"))
    clip.rename(odd)
    assert guarded_clip(odd, store).facts.frames == 30


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"words and words\n" * 30, "is text"),
        (b"ffconcat version 1.0\nfile '/etc/hostname'\n", "play list"),
        (b"#EXTM3U\nhttp://127.0.0.1:9/a.ts\n", "play list"),
        (b"<?xml version='1.0'?><MPD/>", "play list"),
        (b"\x00\x00\x00\x18ftypmp42" + bytes(500), "was cut off"),
        (bytes(range(256)) * 40, "cannot be opened"),
    ],
)
def test_what_is_no_clip_is_told_in_one_line(tmp_path, store, content, said):
    path = tmp_path / "x.mp4"
    path.write_bytes(content)
    with pytest.raises(MediaUnusable, match=said) as refused:
        guarded_clip(path, store)
    assert "\n" not in str(refused.value)


@pytest.mark.slow
def test_pictures_far_too_large_are_refused_from_the_header(tmp_path, store):
    grey = np.full((4096, 4096, 3), 90, np.uint8)
    big = make_clip(tmp_path / "big.mp4", steady(10, Fraction(1, 10)), size=Size(4096, 4096), picture=lambda _: grey)
    with pytest.raises(MediaUnusable, match=r"16\.8 million pixels — at most 9\.0"):
        guarded_clip(big, store)


TAGS = {
    "location": "+59.3293+018.0686/", "com.apple.quicktime.location.ISO6709": "+59.3293+018.0686/",
    "make": "Rosenholm", "model": "RX-9 of Tom Field", "artist": "Tom Field", "comment": "Lindholm Bay Golf Club",
    "creation_time": "2027-03-04T05:06:07.000000Z", "title": "Tom at Lindholm",
}  # fmt: skip
SECRETS = (b"59.3293", b"Rosenholm", b"Tom Field", b"Lindholm", b"2027-03-04", b"018.0686")


class TestPersonalData:
    @pytest.mark.slow
    def test_kinds_are_named_and_nothing_passes(self, tmp_path, store):
        path = make_clip(
            tmp_path / "a.mp4", steady(30, 1), tags=TAGS, tracks=(Track(samples=beep(1.0)),),
            container={"movflags": "use_metadata_tags"},
        )  # fmt: skip
        raw = path.read_bytes()
        assert all(secret in raw for secret in SECRETS)
        made = guarded_clip(path, store)
        assert {"place", "device", "date", "name", "text"} <= set(made.header.personal)
        for entry in store.root.rglob("*"):
            if entry.is_file():
                data = entry.read_bytes()
                assert not any(secret in data for secret in SECRETS), entry

    @pytest.mark.slow
    def test_the_copys_own_boxes_hold_no_place_no_words_and_no_date(self, clip, store):
        # ISO/IEC 14496-12, 8.2.2 and 8.3.2: creation time in the movie and track headers; 8.10: user data.
        data = guarded_clip(clip, store).facts.normalised.read_bytes()
        for box in (
            b"\xa9xyz",
            b"loci",
            b"\xa9mak",
            b"\xa9mod",
            b"\xa9day",
            b"\xa9nam",
            b"meta\0\0\0\0\0\0\0\x21hdlrmdta",
        ):
            assert box not in data
        for name in (b"mvhd", b"tkhd", b"mdhd"):
            for found in re.finditer(name, data):
                version = data[found.end()]
                form, at = (">Q", 8) if version else (">I", 4)
                assert struct.unpack_from(form, data, found.end() + at - (4 if version else 0)) == (0,), name

    def test_a_still_keeps_its_pixels_only(self, tmp_path, store):
        exif = Image.Exif()
        exif[0x010F], exif[0x0110], exif[0x0112] = "Rosenholm", "RX-9", 6
        exif[0x8825] = {1: "N", 2: (59.0, 19.0, 45.0)}
        path = tmp_path / "face.jpg"
        Image.fromarray(coded(3)).save(path, exif=exif, comment=b"Tom Field")
        clean = guarded_still(path, store)
        with Image.open(clean) as picture:
            assert picture.size == (SMALL.height, SMALL.width)  # upright
            assert not picture.getexif()
            assert set(picture.info) <= {"srgb", "gamma"}
        assert b"Rosenholm" not in clean.read_bytes()


def test_the_quantiser_is_that_of_the_encoder(tmp_path, store):
    # An encoder told to use one quantiser throughout gives the very number to be read: x264's `qp` is for P pictures.
    from tests.clips import Coding

    coding = Coding(options={"preset": "ultrafast", "qp": "37", "x264-params": "ipratio=1:aq-mode=0:bframes=0"})
    path = make_clip(tmp_path / "q.mp4", steady(30, 1), coding=coding)
    assert guarded_clip(path, store).header.quantiser == pytest.approx(37, abs=0.6)


def test_a_structure_without_blocks_has_the_pictures_own_quantiser():
    assert _mean_of(None) is None
    assert _mean_of(struct.pack("@IQQii", 0, 0, 0, 1, 30) + bytes(32)) == 30.0


@pytest.mark.slow
def test_a_cut_off_file_says_where_it_ends(tmp_path, store):
    whole = make_clip(tmp_path / "w.mp4", steady(30, 4), container={"movflags": "+faststart"})
    with pytest.raises(MediaUnusable, match=r"was cut off: its pictures end at [12].*s of 4s"):
        guarded_clip(cut_short(whole, tmp_path / "c.mp4", 0.5), store)


@pytest.mark.slow
def test_broken_containers_never_crash_hang_or_leak(tmp_path, store):
    whole = make_clip(tmp_path / "w.mp4", steady(30, 1), tracks=(Track(samples=beep(1.0)),)).read_bytes()
    draw = random.Random(11)
    said = []
    for number in range(24):
        data = bytearray(whole)
        if number % 3 == 0:
            data = data[: draw.randrange(1, len(data))]
        else:
            # Half of the flips hit the boxes at the end, which say what the file is.
            for _ in range(draw.choice((1, 8, 200))):
                low = 0 if draw.random() < 0.5 else len(data) - 3000
                data[draw.randrange(max(0, low), len(data))] ^= 1 << draw.randrange(8)
        path = tmp_path / f"{number}.mp4"
        path.write_bytes(data)
        try:
            made = guarded_clip(path, store, replace(LIMITS, wall=30.0))
            assert 1 <= made.facts.frames <= 200
        except MediaUnusable as error:
            said.append(str(error))
    assert len(said) >= 6
    assert all("\n" not in text and text.count(" — ") >= 2 for text in said)
    assert not children()
    assert not list(store.root.rglob(".*partial*"))
    for entry in store.root.rglob("*.json"):
        json.loads(entry.read_text())

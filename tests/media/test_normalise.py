"""Frame k of the working copy is frame k of the source, upright and in the colours of the house, whatever was sent."""

from __future__ import annotations

import json
import wave
from fractions import Fraction

import av
import numpy as np
import pytest

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Size
from segmentkit.media import ffmpeg, hdr
from segmentkit.media.avframes import plane_view
from segmentkit.media.frames import ClipReader
from segmentkit.media.normalise import facts_of, normalise
from segmentkit.media.probe import probe
from segmentkit.media.stills import planes_to_rgb
from segmentkit.media.store import Store
from tests.clips import (
    CORNERS,
    PATCHES,
    SMALL,
    Coding,
    Track,
    beep,
    beep_start,
    coded,
    damage,
    hdr_frame,
    make_clip,
    make_interlaced,
    read_corners,
    read_number,
    read_patches,
    steady,
    varying,
    with_odd_messages,
)

HALF = Fraction(1, 2)
FIELDS = ["-flags", "+ilme+ildct", "-g", "10"]


def numbers(facts):
    with ClipReader(facts) as reader:
        return [read_number(reader.planes(k)) for k in range(facts.frames)]


def first_picture(facts):
    with ClipReader(facts) as reader:
        return planes_to_rgb(reader.planes(0))


def samples_of(facts):
    with wave.open(str(facts.sound)) as file:
        assert (file.getframerate(), file.getnchannels(), file.getsampwidth()) == (48_000, 2, 2)
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2)


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "work")


def check(facts, times):
    """Every frame is there once, at its own moment, upright."""
    assert numbers(facts) == list(range(len(times)))
    assert len(facts.times) == len(times)
    assert all(abs(a - b) <= Fraction(1, 1500) for a, b in zip(facts.times, times, strict=True))
    assert read_corners(first_picture(facts)) == tuple(CORNERS)


class TestEveryFrame:
    @pytest.mark.parametrize("fps", [25, Fraction(30000, 1001), 60, 120, 240])
    def test_of_a_constant_rate(self, tmp_path, store, fps):
        times = steady(fps, Fraction(1, 3))
        facts = normalise(make_clip(tmp_path / "a.mp4", times), store)
        check(facts, times)
        assert abs(facts.duration - len(times) / Fraction(fps)) < Fraction(1, 1000)

    def test_of_a_rate_that_varies(self, tmp_path, store):
        times = varying([(15, 30), (5, 10), (15, 30)])
        facts = normalise(make_clip(tmp_path / "a.mp4", times), store)
        check(facts, times)
        assert facts.times == times
        assert "The frame rate varies between 10 and 30 frames a second." in facts.notes

    def test_of_a_slow_motion_ramp(self, tmp_path, store):
        times = varying([(10, 30), (60, 240), (10, 30)])
        facts = normalise(make_clip(tmp_path / "a.mov", times), store)
        check(facts, times)
        assert facts.times == times

    def test_of_jittering_moments(self, tmp_path, store):
        shift = np.random.default_rng(3).integers(-700, 700, 30)
        times = tuple(t + Fraction(int(s), 90_000) for t, s in zip(steady(30, 1), shift, strict=True))
        facts = normalise(make_clip(tmp_path / "a.mp4", times, start=HALF), store)
        check(facts, tuple(t - times[0] for t in times))

    @pytest.mark.parametrize(
        ("name", "coding", "ticks"),
        [
            ("a.mkv", Coding(), Fraction(1, 1000)),
            ("a.ts", Coding(), Fraction(1, 90_000)),
            ("a.avi", Coding(codec="mjpeg", pixels="yuvj420p", matrix=5, full=True, options={}), Fraction(1, 25)),
            ("a.mov", Coding(codec="prores_ks", pixels="yuv422p10le", options={}), Fraction(1, 25_000)),
            ("a.mp4", Coding(options={"g": "250", "x264-params": "open-gop=1"}), Fraction(1, 90_000)),
            ("a.webm", Coding(codec="libvpx-vp9", options={"deadline": "realtime", "b": "2M"}), Fraction(1, 1000)),
        ],
    )  # fmt: skip
    def test_of_each_container(self, tmp_path, store, name, coding, ticks):
        times = steady(25, 1)
        check(normalise(make_clip(tmp_path / name, times, coding=coding, ticks=ticks), store), times)

    def test_of_a_cut_by_edit_list(self, tmp_path, store):
        make_clip(tmp_path / "whole.mp4", steady(30, 2), tracks=[Track(samples=beep(2.0, [1.0]))])
        arguments = ["-ss", "0.5", "-i", ffmpeg.named(tmp_path / "whole.mp4"), "-c", "copy"]
        ffmpeg.run([*arguments, ffmpeg.named(tmp_path / "cut.mp4")])
        with av.open(str(tmp_path / "cut.mp4")) as container:
            shown = [read_number(f.to_ndarray(format="rgb24")) for f in container.decode(video=0)]
        facts = normalise(tmp_path / "cut.mp4", store)
        assert numbers(facts) == shown
        assert shown[0] == 15
        assert abs(beep_start(samples_of(facts)) - 0.5) < 0.005

    def test_in_any_order(self, tmp_path, store):
        facts = normalise(make_clip(tmp_path / "a.mp4", steady(60, 1)), store)
        order = np.random.default_rng(5).permutation(60).tolist()
        with ClipReader(facts) as reader:
            assert [read_number(reader.planes(k)) for k in order] == order
            assert [read_number(reader.planes(k)) for k in (59, 0, 59, 12, 11, 24, 23)] == [59, 0, 59, 12, 11, 24, 23]

    def test_of_a_file_in_which_it_is_the_only_one(self, tmp_path, store):
        facts = normalise(make_clip(tmp_path / "a.mp4", steady(30, Fraction(1, 30))), store)
        assert (numbers(facts), facts.times) == ([0], (0,))


class TestFields:
    @pytest.mark.parametrize("top_first", [True, False])
    @pytest.mark.parametrize(("name", "codec"), [("a.mp4", "libx264"), ("a.ts", "libx264"), ("a.mpg", "mpeg2video")])
    def test_each_becomes_a_frame(self, tmp_path, store, name, codec, top_first):
        make_interlaced(tmp_path / name, 8, top_first=top_first, arguments=["-c:v", codec, "-b:v", "4M", *FIELDS])
        facts = normalise(tmp_path / name, store)
        check(facts, steady(50, Fraction(16, 50)))
        assert any("Interlaced" in note for note in facts.notes)

    def test_of_a_dv_tape(self, tmp_path, store):
        size = Size(720, 576)
        make_interlaced(
            tmp_path / "a.avi",
            4,
            top_first=False,
            size=size,
            matrix=6,
            arguments=["-c:v", "dvvideo", "-aspect", "16:9"],
        )
        facts = normalise(tmp_path / "a.avi", store)
        check(facts, steady(50, Fraction(8, 50)))
        assert facts.size == Size(1024, 576)


class TestUpright:
    @pytest.mark.parametrize("mirrored", [False, True])
    @pytest.mark.parametrize("turn", [0, 1, 2, 3])
    def test_as_the_display_matrix_says_and_as_ffmpeg_shows_it(self, tmp_path, store, turn, mirrored):
        times = steady(30, Fraction(1, 5))
        path = make_clip(tmp_path / "a.mp4", times, coding=Coding(turn=turn, mirrored=mirrored))
        facts = normalise(path, store)
        check(facts, times)
        assert facts.size == (Size(180, 320) if turn % 2 else Size(320, 180))
        raw = ffmpeg.run(["-i", ffmpeg.named(path), "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1"])
        shown = np.frombuffer(raw.output, np.uint8).reshape(facts.size.height, facts.size.width, 3)
        assert read_corners(shown) == read_corners(first_picture(facts))

    def test_an_angle_between_is_refused(self, tmp_path):
        c = round(0.7071 * 65536)
        path = make_clip(tmp_path / "a.mp4", steady(30, HALF), matrix=[c, c, 0, -c, c, 0, 0, 0, 1 << 30])
        with pytest.raises(MediaUnusable, match="no quarter turn"):
            probe(path)

    @pytest.mark.parametrize(("aspect", "size"), [(Fraction(64, 45), Size(340, 180)), (Fraction(8, 9), Size(240, 202))])
    def test_pixels_become_square(self, tmp_path, store, aspect, size):
        path = make_clip(tmp_path / "a.mp4", steady(25, HALF), size=Size(240, 180), coding=Coding(aspect=aspect))
        facts = normalise(path, store)
        check(facts, steady(25, HALF))
        assert facts.size == size

    @pytest.mark.parametrize("pixels", ["yuv444p", "yuv420p"])
    def test_odd_sizes_become_even(self, tmp_path, store, pixels):
        coding = Coding(codec="ffv1", pixels=pixels, options={})
        times = steady(25, HALF)
        path = make_clip(tmp_path / "a.mkv", times, size=Size(321, 181), coding=coding, ticks=Fraction(1, 1000))
        facts = normalise(path, store)
        check(facts, times)
        assert facts.size == Size(320, 180)


class TestColours:
    """`PATCHES` are values of the ITU-R BT.709 system; how they are stored must not show."""

    @pytest.mark.parametrize(
        ("size", "coding"),
        [
            (Size(320, 180), Coding()),
            (Size(320, 180), Coding(full=True)),
            (Size(320, 180), Coding(matrix=6, primaries=6, transfer=6)),
            (Size(320, 180), Coding(matrix=2, primaries=2, transfer=2)),
            (Size(1280, 720), Coding(matrix=2, primaries=2, transfer=2)),
            (Size(320, 180), Coding(pixels="yuv422p10le")),
            (Size(320, 180), Coding(codec="ffv1", pixels="bgr0", options={})),
        ],
        ids=["tagged", "full range", "BT.601", "untagged SD", "untagged HD", "10 bit 4:2:2", "RGB"],
    )
    def test_stay_what_they_were(self, tmp_path, store, size, coding):
        path = make_clip(
            tmp_path / "a.mkv", steady(25, Fraction(1, 5)), size=size, coding=coding, ticks=Fraction(1, 1000)
        )
        facts = normalise(path, store)
        assert np.abs(read_patches(first_picture(facts)) - PATCHES).max() <= 2.5
        with av.open(str(facts.normalised)) as copy:
            context = copy.streams.video[0].codec_context
            marks = (context.colorspace, context.color_primaries, context.color_trc, context.color_range)
        assert tuple(int(m) for m in marks) == (1, 1, 1, 1)

    @pytest.mark.slow
    @pytest.mark.parametrize("transfer", [18, 16], ids=["HLG", "PQ"])
    def test_of_hdr_come_down_to_standard_range(self, tmp_path, store, transfer):
        options = {"preset": "ultrafast", "crf": "6", "x265-params": "log-level=none"}
        coding = Coding(
            codec="libx265", pixels="yuv420p10le", options=options, matrix=9, primaries=9, transfer=transfer
        )
        times = steady(30, Fraction(1, 3))
        path = make_clip(tmp_path / "a.mov", times, coding=coding, frame=lambda k: hdr_frame(coded(k), transfer))
        facts = normalise(path, store)
        check(facts, times)
        found = read_patches(first_picture(facts))
        assert np.abs(found - PATCHES).max() <= 15  # near zero ten bits are coarse; see the next line for the rest
        assert np.abs(found - PATCHES)[np.array(PATCHES) > 0].max() <= 2.5
        assert any("HDR" in note for note in facts.notes)
        if transfer == 16:  # zimg is an implementation of its own; its HLG leaves out the luminance of the system gamma
            chain = "zscale=p=bt709:t=bt709:m=bt709:r=tv:npl=203,format=gbrp,format=rgb24"
            raw = ffmpeg.run(["-i", ffmpeg.named(path), "-frames:v", "1", "-vf", chain, "-f", "rawvideo", "pipe:1"])
            other = np.frombuffer(raw.output, np.uint8).reshape(180, 320, 3)
            assert np.abs(read_patches(other) - found)[np.array(PATCHES) > 0].max() <= 4

    @pytest.mark.parametrize(
        ("light", "pq", "hlg"), [(26, 38, 38), (162, 56, 71), (179, 57, 73), (203, 58, 75)]
    )  # ITU-R BT.2408, table 1: grey card 18 %, grey scale 83 % and 90 %, reference white, in cd/m2 and % (from memory)
    def test_levels_of_hdr_are_those_of_the_report(self, light, pq, hlg):
        assert float(hdr.light_of_pq(np.array(pq / 100))) == pytest.approx(light, rel=0.06)
        assert float(hdr.light_of_hlg(np.full(3, hlg / 100))[0]) == pytest.approx(light, rel=0.06)


class TestSound:
    def clip(self, tmp_path, tracks, start=Fraction(0), name="a.mp4", seconds=1):
        return make_clip(tmp_path / name, steady(30, seconds), tracks=tracks, start=start)

    @pytest.mark.parametrize(
        ("picture", "sound", "expected"),
        [(Fraction(0), Fraction(0), 0.5), (Fraction(0), HALF / 2, 0.75), (HALF / 2, Fraction(0), 0.25)],
        ids=["together", "sound late", "picture late"],
    )
    @pytest.mark.parametrize("name", ["a.mp4", "a.mov", "a.ts"])
    def test_stays_with_the_picture(self, tmp_path, store, name, picture, sound, expected):
        facts = normalise(self.clip(tmp_path, [Track(samples=beep(1.2), start=sound)], picture, name), store)
        samples = samples_of(facts)
        assert len(samples) == round(facts.duration * 48_000)
        assert abs(beep_start(samples) - expected) < 0.005

    def test_mono_goes_to_both_sides_at_full_level(self, tmp_path, store):
        track = Track(samples=beep(1.0, channels=1), layout="mono", codec="pcm_s16le")
        samples = samples_of(normalise(self.clip(tmp_path, [track], name="a.mov"), store))
        assert (samples[:, 0] == samples[:, 1]).all()
        assert abs(int(np.abs(samples).max()) - 16384) < 40

    def test_a_silent_right_side_is_filled(self, tmp_path, store):
        left = beep(1.0)
        left[:, 1] = 0
        samples = samples_of(normalise(self.clip(tmp_path, [Track(samples=left)]), store))
        assert (samples[:, 0] == samples[:, 1]).all()
        assert np.abs(samples).max() > 10_000

    def test_the_centre_of_5_1_is_heard(self, tmp_path, store):
        surround = np.zeros((48_000, 6), np.float32)
        surround[:, 2] = beep(1.0)[:, 0]
        samples = samples_of(normalise(self.clip(tmp_path, [Track(samples=surround, layout="5.1")]), store))
        assert abs(beep_start(samples) - 0.5) < 0.005
        assert np.abs(samples).max(axis=0).min() > 3_000

    def test_the_track_marked_as_default_is_taken(self, tmp_path, store):
        tracks = [Track(samples=beep(1.0, [0.2]), default=False), Track(samples=beep(1.0, [0.7]))]
        facts = normalise(self.clip(tmp_path, tracks, name="a.mkv"), store)
        assert abs(beep_start(samples_of(facts)) - 0.7) < 0.005
        assert "Of 2 sound tracks the one with 2 channels was taken." in facts.notes

    def test_else_the_one_with_most_channels(self, tmp_path, store):
        tracks = [
            Track(samples=beep(1.0, [0.2], channels=1), layout="mono", default=False),
            Track(samples=beep(1.0, [0.7]), default=False),
        ]
        facts = normalise(self.clip(tmp_path, tracks, name="a.mkv"), store)
        assert abs(beep_start(samples_of(facts)) - 0.7) < 0.005

    def test_at_another_rate_is_brought_to_48_kilohertz(self, tmp_path, store):
        track = Track(samples=beep(1.0, rate=44_100), rate=44_100)
        assert abs(beep_start(samples_of(normalise(self.clip(tmp_path, [track]), store))) - 0.5) < 0.005

    def test_a_shorter_one_is_followed_by_silence(self, tmp_path, store):
        facts = normalise(self.clip(tmp_path, [Track(samples=beep(0.6, [0.1]))]), store)
        samples = samples_of(facts)
        assert len(samples) == 48_000
        assert np.abs(samples[31_000:]).max() == 0
        assert any(note.startswith("The sound ends 0.4s before") for note in facts.notes)

    def test_none_is_none(self, tmp_path, store):
        facts = normalise(self.clip(tmp_path, []), store)
        assert (facts.has_sound, facts.sound) == (False, None)


class TestPhones:
    @pytest.mark.slow
    def test_all_at_once(self, tmp_path, store):
        options = {"preset": "ultrafast", "crf": "6", "x265-params": "log-level=none"}
        coding = Coding(
            codec="libx265", pixels="yuv420p10le", options=options, matrix=9, primaries=9, transfer=18, turn=1
        )
        times = varying([(10, 30), (10, 60), (10, 30)])
        upright = Size(180, 320)
        path = make_clip(
            tmp_path / "a.mov", times, coding=coding, timecode="01:00:00:00", tags={"com.android.capture.fps": "240"},
            frame=lambda k: hdr_frame(np.ascontiguousarray(np.rot90(coded(k, upright))), 18),
            tracks=[Track(samples=beep(1.0, [0.3]), start=Fraction(1, 5))], container={"movflags": "use_metadata_tags"},
        )  # fmt: skip
        facts = normalise(path, store)
        check(facts, times)
        assert facts.times == times
        assert facts.size == upright
        assert abs(beep_start(samples_of(facts)) - 0.5) < 0.005
        assert "Filmed at 240 frames a second, says the phone; real time may be slowed down." in facts.notes


class TestCopies:
    def test_a_second_time_needs_no_decoder(self, tmp_path, store, monkeypatch):
        path = make_clip(tmp_path / "a.mp4", steady(30, HALF), tracks=[Track(samples=beep(0.5, [0.1]))])
        first = normalise(path, store)
        monkeypatch.setattr(av, "open", lambda *_, **__: pytest.fail("opened again"))
        assert normalise(path, store) == first

    def test_the_same_bytes_under_another_name_share_it(self, tmp_path, store):
        path = make_clip(tmp_path / "a.mp4", steady(30, HALF))
        other = tmp_path / "b.mp4"
        other.write_bytes(path.read_bytes())
        first, second = normalise(path, store), normalise(other, store)
        assert first.normalised == second.normalised
        assert second.path == other

    def test_a_torn_copy_is_made_again(self, tmp_path, store):
        path = make_clip(tmp_path / "a.mp4", steady(30, HALF))
        first = normalise(path, store)
        first.normalised.write_bytes(first.normalised.read_bytes()[:1000])
        check(normalise(path, store), steady(30, HALF))

    def test_torn_facts_are_made_again(self, tmp_path, store):
        path = make_clip(tmp_path / "a.mp4", steady(30, HALF))
        entry = normalise(path, store).normalised.with_suffix(".json")
        entry.write_text(json.dumps({"size": [1, 2]}))
        check(normalise(path, store), steady(30, HALF))

    def test_each_picture_stands_alone_at_its_moment(self, tmp_path, store):
        facts = normalise(make_clip(tmp_path / "a.mp4", steady(30, 1)), store)
        with av.open(str(facts.normalised)) as copy:
            stream = copy.streams.video[0]
            packets = [p for p in copy.demux(stream) if p.size]
            assert all(p.is_keyframe for p in packets)
            assert [p.pts * p.time_base * stream.average_rate for p in packets] == list(range(30))

    def test_sizes_that_the_usual_coding_cannot_state_have_a_copy_too(self, tmp_path, store):
        # ITU-T H.262, 6.3.3: horizontal_size_value must not be zero, so no multiple of 4096.
        times = steady(30, Fraction(1, 5))
        facts = normalise(make_clip(tmp_path / "a.mp4", times, size=Size(4096, 320)), store)
        check(facts, times)
        with ClipReader(facts) as reader:
            assert [read_number(reader.planes(k)) for k in (5, 0, 3, 4)] == [5, 0, 3, 4]

    def test_a_copy_is_near_its_source(self, tmp_path, store):
        # Grain and hard edges, the worst there is for a coder of single pictures; against the source's own decoder.
        def grainy(number):
            grain = np.random.default_rng(number).normal(0, 2, (SMALL.height, SMALL.width, 1))
            return np.clip(coded(number) + grain, 0, 255).astype(np.uint8)

        lossless = Coding(codec="ffv1", options={})
        times = steady(25, Fraction(1, 5))
        path = make_clip(tmp_path / "a.mkv", times, picture=grainy, coding=lossless, ticks=Fraction(1, 1000))
        facts = normalise(path, store)
        with av.open(str(path)) as source, ClipReader(facts) as reader:
            for k, frame in enumerate(source.decode(video=0)):
                made = reader.planes(k)
                for index, plane in enumerate((made.y, made.u, made.v)):
                    wrong = plane_view(frame, index).astype(np.float64) - plane
                    assert 10 * np.log10(255**2 / np.mean(wrong**2)) > (46 if index == 0 else 55)

    def test_the_same_clip_gives_the_same_bytes(self, tmp_path):
        path = make_clip(tmp_path / "a.mp4", steady(30, HALF), tracks=[Track(samples=beep(0.5, [0.1]))])
        one, two = (normalise(path, Store(tmp_path / name)) for name in "xy")
        assert one.normalised.read_bytes() == two.normalised.read_bytes()
        assert one.sound.read_bytes() == two.sound.read_bytes()

    def test_a_probe_alone_tells_the_same(self, tmp_path, store):
        path = make_clip(tmp_path / "a.mp4", varying([(10, 30), (10, 10)]), coding=Coding(turn=1))
        made = normalise(path, store)
        known = facts_of(probe(path), made.content)
        assert (known.size, known.times, known.duration) == (made.size, made.times, made.duration)

    def test_a_clip_that_fails_leaves_nothing_behind(self, tmp_path, store):
        whole = make_clip(tmp_path / "whole.mp4", steady(30, 2))
        with pytest.raises(MediaUnusable, match="is damaged"):
            normalise(damage(whole, tmp_path / "a.mp4", lambda k: k > 20), store)
        assert [p.suffix for p in store.root.rglob("*") if p.is_file()] in ([], [".json"])  # at most the index


class TestDamage:
    def test_one_bad_picture_is_left_out_and_told(self, tmp_path, store):
        whole = make_clip(tmp_path / "whole.mp4", steady(30, 2))
        facts = normalise(damage(whole, tmp_path / "a.mp4", lambda k: k == 40), store)
        assert facts.frames in {58, 59}
        assert set(facts.times) < set(steady(30, 2))
        assert any("damaged at 1." in note for note in facts.notes)

    def test_odd_side_messages_are_no_damage(self, tmp_path, store):
        whole = make_clip(tmp_path / "whole.mp4", steady(30, 1))
        facts = normalise(with_odd_messages(whole, tmp_path / "a.mp4"), store)
        check(facts, steady(30, 1))
        assert any("strict decoder" in note for note in facts.notes)

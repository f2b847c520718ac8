"""The finished movie: what is in it, and what is left when it cannot be finished."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
import time
from fractions import Fraction

import av
import numpy as np
import pytest

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.errors import OutputFailed
from segmentkit.geometry import Size
from segmentkit.media import ffmpeg
from segmentkit.media.encode import MovieWriter, PictureWriter
from segmentkit.media.join import join, write_sound
from segmentkit.media.planes import blank
from segmentkit.media.stills import planes_to_rgb, rgb_to_planes, write_png
from segmentkit.media.verify import DELIVERED_COLOUR, read_back
from segmentkit.timebase import Rate, sample_of_frame
from tests.clips import beep, beep_start, coded, read_number
from tests.media.test_ffmpeg import children
from tests.media.test_stills import BARS

SIZE = Size(320, 180)
WEB = Delivery(
    name="web",
    scope="web",
    loudness=-16,
    true_peak=-1,
    picture=PictureCoding(preset="veryfast", quality=18),
    sound=SoundCoding(bit_rate=192_000),
)
R25, R30, R60 = Rate(Fraction(25)), Rate(Fraction(30)), Rate(Fraction(60))
NTSC = Rate(Fraction(30000, 1001))


def sound(frames, rate, at=(0.5,)):
    length = sample_of_frame(frames, rate)
    return beep(length / 48_000 + 0.1, at)[:length]


def write_coded(path, frames=40, rate=R25, delivery=WEB, chapters=(), title=""):
    with MovieWriter(path, size=SIZE, rate=rate, delivery=delivery, chapters=chapters, title=title) as writer:
        writer.write_sound(sound(frames, rate))
        for k in range(frames):
            writer.write(rgb_to_planes(coded(k)))
        return writer.finish()


def attempt(path, work, **options):
    """Opens a writer, lets `work` use it, and ends the block."""
    with MovieWriter(path, size=SIZE, rate=R25, delivery=WEB, **options) as writer:
        work(writer)


def decoded(path):
    """Pictures as planes of uint8, shape (height * 3 / 2, width), with their moments."""
    with av.open(str(path)) as movie:
        return [(Fraction(f.pts) * Fraction(f.time_base), f.to_ndarray()) for f in movie.decode(video=0)]


def heard(path):
    """Sound as decoded, float32, shape (n, 2), and the moment of its first sample."""
    with av.open(str(path)) as movie:
        frames = list(movie.decode(audio=0))
    return np.concatenate([f.to_ndarray().T for f in frames]), float(frames[0].pts * frames[0].time_base)


class TestContents:
    @pytest.mark.parametrize("rate", [R25, NTSC, R60, Rate(Fraction(24000, 1001))])
    def test_every_frame_is_there_once_at_its_moment(self, tmp_path, rate):
        facts = write_coded(tmp_path / "a.mp4", 60, rate)
        shown = decoded(tmp_path / "a.mp4")
        assert [read_number(np.repeat(p[:180, :, None], 3, axis=2)) for _, p in shown] == list(range(60))
        ticks = Fraction(1, 10_000)  # the container's own unit is finer
        assert all(abs(moment - k / rate.fps) < ticks for k, (moment, _) in enumerate(shown))
        assert (facts.frames, facts.rate, facts.size) == (60, rate.fps, SIZE)
        assert facts.samples == sample_of_frame(60, rate)

    def test_what_it_is_made_of(self, tmp_path):
        facts = write_coded(tmp_path / "a.mp4")
        assert facts.path == tmp_path / "a.mp4"
        assert facts.video_codec == "h264 High yuv420p"
        assert facts.audio_codec == "aac 48000 Hz"
        assert facts.colour == DELIVERED_COLOUR == "bt709/bt709/bt709/tv"
        assert read_back(tmp_path / "a.mp4") == facts

    def test_colours_are_marked_in_the_stream_and_in_the_container(self, tmp_path):
        write_coded(tmp_path / "a.mp4")
        # A colour box of type nclx: primaries, transfer, matrix, range flag (ISO/IEC 14496-12, 12.1.5).
        assert b"colrnclx\0\1\0\1\0\1\0" in (tmp_path / "a.mp4").read_bytes()
        ffmpeg.run(["-i", ffmpeg.named(tmp_path / "a.mp4"), "-c", "copy", ffmpeg.named(tmp_path / "a.h264")])
        with av.open(str(tmp_path / "a.h264")) as bare:
            context = bare.streams.video[0].codec_context
            marks = (context.colorspace, context.color_primaries, context.color_trc, context.color_range)
        assert tuple(int(m) for m in marks) == (1, 1, 1, 1)

    def test_the_index_stands_before_the_pictures(self, tmp_path):
        write_coded(tmp_path / "a.mp4")
        data = (tmp_path / "a.mp4").read_bytes()
        assert data.index(b"moov") < data.index(b"mdat")

    @pytest.mark.slow
    def test_sound_and_picture_are_stored_side_by_side(self, tmp_path):
        write_coded(tmp_path / "a.mp4", 150)
        with av.open(str(tmp_path / "a.mp4")) as movie:
            spots = [(p.pos, p.stream.type, p.dts * p.time_base) for p in movie.demux() if p.size and p.pos]
        latest = {"video": Fraction(0), "audio": Fraction(0)}
        for _, kind, moment in sorted(s for s in spots if s[1] in latest):
            latest[kind] = moment
            assert abs(latest["video"] - latest["audio"]) < 1

    def test_groups_of_pictures_are_short_and_closed(self, tmp_path):
        write_coded(tmp_path / "a.mp4", 120)
        with av.open(str(tmp_path / "a.mp4")) as movie:
            keys = [k for k, p in enumerate(p for p in movie.demux(video=0) if p.size) if p.is_keyframe]
        assert keys[0] == 0
        assert max(np.diff([*keys, 120])) <= 50

    def test_chapters_and_title(self, tmp_path):
        chapters = (("Start", 0, 10), ("a=b;c#d\\e", 10, 25), ("Schluss é", 25, 40))
        facts = write_coded(tmp_path / "a.mp4", 40, chapters=chapters, title="Segment 7: é")
        assert facts.chapters == 3
        with av.open(str(tmp_path / "a.mp4")) as movie:
            assert movie.metadata["title"] == "Segment 7: é"
            found = movie.chapters()
        assert [c["metadata"]["title"] for c in found] == [c[0] for c in chapters]
        moments = [(c["start"] * c["time_base"], c["end"] * c["time_base"]) for c in found]
        assert moments == [(Fraction(a, 25), Fraction(b, 25)) for _, a, b in chapters]

    def test_no_date_no_path_and_no_name_is_told(self, tmp_path):
        write_coded(tmp_path / "hidden_name.mp4")
        data = (tmp_path / "hidden_name.mp4").read_bytes()
        assert b"hidden_name" not in data
        assert str(tmp_path).encode() not in data
        assert b"partial" not in data
        with av.open(str(tmp_path / "hidden_name.mp4")) as movie:
            tags = {**movie.metadata, **{k: v for s in movie.streams for k, v in s.metadata.items()}}
        assert "creation_time" not in tags
        assert not [t for t in tags if "location" in t.lower()]

    @pytest.mark.slow
    @pytest.mark.parametrize("preset", ["veryfast", "medium"])
    def test_the_same_input_gives_the_same_bytes(self, tmp_path, preset):
        delivery = Delivery(
            name="x",
            scope="web",
            loudness=-16,
            true_peak=-1,
            picture=PictureCoding(preset=preset, quality=20),
            sound=SoundCoding(bit_rate=160_000),
        )
        for name in "ab":
            write_coded(tmp_path / f"{name}.mp4", 60, delivery=delivery)
        assert (tmp_path / "a.mp4").read_bytes() == (tmp_path / "b.mp4").read_bytes()

    def test_a_picture_may_be_drawn_on_after_it_was_handed_over(self, tmp_path):
        planes = blank(SIZE, y=60)
        with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=WEB) as writer:
            writer.write(planes, 12)
            planes.y[:] = 200
            writer.write(planes, 13)
            writer.finish()
        means = [p[:180].mean() for _, p in decoded(tmp_path / "a.mp4")]
        assert all(abs(m - 60) < 2 for m in means[:12])
        assert all(abs(m - 200) < 2 for m in means[12:])


class TestColours:
    def test_bars_stay_within_two_steps_from_a_still_to_the_decoded_movie(self, tmp_path):
        """75 % bars by ITU-R BT.709-6, items 3 and 4; as PNG, planes, H.264 and decoded again."""
        width = 40
        rgb = np.zeros((180, width * 8, 3), np.uint8)
        for index, colour in enumerate(BARS):
            rgb[:, index * width : (index + 1) * width] = colour
        write_png(tmp_path / "bars.png", rgb)
        from segmentkit.media.stills import load_still

        planes = load_still(tmp_path / "bars.png")[1]
        with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=WEB) as writer:
            writer.write(planes, 25)
            writer.finish()
        raw = ffmpeg.run(["-i", ffmpeg.named(tmp_path / "a.mp4"), "-f", "rawvideo", "-pix_fmt", "yuv420p", "pipe:1"])
        last = np.frombuffer(raw.output, np.uint8).reshape(25, -1)[-1]
        y, u, v = last[: 320 * 180].reshape(180, 320), last[320 * 180 : -160 * 90], last[-160 * 90 :]
        for index, values in enumerate(BARS.values()):
            luma, chroma = index * width + width // 2, index * width // 2 + width // 4
            found = (y[90, luma], u.reshape(90, 160)[45, chroma], v.reshape(90, 160)[45, chroma])
            assert np.abs(np.array(found, int) - values).max() <= 2, (list(BARS)[index], found)

    def test_another_implementation_sees_the_same_colours(self, tmp_path):
        with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=WEB) as writer:
            writer.write(rgb_to_planes(np.full((180, 320, 3), (191, 0, 0), np.uint8)), 10)
            writer.finish()
        raw = ffmpeg.run(
            ["-i", ffmpeg.named(tmp_path / "a.mp4"), "-frames:v", "1", "-f", "rawvideo", "-pix_fmt", "rgb24", "pipe:1"]
        )
        middle = np.frombuffer(raw.output, np.uint8).reshape(180, 320, 3)[90, 160].astype(int)
        assert np.abs(middle - (191, 0, 0)).max() <= 3
        assert np.abs(planes_to_rgb(blank(Size(4, 4), 51, 109, 212))[0, 0].astype(int) - (191, 0, 0)).max() <= 2


class TestSound:
    @pytest.mark.parametrize("rate", [R25, NTSC, R60])
    def test_a_beep_and_a_flash_come_together(self, tmp_path, rate):
        frames = round(rate.fps * 2)
        flash = round(rate.fps)
        with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=rate, delivery=WEB) as writer:
            writer.write(blank(SIZE), flash)
            writer.write(blank(SIZE, y=235))
            writer.write(blank(SIZE), frames - flash - 1)
            writer.finish(sound(frames, rate, [float(flash / rate.fps)]))
        seen = next(moment for moment, p in decoded(tmp_path / "a.mp4") if p[:180].mean() > 120)
        samples, first = heard(tmp_path / "a.mp4")
        assert abs(first + beep_start(samples) - float(seen)) < 0.005
        raw = ffmpeg.run(["-i", ffmpeg.named(tmp_path / "a.mp4"), "-f", "s16le", "-ar", "48000", "pipe:1"])
        other = np.frombuffer(raw.output, "<i2").reshape(-1, 2)
        assert abs(beep_start(other) - float(seen)) < 0.005

    def test_none_is_silence_of_full_length(self, tmp_path):
        with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=WEB) as writer:
            writer.write(blank(SIZE), 25)
            facts = writer.finish()
        assert facts.samples == 48_000
        assert np.abs(heard(tmp_path / "a.mp4")[0]).max() == 0

    def test_loudness_is_measured_on_what_was_written(self, tmp_path):
        # ITU-R BS.1770-4, note to the algorithm: 997 Hz at 0 dBFS in one channel reads -3.01, so in both 0.0 LUFS.
        tone = 0.1 * np.sin(2 * np.pi * 997 * np.arange(96_000) / 48_000)
        with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=WEB) as writer:
            writer.write(blank(SIZE), 50)
            facts = writer.finish(np.stack([tone, tone], axis=1).astype(np.float32))
        assert abs(facts.loudness.integrated + 20.0) < 0.2


class TestJoining:
    @pytest.mark.slow
    def test_pieces_become_one_movie_without_encoding_again(self, tmp_path):
        pieces, start = [], 0
        for index, count in enumerate((1, 40, 2, 77, 3)):
            pieces.append(tmp_path / f"{index}.mp4")
            writer = PictureWriter(pieces[-1], size=SIZE, rate=NTSC, delivery=WEB)
            for k in range(count):
                writer.write(rgb_to_planes(coded(start + k)))
            assert writer.finish() == count
            start += count
        done = tmp_path / "joined.mp4"
        write_sound(sound(start, NTSC), tmp_path / "sound.mp4", WEB)
        joined = join(pieces, done, rate=NTSC, sound=tmp_path / "sound.mp4", chapters=(), title="", delivery=WEB)
        assert joined == start == 123
        facts = read_back(done)
        assert facts.frames == 123
        assert facts.rate == NTSC.fps
        shown = decoded(done)
        assert [read_number(np.repeat(p[:180, :, None], 3, axis=2)) for _, p in shown] == list(range(123))
        alone = [p for piece in pieces for _, p in decoded(piece)]
        assert all((a == b).all() for a, (_, b) in zip(alone, shown, strict=True))


class TestNotFinished:
    @pytest.mark.parametrize("kind", [RuntimeError, KeyboardInterrupt, MemoryError])
    def test_an_exception_half_way_leaves_nothing(self, tmp_path, kind):
        def work(writer):
            writer.write(blank(SIZE), 100)
            raise kind

        before = children()
        with pytest.raises(kind):
            attempt(tmp_path / "a.mp4", work)
        assert list(tmp_path.iterdir()) == []
        assert children() == before

    def test_an_interrupt_leaves_the_older_file_alone(self, tmp_path):
        def work(writer):
            writer.write(blank(SIZE), 100)
            raise KeyboardInterrupt

        (tmp_path / "a.mp4").write_bytes(b"older")
        with pytest.raises(KeyboardInterrupt):
            attempt(tmp_path / "a.mp4", work)
        assert [p.name for p in tmp_path.iterdir()] == ["a.mp4"]
        assert (tmp_path / "a.mp4").read_bytes() == b"older"

    def test_leaving_without_finish_is_an_error(self, tmp_path):
        with pytest.raises(OutputFailed, match="was never finished"):
            attempt(tmp_path / "a.mp4", lambda writer: writer.write(blank(SIZE)))
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.parametrize("written", [24, 26])
    def test_other_frames_than_promised_are_refused(self, tmp_path, written):
        def work(writer):
            writer.write(blank(SIZE), written)
            writer.finish()

        with pytest.raises(OutputFailed, match=f"{written} frames were written, 25 were promised"):
            attempt(tmp_path / "a.mp4", work, chapters=[("All", 0, 25)])
        assert list(tmp_path.iterdir()) == []

    def test_no_frame_is_refused(self, tmp_path):
        with pytest.raises(OutputFailed, match="no picture was written"):
            attempt(tmp_path / "a.mp4", lambda writer: writer.finish())
        assert list(tmp_path.iterdir()) == []

    def test_another_length_of_sound_is_refused(self, tmp_path):
        def work(writer):
            writer.write(blank(SIZE), 25)
            writer.finish(np.zeros((46_000, 2), np.float32))

        with pytest.raises(OutputFailed, match="46000 samples of sound for 25 frames, which last 48000"):
            attempt(tmp_path / "a.mp4", work)
        assert list(tmp_path.iterdir()) == []

    def test_a_file_that_does_not_verify_gets_no_name(self, tmp_path, monkeypatch):
        def torn(pieces, partial, **_):
            partial.write_bytes(pieces[0].read_bytes()[:3000])
            return 25

        def work(writer):
            writer.write(blank(SIZE), 25)
            writer.finish()

        monkeypatch.setattr("segmentkit.media.encode.join", torn)
        with pytest.raises(OutputFailed, match=r"cannot be decoded|tracks|not written as asked"):
            attempt(tmp_path / "a.mp4", work)
        assert list(tmp_path.iterdir()) == []

    def test_a_folder_that_cannot_be_made(self, tmp_path):
        (tmp_path / "file").write_text("")
        with pytest.raises(OutputFailed, match="could not be written"):
            attempt(tmp_path / "file" / "a.mp4", lambda _: pytest.fail("the folder cannot exist"))

    def test_a_failing_encoder_is_told_and_does_not_hang(self, tmp_path):
        bad = Delivery(
            name="x",
            scope="web",
            loudness=-16,
            true_peak=-1,
            picture=PictureCoding(preset="nosuch", quality=20),
            sound=SoundCoding(bit_rate=1),
        )
        writer = MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=bad)

        def write():
            with writer:
                for _ in range(100):
                    writer.write(blank(SIZE))
                writer.finish()

        with pytest.raises(OutputFailed, match="the encoder failed"):
            write()
        assert list(tmp_path.iterdir()) == []


PROGRAM = """
import resource, signal, sys, time
from fractions import Fraction
from pathlib import Path
import numpy as np
from segmentkit.errors import OutputFailed
from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.geometry import Size
from segmentkit.media.encode import MovieWriter
from segmentkit.media.planes import Planes
from segmentkit.timebase import Rate

final, mode = Path(sys.argv[1]), sys.argv[2]
if mode.startswith("full"):
    size = int(mode[4:])
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))
web = Delivery(name="web", scope="web", loudness=-16, true_peak=-1,
    picture=PictureCoding(preset="ultrafast", quality=10), sound=SoundCoding(bit_rate=192000))
noise = np.random.default_rng(1)
def picture():
    return Planes(*(noise.integers(16, 235, s, np.uint8) for s in ((180, 320), (90, 160), (90, 160))))
try:
    with MovieWriter(final, size=Size(320, 180), rate=Rate(Fraction(25)), delivery=web) as writer:
        for k in range(60):
            writer.write(picture())
            if k == 30 and mode == "wait":
                print("half way", flush=True)
                time.sleep(60)
        writer.finish()
except OutputFailed as error:
    print("refused:", error)
    sys.exit(5)
print("done")
"""


def started(path, mode):
    return subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(path), mode], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )


class TestOtherProcesses:
    @pytest.mark.slow
    @pytest.mark.parametrize("size", [8_000, 200_000, 1_200_000])
    def test_a_full_disk_leaves_nothing_and_is_said(self, tmp_path, size):
        process = started(tmp_path / "a.mp4", f"full{size}")
        said, wrong = process.communicate(timeout=60)
        assert process.returncode == 5, wrong
        assert re.fullmatch(r"refused: \S+a\.mp4 — [^\n]+\n", said)
        assert "make room on the disk" in said
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.slow
    def test_enough_room_is_enough(self, tmp_path):
        process = started(tmp_path / "a.mp4", "full90000000")
        assert process.communicate(timeout=60)[0] == "done\n"
        assert [p.name for p in tmp_path.iterdir()] == ["a.mp4"]

    def test_killed_half_way_no_file_has_the_name_and_the_next_run_sweeps(self, tmp_path):
        process = started(tmp_path / "a.mp4", "wait")
        assert process.stdout.readline() == "half way\n"
        process.send_signal(signal.SIGKILL)
        process.communicate()
        left = [p.name for p in tmp_path.iterdir()]
        assert left
        assert all(".partial-" in name and name.startswith(".") for name in left)
        write_coded(tmp_path / "b.mp4", 10)
        assert [p.name for p in tmp_path.iterdir()] == ["b.mp4"]

    @pytest.mark.slow
    def test_interrupted_from_the_keyboard(self, tmp_path):
        process = started(tmp_path / "a.mp4", "wait")
        assert process.stdout.readline() == "half way\n"
        process.send_signal(signal.SIGINT)
        process.communicate(timeout=30)
        assert process.returncode not in {0, None}
        assert list(tmp_path.iterdir()) == []

    @pytest.mark.slow
    def test_two_movies_at_once_in_one_folder(self, tmp_path):
        both = [started(tmp_path / name, "plain") for name in ("a.mp4", "b.mp4")]
        assert [p.communicate(timeout=120)[0] for p in both] == ["done\n"] * 2
        assert sorted(p.name for p in tmp_path.iterdir()) == ["a.mp4", "b.mp4"]
        assert (tmp_path / "a.mp4").read_bytes() == (tmp_path / "b.mp4").read_bytes()


@pytest.mark.slow
def test_memory_stays_flat_however_long_the_movie(tmp_path):
    """Peak memory of a minute of 640x360 is not more than that of ten seconds, to within its sound."""
    code = (
        PROGRAM.split("final, mode", maxsplit=1)[0]
        + "import resource\n"
        + "web = Delivery(name='w', scope='web', loudness=-16, true_peak=-1,"
        + " picture=PictureCoding(preset='veryfast', quality=20), sound=SoundCoding(bit_rate=128000))\n"
        + "from segmentkit.media.planes import blank\n"
        + "with MovieWriter(Path(sys.argv[1]), size=Size(640, 360), rate=Rate(Fraction(30)), delivery=web) as w:\n"
        + "    for k in range(int(sys.argv[2])):\n        w.write(blank(Size(640, 360), y=16 + k % 200))\n"
        + "    w.finish()\n"
        + "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024)"
    )
    peaks = []
    for frames in (300, 1800):
        done = subprocess.run(
            [sys.executable, "-c", code, str(tmp_path / "a.mp4"), str(frames)],
            capture_output=True,
            text=True,
            check=True,
        )  # fmt: skip
        peaks.append(int(done.stdout))
    assert peaks[1] - peaks[0] < 120  # 50 s of sound as float32 is 19 MB; loudness works on copies of it


def test_encoding_runs_while_the_next_picture_is_made(tmp_path):
    """Handing over pictures returns before they are encoded, but not without bound."""
    with MovieWriter(tmp_path / "a.mp4", size=SIZE, rate=R25, delivery=WEB) as writer:
        start = time.monotonic()
        writer.write(blank(SIZE))
        assert time.monotonic() - start < 0.5
        for k in range(50):
            writer.write(blank(SIZE, y=16 + k))
        facts = writer.finish()
    assert facts.frames == 51

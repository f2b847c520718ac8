"""Everything that is delivered, from the command line: one check, several versions, one card and one list."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
from fractions import Fraction
from pathlib import Path

import av
import pytest
from imageio_ffmpeg import get_ffmpeg_exe
from PIL import Image

from segmentkit.intake.erase import finished_files
from segmentkit.resources import templates_folder
from segmentkit.storyboard.profiles import delivery, delivery_names
from tests.cli.calling import called
from tests.clips import make_clip, read_number, steady

BOARD = """
segmentkit: 1
segment: {title: Coded frames, slot: 5s, rate: 25, size: 320x180}
people:
  maren: {shown: Maren, adult: yes, release: {for: [web, broadcast], until: 2099-01-01, by: Maren}}
clips:
  coded: {file: coded.mp4, person: maren, positions: {impact: f40}}
voice: {guide: none}
beats:
  - beat: first
    say: Good. Now stop it at [gap] impact.
    show:
      - run: {clip: coded, from: f10, to: f30, speed: 1/2}
      - freeze: {clip: coded, at: impact, hold: 1s..9s}
    strokes:
      gap: {line: [[0.4, 0.3], [0.5, 0.6]], role: fault, draw: 0.2s}
  - beat: second
    show:
      - run: {clip: coded, from: f5, to: f30, speed: 1}
cuts:
  short:
    slot: 2s
    size: 180x320
    beats:
      - beat: own
        show:
          - freeze: {clip: coded, at: impact, hold: 1s..3s}
      - second
deliver: [web, profiles/house.yaml, clean, profiles/upright.yaml]
"""
HOUSE = """
what: The house's own
scope: broadcast
loudness: -24 LUFS
true_peak: -2 dBTP
rate: 30000/1001
picture: {preset: ultrafast, quality: 30}
"""
UPRIGHT = """
what: Upright
scope: short
cut: short
loudness: -16 LUFS
true_peak: -1 dBTP
shortest: 1s
longest: 3s
burned: yes
picture: {preset: ultrafast}
"""


@pytest.fixture
def board(tmp_path: Path) -> Path:
    make_clip(tmp_path / "coded.mp4", steady(60, 1))
    (tmp_path / "profiles").mkdir()
    (tmp_path / "profiles" / "house.yaml").write_text(HOUSE)
    (tmp_path / "profiles" / "upright.yaml").write_text(UPRIGHT)
    path = tmp_path / "board.yaml"
    path.write_text(BOARD)
    return path


def frames_of(path: Path) -> int:
    with av.open(str(path)) as container:
        return sum(1 for _ in container.decode(video=0))


@pytest.mark.slow
def test_what_one_delivery_lacks_does_not_stop_the_others(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """Maren did not allow shorts: three files, one refusal, and an exit code that tells."""
    out = tmp_path / "all"
    code, said = called(capsys, "deliver", board, "-o", out, "--rehearsal", "--today", "2026-11-25")
    assert code == 1
    assert "3 of 4 delivered" in said
    assert "upright: not delivered" in said
    assert "[release-scope]" in said
    # 5 s are 125 frames at 25, and 149.85 at 30000/1001: the nearest is 150.
    assert [frames_of(out / f"board-{name}.mp4") for name in ("web", "house", "clean")] == [125, 150, 125]
    assert not (out / "board-upright.mp4").exists()
    listed = json.loads((out / "board-deliveries.json").read_text())
    assert [one["profile"] for one in listed["deliveries"]] == ["web", "house", "clean", "upright"]
    assert [one["frames"] for one in listed["deliveries"][:3]] == [125, 150, 125]
    assert "release-scope" in " ".join(listed["deliveries"][3]["problem"])
    files = [one for one in listed["deliveries"] if one["file"]]
    for one in [*files, *(side for each in files for side in each["beside"])]:
        assert hashlib.sha256((out / one["file"]).read_bytes()).hexdigest() == one["sha256"]
    page = (out / "board-deliveries.html").read_text()
    assert "3 of 4 deliveries are finished" in page
    assert page.count("<article>") == 4
    # The namespace of a drawing is no address that is fetched.
    assert re.findall(r"(?:src|href)=.https?:", page) == []
    assert (out / "papers" / "board-contact.pdf").is_file()
    assert (out / "board-house.broadcast.en.vtt").is_file()
    assert not list(out.glob("board-upright*"))
    # Whoever takes a release back is found in all of it, by the lists that lie beside.
    files = {path for path in out.rglob("*") if path.is_file()}
    assert {trace.path for trace in finished_files("maren", set(), sorted(files))} >= files


@pytest.mark.slow
def test_a_release_for_shorts_brings_the_short(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    board.write_text(BOARD.replace("for: [web, broadcast]", "for: [web, broadcast, short]"))
    out = tmp_path / "all"
    code, said = called(
        capsys, "deliver", board, "-o", out, "--rehearsal", "--only", "profiles/upright.yaml", "--no-papers"
    )
    assert (code, "1 of 1 delivered" in said) == (0, True)
    with av.open(str(out / "board-upright.mp4")) as container:
        stream = container.streams.video[0]
        assert (stream.width, stream.height) == (180, 320)
        assert sum(1 for _ in container.decode(video=0)) == 50
    assert sorted(file.name for file in out.iterdir()) == [
        "board-deliveries.html",
        "board-deliveries.json",
        "board-upright.manifest.json",
        "board-upright.mp4",
    ]


@pytest.mark.slow
def test_the_clean_version_shows_the_same_frames_without_strokes(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    out = tmp_path / "all"
    called(capsys, "deliver", board, "-o", out, "--rehearsal", "--only", "web", "--only", "clean", "--no-papers")
    shown = {}
    for name in ("web", "clean"):
        with av.open(str(out / f"board-{name}.mp4")) as container:
            shown[name] = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    assert [read_number(frame) for frame in shown["clean"]] == [read_number(frame) for frame in shown["web"]]
    apart = [
        int((abs(web.astype(int) - clean.astype(int)) > 60).any(axis=2).sum())
        for web, clean in zip(shown["web"], shown["clean"], strict=True)
    ]
    assert max(apart[:30]) == 0
    assert max(apart[34:80]) > 40


def test_all_refused_means_nothing_is_made(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    board.write_text(BOARD.replace("for: [web, broadcast]", "for: [marketing]"))
    code, said = called(capsys, "deliver", board, "-o", tmp_path / "all")
    assert code == 1
    assert "nothing was delivered" in said
    assert not (tmp_path / "all").exists()


@pytest.mark.slow
def test_any_version_can_be_looked_at(board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    board.write_text(BOARD.replace("for: [web, broadcast]", "for: [web, broadcast, short]"))
    code, said = called(capsys, "plan", board)
    assert (code, "# Coded frames: 125 frames at 25" in said) == (0, True)
    code, said = called(capsys, "plan", board, "--profile", "profiles/upright.yaml")
    assert (code, "# Coded frames: 50 frames at 25" in said, "own (" in said) == (0, True, True)
    code, said = called(
        capsys, "still", board, "--at", "f10", "--profile", "profiles/upright.yaml", "-o", tmp_path / "a.png"
    )
    assert code == 0
    with Image.open(tmp_path / "a.png") as picture:
        assert picture.size == (180, 320)
    code, said = called(capsys, "captions", board, "-o", tmp_path / "words")
    assert (code, (tmp_path / "words" / "board-short.chapters.vtt").is_file()) == (0, True)


def test_profiles_are_listed(board: Path, capsys: pytest.CaptureFixture[str]):
    code, said = called(capsys, "profiles")
    assert code == 0
    assert [name for name in delivery_names() if not re.search(rf"^{name}  ", said, re.M)] == []
    assert "cut `short`, 1080x1920, captions burned in, at least 20 s, at most 60 s" in said
    code, said = called(capsys, "profiles", board, "--json")
    assert [one["name"] for one in json.loads(said)] == ["web", "house", "clean", "upright"]


TINY = """
what: Two seconds before, one after
programme_at: "10:00:00:00"
tone: -18 dBFS
parts:
  - {bars: 1s}
  - {slate: 1s}
tail: 1s
"""
_SIZES = {"1920x1080": "320x180", "480x270": "320x180", "1080x1920": "180x320", "1080x1080": "256x256"}
_PROBED = {
    "h264": "h264 (High)", "hevc": "hevc (Main)", "prores": "prores (HQ)", "dnxhr": "dnxhd (DNXHR HQ)",
    "mpeg2": "mpeg2video (4:2:2)", "vp9": "vp9 (Profile 0)", "av1": "av1 (", "webp": "webp",
}  # fmt: skip
"""What ffmpeg calls each codec, with its profile."""


def _small(name: str) -> str:
    """A shipped profile, for a small picture and with a short leader; another cut where it wants a teaser."""
    text = (templates_folder() / "profiles" / f"{name}.yaml").read_text()
    text = re.sub(r"(?<=^size: )\S+", lambda size: _SIZES[size[0]], text, flags=re.M)
    text = re.sub(r"^leader: .*", "leader: tiny.yaml", text, flags=re.M)
    text = re.sub(r"^shortest: .*", "shortest: 1s", text, flags=re.M)
    return re.sub(r"^cut: teaser", "cut: short", text, flags=re.M)


@pytest.mark.slow
def test_every_shipped_profile_is_what_it_says_for_an_independent_reader(
    board: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    """All at once, small; each file is read by the ffmpeg program, which this project does not read with."""
    names = delivery_names()
    for name in names:
        (tmp_path / "profiles" / f"{name}.yaml").write_text(_small(name))
    (tmp_path / "profiles" / "tiny.yaml").write_text(TINY)
    text = re.sub(
        r"^deliver: .*", f"deliver: [{', '.join(f'profiles/{name}.yaml' for name in names)}]", BOARD, flags=re.M
    )
    board.write_text(
        text.replace("for: [web, broadcast]", "for: [web, broadcast, short, marketing]").replace(
            "    size: 180x320\n", ""
        )
    )
    out = tmp_path / "all"
    code, said = called(capsys, "deliver", board, "-o", out, "--rehearsal", "--no-papers")
    assert code == 0, said
    for name in names:
        to = delivery(f"profiles/{name}.yaml", tmp_path)
        read = subprocess.run(
            [
                get_ffmpeg_exe(),
                "-hide_banner",
                "-i",
                out / f"board-{name}{to.suffix}",
                "-map",
                "0:v",
                "-f",
                "null",
                "-",
            ],
            check=True,
            capture_output=True,
            text=True,
        ).stderr
        if to.container == "webp":  # a picture that stays is one frame, shown for longer
            assert re.findall(r"time=(\S+)", read)[-1] == "00:00:02.00"
            with Image.open(out / f"board-{name}.webp") as picture:
                assert (picture.format, picture.is_animated, picture.size) == ("WEBP", True, (320, 180))
            continue
        video = next(line for line in read.splitlines() if "Video:" in line and "Stream" in line)
        seconds = Fraction(2 if to.cut else 5)
        led = 3 if to.leader else 0
        rate = to.rate.fps if to.rate else Fraction(25)
        frames = int((seconds * rate + Fraction(1, 2)) // 1) + led * round(rate)
        assert _PROBED[to.picture.codec] in video, (name, video)
        assert to.picture.pixels in video, (name, video)
        assert re.search(rf"\b{to.size or '320x180'}\b", video), (name, video)
        assert ("top first" in video) == (to.fields == "top"), (name, video)
        assert int(re.findall(r"frame= *(\d+)", read)[-1]) == frames, (name, read)
        sound = [line for line in read.splitlines() if "Audio:" in line]
        assert len(sound) == (0 if to.sound is None else 1), (name, read)
        assert all("48000 Hz, stereo" in line for line in sound)

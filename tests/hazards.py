"""What phones and tapes send, and what becomes of it: prints the table of the contributor guide.

    python3 -m tests.hazards

Each input is made here, its frame number coded in the picture and a beep in the sound. "Frames" counts the pictures of
the working copy that carry the right number at the right moment; "seeks" twelve frames asked for out of order.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path

import numpy as np

from segmentkit.errors import MediaUnusable
from segmentkit.facts import ClipFacts
from segmentkit.geometry import Size
from segmentkit.media.frames import ClipReader
from segmentkit.media.guarded import guarded_clip
from segmentkit.media.sound import read_sound
from segmentkit.media.stills import planes_to_rgb
from segmentkit.media.store import Store
from tests.clips import (
    Coding,
    Track,
    beep,
    beep_start,
    coded,
    cut_short,
    damage,
    hdr_frame,
    make_clip,
    make_interlaced,
    read_corners,
    read_number,
    steady,
    varying,
)

Times = Sequence[Fraction]
Maker = Callable[[Path], tuple[Path, Times, float | None]]
"""Makes an input in a folder; gives the file, the true moments of its pictures, and that of its beep in seconds."""

SECOND = steady(30, 1)
FIELDS = ["-flags", "+ildct+ilme", "-r", "25"]
X265 = {"preset": "ultrafast", "crf": "6", "x265-params": "log-level=none"}
MATROSKA_TICKS = Fraction(1, 1000)


def plain(name: str = "a.mp4", times: Times = SECOND, heard: float | None = 0.5, **how: object) -> Maker:
    """A clip with a beep, made as told."""
    tracks = [Track(samples=beep(1.0, [0.5]))] if heard is not None else []
    how.setdefault("tracks", tracks)
    return lambda folder: (make_clip(folder / name, times, **how), times, heard)  # type: ignore[arg-type]


def interlaced(name: str, codec: str, *, top_first: bool) -> Maker:
    """A tape or broadcast clip of eight frames, sixteen fields."""
    arguments = ["-c:v", codec, "-b:v", "4M", *FIELDS]
    return lambda folder: (
        make_interlaced(folder / name, 8, top_first=top_first, arguments=arguments),
        steady(50, Fraction(16, 50)),
        None,
    )


def hdr(transfer: int, turn: int = 0) -> Maker:
    """Ten bits of BT.2020 light."""
    coding = Coding(
        codec="libx265", pixels="yuv420p10le", options=X265, matrix=9, primaries=9, transfer=transfer, turn=turn
    )
    upright = Size(180, 320) if turn % 2 else Size(320, 180)
    return plain(
        "a.mov",
        coding=coding,
        frame=lambda k: hdr_frame(np.ascontiguousarray(np.rot90(coded(k, upright), turn)), transfer),
    )


def sound(samples: np.ndarray, layout: str) -> Maker:
    """A clip with a beep in some channels only."""
    return plain(tracks=[Track(samples=samples, layout=layout)])


def spoiled(how: Callable[[Path, Path], Path]) -> Maker:
    """A whole clip, then what happened to it."""
    return lambda folder: (how(make_clip(folder / "whole.mp4", steady(30, 2)), folder / "a.mp4"), (), None)


def written(name: str, content: bytes) -> Maker:
    """Any bytes under any name."""

    def make(folder: Path) -> tuple[Path, Times, float | None]:
        (folder / name).write_bytes(content)
        return folder / name, (), None

    return make


LEFT = beep(1.0, [0.5]) * np.array([1.0, 0.0], np.float32)
CENTRE = np.zeros((48_000, 6), np.float32)
CENTRE[:, 2] = beep(1.0, [0.5])[:, 0]

INPUTS: dict[str, Maker] = {
    "plain, 30 a second": plain(),
    "portrait, turned by 90": plain(coding=Coding(turn=1)),
    "turned by 270": plain(coding=Coding(turn=3)),
    "turned by 180": plain(coding=Coding(turn=2)),
    "mirrored matrix": plain(coding=Coding(mirrored=True)),
    "variable rate 30/10/30": plain(times=varying([(10, 30), (5, 10), (10, 30)])),
    "slow-motion ramp 30/240/30": plain(times=varying([(8, 30), (60, 240), (8, 30)])),
    "240 a second": plain(times=steady(240, 1)),
    "slowed by a phone, tag 240": plain(
        "a.mov", tags={"com.android.capture.fps": "240"}, container={"movflags": "use_metadata_tags"}
    ),
    "transport stream": plain("a.ts"),
    "starts 3600 s late": plain(
        "a.ts", start=Fraction(3600), tracks=[Track(samples=beep(1.0, [0.5]), start=Fraction(3600))]
    ),
    "picture 0.25 s late": plain(start=Fraction(1, 4), heard=0.25),
    "sound 0.25 s late": plain(heard=0.75, tracks=[Track(samples=beep(1.0, [0.5]), start=Fraction(1, 4))]),
    "pixel shape 64:45": plain(size=Size(240, 180), coding=Coding(aspect=Fraction(64, 45))),
    "odd size 321x181": plain("a.mkv", size=Size(321, 181), coding=Coding(pixels="yuv444p"), ticks=MATROSKA_TICKS),
    "untagged HD": plain(size=Size(1280, 720), coding=Coding(matrix=2, primaries=2, transfer=2)),
    "full range": plain(coding=Coding(full=True)),
    "HLG": hdr(18),
    "PQ": hdr(16),
    "phone bundle: HLG, portrait": hdr(18, turn=1),
    "DV, lower field first": interlaced("a.mkv", "mpeg4", top_first=False),
    "MPEG-2, upper field first": interlaced("a.mpg", "mpeg2video", top_first=True),
    "timecode track": plain("a.mov", timecode="01:00:00:00"),
    "left channel only": sound(LEFT, "stereo"),
    "mono": sound(beep(1.0, [0.5], channels=1), "mono"),
    "5.1, voice in the centre": sound(CENTRE, "5.1"),
    "no sound": plain(heard=None),
    "cut off, no index": spoiled(lambda whole, path: cut_short(whole, path, 0.6)),
    "every picture damaged": spoiled(lambda whole, path: damage(whole, path, lambda _: True)),
    "empty file": written("a.mp4", b""),
    "text": written("a.mp4", b"just words\n" * 40),
    "play list": written("a.mp4", b"ffconcat version 1.0\nfile other.mp4\n"),
    "name with quotes and a dash": plain('-it\'s "it".mp4'),
}


def row(name: str, make: Maker, folder: Path) -> str:
    """One line of the table."""
    path, times, heard = make(folder)
    try:
        facts = guarded_clip(path, Store(folder / "store")).facts
    except MediaUnusable as error:
        what = str(error).replace(str(path), "").strip(" —").split(" — ")[0]
        return f"| {name} | refused: {what} | | | |"
    picture = f"{facts.size} {_corner(facts)}"
    return f"| {name} | {_frames(facts, times)} | {_seeks(facts)} | {picture} | {_sound(facts, heard)} |"


def _frames(facts: ClipFacts, times: Times) -> str:
    moments = [time - times[0] for time in times]
    right = 0
    with ClipReader(facts) as reader:
        for k, (told, true) in enumerate(zip(facts.times, moments, strict=False)):
            right += read_number(reader.planes(k)) == k and abs(told - true) < Fraction(1, 500)
    return f"{right} of {len(times)}"


def _seeks(facts: ClipFacts) -> str:
    wanted = [int(k) for k in np.random.default_rng(3).integers(0, facts.frames, 12)]
    with ClipReader(facts, kept=1) as reader:
        return f"{sum(read_number(reader.planes(k)) == k for k in wanted)} of 12"


def _corner(facts: ClipFacts) -> str:
    with ClipReader(facts) as reader:
        corners = read_corners(planes_to_rgb(reader.planes(0)))
    return "upright" if corners == ("red", "green", "blue", "yellow") else "/".join(corners)


def _sound(facts: ClipFacts, heard: float | None) -> str:
    if facts.sound is None or heard is None:
        return "silent" if facts.sound is None else "sound"
    samples = read_sound(facts.sound)
    return f"{1000 * (beep_start(samples) - heard):+.0f} ms" + ("" if samples[:, -1].any() else ", one side")


def main() -> None:
    """Prints the table."""
    print("| input | frames | seeks | picture | beep |\n|---|---|---|---|---|")
    for name, make in INPUTS.items():
        with tempfile.TemporaryDirectory() as folder:
            print(row(name, make, Path(folder)), flush=True)


if __name__ == "__main__":
    main()

"""Which clips are planted: one known defect each, with the verdict and the reason it must get."""

from __future__ import annotations

import struct
import wave
import zlib
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import cv2
import numpy as np

from segmentkit.geometry import Size
from segmentkit.storyboard.submission import VerdictWord
from tests import clips
from tests.intake import planted as p
from tests.intake.case import Case
from tests.intake.planted import PLAIN, Frames, Making

USE, LIMITED, RESHOOT, NOT_USED = VerdictWord


def view(name: str = "viewer-dtl") -> Frames:
    """A swing at 60 frames a second."""
    return p.swing(name)[::2]


def shot(
    change: Callable[[Frames], Frames] = list, making: Making = PLAIN, of: str = "viewer-dtl"
) -> Callable[[Path], object]:
    """A writer of the swing with one change."""
    return lambda path: p.write(path, change(view(of)), making, of)


def of_120(change: Callable[[Frames], Frames], making: Making, of: str = "viewer-dtl") -> Callable[[Path], object]:
    """A writer of the swing from its 120 pictures a second."""
    return lambda path: p.write(path, change(p.swing(of)), making, of)


def distant(frames: Frames) -> Frames:
    """The player far away: the picture shrunk into a wider one."""
    return [
        cv2.copyMakeBorder(
            cv2.resize(f, (256, 144), interpolation=cv2.INTER_AREA), 108, 108, 192, 192, cv2.BORDER_REPLICATE
        )
        for f in frames
    ]


def barred(frames: Frames) -> Frames:
    """Black bars at the sides."""
    return [cv2.copyMakeBorder(f[:, 120:520], 0, 0, 120, 120, cv2.BORDER_CONSTANT) for f in frames]


def panned(frames: Frames) -> Frames:
    """The camera follows the club."""
    wide = [cv2.copyMakeBorder(f, 0, 0, 60, 60, cv2.BORDER_REFLECT) for f in frames]
    return [np.ascontiguousarray(f[:, round(60 + 50 * k / len(wide)) :][:, :640]) for k, f in enumerate(wide)]


def second_swing(frames: Frames) -> Frames:
    """Another swing of the same person from the same tripod: it goes back 7 % slower and waits at the top."""
    back = np.rint(np.linspace(95, 174, round(79 * 1.07))).astype(int)
    order = [*range(95), *back, 174, 174, *range(175, 360)]
    return [frames[k] for k in order][::2]


def grainy(frames: Frames) -> Frames:
    """The grain of a dim evening."""
    draw = np.random.default_rng(5)
    return [np.clip(frame + draw.normal(0, 5, frame.shape), 0, 255).astype(np.uint8) for frame in frames]


def bytes_of(data: bytes) -> Callable[[Path], object]:
    """A writer of plain bytes."""
    return lambda path: path.write_bytes(data)


def cut(share: float, *, faststart: bool) -> Callable[[Path], object]:
    """A writer of a clip that ends early."""

    def make(path: Path) -> None:
        whole = path.with_name(f"whole-{path.name}")
        options = {"movflags": "+faststart"} if faststart else {}
        clips.make_clip(whole, clips.steady(30, 3), container=options)
        clips.cut_short(whole, path, share)
        whole.unlink()

    return make


def sound_only(path: Path) -> None:
    """A sound file with a clip's ending."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(48_000)
        out.writeframes(bytes(96_000))


def huge(path: Path) -> None:
    """Pictures of 8192x8192 pixels in a few kilobytes."""
    grey = np.full((8192, 8192, 3), 90, np.uint8)
    clips.make_clip(path, clips.steady(10, Fraction(1, 10)), size=Size(8192, 8192), picture=lambda _: grey)


def bomb(path: Path) -> None:
    """A PNG (ISO/IEC 15948) of a few hundred kilobytes whose header promises 144 million pixels, all of them black."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    width = height = 12_000
    packer = zlib.compressobj(9)
    row = bytes(width + 1)
    data = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    path.write_bytes(b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b""))


def hlg(path: Path) -> None:
    """The swing as a phone's HDR."""
    frames = view()
    clips.make_clip(
        path, clips.steady(60, 3), size=Size(640, 360), frame=lambda k: clips.hdr_frame(frames[k], 18),
        coding=clips.Coding(codec="libx265", pixels="yuv420p10le", matrix=9, primaries=9, transfer=18,
                            options={"preset": "ultrafast", "crf": "18", "x265-params": "log-level=none"}),
    )  # fmt: skip


CASES: tuple[Case, ...] = (
    # as asked for
    Case(name="clean-60", make=shot(), word=USE),
    Case(name="clean-model", make=shot(of="model-dtl"), word=USE),
    Case(name="clean-120", make=of_120(list, Making(fps=120)), word=USE),
    Case(name="clean-face-on", make=shot(of="viewer-face-on"), word=USE, part="face-on"),
    Case(name="no-sound", make=shot(making=Making(heard=False)), word=USE),
    Case(name="turned-portrait", make=shot(making=Making(coding={"turn": 1})), word=USE),
    Case(name="matrix-mirrored", make=shot(making=Making(coding={"mirrored": True})), word=USE),
    Case(name="jitter", make=shot(making=Making(jitter=True)), word=USE),
    Case(name="slowed-with-tag", make=of_120(list, Making(fps=30, tags={"com.android.capture.fps": "120"})), word=USE),
    Case(name="hdr", make=hlg, word=USE),
    # limited
    Case(name="rate-30", make=shot(p.every(2), Making(fps=30)), word=LIMITED, reason="rate-low"),
    Case(name="rate-25", make=of_120(p.every(5), Making(fps=24)), word=LIMITED, reason="rate-low"),
    Case(name="slowed-4", make=of_120(list, Making(fps=30)), word=LIMITED, reason="slowed"),
    Case(name="slowed-8", make=of_120(list, Making(fps=15)), word=LIMITED, reason="slowed"),
    Case(name="shaken-little", make=shot(p.shifted(0.9)), word=LIMITED, reason="camera-unsteady"),
    Case(name="smeared", make=of_120(lambda f: p.smeared(5)(f)[::2], Making()), word=LIMITED, reason="smeared"),
    Case(name="two-swings", make=shot(p.twice), word=LIMITED, reason="several-swings"),
    Case(
        name="ends-early",
        make=shot(lambda f: [f[0]] * 70 + f[:112]),
        word=LIMITED,
        reason="ends-early",
    ),
    Case(name="mirrored-pixels", make=shot(p.mirrored), word=LIMITED, reason="side-differs"),
    Case(
        name="mirrored-front",
        make=shot(p.mirrored, of="viewer-face-on"),
        word=LIMITED,
        reason="side-differs",
        part="face-on",
    ),
    Case(name="lettered", make=shot(p.lettered("Dune Club")), word=LIMITED, reason="lettering"),
    Case(name="messenger", make=shot(making=Making(crf=40)), word=LIMITED, reason="compressed"),
    Case(name="small", make=shot(p.smaller(400)), word=LIMITED, reason="small"),
    Case(name="wavering", make=shot(p.wavering(0.05)), word=LIMITED, reason="light-wavers"),
    Case(name="bars", make=shot(barred), word=LIMITED, reason="bars"),
    # film it again
    Case(name="shaken-much", make=shot(p.shifted(7)), word=RESHOOT, reason="camera-moves"),
    Case(name="panned", make=shot(panned), word=RESHOOT, reason="camera-moves"),
    Case(name="cut-top", make=shot(p.crop(0.1, 0.33, 0.78, 0.97)), word=RESHOOT, reason="cut-off"),
    Case(name="cut-feet", make=shot(p.crop(0.15, 0.12, 0.85, 0.70)), word=RESHOOT, reason="cut-off"),
    Case(name="cut-right", make=shot(p.crop(0, 0.1, 0.56, 0.95)), word=RESHOOT, reason="cut-off"),
    Case(name="far", make=shot(distant), word=RESHOOT, reason="too-far"),
    Case(name="dark", make=shot(p.brightness(0.12)), word=RESHOOT, reason="too-dark"),
    Case(name="burnt", make=shot(p.brightness(2.4, 40)), word=RESHOOT, reason="too-bright"),
    Case(name="flickering", make=shot(p.wavering(0.16)), word=RESHOOT, reason="light-flickers"),
    Case(name="out-of-focus", make=shot(p.soft(4)), word=RESHOOT, reason="out-of-focus"),
    Case(name="crushed", make=shot(making=Making(crf=49)), word=RESHOOT, reason="compressed-heavily"),
    Case(name="tiny", make=shot(p.smaller(240)), word=RESHOOT, reason="too-small"),
    Case(name="nobody-swings", make=shot(p.at_rest), word=RESHOOT, reason="no-swing"),
    Case(name="starts-late", make=shot(lambda f: f[92:] + [f[-1]] * 100), word=RESHOOT, reason="starts-late"),
    Case(name="too-short", make=shot(p.part(30, 140)), word=RESHOOT, reason="too-short"),
    Case(
        name="too-long",
        make=lambda path: p.write(path, [view()[0]] * 350, Making(fps=5, heard=False)),
        word=RESHOOT,
        reason="too-long",
    ),
    # cannot be read
    Case(name="cut-off-file", make=cut(0.6, faststart=True), word=RESHOOT, reason="unreadable"),
    Case(name="cut-off-index", make=cut(0.6, faststart=False), word=RESHOOT, reason="unreadable"),
    Case(name="empty", make=bytes_of(b""), word=RESHOOT, reason="unreadable"),
    Case(name="words", make=bytes_of(b"this is no clip\n" * 40), word=RESHOOT, reason="unreadable"),
    Case(
        name="play-list",
        make=bytes_of(b"ffconcat version 1.0\nfile '/etc/hostname'\n"),
        word=RESHOOT,
        reason="unreadable",
    ),
    Case(
        name="stream-list",
        make=bytes_of(b"#EXTM3U\n#EXT-X-VERSION:3\nhttp://127.0.0.1:9/x.ts\n"),
        word=RESHOOT,
        reason="unreadable",
    ),
    Case(name="sound-only.wav", make=sound_only, word=RESHOOT, reason="unreadable"),
    Case(name="huge", make=huge, word=RESHOOT, reason="unreadable"),
    Case(name="bomb.png", make=bomb, word=RESHOOT, reason="unreadable", part="portrait"),
    # the same again, and not the same
    Case(name="again-small", make=shot(p.smaller(480), Making(crf=30)), word=NOT_USED, reason="same-pictures"),
    Case(
        name="again-trimmed",
        make=shot(p.part(10, 178), Making(crf=26, sound_at=1 / 6)),
        word=NOT_USED,
        reason="same-pictures",
    ),
    Case(name="second-swing", make=of_120(second_swing, Making()), word=USE),
)
HELD_OUT: tuple[Case, ...] = (
    Case(name="h-clean", make=shot(of="model-dtl"), word=USE),
    Case(name="h-front", make=shot(of="model-face-on"), word=USE, part="face-on"),
    Case(name="h-120f", make=of_120(list, Making(fps=120), "model-face-on"), word=USE, part="face-on"),
    Case(name="h-grain", make=shot(grainy, of="model-dtl"), word=USE),
    Case(name="h-bright-ok", make=shot(p.brightness(1.15), of="model-dtl"), word=USE),
    Case(name="h-dim-ok", make=shot(p.brightness(0.6), of="model-dtl"), word=USE),
    Case(
        name="h-30",
        make=shot(p.every(2), Making(fps=30), "model-face-on"),
        word=LIMITED,
        reason="rate-low",
        part="face-on",
    ),
    Case(
        name="h-slow4",
        make=of_120(list, Making(fps=30), "model-face-on"),
        word=LIMITED,
        reason="slowed",
        part="face-on",
    ),
    Case(name="h-slow2", make=of_120(list, Making(fps=60), "model-dtl"), word=LIMITED, reason="slowed"),
    Case(name="h-shake", make=shot(p.shifted(1.5, seed=4), of="model-dtl"), word=LIMITED, reason="camera-unsteady"),
    Case(
        name="h-shakef",
        make=shot(p.shifted(2, seed=5), of="model-face-on"),
        word=LIMITED,
        reason="camera-unsteady",
        part="face-on",
    ),
    Case(
        name="h-smear",
        make=of_120(lambda f: p.smeared(6)(f)[::2], Making(), "model-dtl"),
        word=LIMITED,
        reason="smeared",
    ),
    Case(
        name="h-smearf",
        make=of_120(lambda f: p.smeared(6)(f)[::2], Making(), "model-face-on"),
        word=LIMITED,
        reason="smeared",
        part="face-on",
    ),
    Case(
        name="h-two",
        make=shot(lambda f: f + f[::-1][:60:3] + f, of="model-face-on"),
        word=LIMITED,
        reason="several-swings",
        part="face-on",
    ),
    Case(name="h-mirror", make=shot(p.mirrored, of="model-dtl"), word=LIMITED, reason="side-differs"),
    Case(
        name="h-letters",
        make=shot(p.lettered("Lake Range 12"), of="model-face-on"),
        word=LIMITED,
        reason="lettering",
        part="face-on",
    ),
    Case(
        name="h-crf39",
        make=shot(making=Making(crf=39), of="model-face-on"),
        word=LIMITED,
        reason="compressed",
        part="face-on",
    ),
    Case(
        name="h-waver",
        make=shot(p.wavering(0.06), of="model-face-on"),
        word=LIMITED,
        reason="light-wavers",
        part="face-on",
    ),
    Case(
        name="h-shake9",
        make=shot(p.shifted(9, seed=8), of="model-face-on"),
        word=RESHOOT,
        reason="camera-moves",
        part="face-on",
    ),
    Case(
        name="h-top",
        make=shot(p.crop(0.1, 0.34, 0.9, 0.98), of="model-face-on"),
        word=RESHOOT,
        reason="cut-off",
        part="face-on",
    ),
    Case(name="h-feet", make=shot(p.crop(0.1, 0.05, 0.9, 0.68), of="model-dtl"), word=RESHOOT, reason="cut-off"),
    Case(
        name="h-dark", make=shot(p.brightness(0.1), of="model-face-on"), word=RESHOOT, reason="too-dark", part="face-on"
    ),
    Case(
        name="h-burnt",
        make=shot(p.brightness(2.6, 50), of="model-face-on"),
        word=RESHOOT,
        reason="too-bright",
        part="face-on",
    ),
    Case(
        name="h-soft", make=shot(p.soft(3.5), of="model-face-on"), word=RESHOOT, reason="out-of-focus", part="face-on"
    ),
    Case(name="h-far", make=shot(distant, of="model-dtl"), word=RESHOOT, reason="too-far"),
    Case(name="h-still", make=shot(p.at_rest, of="model-face-on"), word=RESHOOT, reason="no-swing", part="face-on"),
    Case(
        name="h-late",
        make=shot(lambda f: f[88:] + [f[-1]] * 110, of="model-face-on"),
        word=RESHOOT,
        reason="starts-late",
        part="face-on",
    ),
)
"""Made after the limits were set: other players, views and amounts."""

"""The planted set: at least forty clips with one known defect each, and the verdict and reason each must get."""

from __future__ import annotations

import struct
import wave
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path

import cv2
import numpy as np

from segmentkit.intake.parts import Seen, judge_part
from segmentkit.intake.verdict import PartReport
from segmentkit.media.store import Store
from segmentkit.storyboard.limits_file import IntakeLimits, intake_limits
from segmentkit.storyboard.people import Hand, Person
from segmentkit.storyboard.submission import Part, VerdictWord
from tests import clips
from tests.intake import planted as p
from tests.intake.planted import Frames, Making

USE, LIMITED, RESHOOT, NOT_USED = VerdictWord
PLAYER = Person(shown="Vera", handed=Hand.RIGHT, adult=True)


@cache
def limits() -> IntakeLimits:
    """The shipped limits, with sizes a third of theirs: the planted clips are 640x360 to keep the tests short."""
    shipped = intake_limits()
    return shipped.model_copy(
        update={"short_side_least": shipped.short_side_least / 3, "short_side_good": shipped.short_side_good / 3}
    )


@dataclass(frozen=True, kw_only=True)
class Case:
    """One planted clip.

    Attributes:
        name: also its file's name; an ending other than .mp4 is written out.
        make: writes the file.
        word: the verdict it must get.
        reason: the reason that must be among those of that weight; empty for use.
        part: what it is sent as.
        stated: the record's own words on it.
    """

    name: str
    make: Callable[[Path], object]
    word: VerdictWord
    reason: str = ""
    part: str = "down-the-line"
    stated: Part | None = None


def view(name: str = "viewer-dtl") -> Frames:
    """A swing at 60 frames a second."""
    return p.swing(name)[::2]


def shot(
    change: Callable[[Frames], Frames] = list, making: Making = Making(), of: str = "viewer-dtl"
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
    from segmentkit.geometry import Size

    grey = np.full((8192, 8192, 3), 90, np.uint8)
    clips.make_clip(path, clips.steady(10, Fraction(1, 5)), size=Size(8192, 8192), picture=lambda k: grey)


def png(width: int, height: int) -> bytes:
    """A PNG (ISO/IEC 15948) whose header promises a size and whose pixels are all black."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    packer = zlib.compressobj(9)
    row = bytes(width + 1)
    data = b"".join(packer.compress(row) for _ in range(height)) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", data) + chunk(b"IEND", b"")


def hlg(path: Path) -> None:
    """The swing as a phone's HDR."""
    frames = view()
    clips.make_clip(
        path, clips.steady(60, 3), size=clips.Size(640, 360), frame=lambda k: clips.hdr_frame(frames[k], 18),
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
    Case(name="ends-early", make=shot(lambda f: [f[0]] * 70 + f[:112]), word=LIMITED, reason="ends-early",),
    Case(name="mirrored-pixels", make=shot(p.mirrored), word=LIMITED, reason="side-differs"),
    Case(name="mirrored-front", make=shot(p.mirrored, of="viewer-face-on"), word=LIMITED, reason="side-differs", part="face-on"),
    Case(name="lettered", make=shot(p.lettered("OurClub TV")), word=LIMITED, reason="lettering"),
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
    Case(name="too-long", make=lambda path: p.write(path, [view()[0]] * 700, Making(fps=10, heard=False)),
         word=RESHOOT, reason="too-long"),
    # cannot be read
    Case(name="cut-off-file", make=cut(0.6, faststart=True), word=RESHOOT, reason="unreadable"),
    Case(name="cut-off-index", make=cut(0.6, faststart=False), word=RESHOOT, reason="unreadable"),
    Case(name="empty", make=bytes_of(b""), word=RESHOOT, reason="unreadable"),
    Case(name="words", make=bytes_of(b"this is no clip\n" * 40), word=RESHOOT, reason="unreadable"),
    Case(name="play-list", make=bytes_of(b"ffconcat version 1.0\nfile '/etc/hostname'\n"), word=RESHOOT, reason="unreadable"),
    Case(name="stream-list", make=bytes_of(b"#EXTM3U\n#EXT-X-VERSION:3\nhttp://127.0.0.1:9/x.ts\n"), word=RESHOOT, reason="unreadable"),
    Case(name="sound-only.wav", make=sound_only, word=RESHOOT, reason="unreadable"),
    Case(name="huge", make=huge, word=RESHOOT, reason="unreadable"),
    Case(name="bomb.png", make=bytes_of(png(20_000, 20_000)), word=RESHOOT, reason="unreadable", part="portrait"),
    # the same again, and not the same
    Case(name="again-small", make=shot(p.smaller(480), Making(crf=30)), word=NOT_USED, reason="same-pictures"),
    Case(name="again-trimmed", make=shot(p.part(10, 178), Making(crf=26, sound_at=1 / 6)), word=NOT_USED, reason="same-pictures"),
    Case(name="second-swing", make=of_120(second_swing, Making()), word=USE),
)  # fmt: skip
AFTER_CLEAN = {"again-small", "again-trimmed", "second-swing"}
"""Cases that are judged in one batch with the clean clip; the others each in a batch of their own."""


def judge(case: Case, folder: Path, store: Store, clean: Seen | None = None) -> PartReport:
    """Makes a planted clip and judges it."""
    path = folder / (case.name if "." in case.name else f"{case.name}.mp4")
    if not path.exists():
        case.make(path)
    seen = Seen()
    if case.name in AFTER_CLEAN and clean is not None:
        seen = Seen(contents=dict(clean.contents), prints=list(clean.prints))
    return judge_part(case.part, case.name, case.stated, path, PLAYER, store, limits(), seen)


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """A case with the verdict it got."""

    case: Case
    report: PartReport

    @property
    def right(self) -> bool:
        """Whether verdict and reason are those planted, and nothing weighs as much without having been planted."""
        ids = {reason.id for reason in self.report.reasons if reason.word is self.report.word}
        return self.report.word is self.case.word and (not self.case.reason or self.case.reason in ids)

    @property
    def strays(self) -> tuple[str, ...]:
        """Reasons beside the planted one."""
        return tuple(reason.id for reason in self.report.reasons if reason.id != self.case.reason)


def run(folder: Path, store: Store, only: set[str] | None = None) -> list[Outcome]:
    """Judges the whole set."""
    clean = Seen()
    outcomes = []
    for case in CASES:
        if only and case.name not in only and case.name != "clean-60":
            continue
        report = judge(case, folder, store, clean)
        if case.name == "clean-60":
            path = folder / "clean-60.mp4"
            judge_part(case.part, case.name, None, path, PLAYER, store, limits(), clean)
        outcomes.append(Outcome(case=case, report=report))
    return outcomes


def table(outcomes: list[Outcome]) -> str:
    """The confusion table, and each case that went wrong or has reasons beside the planted one."""
    words = list(VerdictWord)
    lines = [f"{'planted / given':18}" + "".join(f"{word.value:>14}" for word in words)]
    for row in words:
        counts = [sum(o.case.word is row and o.report.word is column for o in outcomes) for column in words]
        lines.append(f"{row.value:18}" + "".join(f"{count:14}" for count in counts))
    right = sum(outcome.right for outcome in outcomes)
    lines.append(f"right verdict with the right reason: {right} of {len(outcomes)}")
    for o in outcomes:
        if not o.right or o.strays:
            mark = "     " if o.right else "WRONG"
            lines.append(
                f"{mark} {o.case.name}: planted {o.case.word.value} {o.case.reason}; given {o.report.word.value}, beside it {', '.join(o.strays)}"
            )
    return "\n".join(lines)


if __name__ == "__main__":
    import sys
    import tempfile

    with tempfile.TemporaryDirectory() as name:
        where = Path(sys.argv[1]) if len(sys.argv) > 1 else Path(name)
        print(table(run(where, Store(where / "store"))))

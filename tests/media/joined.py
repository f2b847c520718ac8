"""Movies joined of pieces, as a render joins them: pictures that carry their number, sound with a beep."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from segmentkit.delivery import Delivery, PictureCoding, SoundCoding
from segmentkit.facts import MovieFacts
from segmentkit.geometry import Size
from segmentkit.media import ffmpeg
from segmentkit.media.join import join
from segmentkit.media.pieces import Piece, Pieces
from segmentkit.media.pieces_encode import PieceMaker, sound_piece
from segmentkit.media.pieces_read import joined_facts
from segmentkit.media.planes import Planes
from segmentkit.media.stills import rgb_to_planes
from segmentkit.media.store import Store
from segmentkit.timebase import Rate, sample_of_frame
from tests.clips import beep, coded, read_number

SIZE = Size(256, 144)
R25, R50 = Rate(Fraction(25)), Rate(Fraction(50))
R2997, R5994 = Rate(Fraction(30000, 1001)), Rate(Fraction(60000, 1001))
LENGTHS = (3, 30, 9)
CHAPTERS = (("Start", 0, 20), ("Rest", 20, sum(LENGTHS)))

_PLAIN = PictureCoding(profile="", preset="", quality=None)
CODINGS = {
    "h264": PictureCoding(preset="superfast", quality=16),
    "hevc": PictureCoding(codec="hevc", encoder="libx265", profile="main", preset="superfast", quality=16),
    "prores": replace(_PLAIN, codec="prores", encoder="prores_ks", pixels="yuv422p10le", profile="hq", group=1),
    "dnxhr": replace(_PLAIN, codec="dnxhr", encoder="dnxhd", pixels="yuv422p", profile="dnxhr_hq", group=1),
    "dnxhr10": replace(_PLAIN, codec="dnxhr", encoder="dnxhd", pixels="yuv422p10le", profile="dnxhr_hqx", group=1),
    "mpeg2": replace(_PLAIN, codec="mpeg2", encoder="mpeg2video", pixels="yuv422p", bit_rate=50_000_000, group=12),
    "mpeg2main": replace(_PLAIN, codec="mpeg2", encoder="mpeg2video", bit_rate=15_000_000, group=12),
    "vp9": replace(_PLAIN, codec="vp9", encoder="libvpx-vp9", preset="5", quality=24),
    "av1": replace(_PLAIN, codec="av1", encoder="libsvtav1", preset="10", quality=24),
    "webp": replace(_PLAIN, codec="webp", encoder="libwebp_anim", quality=80),
    "gif": replace(_PLAIN, codec="gif", encoder="gif", pixels="pal8"),
}
SOUNDS = {
    "mp4": SoundCoding(),
    "mov": SoundCoding(codec="pcm", bit_rate=None),
    "mxf": SoundCoding(codec="pcm", bit_rate=None),
    "mpg": SoundCoding(codec="mp2", bit_rate=384_000),
    "webm": SoundCoding(codec="opus", bit_rate=160_000),
}


QUICK = {("h264", "mp4"), ("hevc", "mov"), ("prores", "mov"), ("mpeg2", "mxf"), ("vp9", "webm")}
"""Codings in kinds of file that the quick run tries; the others are left to the whole."""


def tried(files: Sequence[tuple[str, str]]) -> list[object]:
    """Codings in kinds of file as parameters, those that the quick run leaves out marked."""
    return [pytest.param(*pair, marks=[] if pair in QUICK else [pytest.mark.slow]) for pair in files]


def delivery(coding: str, container: str, fields: str | None = None) -> Delivery:
    """A delivery of a coding in a kind of file."""
    return Delivery(
        name=f"{coding}-{container}",
        scope="web",
        loudness=-23,
        true_peak=-1,
        picture=CODINGS[coding],
        sound=SOUNDS.get(container),
        container=container,
        fields=fields,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Joined:
    """A joined movie and what it was joined from."""

    path: Path
    facts: MovieFacts
    pieces: Sequence[Piece]
    sound: Piece | None
    delivery: Delivery
    rate: Rate

    def again(self, path: Path, timecode: str | None = None) -> MovieFacts:
        """Compares another file with the same pieces."""
        return joined_facts(
            path, self.pieces, self.sound, delivery=self.delivery, size=SIZE, rate=self.rate,
            chapters=len(CHAPTERS), timecode=timecode,
        )  # fmt: skip


@cache
def numbered(number: int) -> Planes:
    """The picture with a number; shared, so not to be changed."""
    return rgb_to_planes(coded(number, SIZE))


@contextmanager
def joined(
    folder: Path,
    to: Delivery,
    *,
    rate: Rate = R25,
    lengths: Sequence[int] = LENGTHS,
    timecode: str | None = None,
    draw=numbered,
) -> Iterator[Joined]:
    """Makes a movie of pieces of some lengths in pictures; the pieces are open inside the block."""
    path = folder / f"movie{to.suffix}"
    with Pieces(Store(folder / "store")) as pieces:
        length = sample_of_frame(sum(lengths), rate)
        heard = beep(length / 48_000 + 0.1, (0.5,))[:length]
        sound = sound_piece(pieces, "aa" * 32, heard, to) if to.sound else None
        made, number = [], 0
        with PieceMaker(pieces, size=SIZE, rate=rate, delivery=to) as maker:
            for index, count in enumerate(lengths):
                writer = maker.begin(f"{index:02x}" * 32, count)
                for k in range(number, number + count):
                    writer.write(draw(k))
                number += count
                made.append(maker.end(f"{index:02x}" * 32, writer))
            done = [future.result() for future in made]
        join(
            [piece.handle for piece in done], path, rate=rate, sound=sound.handle if sound else None,
            chapters=CHAPTERS, title="A movie", delivery=to, timecode=timecode,
        )  # fmt: skip
        facts = joined_facts(
            path, done, sound, delivery=to, size=SIZE, rate=rate, chapters=len(CHAPTERS), timecode=timecode
        )
        yield Joined(path=path, facts=facts, pieces=done, sound=sound, delivery=to, rate=rate)


def seen(path: Path) -> np.ndarray:
    """Luma of every frame as another program decodes it: uint8, shape (frames, height, width)."""
    raw = ffmpeg.run([
        "-i", ffmpeg.named(path), "-map", "0:v:0", "-fps_mode", "passthrough", "-f", "rawvideo", "-pix_fmt", "gray",
        "pipe:1",
    ])  # fmt: skip
    return np.frombuffer(raw.output, np.uint8).reshape(-1, SIZE.height, SIZE.width)


def number_of(luma: np.ndarray) -> int:
    """The number that a picture carries, by its luma."""
    return read_number(np.repeat(luma[:, :, None], 3, axis=2))

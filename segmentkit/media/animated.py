"""Animated stills for mail: GIF and WebP, small and short, made of lossless pieces.

A file of these holds no frame rate but says how long each picture stays. Frame k begins at the unit nearest to k / rate
from the start, so no rounding adds up: a unit is 1/100 s in GIF and 1/1000 s in WebP. At 25 frames a second both are
exact; at 30 the pictures of a GIF stay 3, 4 and 3 units in turn. A picture that does not change is stored once.
Colours are those of the picture as RGB, without a tag; a GIF has one table of 256 colours for all of its pictures and
is many times larger than a WebP (six seconds of 480x270 at ten frames a second, with grain: 4.1 MB and 0.14 MB).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import numpy as np
from PIL import Image

from segmentkit.delivery import Delivery
from segmentkit.errors import OutputFailed
from segmentkit.facts import MovieFacts
from segmentkit.geometry import Size
from segmentkit.media.avframes import planes_of
from segmentkit.media.loudness import SILENCE
from segmentkit.media.opened import Source, opened
from segmentkit.media.stills import planes_to_rgb
from segmentkit.timebase import Rate

UNITS = {"gif": 100, "webp": 1000}
"""Units of time in a second."""
SHORTEST = 2
"""Units that a picture of a GIF stays at least: viewers show shorter ones more slowly (common practice, no source)."""
LARGEST = 400_000_000
"""Pixels of all pictures together: what is larger is no picture for mail."""
_SAMPLED = 24  # pictures that the table of colours is chosen from
_BITS = 6  # of each of red, green and blue, when colours are counted
_QUALITY = 70


def begins(frame: int, rate: Rate, kind: str) -> int:
    """The unit at which a frame begins: the nearest, halves go up."""
    exact = frame * UNITS[kind] / rate.fps
    return (2 * exact.numerator + exact.denominator) // (2 * exact.denominator)


def animation_refusal(delivery: Delivery, *, rate: Rate, size: Size, frames: int) -> str | None:
    """Why frames are no animated picture, in one line; None when they are."""
    pixels = frames * size.width * size.height
    if pixels > LARGEST:
        return (
            f"{delivery.name} — {frames} frames of {size} are {pixels // 10**6} megapixels — an animated picture for"
            f" mail has at most {LARGEST // 10**6} — deliver it smaller, at a lower rate, or shorter"
        )
    if delivery.picture.codec == "gif" and rate.fps > Fraction(UNITS["gif"], SHORTEST):
        return (
            f"{delivery.name}, rate — {rate} frames a second — viewers show at most {UNITS['gif'] // SHORTEST} of a GIF"
            " — give the delivery a lower rate"
        )
    return None


def animate(pieces: Sequence[Source], partial: Path, *, rate: Rate, delivery: Delivery) -> int:
    """Writes an animated picture of the frames of lossless pieces.

    Args:
        pieces: in order.
        partial: where to write.
        rate: frames a second.
        delivery: GIF or WebP, and the quality of the latter.

    Returns:
        The number of frames.

    Raises:
        OutputFailed: when it is too large, or has more frames a second than a GIF can show.
    """
    kind = delivery.picture.codec
    counts = [_count(piece) for piece in pieces]
    frames, size = sum(count for count, _ in counts), counts[0][1]
    if why := animation_refusal(delivery, rate=rate, size=size, frames=frames):
        raise OutputFailed(why)
    if kind == "gif":
        _write_gif(pieces, partial, frames, _stays(frames, rate, kind))
    else:
        shown = _pictures(pieces)
        next(shown).save(
            partial, "WEBP", save_all=True, append_images=shown, duration=_stays(frames, rate, kind), loop=0, method=4,
            quality=_QUALITY if delivery.picture.quality is None else delivery.picture.quality,
        )  # fmt: skip
    return frames


def _stays(frames: int, rate: Rate, kind: str) -> list[int]:
    """Milliseconds that each frame stays."""
    starts = [begins(frame, rate, kind) for frame in range(frames + 1)]
    return [(later - earlier) * 1000 // UNITS[kind] for earlier, later in pairwise(starts)]


def _count(piece: Source) -> tuple[int, Size]:
    with opened(piece) as container:
        track = container.streams.video[0]
        size = Size(track.codec_context.width, track.codec_context.height)
        return sum(packet.size > 0 for packet in container.demux(track)), size


def _pictures(pieces: Sequence[Source]) -> Iterator[Image.Image]:
    for piece in pieces:
        with opened(piece) as container:
            for frame in container.decode(video=0):
                yield Image.fromarray(planes_to_rgb(planes_of(frame)))


def _write_gif(pieces: Sequence[Source], partial: Path, frames: int, stays: list[int]) -> None:
    table = _table(pieces, frames)
    shown = (picture.quantize(palette=table, dither=Image.Dither.FLOYDSTEINBERG) for picture in _pictures(pieces))
    next(shown).save(
        partial, "GIF", save_all=True, append_images=shown, duration=stays, loop=0, disposal=1, optimize=False
    )


def _table(pieces: Sequence[Source], frames: int) -> Image.Image:
    """256 colours that suit pictures from all over the film.

    A colour counts by the root of its area, so that a shirt or a face is not outvoted by grass and sky.
    """
    counts = np.zeros(1 << 3 * _BITS, np.int64)
    step = max(1, frames // _SAMPLED)
    for number, picture in enumerate(_pictures(pieces)):
        if number % step == 0:
            coarse = np.asarray(picture, np.int64) >> 8 - _BITS
            counts += np.bincount(
                (coarse[..., 0] << 2 * _BITS | coarse[..., 1] << _BITS | coarse[..., 2]).ravel(), minlength=len(counts)
            )
    found = np.flatnonzero(counts)
    times = np.rint(np.sqrt(counts[found])).astype(np.int64).clip(1)
    middle = 1 << 7 - _BITS
    rgb = np.stack([(found >> shift * _BITS & (1 << _BITS) - 1) << 8 - _BITS for shift in (2, 1, 0)], axis=1) + middle
    sheet = np.repeat(rgb.astype(np.uint8), times, axis=0)[None]
    return Image.fromarray(sheet).quantize(256, method=Image.Quantize.MEDIANCUT, kmeans=2, dither=Image.Dither.NONE)


def animated_facts(path: Path, *, frames: int, size: Size, rate: Rate) -> MovieFacts:
    """Decodes an animated picture to its end and holds the moments of its pictures against the frames.

    Args:
        path: the file.
        frames: how many it stands for.
        size: of its pictures.
        rate: frames a second.

    Raises:
        OutputFailed: when it does not decode, or a picture begins between two frames, or it is of another length.
    """
    kind = path_kind(path)
    starts = {begins(frame, rate, kind) * 1000 // UNITS[kind] for frame in range(frames)}
    now, wrong = 0, []
    try:
        with Image.open(path) as picture:
            found = Size(*picture.size)
            for number in range(getattr(picture, "n_frames", 1)):
                picture.seek(number)
                picture.load()
                if now not in starts:
                    wrong.append(f"picture {number} begins at {now} ms, between two frames")
                now += round(picture.info.get("duration", 0))
    except (OSError, EOFError, ValueError) as error:
        raise OutputFailed(f"{path} — does not decode to its end ({error}) — check the disk") from error
    end = begins(frames, rate, kind) * 1000 // UNITS[kind]
    if now != end:
        wrong.append(f"it lasts {now} ms instead of {end} ms")
    if found != size:
        wrong.append(f"size {found} instead of {size}")
    if wrong:
        raise OutputFailed(f"{path} — was not written as asked: {'; '.join(wrong)} — check the disk, then render again")
    return MovieFacts(
        path=path, size=found, rate=rate.fps, frames=frames, samples=0, video_codec=kind, audio_codec="none",
        colour="untagged", loudness=SILENCE, chapters=0,
    )  # fmt: skip


def path_kind(path: Path) -> str:
    """GIF or WebP, by its first bytes.

    Raises:
        OutputFailed: when it is neither, or cannot be read.
    """
    try:
        with path.open("rb") as file:
            head = file.read(4)
    except OSError as error:
        raise OutputFailed(f"{path} — cannot be read ({error.strerror}) — check the disk") from error
    for mark, kind in ((b"GIF8", "gif"), (b"RIFF", "webp")):
        if head == mark:
            return kind
    raise OutputFailed(f"{path} — is neither a GIF nor a WebP — check the disk, then render again")

"""How much room a season takes on the disk, told before it starts: by bit rates measured here, else by usual ones."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from segmentkit.delivery import Delivery
from segmentkit.errors import SegmentkitError
from segmentkit.media.normalise import copy_entry
from segmentkit.media.pieces import store_limit
from segmentkit.media.store import Store
from segmentkit.season.entry import CannotStart, Entry
from segmentkit.season.journal import Line
from segmentkit.season.profiles import profile
from segmentkit.storyboard.cuts import version_of
from segmentkit.storyboard.load import LoadedStoryboard
from segmentkit.timebase import seconds_of

USUAL = {
    "h264": 8e6, "hevc": 5e6, "vp9": 5e6, "av1": 4e6, "mpeg2": 50e6, "prores": 184e6, "dnxhr": 185e6, "webp": 12e6,
    "gif": 30e6,
}  # fmt: skip
"""Bits a second at 1920x1080 and 25 pictures a second. Prores and dnxhr from their makers' data sheets, from memory;
the others are common practice, no source."""
_FULL = 1920 * 1080 * 25
COPIES = 20
"""Bytes of a working copy, in which each picture stands alone, for each byte that was sent. Measured: 39 on drawn clips
without grain; the clips of phones have more bytes a picture, so it is less for those, by how much is not known here."""
_SMALL = {
    ".wav",
    ".m4a",
    ".mp3",
    ".flac",
    ".ogg",
    ".png",
    ".jpg",
    ".jpeg",
    ".heic",
    ".heif",
    ".webp",
    ".yaml",
    ".ttf",
    ".otf",
}
SPARE = 1.1
"""What is asked for above the estimate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Estimate:
    """Bytes that a run will take up.

    Attributes:
        delivered: finished files.
        kept: pieces and working copies in the working folder.
        seconds: of finished programme.
        measured: whether bit rates of this very season were at hand.
    """

    delivered: int
    kept: int
    seconds: float
    measured: bool


def length_of(loaded: LoadedStoryboard, to: Delivery) -> float:
    """Seconds of a delivery, from the slot of the version that it takes."""
    try:
        segment = version_of(loaded, to).board.segment
    except SegmentkitError:  # told when it is made
        segment = loaded.board.segment
    return float(seconds_of(segment.slot, segment.rate))


def usual_rate(loaded: LoadedStoryboard, to: Delivery) -> float:
    """Bytes a second of a delivery, by codec, size and rate."""
    segment = loaded.board.segment
    size, rate = to.size or segment.size, to.rate or segment.rate
    share = size.width * size.height * float(rate.fps) / _FULL
    picture = to.picture.bit_rate or USUAL.get(to.picture.codec, 12e6) * share
    sound = 0.0 if to.sound is None else to.sound.bit_rate or 2 * 24 * 48_000
    return (picture + sound) / 8


def measured_rates(lines: Iterable[Line]) -> dict[str, float]:
    """Bytes a second of each profile, over all that was delivered so far."""
    sums: dict[str, tuple[int, float]] = {}
    for line in lines:
        for made in line.files:
            if made.profile and made.seconds:
                size, seconds = sums.get(made.profile, (0, 0.0))
                sums[made.profile] = size + made.bytes, seconds + made.seconds
    return {name: size / seconds for name, (size, seconds) in sums.items()}


def estimate(entries: Sequence[Entry], lines: Mapping[str, Line], store: Store) -> Estimate:
    """What it will take to make these items; a clip that was opened before has its working copy already."""
    rates = measured_rates(lines.values())
    delivered, total = 0.0, 0.0
    sources: dict[str, int] = {}
    known = True
    for entry in entries:
        if entry.loaded is None:
            continue
        for name in entry.profiles:
            to = profile(name, entry.loaded)
            seconds = length_of(entry.loaded, to)
            known &= name in rates
            delivered += seconds * rates.get(name, usual_rate(entry.loaded, to))
            total += seconds
        for path, content in entry.contents.items():
            if path.suffix.lower() not in _SMALL and path.is_file():
                sources[content] = path.stat().st_size
    pieces = min(delivered, store_limit())
    copies = COPIES * sum(
        size for content, size in sources.items() if not copy_entry(content, store).with_suffix(".json").exists()
    )
    return Estimate(
        delivered=round(delivered),
        kept=round(pieces + copies),
        seconds=total,
        measured=known and bool(entries),
    )


def refuse_if_short(needed: Estimate, out: Path, store: Path) -> None:
    """Stops before anything is begun when the disk has no room.

    Raises:
        CannotStart: with how much is short.
    """
    places: dict[int, tuple[Path, int]] = {}
    for path, amount in ((out, needed.delivered), (store, needed.kept)):
        there = next(place for place in (path, *path.absolute().parents) if place.exists())
        device = there.stat().st_dev
        first, sum_ = places.get(device, (there, 0))
        places[device] = first, sum_ + amount
    for there, amount in places.values():
        free = shutil.disk_usage(there).free
        if amount * SPARE > free:
            raise CannotStart(
                f"{there} — this needs about {sized(amount * SPARE)}, and {sized(free)} are free:"
                f" {sized(amount * SPARE - free)} short — nothing was begun — make room, make fewer with --until or"
                " --only, or put the working folder elsewhere with --store"
            )


def sized(amount: float) -> str:
    """Bytes for a person."""
    for unit, scale in (("TB", 1e12), ("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if amount >= scale:
            return f"{amount / scale:.1f} {unit}"
    return f"{amount:.0f} bytes"

"""What was measured of a piece's pictures, kept in the working folder, so that a file is decoded only where it is new.

Meters that look at pictures need no more than the small picture of each frame, its levels, and how legible the places
of texts are. A joined file has the very packets of its pieces, in groups that do not look into one another; so what was
seen of a piece holds for each file that it is in. Nothing here says whom the pictures show: when a person's pictures
are removed, all of this goes and is measured again.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import astuple, dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from segmentkit.errors import OutputFailed
from segmentkit.geometry import Rect, Size
from segmentkit.media.pieces import store_limit, trim
from segmentkit.media.screen_levels import FrameLevels
from segmentkit.media.screen_reduce import Reduced
from segmentkit.media.screen_sync import Reference, reference_of
from segmentkit.media.sound import Samples
from segmentkit.media.store import Store
from segmentkit.screened import JoinedPiece

KIND = "screened"
_SHARE = 10
"""All of it may take up a tenth of what pieces may."""
_END = b"\n"


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured of a frame: whether it is the one before, its small picture, its levels if they are wrong."""

    same: bool
    small: Reduced
    levels: FrameLevels | None


class Keeper:
    """Takes what is measured of the frames of one piece, in order."""

    def __init__(self, size: Size) -> None:
        self._size = size
        self._packer = zlib.compressobj(1)
        self._packed: list[bytes] = []
        self._last = np.zeros((3, size.height, size.width), np.uint8)
        self._same: list[bool] = []
        self._levels: dict[int, list[Any]] = {}
        self._looks: list[list[float]] = []

    @property
    def frames(self) -> int:
        """How many were taken."""
        return len(self._same)

    def take(self, frame: Measured, looked: list[tuple[Rect, float]]) -> None:
        """Takes the next frame, and the contrasts in the places that were looked at in it."""
        number = self.frames
        same = frame.same and number > 0
        if not same:
            stack = np.stack([frame.small.y, frame.small.u, frame.small.v]).astype(np.uint8)
            self._packed.append(self._packer.compress((stack - self._last).tobytes()))
            self._last = stack
        if frame.levels is not None:
            one = frame.levels
            self._levels[number] = [one.share, one.lowest, one.highest, *astuple(one.area)]
        self._looks.extend([number, *astuple(area), contrast] for area, contrast in looked)
        self._same.append(same)

    def packed(self) -> bytes:
        """All of it, as `Kept` reads it."""
        told = {
            "size": [self._size.width, self._size.height],
            "same": "".join("01"[same] for same in self._same),
            "levels": self._levels,
            "looks": self._looks,
        }
        pictures = b"".join([*self._packed, self._packer.flush()])
        body = json.dumps(told).encode() + _END + pictures
        return hashlib.sha256(body).hexdigest().encode() + _END + body


class Kept:
    """What was kept of one piece.

    Raises:
        ValueError: when it is damaged.
    """

    def __init__(self, data: bytes) -> None:
        digest, _, body = data.partition(_END)
        if hashlib.sha256(body).hexdigest().encode() != digest:
            raise ValueError("what was measured of a piece is damaged")
        head, _, self._pictures = body.partition(_END)
        told = json.loads(head)
        self._size = Size(*told["size"])
        self._same = told["same"]
        self._levels = {int(number): one for number, one in told["levels"].items()}
        self._looks = {(int(number), Rect(*area)): contrast for number, *area, contrast in told["looks"]}

    @property
    def frames(self) -> int:
        """How many there are."""
        return len(self._same)

    def contrast(self, number: int, area: Rect) -> float | None:
        """The contrast in a place of a frame; None when nobody looked there."""
        return self._looks.get((number, area))

    def __iter__(self) -> Iterator[Measured]:
        """The frames in order."""
        unpacker = zlib.decompressobj()
        count = 3 * self._size.height * self._size.width
        waiting, small = self._pictures, None
        last: NDArray[np.uint8] = np.zeros((3, self._size.height, self._size.width), np.uint8)
        for number, mark in enumerate(self._same):
            if mark == "0":
                data = b""
                while len(data) < count:
                    more = unpacker.decompress(waiting, count - len(data))
                    waiting = unpacker.unconsumed_tail
                    if not more:
                        raise ValueError("what was measured of a piece ends too soon")
                    data += more
                last = last + np.frombuffer(data, np.uint8).reshape(last.shape)
                small = Reduced(*(plane.astype(np.float32) for plane in last))
            assert small is not None
            levels = None
            if one := self._levels.get(number):
                levels = FrameLevels(one[0], one[1], one[2], Rect(*one[3:]))
            yield Measured(mark == "1", small, levels)


class Archive:
    """What is kept in one working folder."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._grown = False

    def find(self, part: JoinedPiece) -> Kept | None:
        """What was kept of a piece; None when there is nothing whole."""
        try:
            found = Kept(self._path(part).read_bytes())
        except (OSError, ValueError, KeyError, TypeError):
            return None
        return found if found.frames == part.frames else None

    def keep(self, part: JoinedPiece, keeper: Keeper) -> None:
        """Keeps what was measured of a piece. A folder that cannot be written to is no reason to stop."""
        try:
            with self._store.writing(self._path(part)) as partial:
                partial.write_bytes(keeper.packed())
        except (OutputFailed, OSError):
            return
        self._grown = True

    def close(self) -> None:
        """Throws out what was not used for longest, if it is too much."""
        if self._grown:
            trim(self._store.root / KIND, store_limit() // _SHARE)

    def _path(self, part: JoinedPiece) -> Path:
        return self._store.path_for(KIND, 1, part.packets, _recipe(), suffix=".bin")


def kept_reference(store: Store, sound: str, planned: Callable[[], Samples]) -> Reference:
    """A planned sound, made ready to be compared with; mixed only when it is not there.

    Args:
        store: the working folder.
        sound: a name for all that can change the sound.
        planned: mixes it: float32, 48 kHz, shape (n, 2).

    Raises:
        OutputFailed: when the folder cannot be written to.
        MediaUnusable: when it cannot be mixed.
    """

    def read(path: Path) -> Reference:
        try:
            with path.open("rb") as handle, np.load(handle) as file:
                return Reference(file["sides"], file["squares"])
        except zipfile.BadZipFile as error:
            raise ValueError("what was kept of a planned sound is damaged") from error

    def write(path: Path) -> None:
        made = reference_of(planned())
        with path.open("wb") as file:
            np.savez(file, sides=made.sides, squares=made.squares)

    path = store.path_for(KIND, 1, "sound", sound, _recipe(), suffix=".npz")
    return store.make(path, read, write)


@cache
def _recipe() -> str:
    """A hash of the code that measures, and of the libraries that it is done with."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("screen*.py")):
        digest.update(path.read_bytes())
    import av  # noqa: PLC0415
    import cv2  # noqa: PLC0415

    digest.update(f"{av.__version__} {cv2.__version__} {np.__version__}".encode())
    return digest.hexdigest()

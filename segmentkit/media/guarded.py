"""Opens files that strangers sent, in a process that may fail: it has little memory, little time and no other file.

The process reads the header first, and the header decides how much it may have; what does not fit is refused before a
picture is decoded. Whatever happens to it, here there is a result or one clear line, and nothing keeps running.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path
from typing import IO, Any, cast

import segmentkit
from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.facts import ClipFacts
from segmentkit.media import safe
from segmentkit.media.container import admit
from segmentkit.media.normalise import RECIPE, working_copy
from segmentkit.media.store import Store

HEADER_RECIPE = 1
"""Version of what is kept of a header; a higher one makes every entry anew."""
STILL_RECIPE = 1
"""Version of how a still is cleaned."""
_START = 30.0  # seconds until a header must have been read; the process has to load its libraries first
_LONGEST_LINE = 1 << 20
_CHUNK = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardLimits:
    """What a strange file may cost. Each is compared with the header before anything is decoded.

    Attributes:
        pixels: of one picture.
        frames: of the whole clip.
        seconds: of the whole clip.
        size: of the file, in bytes.
        memory: of the process, in bytes; a header of small pictures gets less.
        wall: seconds that decoding may last at most; a header of few pictures gets less.
    """

    pixels: int = 9_000_000
    frames: int = 30_000
    seconds: int = 120
    size: int = 2_000_000_000
    memory: int = 2_500_000_000
    wall: float = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """What a clip says of itself, or its first pictures tell.

    Attributes:
        container, codec, pixels: names as libav has them.
        interlaced, mirrored, assumed_matrix: as in `probe.Look`.
        turn: quarter turns clockwise that the file asks for.
        transfer: of HDR, else empty.
        capture_rate: frames a second when it was filmed, where a phone has said so.
        channels: of the chosen sound track; 0 without sound.
        bit_rate: of the pictures, in bits a second.
        personal: kinds of personal data that the file carries: place, device, date, name, text.
        quantiser: mean H.264 quantiser of the first pictures, 0 to 51; None where the codec does not tell it.
    """

    container: str
    codec: str
    pixels: str
    interlaced: bool
    mirrored: bool
    turn: int
    transfer: str
    assumed_matrix: bool
    capture_rate: Fraction | None
    channels: int
    bit_rate: int
    personal: tuple[str, ...]
    quantiser: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GuardedClip:
    """A strange clip that was made safe: its working copy, its header, and what that cost.

    Attributes:
        peak: most memory that the process held, in bytes; 0 when the copy was there before.
    """

    facts: ClipFacts
    header: Header
    peak: int


def guarded_clip(path: Path, store: Store, limits: GuardLimits | None = None) -> GuardedClip:
    """Makes the working copy of a strange clip in a process of its own, or finds the one that was made before.

    Raises:
        MediaUnusable: when the clip cannot be used; one line that says why.
        OutputFailed: when the working folder cannot be written to.
    """
    admit(path)
    limits = limits or GuardLimits()
    _small_enough(path, limits)
    content = store.content_of(path)
    entry = header_entry(content, store)
    if (facts := working_copy(path, content, store)) is not None and (header := _header(entry)) is not None:
        return GuardedClip(facts=facts, header=header, peak=0)
    done = _ask({"task": "clip", "path": str(path.absolute()), "content": content}, path, store, limits)
    facts, header = working_copy(path, content, store), _header(entry)
    if facts is None or header is None:
        raise OutputFailed(f"{store.root} — the working copy of {path.name} was not kept — check the disk")
    return GuardedClip(facts=facts, header=header, peak=int(done["peak"]))


def guarded_still(path: Path, store: Store, limits: GuardLimits | None = None) -> Path:
    """Cleans a strange still in a process of its own: an upright PNG of the pixels alone.

    Returns:
        The clean picture in the working folder.

    Raises:
        MediaUnusable: when it cannot be used; one line that says why.
    """
    admit(path)
    limits = limits or GuardLimits()
    _small_enough(path, limits)
    content = store.content_of(path)
    clean = still_entry(content, store)
    if not clean.is_file():
        _ask({"task": "still", "path": str(path.absolute()), "content": content}, path, store, limits)
    return clean


def header_entry(content: str, store: Store) -> Path:
    """Where the header of a clip of these bytes is kept."""
    return store.path_for("header", HEADER_RECIPE, RECIPE, content, suffix=".json")


def still_entry(content: str, store: Store) -> Path:
    """Where the clean picture of a still of these bytes is kept."""
    return store.path_for("still", STILL_RECIPE, content, suffix=".png")


def _header(entry: Path) -> Header | None:
    try:
        data = json.loads(entry.read_text("utf-8"))
        capture = data["capture_rate"]
        return Header(**{
            **data, "personal": tuple(data["personal"]), "capture_rate": None if capture is None else Fraction(capture),
        })  # fmt: skip
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _small_enough(path: Path, limits: GuardLimits) -> None:
    size = path.stat().st_size
    if size > limits.size:
        raise MediaUnusable(
            f"{path} — has {size / 1e6:.0f} MB — at most {limits.size / 1e6:.0f} MB are taken — send the swing alone"
        )


# --- the process -----------------------------------------------------------------------------------------------------


def _ask(request: dict[str, Any], path: Path, store: Store, limits: GuardLimits) -> dict[str, Any]:
    """Sends one request to a fresh process and waits for its answer."""
    request |= {"store": str(store.root.absolute()), "limits": asdict(limits)}
    deadline = time.monotonic() + _START
    began = time.monotonic()
    try:
        with _process() as (process, replies):
            with contextlib.suppress(OSError):
                entrance = cast("IO[bytes]", process.stdin)
                entrance.write(json.dumps(request).encode() + b"\n")
                entrance.close()
            while True:
                reply = _next(replies, deadline)
                if reply is None:
                    raise MediaUnusable(_too_slow(path, time.monotonic() - began))
                if not reply:
                    raise MediaUnusable(_broke_down(path, process))
                if "wall" in reply:
                    deadline = time.monotonic() + min(limits.wall, float(reply["wall"]))
                elif "fault" in reply:
                    raise (OutputFailed if reply["kind"] == "output" else MediaUnusable)(str(reply["fault"]))
                else:
                    return reply
    finally:
        for kind in ("clip", "header", "still"):
            for folder in (store.root / kind).glob("??"):
                safe.clear_stale(folder)


@contextlib.contextmanager
def _process() -> Iterator[tuple[subprocess.Popen[bytes], queue.Queue[dict[str, Any]]]]:
    """Starts the process in a group of its own with a bare environment; the group is ended whatever happens."""
    home = str(Path(segmentkit.__file__).resolve().parent.parent)
    paths = [home, *filter(None, [os.environ.get("PYTHONPATH")])]
    kept = {key: os.environ[key] for key in ("PATH", "LANG", "TMPDIR", "SEGMENTKIT_FFMPEG") if key in os.environ}
    process = subprocess.Popen(
        [sys.executable, "-P", "-m", "segmentkit.media.guarded_worker"],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True,
        env={**kept, "PYTHONPATH": os.pathsep.join(paths), "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"},
    )  # fmt: skip
    replies: queue.Queue[dict[str, Any]] = queue.Queue()
    listener = threading.Thread(target=_listen, args=(process.stdout, replies), daemon=True)
    listener.start()
    try:
        yield process, replies
    finally:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        listener.join(5)
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()


def _listen(stream: IO[bytes], replies: queue.Queue[dict[str, Any]]) -> None:
    """Hands on lines of JSON; an empty one says that no more will come. What is no JSON counts as the end."""
    with contextlib.suppress(OSError, ValueError):
        while line := stream.readline(_LONGEST_LINE):
            reply = json.loads(line)
            if isinstance(reply, dict):
                replies.put(reply)
    replies.put({})


def _next(replies: queue.Queue[dict[str, Any]], deadline: float) -> dict[str, Any] | None:
    try:
        return replies.get(timeout=max(0.0, deadline - time.monotonic()))
    except queue.Empty:
        return None


def _too_slow(path: Path, seconds: float) -> str:
    return (
        f"{path} — was not read after {seconds:.0f} s, far longer than its header promises, and was given up"
        " — a clip must decode from start to end — ask for the file again"
    )


def _broke_down(path: Path, process: subprocess.Popen[bytes]) -> str:
    with contextlib.suppress(subprocess.TimeoutExpired):
        process.wait(5)
    code = process.returncode or 0
    if code == -signal.SIGXCPU:
        return _too_slow(path, 0)
    cause = f"signal {-code}" if code < 0 else f"code {code}"
    return (
        f"{path} — could not be read: its decoder broke down ({cause}) — a clip must decode from start to end"
        " — ask for the file again, as the camera or phone saved it"
    )

"""The process in which a strange file is opened: `python -m segmentkit.media.guarded_worker`.

In, one line of JSON: task, path, content, store, limits. Out: {"wall"} once the header was read and its limits hold,
then {"peak"} when the entry is in the working folder; or {"fault", "kind"}. The file's own words reach nobody: only
numbers, names of formats and texts of the house go out.
"""

from __future__ import annotations

import contextlib
import json
import os
import resource
import struct
import sys
from fractions import Fraction
from pathlib import Path
from typing import Any, cast

import av
from av.container import InputContainer

from segmentkit.errors import MediaUnusable, OutputFailed
from segmentkit.media.container import declared_end, opened, undecodable
from segmentkit.media.guarded import header_entry, still_entry
from segmentkit.media.normalise import normalise
from segmentkit.media.probe import ClipProbe, probe
from segmentkit.media.stills import load_still, write_png
from segmentkit.media.store import Store
from segmentkit.timebase import seconds_text

_BASE = 900_000_000
"""Bytes of address space for the interpreter and its libraries, before any picture."""
_A_PIXEL = 160
"""Bytes of address space a pixel of the picture: decoder, filter and encoder each hold a dozen pictures."""
_PIXELS_A_SECOND = 3_000_000
"""Slowest decoding that is waited for; a busy machine of two cores does ten times that."""
_PATIENCE = 20.0
_LOOKED_AT = 24  # pictures whose quantiser is read

_PERSONAL = {
    "place": ("location", "loci", "xyz", "gps", "iso6709", "place", "city", "country"),
    "device": ("make", "model", "device", "manufacturer", "software", "camera", "lens", "android.version"),
    "date": ("creation", "date", "time", "year"),
    "name": ("artist", "author", "owner", "copyright", "performer", "publisher", "composer", "user", "display_name"),
    "text": ("title", "comment", "description", "synopsis", "keywords", "album", "lyrics"),
}
_HARMLESS = {"major_brand", "minor_version", "compatible_brands", "handler_name", "vendor_id", "language", "timecode"}


def main() -> None:
    """Answers one request."""
    replies = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # a library that prints must not be heard as an answer
    request = json.loads(sys.stdin.readline())

    def say(reply: dict[str, Any]) -> None:
        replies.write(json.dumps(reply) + "\n")
        replies.flush()

    path, limits = Path(request["path"]), request["limits"]
    try:
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        _narrow(resource.RLIMIT_AS, int(limits["memory"]))
        _narrow(resource.RLIMIT_CPU, int(limits["wall"]) + 30)
        store = Store(Path(request["store"]))
        if request["task"] == "still":
            say({"wall": 60.0})
            picture = load_still(path)[1]
            write_png(still_entry(request["content"], store), picture)
        else:
            pixels, frames = _measured(path, limits)
            _narrow(resource.RLIMIT_AS, min(int(limits["memory"]), _BASE + _A_PIXEL * pixels))
            _narrow(resource.RLIMIT_FSIZE, 200_000_000 + pixels * frames)
            wall = _PATIENCE + pixels * frames / _PIXELS_A_SECOND
            _narrow(resource.RLIMIT_CPU, int(2 * wall) + 30)
            say({"wall": wall})
            _clip(path, str(request["content"]), store)
        say({"peak": _peak()})
    except (MediaUnusable, OutputFailed, MemoryError, av.MemoryError) as error:
        kind = "output" if isinstance(error, OutputFailed) else "media"
        if isinstance(error, _NO_MEMORY) or isinstance(error.__cause__, _NO_MEMORY):
            say({"fault": f"{path} — needs more memory than a clip of its size may — {_AGAIN}", "kind": "media"})
        else:
            say({"fault": str(error), "kind": kind})
    except (av.FFmpegError, ArithmeticError, LookupError, TypeError, ValueError) as error:
        # A damaged file can say anything; what none of the readers expected is still the file's fault.
        say({"fault": undecodable(path, error), "kind": "media"})


def _peak() -> int:
    """Most memory held by this process in bytes; what it inherited before it began does not count."""
    with contextlib.suppress(OSError, ValueError):
        for line in Path("/proc/self/status").read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


_NO_MEMORY = (MemoryError, av.MemoryError)
_AGAIN = "a clip must decode from start to end — ask for the file again, as the camera or phone saved it"


def _narrow(which: int, most: int) -> None:
    """Lowers a limit of this process; never raises one."""
    _, hard = resource.getrlimit(which)
    limit = most if hard == resource.RLIM_INFINITY else min(most, hard)
    resource.setrlimit(which, (limit, hard))


def _measured(path: Path, limits: dict[str, Any]) -> tuple[int, int]:
    """Pixels of a picture and number of frames by the header; refuses what is beyond the limits."""
    with opened(path) as container:
        sizes = [s.codec_context.width * s.codec_context.height for s in container.streams.video if s.codec_context]
        pixels = max(sizes, default=0)
        if pixels > limits["pixels"]:
            raise MediaUnusable(
                f"{path} — has pictures of {pixels / 1e6:.1f} million pixels — at most {limits['pixels'] / 1e6:.1f}"
                " million are taken — film in 1080p or 4K"
            )
        frames, seconds = 0, Fraction(0)
        for stream in container.streams.video:
            frames = max(frames, stream.frames, len(stream.index_entries))
            seconds = max(seconds, declared_end(container, stream) or Fraction(0))
        if seconds > limits["seconds"]:
            raise MediaUnusable(
                f"{path} — lasts {seconds_text(seconds, 1)} — at most {limits['seconds']} s are taken — send the"
                " swing alone"
            )
        if frames > limits["frames"]:
            raise MediaUnusable(
                f"{path} — has {frames} frames — at most {limits['frames']} are taken — send the swing alone"
            )
    # Where a container keeps no index its length is a guess; then the most that is taken is waited for.
    return max(pixels, 1), frames or min(int(limits["frames"]), int(240 * seconds) or int(limits["frames"]))


def _clip(path: Path, content: str, store: Store) -> None:
    found = probe(path)
    normalise(path, store)
    header = _header(path, found)
    with store.writing(header_entry(content, store)) as partial:
        partial.write_text(json.dumps(header), "utf-8")


def _header(path: Path, found: ClipProbe) -> dict[str, Any]:
    with opened(path) as container:
        stream = container.streams[found.video]
        rate = getattr(stream, "bit_rate", None) or container.bit_rate or 0
        personal = _personal(container)
    look = found.look
    return {
        "container": found.container.split(",")[0], "codec": found.codec, "pixels": look.pixels,
        "interlaced": look.interlaced, "mirrored": look.mirrored, "turn": look.turn, "transfer": look.transfer,
        "assumed_matrix": look.assumed, "capture_rate": None if found.capture_rate is None else str(found.capture_rate),
        "channels": found.sound.channels if found.sound else 0, "bit_rate": int(rate), "personal": personal,
        "quantiser": _quantiser(path, found),
    }  # fmt: skip


def _personal(container: InputContainer) -> list[str]:
    """Kinds of personal data among the tags; the data themselves are not read on."""
    tags = dict(container.metadata)
    for stream in container.streams:
        tags |= stream.metadata
    names = [name.lower() for name in tags if name.lower() not in _HARMLESS]
    return [kind for kind, words in _PERSONAL.items() if any(word in name for name in names for word in words)]


def _quantiser(path: Path, found: ClipProbe) -> float | None:
    """Mean quantiser of the first pictures of an H.264 clip (Rec. ITU-T H.264, 7.4.3: slice QP, 0 to 51)."""
    if found.codec != "h264":
        return None
    values: list[float] = []
    with contextlib.suppress(av.FFmpegError), opened(path) as container:
        stream: Any = container.streams[found.video]
        stream.codec_context.options = {"export_side_data": "venc_params"}
        for frame in container.decode(stream):
            if (value := _mean_of(cast("Any", frame.side_data).get("VIDEO_ENC_PARAMS"))) is not None:
                values.append(value)
            if len(values) >= _LOOKED_AT:
                break
    return round(sum(values) / len(values), 1) if values else None


def _mean_of(data: Any) -> float | None:
    """Mean quantiser of one picture from libavutil's AVVideoEncParams, whose blocks differ from the picture's own.

    The structure: nb_blocks (u32), blocks_offset (size_t), block_size (size_t), type (i32), qp (i32), delta_qp; each
    block: src_x, src_y, w, h, delta_qp (i32).
    """
    if data is None:
        return None
    raw = bytes(data)
    blocks, offset, step, _, base = struct.unpack_from("@IQQii", raw)
    if not blocks or offset + blocks * step > len(raw):
        return float(base)
    deltas = [int(struct.unpack_from("=i", raw, offset + k * step + 16)[0]) for k in range(blocks)]
    return float(base) + sum(deltas) / float(blocks)


if __name__ == "__main__":
    main()

"""Opens clips as files of pictures and nothing else, and says in plain words why one cannot be opened."""

from __future__ import annotations

import stat
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
from av.container import InputContainer

from segmentkit.errors import MediaUnusable
from segmentkit.media.store import unreadable

CONTAINERS = frozenset({
    "mov", "mp4", "m4a", "3gp", "3g2", "mj2", "matroska", "webm", "avi", "mpegts", "mpeg", "dv", "mxf", "asf", "flv",
})  # fmt: skip
"""Containers that hold their own pictures. Play lists and scripts, which name other files, are not among them."""


def opened(path: Path) -> InputContainer:
    """Opens a clip for reading: as a file, whatever its name looks like, and only containers that are allowed.

    Raises:
        MediaUnusable: when it is no container of pictures.
    """
    try:
        return av.open(
            f"file:{path.absolute()}",
            "r",
            container_options={"format_whitelist": ",".join(sorted(CONTAINERS)), "protocol_whitelist": "file"},
            metadata_errors="replace",
        )
    except (av.FFmpegError, OSError) as error:
        raise MediaUnusable(_unopenable(path, error)) from error


def admit(path: Path) -> None:
    """Refuses what is no file on the disk, before anything waits for it.

    Raises:
        MediaUnusable: when there is no such file, or it is a folder, a device or empty.
    """
    try:
        status = path.stat()
    except OSError as error:
        raise MediaUnusable(unreadable(path, error)) from error
    if stat.S_ISDIR(status.st_mode):
        raise MediaUnusable(unreadable(path, IsADirectoryError()))
    if not stat.S_ISREG(status.st_mode):
        raise MediaUnusable(f"{path} — is a device or a pipe — a clip is a file — save it to the disk first")
    if status.st_size == 0:
        raise MediaUnusable(f"{path} — is empty, 0 bytes — a clip holds pictures — ask for the file again")


def _unopenable(path: Path, error: Exception) -> str:
    """Why a file could not be opened, told from its first bytes."""
    try:
        with path.open("rb") as handle:
            head = handle.read(4096)
    except OSError as fault:
        return unreadable(path, fault)
    again = "ask for the file again, as the camera or phone saved it"
    if head.lstrip().startswith((b"ffconcat", b"#EXTM3U", b"file ", b"<?xml", b"<SMIL", b"<smil")):
        what = "is a play list that names other files — a clip holds its own pictures — name the clip itself"
    elif head[8:12] == b"WAVE":
        what = "is a sound file, not a clip — clips hold pictures — use it as a take, or ask for the clip"
    elif head.startswith((b"\xff\xd8\xff", b"\x89PNG", b"GIF8")):
        what = "is a still picture, not a clip — clips move — use it as a still, or ask for the clip"
    elif isinstance(error, EOFError):
        what = f"ends before its first picture: 0 frames decode — a clip holds pictures — {again}"
    elif head[4:8] in {b"ftyp", b"moov", b"mdat", b"wide", b"free", b"skip"}:
        what = (
            "was cut off: the part that lists its pictures is missing — a whole file is needed"
            f" — the upload or copy stopped early; {again}"
        )
    elif b"\0" not in head and _is_text(head):
        what = f"is text, not a clip — MP4, MOV, MKV, WebM, AVI, TS and MPEG are read — {again}"
    else:
        what = f"cannot be opened as a clip ({said(error)}) — MP4, MOV, MKV, AVI and TS are read — {again}"
    return f"{path} — {what}"


def _is_text(head: bytes) -> bool:
    try:
        head[:-4].decode("utf-8")
    except UnicodeDecodeError:
        return False
    return True


def said(error: Exception) -> str:
    """What an error of libav says, without its number and file name."""
    return str(getattr(error, "strerror", None) or error)


def undecodable(path: Path, error: Exception) -> str:
    """The designed text for pictures that do not decode."""
    return (
        f"{path} — is damaged: its pictures cannot be decoded ({said(error)})"
        " — a clip must decode from start to end — ask for the file again"
    )


def declared_end(container: InputContainer, stream: Any) -> Fraction | None:
    """How long the header says the stream lasts, in seconds; None where it says nothing."""
    if stream.duration and stream.time_base:
        return Fraction(stream.duration * stream.time_base)
    return Fraction(container.duration, 1_000_000) if container.duration else None

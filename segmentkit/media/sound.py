"""Sound files in and out: any format that a microphone or an editor hands over, decoded to float samples at 48 kHz."""

from __future__ import annotations

import wave
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from segmentkit.errors import MediaUnusable
from segmentkit.media import safe
from segmentkit.timebase import SAMPLE_RATE

Samples = NDArray[np.float32]
"""Sound at 48 kHz: float32, shape (n, channels), full scale at -1 to 1, left before right."""

CONTAINERS = ("wav", "w64", "flac", "mp3", "mov", "mp4", "m4a", "3gp", "ogg", "aiff", "caf", "aac", "matroska", "webm")
"""The formats that are opened. A play list or a script of files is refused, whatever its name says."""

SUFFIXES = (".wav", ".flac", ".mp3", ".m4a", ".ogg", ".opus", ".aif", ".aiff", ".aac", ".caf")
"""Endings by which a sound file is found in a folder."""

_EXACT = frozenset({"wav", "w64", "flac", "aiff", "caf", "mov"})  # containers that state their length to the sample
_PADDING = 4096  # samples by which a coder may fill up its last block
_ONE_SIDED = 10 ** (-50 / 20)  # a channel this far below the other carries nothing but its noise


@dataclass(frozen=True, slots=True)
class SoundLimits:
    """What is accepted: `seconds` of sound, and bytes on disk."""

    seconds: int = 1800
    size: int = 2_000_000_000


def read_sound(path: Path, limits: SoundLimits | None = None) -> Samples:
    """Decodes a whole file to 48 kHz; sample k of a 48 kHz file is sample k of the result.

    A coder's delay and padding are removed as the file states them. Of several tracks the one marked as default is
    taken, else the one with most channels. More than two channels are mixed down to two.

    Returns:
        float32, shape (n, 1) or (n, 2).

    Raises:
        MediaUnusable: when there is no such file, it is no sound, is damaged, stops early, is empty or too long.
    """
    limits = limits or SoundLimits()
    _admit(path, limits)
    _check_wav(path)
    import av  # noqa: PLC0415  heavy; a dry check without takes never needs it

    try:
        with av.open(f"file:{path}", options={"format_whitelist": ",".join(CONTAINERS)}) as container:
            stream = _choose(path, container)
            promised = _promised(container, stream)
            blocks = list(_blocks(path, container, stream, limits))
    except av.FFmpegError as error:
        raise MediaUnusable(
            f"{path} — cannot be decoded as sound ({error.strerror}) — WAV, FLAC, MP3, M4A, OGG and AIFF are read — "
            "export it again as WAV, 48 kHz"
        ) from None
    samples = np.concatenate(blocks) if blocks else np.zeros((0, 1), np.float32)
    if not len(samples):
        raise MediaUnusable(f"{path} — holds no sound, 0 samples — a reading has some — record or export it again")
    if not np.isfinite(samples).all():
        raise MediaUnusable(f"{path} — holds samples that are no numbers — finite ones are allowed — export it again")
    if promised and promised < len(samples) <= promised + _PADDING:
        samples = samples[:promised]
    if promised and len(samples) < promised - SAMPLE_RATE // 2:
        raise MediaUnusable(
            f"{path} — stops after {len(samples) / SAMPLE_RATE:.2f} s, but its header promises "
            f"{promised / SAMPLE_RATE:.2f} s — a whole file is needed — copy or export it again"
        )
    return samples


def duration(samples: Samples) -> Fraction:
    """Length in seconds, exactly."""
    return Fraction(len(samples), SAMPLE_RATE)


def to_mono(samples: Samples) -> Samples:
    """One channel, shape (n, 1). When one side of a stereo file is silent the other is taken whole, not halved."""
    if samples.shape[1] == 1:
        return samples
    power = np.sqrt(np.mean(np.square(samples, dtype=np.float64), axis=0))
    loud = int(np.argmax(power))
    if power.min() <= power[loud] * _ONE_SIDED:
        return np.ascontiguousarray(samples[:, loud : loud + 1])
    return np.asarray(samples.mean(axis=1, keepdims=True), np.float32)


def to_stereo(samples: Samples) -> Samples:
    """Two channels, shape (n, 2); mono, or a file with one silent side, is put on both."""
    mono = to_mono(samples) if samples.shape[1] == 1 or _one_sided(samples) else None
    return samples if mono is None else np.repeat(mono, 2, axis=1)


def write_wav(path: Path, samples: Samples, bits: int = 24) -> None:
    """Writes a PCM WAV at 48 kHz; the final name appears only when the file is whole.

    Args:
        path: where.
        samples: float32, shape (n, channels); beyond -1 to 1 it is held at full scale.
        bits: 16 or 24.

    Raises:
        OutputFailed: when it cannot be written.
    """
    if bits not in {16, 24}:
        raise ValueError(f"{bits} bits: 16 or 24 are written")
    full = 2 ** (bits - 1)
    whole = np.clip(np.rint(samples.astype(np.float64) * full), -full, full - 1).astype("<i4")
    packed = whole.astype("<i2").tobytes() if bits == 16 else whole.view(np.uint8).reshape(-1, 4)[:, :3].tobytes()
    with safe.writing(path) as partial, partial.open("wb") as file, wave.open(cast(Any, file), "wb") as out:
        out.setnchannels(samples.shape[1])
        out.setsampwidth(bits // 8)
        out.setframerate(SAMPLE_RATE)
        out.writeframes(packed)


def _admit(path: Path, limits: SoundLimits) -> None:
    if not path.is_file():
        what = "is a folder" if path.is_dir() else "there is no such file"
        raise MediaUnusable(f"{path} — {what} — a sound file is needed — check the name and the folder")
    size = path.stat().st_size
    if size > limits.size:
        raise MediaUnusable(
            f"{path} — {size / 1e6:.0f} MB — at most {limits.size / 1e6:.0f} MB are read — cut it or export it smaller"
        )


def _check_wav(path: Path) -> None:
    """Finds a WAV cut off by a full card or a broken copy: decoders take what there is for the whole."""
    with path.open("rb") as file:
        head = file.read(12)
        while head[:4] == b"RIFF" and head[8:] == b"WAVE" and len(chunk := file.read(8)) == 8:
            promised = int.from_bytes(chunk[4:], "little")
            if chunk[:4] != b"data":
                file.seek(promised + promised % 2, 1)
                continue
            there = path.stat().st_size - file.tell()
            if there < promised < 0xFFFFFFFF - 1:  # that length is written while it is not known yet
                raise MediaUnusable(
                    f"{path} — stops early: {there / 1e6:.2f} MB of samples, but its header promises"
                    f" {promised / 1e6:.2f} MB — a whole file is needed — copy or export it again"
                )
            return


def _choose(path: Path, container: Any) -> Any:
    streams = [s for s in container.streams.audio if s.codec_context is not None and s.codec_context.channels]
    if not streams:
        raise MediaUnusable(f"{path} — has no sound track — a reading needs one — record or export it again")
    return max(streams, key=lambda s: (bool(int(s.disposition) & 1), s.codec_context.channels, -s.index))


def _promised(container: Any, stream: Any) -> int | None:
    """Samples at 48 kHz that the header states, where the format knows it for certain."""
    if stream.duration is None or not _EXACT & set(container.format.name.split(",")):
        return None
    return int(stream.duration * stream.time_base * SAMPLE_RATE)


def _blocks(path: Path, container: Any, stream: Any, limits: SoundLimits) -> Iterator[Samples]:
    import av  # noqa: PLC0415

    layout = "mono" if stream.codec_context.channels == 1 else "stereo"
    resampler = av.AudioResampler(format="flt", layout=layout, rate=SAMPLE_RATE)
    wide = 1 if layout == "mono" else 2
    count = 0

    def converted(frame: Any) -> Iterator[Samples]:
        nonlocal count
        for out in resampler.resample(frame):
            block = np.asarray(out.to_ndarray(), np.float32).reshape(-1, wide)
            count += len(block)
            if count > limits.seconds * SAMPLE_RATE:
                raise MediaUnusable(
                    f"{path} — longer than {limits.seconds} s — at most {limits.seconds} s are read — cut it"
                )
            yield block

    for frame in container.decode(stream):
        frame.pts = None  # samples follow one another; stated times of sound files are often rounded
        yield from converted(frame)
    yield from converted(None)


def _one_sided(samples: Samples) -> bool:
    power = np.sqrt(np.mean(np.square(samples, dtype=np.float64), axis=0))
    return bool(power.min() <= power.max() * _ONE_SIDED)

"""Writes a clip: H.264 4:2:0 BT.709 limited and AAC, under a temporary name until it is whole."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.video.reformatter import ColorPrimaries, ColorRange, Colorspace, ColorTrc
from numpy.typing import NDArray

from .sound import RATE

KEY_EVERY = 250
"""Frames from key frame to key frame: grass makes key frames ten times as large as the frames between."""


def write(
    path: Path,
    frames: Iterable[NDArray[np.uint8]],
    sound: NDArray[np.float64],
    *,
    fps: int,
    size: tuple[int, int],
    quality: int,
) -> int:
    """Encode and put in place; returns the number of frames.

    Args:
        path: final name; the file appears there only when it is complete.
        frames: uint8 (h, w, 3), display RGB, in order.
        sound: float64 (n, 2), full scale 1, at `sound.RATE`.
        fps: frames a second.
        size: width and height in pixels, both even.
        quality: constant rate factor of the encoder; smaller is better and larger.
    """
    partial = path.with_name(f".{path.stem}.{os.getpid()}.partial.mp4")
    count = 0
    with av.open(str(partial), "w", options={"movflags": "+faststart"}) as box:
        video = box.add_stream(
            "libx264", rate=Fraction(fps), options={"crf": str(quality), "preset": "medium", "threads": "1"}
        )
        video.width, video.height, video.pix_fmt = *size, "yuv420p"
        video.time_base = Fraction(1, fps)
        video.codec_context.gop_size = KEY_EVERY
        video.codec_context.color_range = ColorRange.MPEG
        video.codec_context.colorspace = Colorspace.ITU709
        video.codec_context.color_primaries = ColorPrimaries.BT709
        video.codec_context.color_trc = ColorTrc.BT709
        audio = box.add_stream("aac", rate=RATE, layout="stereo")
        audio.bit_rate = 128_000
        for picture in frames:
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24")
            frame = frame.reformat(
                format="yuv420p",
                src_colorspace=Colorspace.ITU709,
                dst_colorspace=Colorspace.ITU709,
                src_color_range=ColorRange.JPEG,
                dst_color_range=ColorRange.MPEG,
            )
            frame.pts, frame.time_base = count, Fraction(1, fps)
            box.mux(video.encode(frame))
            count += 1
            if count % 50 == 0:
                print(f"{path.stem}: {count} frames", file=sys.stderr, flush=True)
        box.mux(video.encode(None))
        samples = np.clip(sound[: round(count * RATE / fps)], -1, 1).astype(np.float32)
        for start in range(0, len(samples), 1024):
            piece = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(samples[start : start + 1024].T), format="fltp", layout="stereo"
            )
            piece.sample_rate, piece.pts, piece.time_base = RATE, start, Fraction(1, RATE)
            box.mux(audio.encode(piece))
        box.mux(audio.encode(None))
    partial.replace(path)
    return count

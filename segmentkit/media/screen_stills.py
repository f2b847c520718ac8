"""Small pictures of chosen frames of a finished file, for a page."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np

from segmentkit.media.container import opened
from segmentkit.media.stills import Rgb
from segmentkit.timebase import Rate

_NEAR = 50
"""Frames ahead that are decoded rather than sought."""


def pictures_at(path: Path, frames: Iterable[int], rate: Rate, width: int = 480) -> dict[int, Rgb]:
    """The pictures of some frames, uint8, shape (height, width, 3); those that cannot be had are left out.

    Args:
        path: the file, of constant rate.
        frames: which, counted from the first picture.
        rate: frames a second of the file.
        width: of the pictures; the height follows.
    """
    made: dict[int, Rgb] = {}
    wanted = sorted(set(frames))
    if not wanted:
        return made
    try:
        with opened(path) as container:
            stream: Any = container.streams.video[0]
            stream.thread_type = "AUTO"
            feed = container.decode(stream)
            frame = next(feed)
            first, at = _moment(frame, stream), 0
            for number in wanted:
                if number > at + _NEAR:
                    container.seek(
                        int((first + (number - 1) / rate.fps) / stream.time_base), stream=stream, backward=True
                    )
                    feed = container.decode(stream)
                    frame = next(feed)
                    at = _number(frame, stream, first, rate)
                while at < number:
                    frame = next(feed)
                    at = _number(frame, stream, first, rate)
                made[number] = _small(frame, width)
    except (av.FFmpegError, OSError, StopIteration):
        return made
    return made


def _moment(frame: Any, stream: Any) -> Fraction:
    return Fraction(0) if frame.pts is None else frame.pts * Fraction(stream.time_base)


def _number(frame: Any, stream: Any, first: Fraction, rate: Rate) -> int:
    return round((_moment(frame, stream) - first) * rate.fps)


def _small(frame: Any, width: int) -> Rgb:
    height = max(1, round(frame.height * width / frame.width))
    rgb = frame.reformat(format="rgb24", src_colorspace="ITU709").to_ndarray()
    return np.asarray(cv2.resize(rgb, (width, height), interpolation=cv2.INTER_AREA), np.uint8)

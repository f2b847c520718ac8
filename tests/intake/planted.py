"""Clips with known defects, made from the demonstration's swings: small, short, one defect each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
from av.video.frame import VideoFrame
from av.video.reformatter import VideoReformatter
from numpy.typing import NDArray

from segmentkit.geometry import Size
from tests.clips import Coding, Track, laid, make_clip, stored

Frame = NDArray[np.uint8]
Frames = list[Frame]
"""Pictures, uint8, shape (height, width, 3), RGB."""

CLIPS = Path(__file__).parents[2] / "demo_project" / "clips"
WIDE, HIGH = 640, 360
IMPACT = {"viewer-dtl": 207, "model-dtl": 206}


@cache
def swing(name: str) -> Frames:
    """The demonstration's swing at 120 frames a second, scaled to 640x360; shared, so copy before changing."""
    scaler = VideoReformatter()  # one for all: a frame's own would be set up anew for each
    with av.open(str(CLIPS / f"{name}.mp4")) as container:
        stream = container.streams.video[0]
        stream.thread_type = "AUTO"
        return [
            scaler.reformat(f, WIDE, HIGH, "rgb24", interpolation="AREA").to_ndarray() for f in container.decode(stream)
        ]


@cache
def sound(name: str) -> NDArray[np.float32]:
    """Its sound: float32, shape (n, 2), 48 kHz."""
    with av.open(str(CLIPS / f"{name}.mp4")) as container:
        return np.concatenate([f.to_ndarray() for f in container.decode(audio=0)], axis=1).T.astype(np.float32)


def each(change: Callable[[Frame, int], Frame]) -> Callable[[Frames], Frames]:
    """A change of every picture by itself, given its number."""
    return lambda frames: [change(frame, k) for k, frame in enumerate(frames)]


def crop(left: float = 0, top: float = 0, right: float = 1, bottom: float = 1) -> Callable[[Frames], Frames]:
    """Keeps a part, in fractions, and scales it back to the width of the clip; heights are kept even."""

    def change(frame: Frame, _: int) -> Frame:
        h, w = frame.shape[:2]
        part = frame[round(top * h) : round(bottom * h), round(left * w) : round(right * w)]
        high = round(part.shape[0] * w / part.shape[1] / 2) * 2
        return cv2.resize(part, (w, high), interpolation=cv2.INTER_CUBIC)

    return each(change)


def shifted(amount: float, seed: int = 1) -> Callable[[Frames], Frames]:
    """A hand-held camera: smooth random shifts with this root mean square in pixels."""

    def change(frames: Frames) -> Frames:
        noise = np.random.default_rng(seed).normal(0, 1, (len(frames) + 14, 2))
        path = np.stack([np.convolve(noise[:, axis], np.ones(15) / 15, "valid") for axis in (0, 1)], axis=1)
        path *= amount / path.std()
        return [moved(frame, *path[k]) for k, frame in enumerate(frames)]

    return change


def moved(frame: Frame, dx: float, dy: float) -> Frame:
    """A picture shifted, its edges repeated."""
    turn = np.array([[1, 0, dx], [0, 1, dy]], np.float32)
    return cv2.warpAffine(frame, turn, frame.shape[1::-1], borderMode=cv2.BORDER_REFLECT)


def smaller(width: int) -> Callable[[Frames], Frames]:
    """Scaled down to a width."""
    return each(
        lambda f, _: cv2.resize(
            f, (width, round(width * f.shape[0] / f.shape[1] / 2) * 2), interpolation=cv2.INTER_AREA
        )
    )


def brightness(gain: float, lift: float = 0.0) -> Callable[[Frames], Frames]:
    """Brighter or darker."""
    return each(lambda f, _: np.clip(f * gain + lift, 0, 255).astype(np.uint8))


def wavering(amount: float) -> Callable[[Frames], Frames]:
    """A lamp that wavers from frame to frame, in bands down the picture as a rolling shutter shows it."""

    def change(frame: Frame, k: int) -> Frame:
        rows = np.arange(frame.shape[0]) / frame.shape[0]
        gain = 1 + amount * np.sin(2 * np.pi * (rows * 1.5 + 0.417 * k))
        return np.clip(frame * gain[:, None, None], 0, 255).astype(np.uint8)

    return each(change)


def smeared(count: int) -> Callable[[Frames], Frames]:
    """A long exposure: the mean of neighbouring pictures."""

    def change(frames: Frames) -> Frames:
        out = []
        for k in range(len(frames)):
            around = frames[max(0, k - count // 2) : k + (count + 1) // 2]
            out.append(np.mean(around, axis=0).astype(np.uint8))
        return out

    return change


def soft(sigma: float) -> Callable[[Frames], Frames]:
    """Out of focus."""
    return each(lambda f, _: cv2.GaussianBlur(f, (0, 0), sigma))


def every(step: int) -> Callable[[Frames], Frames]:
    """Only every so many pictures."""
    return lambda frames: frames[::step]


def part(first: int, last: int) -> Callable[[Frames], Frames]:
    """Some of the pictures."""
    return lambda frames: frames[first:last]


def lettered(text: str) -> Callable[[Frames], Frames]:
    """White letters near the lower edge, as a program puts them there."""

    def change(frame: Frame, _: int) -> Frame:
        out = frame.copy()
        cv2.putText(out, text, (420, 345), cv2.FONT_HERSHEY_SIMPLEX, 0.6, (255, 255, 255), 2, cv2.LINE_AA)
        return out

    return each(change)


def mirrored(frames: Frames) -> Frames:
    """Left and right swapped."""
    return [np.ascontiguousarray(frame[:, ::-1]) for frame in frames]


def at_rest(frames: Frames) -> Frames:
    """Nobody swings."""
    return [frames[k % 20] for k in range(len(frames))]


def twice(frames: Frames) -> Frames:
    """Two swings, one after the other."""
    return frames + frames[::-1][:60:4] + frames


@dataclass(frozen=True, kw_only=True)
class Making:
    """How a clip is written."""

    fps: int | Fraction = 60
    crf: int = 20
    heard: bool = True
    sound_at: float = 0.0
    tags: dict[str, str] | None = None
    coding: dict[str, Any] | None = None
    jitter: bool = False


PLAIN = Making()


def write(path: Path, frames: Sequence[Frame], making: Making = PLAIN, of: str = "viewer-dtl") -> Path:
    """Writes pictures as an H.264 clip with the swing's own sound."""
    times = [Fraction(k) / Fraction(making.fps) for k in range(len(frames))]
    if making.jitter:
        wobble = np.random.default_rng(3).integers(-4, 5, len(frames))
        times = [max(Fraction(0), t + Fraction(int(w), 1000)) for t, w in zip(times, wobble, strict=True)]
    height, width = frames[0].shape[:2]
    coding = Coding(
        options={"preset": "superfast", "crf": str(making.crf), "g": "60", "threads": "2"}, **(making.coding or {})
    )
    tracks = ()
    if making.heard:
        heard = sound(of)[round(making.sound_at * 48_000) :][: round(float(times[-1]) * 48_000)]
        tracks = (Track(samples=np.ascontiguousarray(heard)),)

    def frame(k: int) -> VideoFrame:
        return stored(laid(frames[k], coding), coding)

    size = Size(height, width) if coding.turn % 2 else Size(width, height)
    return make_clip(
        path,
        times,
        size=size,
        coding=coding,
        tracks=tracks,
        frame=frame,
        tags=making.tags,
        container={"movflags": "use_metadata_tags"} if making.tags else None,
    )

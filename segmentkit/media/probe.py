"""Looks at a clip before anything is done with it: what it is, how it lies, when each of its frames begins.

Limits are read from the header before a single picture is decoded. What cannot be used is refused here, in words that a
producer can pass on to the person who sent the clip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any, cast

import av
from av.container import InputContainer
from av.video.frame import VideoFrame
from av.video.stream import VideoStream

from segmentkit.errors import MediaUnusable
from segmentkit.geometry import Size
from segmentkit.media.container import admit, declared_end, opened, said, undecodable
from segmentkit.media.moments import MOST_FRAMES, between, moments_of
from segmentkit.timebase import Rate, seconds_text

MOST_PIXELS = 36_000_000
"""Largest picture; 8K UHD (7680x4320) is the largest that cameras record."""
LONGEST = Fraction(600)
"""Longest clip in seconds."""
_TRIED = 600  # packets that may fail before the first picture
_LOOKED_AT = 6  # frames that are decoded to learn how the pictures are stored

HLG, PQ = "arib-std-b67", "smpte2084"
_TRANSFERS = {18: HLG, 16: PQ}  # code points of ITU-T H.273, table 3
_MATRICES = {1: "bt709", 4: "fcc", 5: "bt601", 6: "bt601", 7: "smpte240m", 9: "bt2020", 10: "bt2020"}  # table 4
_BT2020_PRIMARIES = 9  # table 2
_RGB = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SoundTrack:
    """The sound track that was chosen: its stream index, channels and rate, and how many there were."""

    index: int
    channels: int
    rate: int
    of: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """How pictures are stored.

    Attributes:
        size: stored picture in pixels.
        pixels: pixel format by its libav name.
        aspect: width of a pixel to its height.
        turn: quarter turns clockwise that set the picture upright, 0 to 3, done after `mirrored`.
        mirrored: whether left and right must be swapped first.
        interlaced: whether a frame holds two moments.
        transfer: `arib-std-b67`, `smpte2084`, or empty for standard range.
        wide: whether the primaries are those of BT.2020.
        matrix: `bt709`, `bt601`, `bt2020` ...; empty for RGB.
        assumed: whether the matrix is a guess, because the file does not say.
        full_range: whether luma fills 0 to 255.
    """

    size: Size
    pixels: str
    aspect: Fraction
    turn: int
    mirrored: bool
    interlaced: bool
    transfer: str
    wide: bool
    matrix: str
    assumed: bool
    full_range: bool

    @property
    def upright(self) -> Size:
        """Size of the working copy: square pixels, upright, even numbers; no pixel is thrown away for the shape."""
        width, height = Fraction(self.size.width), Fraction(self.size.height)
        if self.aspect >= 1:
            width *= self.aspect
        else:
            height /= self.aspect
        even = Size(max(2, int(width) // 2 * 2), max(2, int(height) // 2 * 2))
        return Size(even.height, even.width) if self.turn % 2 else even


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipProbe:
    """All that is known of a clip before it is decoded.

    Attributes:
        path: the file.
        container: libav's name of the container.
        codec: libav's name of the video codec.
        video: index of the stream that moves.
        look: how its pictures are stored.
        first: moment of the first frame on the file's own clock, in seconds.
        times: moments of all frames, in seconds from the first; an interlaced frame counts as two.
        duration: from the first frame to the end of the last.
        sound: the chosen sound track, or None.
        capture_rate: frames a second when it was filmed, where a phone has said so, else None.
        notes: what a producer should know, one sentence each.
    """

    path: Path
    container: str
    codec: str
    video: int
    look: Look
    first: Fraction
    times: tuple[Fraction, ...]
    duration: Fraction
    sound: SoundTrack | None
    capture_rate: Fraction | None
    notes: tuple[str, ...]


def probe(path: Path) -> ClipProbe:
    """Looks at a clip; decodes only its first frames where the container tells the rest.

    Raises:
        MediaUnusable: when there is no such file, or it cannot be used; the text says why and what to do.
    """
    admit(path)
    try:
        with opened(path) as container:
            video = _moving(path, container)
            _within_limits(path, container, video)
            index, codec, name = video.index, video.codec_context.name, container.format.name
            look = _look(path, container, video)
            sound = _sound(container)
            capture = _capture_rate(container, video)
        with opened(path) as container:
            moments, end = moments_of(path, container, container.streams[index], interlaced=look.interlaced)
    except av.FFmpegError as error:
        raise MediaUnusable(undecodable(path, error)) from error
    times = tuple(moment - moments[0] for moment in moments)
    if look.interlaced:
        times = between(times, end - moments[0])
    duration = end - moments[0]
    if duration > LONGEST:
        raise MediaUnusable(_too_long(path, duration))
    return ClipProbe(
        path=path, container=name, codec=codec, video=index, look=look, first=moments[0], times=times,
        duration=duration, sound=sound, capture_rate=capture, notes=_notes(look, times, sound, capture),
    )  # fmt: skip


def _too_long(path: Path, seconds: Fraction) -> str:
    return (
        f"{path} — lasts {seconds_text(seconds)} — at most {seconds_text(LONGEST)} are taken"
        " — cut out the swing with any editor and name that file"
    )


# --- the streams -----------------------------------------------------------------------------------------------------


def _moving(path: Path, container: InputContainer) -> VideoStream:
    """The video stream that moves: no cover picture, the one marked as default first, then the one with most frames."""
    usable = [s for s in container.streams.video if s.codec_context is not None and s.codec_context.width]
    candidates = [s for s in usable if not int(s.disposition) & (0x400 | 0x800)]  # attached picture, thumbnails
    if not candidates:
        if container.streams.video and not usable:
            raise MediaUnusable(
                f"{path} — its pictures are coded in a way that is not known here — H.264, HEVC, VP9, AV1, ProRes,"
                " MPEG-2, DV and others are read — ask for an H.264 export"
            )
        what = "holds sound only" if container.streams.audio else "holds no pictures"
        raise MediaUnusable(f"{path} — {what} — a clip needs a picture track — ask for the video")

    def rank(stream: VideoStream) -> tuple[bool, bool, int, int]:
        frames = stream.frames or len(stream.index_entries) or 2
        return frames > 1, bool(int(stream.disposition) & 1), frames, -stream.index

    return max(candidates, key=rank)


def _within_limits(path: Path, container: InputContainer, video: VideoStream) -> None:
    size = Size(video.codec_context.width, video.codec_context.height)
    if size.width * size.height > MOST_PIXELS:
        raise MediaUnusable(f"{path} — pictures are {size} — at most 7680x4320 are taken — ask for a smaller export")
    if size.width < 16 or size.height < 16:
        raise MediaUnusable(f"{path} — pictures are {size} — at least 16x16 are needed — ask for the original")
    declared = declared_end(container, video)
    if declared is not None and declared > LONGEST + 60:
        raise MediaUnusable(_too_long(path, declared))
    if max(video.frames, len(video.index_entries)) > MOST_FRAMES:
        raise MediaUnusable(f"{path} — has {video.frames} frames — at most {MOST_FRAMES} are taken — cut out the swing")


def _sound(container: InputContainer) -> SoundTrack | None:
    """The sound track marked as default, then the one with most channels, then the first."""
    known = [s for s in container.streams.audio if s.codec_context is not None and s.codec_context.channels]
    if not known:
        return None
    best = max(known, key=lambda s: (bool(int(s.disposition) & 1), s.codec_context.channels, -s.index))
    return SoundTrack(
        index=best.index, channels=best.codec_context.channels, rate=best.codec_context.sample_rate, of=len(known)
    )


def _capture_rate(container: InputContainer, video: VideoStream) -> Fraction | None:
    for tags in (container.metadata, video.metadata):
        for name, value in tags.items():
            if name.lower() in {"com.android.capture.fps", "com.apple.quicktime.capture.fps"}:
                try:
                    rate = Fraction(value.strip()).limit_denominator(1001)
                except (ValueError, ZeroDivisionError):
                    continue
                if 1 <= rate <= 2000:
                    return rate
    return None


# --- the pictures ----------------------------------------------------------------------------------------------------


def _look(path: Path, container: InputContainer, video: VideoStream) -> Look:
    frames: list[VideoFrame] = []
    fault = ""
    for number, packet in enumerate(container.demux(video)):
        try:
            frames += packet.decode()
        except av.FFmpegError as error:  # a file may begin in the middle of a group of pictures
            fault = said(error)
        if len(frames) >= _LOOKED_AT or number >= _TRIED:
            break
    if not frames:
        why = f"is damaged: none of its pictures decodes ({fault})" if fault else "holds no pictures: 0 frames decode"
        raise MediaUnusable(f"{path} — {why} — a clip needs some — ask for the file again")
    frame = frames[0]
    size = Size(frame.width, frame.height)
    matrix, assumed = _matrix(frame, size)
    turn, mirrored = _orientation(path, frame)
    aspect = Fraction(video.sample_aspect_ratio or video.codec_context.sample_aspect_ratio or 1)
    if not Fraction(1, 4) <= aspect <= 4:
        aspect = Fraction(1)
    return Look(
        size=size, pixels=frame.format.name, aspect=aspect, turn=turn, mirrored=mirrored,
        interlaced=any(f.interlaced_frame for f in frames),
        transfer=_TRANSFERS.get(int(frame.color_trc), ""), wide=int(frame.color_primaries) == _BT2020_PRIMARIES,
        matrix=matrix, assumed=assumed,
        full_range=int(frame.color_range) == 2 or frame.format.name.startswith("yuvj"),
    )  # fmt: skip


def _matrix(frame: VideoFrame, size: Size) -> tuple[str, bool]:
    if frame.format.is_rgb or int(frame.colorspace) == _RGB:
        return "", False
    if known := _MATRICES.get(int(frame.colorspace)):
        return known, False
    # An untagged picture of high definition is BT.709, a smaller one BT.601: common practice of players, no standard.
    return ("bt709" if size.width >= 1280 or size.height > 576 else "bt601"), True


def _orientation(path: Path, frame: VideoFrame) -> tuple[int, bool]:
    """Quarter turns clockwise and mirror image, from the display matrix (ISO/IEC 14496-12, 8.5.2: u v w unused).

    The matrix (a b; c d) sends a stored point (x, y) to (a x + c y, b x + d y) on a screen whose y points down.
    """
    import numpy as np  # noqa: PLC0415

    data = cast("Any", frame.side_data).get("DISPLAYMATRIX")
    if data is None:
        return 0, False
    entries = np.frombuffer(data, np.int32)
    a, b, c, d = (float(entries[i]) / 65536 for i in (0, 1, 3, 4))
    scale = (a * a + b * b) ** 0.5
    exact = tuple(round(v / scale) if scale else 0 for v in (a, b, c, d))
    known = {
        (1, 0, 0, 1): (0, False), (0, 1, -1, 0): (1, False), (-1, 0, 0, -1): (2, False), (0, -1, 1, 0): (3, False),
        (-1, 0, 0, 1): (0, True), (0, 1, 1, 0): (3, True), (1, 0, 0, -1): (2, True), (0, -1, -1, 0): (1, True),
    }  # fmt: skip
    off = max(abs(v / scale - e) for v, e in zip((a, b, c, d), exact, strict=True)) if scale else 1.0
    if exact not in known or off > 0.02:
        raise MediaUnusable(
            f"{path} — says that its pictures lie at an angle that is no quarter turn (matrix {a:g} {b:g} {c:g} {d:g})"
            " — 0, 90, 180 and 270 degrees are taken — export it upright"
        )
    return known[exact]


# --- what a producer should know -------------------------------------------------------------------------------------


def _notes(
    look: Look, times: Sequence[Fraction], sound: SoundTrack | None, capture: Fraction | None
) -> tuple[str, ...]:
    notes: list[str] = []
    if look.turn:
        notes.append(f"The picture was turned by {90 * look.turn} degrees, as the file says.")
    if look.mirrored:
        notes.append("The picture was mirrored, as the file says.")
    if look.aspect != 1:
        notes.append(f"Pixels of {look.aspect.numerator}:{look.aspect.denominator} were made square.")
    if look.interlaced:
        notes.append("Interlaced: each field became a frame of its own, so the clip has twice as many frames.")
    if look.transfer:
        kind = "HLG" if look.transfer == HLG else "PQ"
        notes.append(f"HDR ({kind}) was turned to BT.709; highlights brighter than white are cut off.")
    if look.assumed:
        notes.append(f"The file does not say its colour matrix; {_named(look.matrix)} was assumed from its size.")
    steps = sorted({b - a for a, b in pairwise(times)})
    if steps and steps[-1] > steps[0] * Fraction(11, 10):
        slow, fast = Rate(round(1 / steps[-1], 1)), Rate(round(1 / steps[0], 1))
        notes.append(f"The frame rate varies between {float(slow.fps):g} and {float(fast.fps):g} frames a second.")
    if capture is not None:
        notes.append(f"Filmed at {float(capture):g} frames a second, says the phone; real time may be slowed down.")
    if sound is None:
        notes.append("The clip has no sound.")
    elif sound.of > 1:
        notes.append(f"Of {sound.of} sound tracks the one with {sound.channels} channels was taken.")
    return tuple(notes)


def _named(matrix: str) -> str:
    return f"{matrix[:2].upper()}.{matrix[2:]}"

"""Synthetic clips: every picture carries its own number, coloured corners and patches; a beep gives the sound a moment.

The number is coded in twelve blocks (most significant first, row by row), so it survives scaling, interlace and coding.
It is a Gray code: a block that changed back and forth with every field would look like a still one to a deinterlacer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.video.frame import VideoFrame
from av.video.reformatter import VideoReformatter
from numpy.typing import NDArray

from segmentkit.geometry import Size
from segmentkit.media import ffmpeg
from segmentkit.media.avframes import plane_view, planes_of
from segmentkit.media.planes import Planes

Picture = NDArray[np.uint8]
"""uint8, shape (height, width, 3), RGB, 0 to 255."""

SMALL = Size(320, 180)
CORNERS = {"red": (200, 30, 30), "green": (30, 180, 30), "blue": (30, 30, 220), "yellow": (210, 210, 30)}
"""Upper left, upper right, lower left, lower right."""
PATCHES = ((191, 191, 191), (191, 0, 0), (0, 191, 0), (0, 0, 191), (191, 191, 0), (96, 96, 96))
_GRID = (0.16, 0.08, 0.84, 0.68)
_ROW = (0.16, 0.76, 0.84, 0.96)


def _box(size: Size, x0: float, y0: float, x1: float, y1: float) -> tuple[slice, slice]:
    return (
        slice(round(y0 * size.height), round(y1 * size.height)),
        slice(round(x0 * size.width), round(x1 * size.width)),
    )


def coded(number: int, size: Size = SMALL) -> Picture:
    """The picture with a number, 0 to 4095."""
    picture = np.full((size.height, size.width, 3), 110, np.uint8)
    for colour, (x, y) in zip(CORNERS.values(), ((0, 0), (0.88, 0), (0, 0.8), (0.88, 0.8)), strict=True):
        picture[_box(size, x, y, x + 0.12, y + 0.2)] = colour
    gray = number ^ number >> 1
    for bit in range(12):
        picture[_box(size, *_cell(bit))] = 225 if gray >> (11 - bit) & 1 else 25
    for index, colour in enumerate(PATCHES):
        picture[_box(size, *_patch(index))] = colour
    return picture


def _cell(bit: int) -> tuple[float, float, float, float]:
    row, column = divmod(bit, 4)
    x0, y0, x1, y1 = _GRID
    width, height = (x1 - x0) / 4, (y1 - y0) / 3
    return x0 + column * width, y0 + row * height, x0 + (column + 1) * width, y0 + (row + 1) * height


def _patch(index: int) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = _ROW
    width = (x1 - x0) / 6
    return x0 + index * width, y0, x0 + (index + 1) * width, y1


def _middle(picture: NDArray[np.generic], x0: float, y0: float, x1: float, y1: float) -> NDArray[np.float64]:
    """Mean of the inner part of a box: float64, one value a channel."""
    size = Size(picture.shape[1], picture.shape[0])
    dx, dy = (x1 - x0) * 0.3, (y1 - y0) * 0.3
    return picture[_box(size, x0 + dx, y0 + dy, x1 - dx, y1 - dy)].reshape(-1, *picture.shape[2:]).mean(axis=0)


def read_number(picture: Planes | Picture) -> int:
    """The number that an upright picture carries."""
    luma = picture.y if isinstance(picture, Planes) else picture.astype(np.float64) @ np.array([0.2126, 0.7152, 0.0722])
    number = 0
    lit = 0
    for bit in range(12):
        value = float(_middle(luma, *_cell(bit)))
        assert not 105 < value < 140, f"block {bit} is neither dark nor light: {value:.0f}"
        lit ^= value > 122
        number = number << 1 | lit
    return number


def read_patches(rgb: Picture) -> NDArray[np.float64]:
    """Mean colours of the six patches: float64, shape (6, 3), as in `PATCHES`."""
    return np.array([_middle(rgb, *_patch(index)) for index in range(len(PATCHES))])


def read_corners(rgb: Picture) -> tuple[str, ...]:
    """Names of the corner colours: upper left, upper right, lower left, lower right."""
    names = list(CORNERS)
    known = np.array(list(CORNERS.values()), np.float64)
    found = []
    for x, y in ((0.0, 0.0), (0.88, 0.0), (0.0, 0.8), (0.88, 0.8)):
        colour = _middle(rgb, x, y, x + 0.12, y + 0.2)
        found.append(names[int(np.abs(known - colour).sum(axis=1).argmin())])
    return tuple(found)


# --- sound -----------------------------------------------------------------------------------------------------------


def beep(
    seconds: float, at: Sequence[float] = (0.5,), *, rate: int = 48_000, channels: int = 2, level: float = 0.5
) -> NDArray[np.float32]:
    """Silence with 1 kHz beeps of 50 ms: float32, shape (samples, channels), -1 to 1."""
    samples = np.zeros((round(seconds * rate), channels), np.float32)
    tone = (level * np.sin(2 * np.pi * 1000 * np.arange(round(0.05 * rate)) / rate)).astype(np.float32)
    for moment in at:
        start = round(moment * rate)
        part = tone[: max(0, len(samples) - start)]
        samples[start : start + len(part)] = part[:, None]
    return samples


def beep_start(samples: NDArray[np.floating] | NDArray[np.integer], rate: int = 48_000) -> float:
    """The moment of the first sample above a quarter of the loudest, in seconds."""
    loud = np.abs(samples.astype(np.float64))
    loud = loud if loud.ndim == 1 else loud.max(axis=1)
    return float(np.argmax(loud > loud.max() / 4)) / rate


@dataclass(frozen=True, slots=True, kw_only=True)
class Track:
    """A sound track to write.

    Attributes:
        samples: float32, shape (samples, channels), -1 to 1.
        start: seconds between the file's zero and the first sample.
    """

    samples: NDArray[np.float32]
    rate: int = 48_000
    layout: str = "stereo"
    start: Fraction = Fraction(0)
    codec: str = "aac"
    default: bool = True


# --- files -----------------------------------------------------------------------------------------------------------

TICKS = Fraction(1, 90_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Coding:
    """How pictures are stored.

    Attributes:
        matrix, primaries, transfer: code points of ITU-T H.273; 2 is "unspecified".
        full: whether the range is full.
        turn: quarter turns clockwise that the display matrix asks for, after mirroring left and right if `mirrored`.
        aspect: shape of a pixel, width to height.
        options: of the encoder.
    """

    codec: str = "libx264"
    pixels: str = "yuv420p"
    matrix: int = 1
    primaries: int = 1
    transfer: int = 1
    full: bool = False
    turn: int = 0
    mirrored: bool = False
    aspect: Fraction = Fraction(1)
    options: dict[str, str] = field(default_factory=lambda: {"preset": "superfast", "crf": "14", "g": "30"})


def steady(fps: int | Fraction, seconds: float | Fraction) -> tuple[Fraction, ...]:
    """Moments of a constant rate."""
    count = int(Fraction(seconds) * fps)
    return tuple(k / Fraction(fps) for k in range(count))


def varying(rates: Sequence[tuple[int, int]]) -> tuple[Fraction, ...]:
    """Moments of runs of frames: (frames, frames a second) one after the other."""
    times, now = [], Fraction(0)
    for count, fps in rates:
        for _ in range(count):
            times.append(now)
            now += Fraction(1, fps)
    return tuple(times)


def display_matrix(turn: int, *, mirrored: bool) -> list[int]:
    """The matrix of ISO/IEC 14496-12: mirror left and right if asked, then turn clockwise by quarters; y is down."""
    a, b, c, d = [(1, 0, 0, 1), (0, 1, -1, 0), (-1, 0, 0, -1), (0, -1, 1, 0)][turn]
    if mirrored:
        a, b = -a, -b
    return [a << 16, b << 16, 0, c << 16, d << 16, 0, 0, 0, 1 << 30]


def laid(upright: Picture, coding: Coding) -> Picture:
    """An upright picture as it must be stored to look upright once turned as the coding says."""
    picture = np.rot90(upright, coding.turn)
    return np.ascontiguousarray(picture[:, ::-1] if coding.mirrored else picture)


def make_clip(
    path: Path,
    times: Sequence[Fraction],
    *,
    size: Size = SMALL,
    coding: Coding = Coding(),
    tracks: Sequence[Track] = (),
    start: Fraction = Fraction(0),
    picture: Callable[[int], Picture] | None = None,
    frame: Callable[[int], VideoFrame] | None = None,
    container: dict[str, str] | None = None,
    format_name: str | None = None,
    tags: dict[str, str] | None = None,
    timecode: str | None = None,
    ticks: Fraction = TICKS,
    matrix: list[int] | None = None,
) -> Path:
    """Writes a clip whose picture k carries the number k and begins at `start + times[k]`.

    Args:
        path: where to write; the suffix chooses the container.
        times: moments of the pictures, in seconds.
        size: of the pictures as stored.
        coding: how they are stored.
        tracks: sound tracks.
        start: moment of the first picture in the file.
        picture: gives picture k instead of the coded one, as stored.
        frame: gives frame k ready for the encoder instead.
        container: options of the container.
        format_name: container, when the suffix does not say it.
        tags: container metadata.
        timecode: label of a timecode track.
        ticks: unit of the moments.
        matrix: display matrix instead of that of `coding`.
    """
    shown = Size(size.height, size.width) if coding.turn % 2 else size
    draw = picture or (lambda k: laid(coded(k, shown), coding))
    with av.open(str(path), "w", format=format_name, options=container or {}) as output:
        output.metadata.update(tags or {})
        video = output.add_stream(coding.codec, options=dict(coding.options))
        video.width, video.height, video.pix_fmt = size.width, size.height, coding.pixels
        context = video.codec_context
        context.time_base = ticks
        mean = (len(times) - 1) / (times[-1] - times[0]) if len(times) > 1 else Fraction(30)
        context.framerate = Fraction(round(mean))
        if coding.codec in {"mpeg2video", "dvvideo"}:
            context.time_base = 1 / context.framerate
        context.colorspace, context.color_primaries = coding.matrix, coding.primaries
        context.color_trc, context.color_range = coding.transfer, 2 if coding.full else 1
        context.sample_aspect_ratio = coding.aspect
        if matrix or coding.turn or coding.mirrored:
            video.set_display_matrix(matrix or display_matrix(coding.turn, mirrored=coding.mirrored))
        if timecode:
            video.metadata["timecode"] = timecode
        sounds = []
        for track in tracks:
            sound = output.add_stream(track.codec, rate=track.rate, layout=track.layout)
            sound.disposition = av.stream.Disposition.default if track.default else av.stream.Disposition(0)
            sounds.append(sound)
        base = context.time_base
        for k, moment in enumerate(times):
            image = frame(k) if frame is not None else stored(draw(k), coding)
            image.pts = round((start + moment) / base)
            image.time_base = base
            following = times[k + 1] if k + 1 < len(times) else 2 * moment - times[k - 1] if k else Fraction(1, 30)
            image.duration = round((following - moment) / base)
            output.mux(video.encode(image))
        output.mux(video.encode(None))
        for track, sound in zip(tracks, sounds, strict=True):
            data = AudioFrame.from_ndarray(np.ascontiguousarray(track.samples.T), format="fltp", layout=track.layout)
            data.sample_rate = track.rate
            data.pts, data.time_base = round(track.start * track.rate), Fraction(1, track.rate)
            output.mux(sound.encode(data))
            output.mux(sound.encode(None))
    return path


_SCALER = VideoReformatter()
"""One for all pictures: a frame's own would be set up anew for each, which costs more than its work."""


def stored(rgb: Picture, coding: Coding) -> VideoFrame:
    """A picture converted as the coding says, by libswscale."""
    untagged = "ITU709" if rgb.shape[0] > 576 else "ITU601"
    matrix = {1: "ITU709", 5: "ITU601", 6: "ITU601", 2: untagged}[coding.matrix]
    frame = _SCALER.reformat(
        VideoFrame.from_ndarray(np.ascontiguousarray(rgb), format="rgb24"),
        format=coding.pixels,
        dst_colorspace=matrix,
        src_color_range="JPEG",
        dst_color_range="JPEG" if coding.full else "MPEG",
    )
    frame.color_range = 2 if coding.full else 1
    frame.colorspace, frame.color_primaries, frame.color_trc = coding.matrix, coding.primaries, coding.transfer
    return frame


def make_interlaced(
    path: Path,
    frames: int,
    *,
    top_first: bool,
    arguments: Sequence[str],
    size: Size = SMALL,
    matrix: int = 1,
) -> Path:
    """Writes an interlaced clip at 25 frames a second whose field n carries the number n.

    Args:
        path: where to write; the suffix chooses the container.
        frames: how many; each holds two fields.
        top_first: whether the upper field is the earlier one.
        arguments: of the ffmpeg program, for the encoder.
        size: of the frames.
        matrix: code point of the colours.
    """
    raw = bytearray()
    for k in range(frames):
        fields = [planes_of(stored(coded(2 * k + half, size), Coding(matrix=matrix))) for half in (0, 1)]
        upper, lower = fields if top_first else fields[::-1]
        for above, below in zip((upper.y, upper.u, upper.v), (lower.y, lower.u, lower.v), strict=True):
            woven = above.copy()
            woven[1::2] = below[1::2]
            raw += woven.tobytes()
    name = {1: "bt709", 6: "smpte170m"}[matrix]
    order = "tff" if top_first else "bff"
    ffmpeg.run(
        [
            "-f", "rawvideo", "-pixel_format", "yuv420p", "-video_size", str(size), "-framerate", "25", "-i", "pipe:0",
            "-vf", f"setfield={order},setparams=colorspace={name}:color_primaries={name}:color_trc={name}:range=tv",
            *arguments, ffmpeg.named(path),
        ],
        given=bytes(raw),
    )  # fmt: skip
    return path


def hdr_frame(rgb: Picture, transfer: int) -> VideoFrame:
    """A picture as HDR in 10-bit BT.2020, its white at 203 cd/m2 as ITU-R BT.2408 has it.

    Light on the screen by ITU-R BT.1886 (power 2.4); primaries by BT.2087, table of M2; HLG (18) and PQ (16) by
    BT.2100, tables 4 and 5, with a nominal peak of 1000 cd/m2 for HLG.
    """
    light = (rgb / 255.0) ** 2.4 * 203
    to_2020 = np.array([[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.0880, 0.8956]])
    light = light @ to_2020.T
    weights = np.array([0.2627, 0.6780, 0.0593])
    if transfer == 16:
        power = (light / 10_000) ** (2610 / 16384)
        signal = ((3424 / 4096 + 2413 / 128 * power) / (1 + 2392 / 128 * power)) ** (2523 / 32)
    else:
        display = light / 1000
        luminance = np.maximum(display @ weights, 1e-9)[..., None]
        scene = display * luminance ** (1 / 1.2 - 1)
        a, b, c = 0.17883277, 0.28466892, 0.55991073
        signal = np.where(scene <= 1 / 12, np.sqrt(3 * scene), a * np.log(np.maximum(12 * scene - b, 1e-9)) + c)
    luma = signal @ weights
    frame = VideoFrame(rgb.shape[1], rgb.shape[0], "yuv420p10le")
    blue, red = (signal[..., 2] - luma) / 1.8814, (signal[..., 0] - luma) / 1.4746
    for index, plane in enumerate((64 + 876 * luma, 512 + 896 * blue[::2, ::2], 512 + 896 * red[::2, ::2])):
        rows = plane_view(frame, index, 2)
        rows[:] = np.rint(plane).astype("<u2").view(np.uint8).reshape(rows.shape)
    frame.colorspace, frame.color_primaries, frame.color_trc, frame.color_range = 9, 9, transfer, 1
    return frame


def cut_short(whole: Path, path: Path, share: float) -> Path:
    """A copy of a file that ends after a share of its bytes."""
    data = whole.read_bytes()
    path.write_bytes(data[: round(len(data) * share)])
    return path


def damage(whole: Path, path: Path, packets: Callable[[int], bool]) -> Path:
    """A copy of a clip in which the picture data of the chosen packets is overwritten with noise."""
    data = bytearray(whole.read_bytes())
    noise = np.random.default_rng(7)
    with av.open(str(whole)) as container:
        for number, packet in enumerate(container.demux(container.streams.video[0])):
            if packet.size and packet.pos is not None and packets(number):
                start = packet.pos + packet.size // 8
                count = packet.size - packet.size // 8
                data[start : start + count] = noise.integers(0, 256, count, np.uint8).tobytes()
    path.write_bytes(data)
    return path


def with_odd_messages(whole: Path, path: Path) -> Path:
    """A copy of an H.264 MP4 with a side message in every picture whose stated length runs over its end."""
    message = b"\x06\x05\xff\xff\xff\x10\x80"
    with av.open(str(whole)) as source, av.open(str(path), "w") as output:
        stream = output.add_stream_from_template(source.streams.video[0])
        for packet in source.demux(video=0):
            if packet.size:
                longer = av.Packet(len(message).to_bytes(4, "big") + message + bytes(packet))
                longer.pts, longer.dts, longer.duration = packet.pts, packet.dts, packet.duration
                longer.time_base, longer.stream, longer.is_keyframe = packet.time_base, stream, packet.is_keyframe
                output.mux(longer)
    return path

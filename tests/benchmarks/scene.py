"""The reference segment: two filmed sources, a bed of sound, and one list of what happens that all contestants follow.

A title of 4 s, 6 s of slow motion with a lower third, then beats of 10 s: a split screen that runs for 2 s and stands
for 8 s, with strokes that come over 0.6 s each.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np
from av.audio.frame import AudioFrame
from av.video.frame import VideoFrame
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from segmentkit.geometry import Size
from segmentkit.media.avframes import mark
from segmentkit.media.sound import write_wav

SOURCE_FPS = 60
SOURCE_SECONDS = 12
INTRO = 10
BEAT = 10
RUN = 2
STROKE_SECONDS = 0.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """What is made; times in seconds.

    Attributes:
        folder: where sources, stills and storyboards lie.
        seconds: length; 10 for the beginning and 10 for each beat.
        strokes: on each frozen split screen.
        rate: frames a second, as text.
        size: of sources and result.
    """

    folder: Path
    seconds: int
    strokes: int
    rate: str
    size: Size

    @property
    def name(self) -> str:
        """Tells it from other scenes in one folder."""
        return f"{self.seconds}s-{self.strokes}-{self.rate.replace('/', '-')}-{self.size}"

    @property
    def fps(self) -> Fraction:
        """Frames a second."""
        return Fraction(self.rate)

    @property
    def beats(self) -> int:
        """How many split screens follow the beginning."""
        return (self.seconds - INTRO) // BEAT

    def run_from(self, beat: int) -> int:
        """Source frame at which the running split screen of a beat starts."""
        return 40 + 60 * (beat % 8)

    def stroke_at(self, stroke: int) -> float:
        """Seconds into the frozen picture at which a stroke starts."""
        return 0.4 + 5.6 * stroke / max(1, self.strokes)

    def stroke_box(self, stroke: int) -> tuple[int, int, int, int]:
        """Left, top, right, bottom of a stroke on the canvas: rings and lines, left and right in turn."""
        unit = self.size.height / 1080
        column, row = divmod(stroke // 2, 5)
        left = (160 + 200 * (column % 3) + 960 * (stroke % 2)) * unit
        top = (140 + 150 * row) * unit
        return tuple(round(value) for value in (left, top, left + 240 * unit, top + 150 * unit))  # type: ignore[return-value]

    @property
    def clips(self) -> tuple[Path, Path]:
        """The two sources."""
        return tuple(self.folder / f"source-{name}-{self.size}.mp4" for name in "ab")  # type: ignore[return-value]

    @property
    def bed(self) -> Path:
        """The sound of all contestants."""
        return self.folder / f"music-{self.seconds}.wav"

    def still(self, name: str) -> Path:
        """A still for the contestants that cannot draw: title, lower third, strokes."""
        return self.folder / f"{name}-{self.size}.png"


def prepare(scene: Scene) -> None:
    """Makes what is missing of sources, sound and stills."""
    scene.folder.mkdir(parents=True, exist_ok=True)
    for index, clip in enumerate(scene.clips):
        if not clip.exists():
            _film(clip, scene.size, index)
    if not scene.bed.exists():
        write_wav(scene.bed, np.stack([_music(scene.seconds, side) for side in range(2)], axis=1))
    _stills(scene)
    (scene.folder / f"{scene.name}.json").write_text(
        json.dumps({**asdict(scene), "folder": str(scene.folder), "size": [scene.size.width, scene.size.height]})
    )


def load(path: Path) -> Scene:
    """A scene that was prepared."""
    data = json.loads(path.read_text())
    return Scene(**{**data, "folder": Path(data["folder"]), "size": Size(*data["size"])})


def _film(path: Path, size: Size, seed: int) -> None:
    """A picture with texture and grain that moves a little, and a figure that moves much."""
    random = np.random.default_rng(seed)
    wide, high = size.width + 160, size.height + 40
    ground = np.zeros((high, wide), np.float32)
    for cell in (8, 24, 96, 320):
        noise = random.standard_normal((high // cell + 2, wide // cell + 2)).astype(np.float32)
        ground += cv2.resize(noise, (wide, high), interpolation=cv2.INTER_CUBIC) * (6 + cell / 14)
    ground = np.clip(118 + ground, 20, 230).astype(np.uint8)
    grain = [cv2.randn(np.zeros((size.height, size.width), np.int8), 0, 2.2) for _ in range(7)]
    with av.open(str(path), "w") as output:
        stream = output.add_stream("libx264", rate=SOURCE_FPS, options={"preset": "superfast", "crf": "18"})
        stream.width, stream.height, stream.pix_fmt = size.width, size.height, "yuv420p"
        context = stream.codec_context
        context.colorspace = context.color_primaries = context.color_trc = context.color_range = 1
        voice = output.add_stream("aac", rate=48_000, layout="stereo")
        for k in range(SOURCE_FPS * SOURCE_SECONDS):
            x, y = round(80 + 60 * np.sin(k / 90)), round(20 + 15 * np.cos(k / 70))
            luma = np.ascontiguousarray(ground[y : y + size.height, x : x + size.width])
            angle = k / 25 + seed
            centre = (round(size.width * (0.5 + 0.04 * np.sin(k / 40))), round(size.height * 0.55))
            cv2.ellipse(
                luma, centre, (size.height // 10, size.height // 4), 12 * np.sin(k / 30), 0, 360, 60, -1, cv2.LINE_AA
            )
            tip = (
                round(centre[0] + 0.36 * size.height * np.cos(angle)),
                round(centre[1] + 0.36 * size.height * np.sin(angle)),
            )
            cv2.line(luma, centre, tip, 210, max(2, size.height // 120), cv2.LINE_AA)
            luma = cv2.add(luma, grain[k % 7], dtype=cv2.CV_8U)
            frame = VideoFrame(size.width, size.height, "yuv420p")
            mark(frame)
            for plane, data in zip(
                frame.planes, (luma, luma[::2, ::2] // 4 + 100, luma[::2, ::2] // 6 + 108), strict=True
            ):
                rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)
                rows[: plane.height, : plane.width] = data
            frame.pts = k
            output.mux(stream.encode(frame))
        output.mux(stream.encode(None))
        sound = AudioFrame.from_ndarray(
            (0.02 * random.standard_normal((2, 48_000 * SOURCE_SECONDS))).astype(np.float32), "fltp", "stereo"
        )
        sound.sample_rate, sound.pts = 48_000, 0
        output.mux(voice.encode(sound))
        output.mux(voice.encode(None))


def _music(seconds: int, seed: int) -> NDArray[np.float32]:
    """Plucked notes and some breath: float32 at 48 kHz, -1 to 1; a steady tone would cost AAC three times as much."""
    random = np.random.default_rng(seed)
    t = np.arange(48_000) / 48_000
    made = 0.01 * random.standard_normal((seconds + 1) * 48_000)
    for start in range(0, seconds * 48_000, 24_000):
        pitch = 110 * 2 ** (random.integers(0, 12) / 12)
        made[start : start + 48_000] += np.exp(-4 * t) * sum(
            0.1 / part * np.sin(2 * np.pi * pitch * part * t) for part in range(1, 6)
        )
    return made[: seconds * 48_000].astype(np.float32)


def _stills(scene: Scene) -> None:
    size, unit = scene.size, scene.size.height / 1080
    title = Image.new("RGB", (size.width, size.height), (24, 48, 60))
    drawing = ImageDraw.Draw(title)
    drawing.text((size.width / 2, size.height / 2), "Keep your room", fill="white", anchor="mm", font_size=110 * unit)
    title.save(scene.still("title"))
    third = Image.new("RGBA", (round(700 * unit), round(150 * unit)), (24, 48, 60, 240))
    ImageDraw.Draw(third).text(
        (30 * unit, 75 * unit), "The demonstrator", fill="white", anchor="lm", font_size=64 * unit
    )
    third.save(scene.still("third"))
    for stroke in range(scene.strokes):
        left, top, right, bottom = scene.stroke_box(stroke)
        four = Image.new("RGBA", (4 * (right - left), 4 * (bottom - top)), (0, 0, 0, 0))
        box = [40 * unit, 40 * unit, four.width - 40 * unit, four.height - 40 * unit]
        if stroke % 3:
            ImageDraw.Draw(four).line(box, (250, 190, 40, 255), round(36 * unit))
        else:
            ImageDraw.Draw(four).ellipse(box, outline=(250, 190, 40, 255), width=round(36 * unit))
        four.resize((right - left, bottom - top), Image.Resampling.LANCZOS).save(scene.still(f"stroke{stroke}"))


def storyboard(scene: Scene, *, changed: bool = False) -> Path:
    """Writes the segment as a storyboard; `changed` moves one stroke of the middle beat."""

    def stroke(number: int, moved: float) -> str:
        left, top, right, bottom = scene.stroke_box(number)
        half = scene.size.width / 2
        ends = [
            [round((x % half / half * 0.5 + 0.25 + moved), 4), round(y / scene.size.height, 4)]
            for x, y in ((left, top), (right - 1, bottom))
        ]
        kind = f"line: [{ends[0]}, {ends[1]}]"
        if number % 3 == 0:
            middle = ", ".join(f"{(a + b) / 2:.4f}" for a, b in zip(*ends, strict=True))
            kind = f"ring: {{centre: [{middle}], radius: 0.07}}"
        side = "right" if number % 2 else "left"
        return (
            f"      s{number}: {{{kind}, on: {side}, role: reference, draw: {STROKE_SECONDS}s,"
            f" at: {RUN + scene.stroke_at(number):.2f}s}}"
        )  # fmt: skip

    lines = [
        "segmentkit: 1",
        f"segment: {{title: Reference, slot: {scene.seconds}s, rate: {scene.rate}, size: {scene.size}}}",
        "people: {ada: {shown: The demonstrator, adult: yes, release: {for: [web], by: Ada}}}",
        "clips:",
        *(f"  {name}: {{file: {clip.name}, person: ada}}" for name, clip in zip("ab", scene.clips, strict=True)),
        f"music: [{{file: {scene.bed.name}, level: 0 dB, fade_in: 0s, fade_out: 0s}}]",
        "beats:",
        "  - beat: title",
        "    show: [{title: {main: Keep your room, hold: 4s}}]",
        "  - beat: slow",
        "    show: [{run: {clip: a, from: f20, to: f110, speed: 1/4}}]",
        "    cards: [{lower_third: {person: ada, at: 1s, hold: 4s}}]",
    ]
    for beat in range(scene.beats):
        first = scene.run_from(beat)
        last = first + RUN * SOURCE_FPS
        moved = 0.01 if changed and beat == scene.beats // 2 else 0.0
        lines += [
            f"  - beat: compare_{beat}",
            "    show:",
            f"      - split: {{left: {{clip: a, from: f{first}, to: f{last}, speed: 1}},"
            f" right: {{clip: b, from: f{first}, to: f{last}, speed: 1}}}}",
            f"      - split: {{left: {{clip: a, at: f{last}}}, right: {{clip: b, at: f{last}}}, hold: 7.8s..8.4s}}",
            "    strokes:",
            *(stroke(number, moved if number == 0 else 0.0) for number in range(scene.strokes)),
        ]
    path = scene.folder / f"{scene.name}{'-changed' if changed else ''}.yaml"
    path.write_text("\n".join([*lines, "deliver: [web]", ""]))
    return path

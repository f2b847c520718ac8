"""The contestants, each in a process of its own: `python -m tests.benchmarks.contestants WHO SCENE OUT PRESET CRF`."""

from __future__ import annotations

import sys
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from tests.benchmarks.scene import BEAT, INTRO, RUN, SOURCE_FPS, STROKE_SECONDS, Scene, load, storyboard

THREADS = 4


def segmentkit(scene: Scene, out: Path, preset: str, crf: int, *, changed: bool = False) -> None:
    """As the render verb does it: check, then make what is missing."""
    from segmentkit.media.store import Store
    from segmentkit.pipeline import check
    from segmentkit.render.movie import make_movie
    from segmentkit.storyboard.profiles import delivery

    checked = check(storyboard(scene, changed=changed))
    web = delivery("web")
    to = replace(web, picture=replace(web.picture, preset=preset, quality=crf))
    make_movie(
        checked.plan, checked.facts, checked.look, to, out, store=Store.of(scene.folder), progress=lambda *_: None
    )


def raw(scene: Scene, out: Path) -> None:
    """Writes the pictures that segmentkit composes, and how long each stays, for the encoder alone."""
    from segmentkit.pipeline import check
    from segmentkit.render.picture import Composer

    checked = check(storyboard(scene))
    repeats = []
    with Composer(checked.plan, checked.facts, checked.look) as composer, out.open("wb") as file:
        for picture in composer.pictures():
            for plane in (picture.planes.y, picture.planes.u, picture.planes.v):
                file.write(plane.tobytes())
            repeats.append(picture.repeat)
    out.with_suffix(".repeats").write_text(" ".join(map(str, repeats)))


def alone(scene: Scene, out: Path, preset: str, crf: int) -> None:
    """The encoder on the very same frames, from a file of raw pictures: nothing is decoded, drawn or read back."""
    import av
    from av.video.frame import VideoFrame

    pictures = scene.folder / f"{scene.name}.raw"
    width, height = scene.size.width, scene.size.height
    with pictures.open("rb") as file, av.open(str(out), "w", format="mp4") as output:
        stream: Any = output.add_stream("libx264", rate=scene.fps)
        stream.width, stream.height, stream.pix_fmt = width, height, "yuv420p"
        context = stream.codec_context
        context.thread_count, context.thread_type = THREADS, "FRAME"  # as fast as it is
        context.options = {
            "preset": preset, "crf": str(crf), "profile": "high",
            "x264-params": f"keyint={round(2 * scene.fps)}:open-gop=0:8x8dct=1",
        }  # fmt: skip
        number = 0
        for repeat in map(int, pictures.with_suffix(".repeats").read_text().split()):
            frame = VideoFrame(width, height, "yuv420p")
            for plane in frame.planes:
                rows = np.frombuffer(plane, np.uint8).reshape(-1, plane.line_size)[: plane.height, : plane.width]  # type: ignore[call-overload]
                rows[:] = np.fromfile(file, np.uint8, plane.height * plane.width).reshape(rows.shape)
            frame.time_base = 1 / scene.fps
            for _ in range(repeat):
                frame.pts = number
                output.mux(stream.encode(frame))
                number += 1
        output.mux(stream.encode(None))


def graph(scene: Scene, out: Path, preset: str, crf: int) -> None:
    """One filter graph, as an expert writes it: each piece of a source is an input of its own, found by its time."""
    from segmentkit.media import ffmpeg

    width, height, rate = scene.size.width, scene.size.height, scene.rate
    inputs: list[str] = []
    chains: list[str] = []
    parts: list[str] = []

    def add(*arguments: str) -> str:
        inputs.extend(arguments)
        return f"[{sum(a == '-i' for a in inputs) - 1}:v]"

    half = f"scale={width}:{height}:flags=bicubic,crop={width // 2}:{height}"
    title = add("-loop", "1", "-framerate", rate, "-t", "4", "-i", str(scene.still("title")))
    chains.append(f"{title}format=yuv420p[title]")
    slow = add("-ss", f"{20 / SOURCE_FPS:.4f}", "-t", "1.5", "-i", str(scene.clips[0]))
    third = add("-loop", "1", "-framerate", rate, "-t", "4", "-i", str(scene.still("third")))
    chains.append(f"{third}fade=in:st=0:d=0.4:alpha=1,fade=out:st=3.6:d=0.4:alpha=1,setpts=PTS+1/TB[third]")
    chains.append(
        f"{slow}setpts=4*(PTS-STARTPTS),fps={rate}[slow0];"
        f"[slow0][third]overlay={round(0.06 * width)}:{round(0.8 * height)}:eof_action=pass,trim=duration=6[slow]"
    )
    parts += ["[title]", "[slow]"]
    for beat in range(scene.beats):
        first = scene.run_from(beat) / SOURCE_FPS
        for side, clip in zip("lr", scene.clips, strict=True):
            running = add("-ss", f"{first:.4f}", "-t", str(RUN), "-i", str(clip))
            frozen = add("-ss", f"{first + RUN:.4f}", "-t", "0.1", "-i", str(clip))
            chains.append(f"{running}setpts=PTS-STARTPTS,fps={rate},{half}[{side}run{beat}]")
            chains.append(f"{frozen}trim=end_frame=1,{half}[{side}still{beat}]")
        chains.append(f"[lrun{beat}][rrun{beat}]hstack,trim=duration={RUN}[run{beat}]")
        hold = BEAT - RUN
        chains.append(
            f"[lstill{beat}][rstill{beat}]hstack,loop=loop=-1:size=1,fps={rate},setpts=N/({rate})/TB,"
            f"trim=duration={hold}[held{beat}_0]"
        )
        for number in range(scene.strokes):
            left, top, _, _ = scene.stroke_box(number)
            start = scene.stroke_at(number)
            mark = add("-loop", "1", "-framerate", rate, "-t", str(hold), "-i", str(scene.still(f"stroke{number}")))
            chains.append(f"{mark}fade=in:st={start}:d={STROKE_SECONDS}:alpha=1[mark{beat}_{number}]")
            chains.append(
                f"[held{beat}_{number}][mark{beat}_{number}]overlay={left}:{top}:enable='gte(t,{start})'"
                f"[held{beat}_{number + 1}]"
            )
        parts += [f"[run{beat}]", f"[held{beat}_{scene.strokes}]"]
    frames = round(scene.seconds * scene.fps)
    chains.append(f"{''.join(parts)}concat=n={len(parts)}:v=1,format=yuv420p,fps={rate}[out]")
    ffmpeg.run(
        [
            *inputs, "-i", str(scene.bed), "-filter_complex", ";".join(chains), "-map", "[out]",
            "-map", f"{sum(a == '-i' for a in inputs)}:a", "-frames:v", str(frames), "-c:v", "libx264",
            "-preset", preset, "-crf", str(crf), "-threads", str(THREADS), "-g", str(round(2 * scene.fps)),
            "-c:a", "aac", "-b:a", "192k", "-movflags", "+faststart", str(out),
        ],
        timeout=7200,
    )  # fmt: skip


def moviepy(scene: Scene, out: Path, preset: str, crf: int) -> None:
    """A script as a competent user of moviepy writes it: clips closed, stills kept, no needless masks."""
    from moviepy import (
        AudioFileClip,
        CompositeVideoClip,
        ImageClip,
        VideoFileClip,
        clips_array,
        concatenate_videoclips,
        vfx,
    )

    width = scene.size.width
    sources = [VideoFileClip(str(clip), audio=False) for clip in scene.clips]

    def window(clip: Any) -> Any:
        return clip.cropped(x_center=width / 2, width=width // 2)

    title = ImageClip(str(scene.still("title")), duration=4)
    slow = sources[0].subclipped(20 / SOURCE_FPS, 110 / SOURCE_FPS).with_speed_scaled(0.25)
    third = ImageClip(str(scene.still("third")), duration=4, transparent=True).with_start(1)
    third = third.with_position((round(0.06 * width), round(0.8 * scene.size.height)))
    third = third.with_effects([vfx.CrossFadeIn(0.4), vfx.CrossFadeOut(0.4)])
    parts = [title, CompositeVideoClip([slow, third], size=(width, scene.size.height)).with_duration(INTRO - 4)]
    for beat in range(scene.beats):
        first = scene.run_from(beat) / SOURCE_FPS
        parts.append(clips_array([[window(clip.subclipped(first, first + RUN)) for clip in sources]]))
        frozen = clips_array([[window(clip.to_ImageClip(first + RUN, duration=1)) for clip in sources]]).get_frame(0)
        hold = BEAT - RUN
        marks = []
        for number in range(scene.strokes):
            left, top, _, _ = scene.stroke_box(number)
            start = scene.stroke_at(number)
            mark = ImageClip(str(scene.still(f"stroke{number}")), duration=hold - start, transparent=True)
            marks.append(
                mark.with_start(start).with_position((left, top)).with_effects([vfx.CrossFadeIn(STROKE_SECONDS)])
            )
        parts.append(CompositeVideoClip([ImageClip(frozen, duration=hold), *marks]).with_duration(hold))
    movie = concatenate_videoclips(parts).with_audio(AudioFileClip(str(scene.bed)))
    movie.write_videofile(
        str(out), fps=float(scene.fps), codec="libx264", preset=preset, threads=THREADS, audio_codec="aac",
        ffmpeg_params=["-crf", str(crf), "-g", str(round(2 * scene.fps))], logger=None,
        temp_audiofile_path=str(out.parent),
    )  # fmt: skip
    movie.close()
    for clip in sources:
        clip.close()


def quality(scene: Scene, movie: Path, every: int = 10) -> tuple[float, float]:
    """PSNR in dB and SSIM of the luma of every tenth frame against the composed pictures.

    SSIM as Wang et al. (2004) define it: Gaussian window of 11 samples, sigma 1.5, K1 0.01, K2 0.03.
    """
    import av
    import cv2

    pictures = scene.folder / f"{scene.name}.raw"
    width, height = scene.size.width, scene.size.height
    whole = np.memmap(pictures, np.uint8, "r").reshape(-1, height * 3 // 2, width)
    index = np.repeat(np.arange(len(whole)), list(map(int, pictures.with_suffix(".repeats").read_text().split())))
    wrong, likeness = [], []

    def blurred(plane: Any) -> Any:
        return cv2.GaussianBlur(plane, (11, 11), 1.5)

    with av.open(str(movie)) as container:
        for number, frame in enumerate(container.decode(video=0)):
            if number % every or number >= len(index):
                continue
            a = whole[index[number], :height].astype(np.float32)
            b = np.frombuffer(frame.planes[0], np.uint8).reshape(-1, frame.planes[0].line_size)[:height, :width]  # type: ignore[call-overload]
            b = b.astype(np.float32)
            wrong.append(float(np.mean((a - b) ** 2)))
            ma, mb = blurred(a), blurred(b)
            va, vb, vab = blurred(a * a) - ma * ma, blurred(b * b) - mb * mb, blurred(a * b) - ma * mb
            c1, c2 = (0.01 * 255) ** 2, (0.03 * 255) ** 2
            likeness.append(
                float(np.mean((2 * ma * mb + c1) * (2 * vab + c2) / ((ma * ma + mb * mb + c1) * (va + vb + c2))))
            )
    return float(10 * np.log10(255**2 / max(1e-9, np.mean(wrong)))), float(np.mean(likeness))


def main() -> None:
    """Runs one contestant."""
    who, scene, out, *rest = sys.argv[1:]
    loaded, path = load(Path(scene)), Path(out)
    if who == "raw":
        raw(loaded, path)
        return
    preset, crf = rest[0], int(rest[1])
    match who:
        case "segmentkit":
            segmentkit(loaded, path, preset, crf)
        case "changed":
            segmentkit(loaded, path, preset, crf, changed=True)
        case "alone":
            alone(loaded, path, preset, crf)
        case "graph":
            graph(loaded, path, preset, crf)
        case "moviepy":
            moviepy(loaded, path, preset, crf)
        case _:
            raise SystemExit(f"no contestant is called {who}")
    assert Fraction(loaded.rate) > 0


if __name__ == "__main__":
    main()

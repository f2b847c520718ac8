"""How fast segmentkit is beside others, on one machine, in one run.

    python3 -m tests.benchmarks                 the standard table: 60 s, 3 strokes a picture, 30 fps, 1080p
    python3 -m tests.benchmarks --seconds 240 --presets veryfast --without moviepy graph
    python3 -m tests.benchmarks --strokes 30    as many strokes on each frozen picture
    python3 -m tests.benchmarks --rate 60000/1001 --size 3840x2160

All contestants use libx264 with the same preset, the same quality and the same number of threads. Rounds are
interleaved, so that what else the machine does hits all alike; figures are medians. Linux only, for how memory is
measured.
"""

from __future__ import annotations

import argparse
import shutil
import statistics
import sys
import tempfile
from pathlib import Path

from segmentkit.geometry import Size
from tests.benchmarks.contestants import quality
from tests.benchmarks.measure import Run, measured
from tests.benchmarks.scene import Scene, prepare

NAMES = {
    "alone": "the encoder alone, same frames",
    "segmentkit": "segmentkit, nothing ready",
    "changed": "segmentkit, one stroke moved",
    "again": "segmentkit, nothing changed",
    "graph": "one ffmpeg filter graph",
    "moviepy": "a moviepy script",
    "first": "segmentkit, clips seen for the first time",
}


def main() -> None:
    """Prepares, runs, prints."""
    options = _options()
    width, height = (int(part) for part in options.size.split("x"))
    scene = Scene(
        folder=options.folder, seconds=options.seconds, strokes=options.strokes, rate=options.rate,
        size=Size(width, height),
    )  # fmt: skip
    print("preparing sources", file=sys.stderr, flush=True)
    prepare(scene)
    spec = scene.folder / f"{scene.name}.json"
    raw = scene.folder / f"{scene.name}.raw"
    pieces = scene.folder / ".segmentkit" / "pieces"
    columns = ("who", "preset", "wall, s", "to encoder", "CPU, s", "to encoder", "memory, MB", "MB", "PSNR, dB", "SSIM")
    print(f"| {' | '.join(columns)} |\n|{'---|' * len(columns)}", flush=True)

    def run(who: str, preset: str) -> Run:
        out = scene.folder / f"{scene.name}-{who}-{preset}.mp4"
        if who != "again":
            out.unlink(missing_ok=True)
        if who in {"segmentkit", "first"}:
            shutil.rmtree(pieces, ignore_errors=True)
        if who == "first":
            shutil.rmtree(scene.folder / ".segmentkit", ignore_errors=True)
        doing = {"again": "segmentkit", "first": "segmentkit"}.get(who, who)
        target = scene.folder / f"{scene.name}-segmentkit-{preset}.mp4" if who == "again" else out
        what = [doing, str(spec), str(target), preset, str(options.crf)]
        command = [sys.executable, "-m", "tests.benchmarks.contestants", *what]
        made = measured(command, scene.folder)
        print(
            f"{who} {preset}: {made.wall:.1f} s, CPU {made.cpu:.1f} s, {made.memory:.0f} MB",
            file=sys.stderr,
            flush=True,
        )
        return made

    first = run("first", options.presets[0])
    measured([sys.executable, "-m", "tests.benchmarks.contestants", "raw", str(spec), str(raw)], scene.folder)
    for number, preset in enumerate(options.presets):
        runs: dict[str, list[Run]] = {}
        for turn in range(options.rounds):
            for who in ("alone", "segmentkit", "changed", "again", "graph", "moviepy"):
                rival = who in {"graph", "moviepy"}
                if who in options.without or (rival and turn >= options.rival_rounds) or (who == "moviepy" and number):
                    continue
                runs.setdefault(who, []).append(run(who, preset))
        if number == 0:
            runs["first"] = [first]
        for who, made in runs.items():
            print(_row(scene, who, preset, made, runs["alone"]), flush=True)
    if not options.keep:
        raw.unlink(missing_ok=True)


def _row(scene: Scene, who: str, preset: str, runs: list[Run], alone: list[Run]) -> str:
    wall, cpu = (statistics.median(getattr(run, what) for run in runs) for what in ("wall", "cpu"))
    base_wall, base_cpu = (statistics.median(getattr(run, what) for run in alone) for what in ("wall", "cpu"))
    out = scene.folder / f"{scene.name}-{who}-{preset}.mp4"
    size = f"{out.stat().st_size / 1e6:.1f}" if out.exists() else "–"
    # The rivals scale and draw in other ways, so their pictures cannot be held against these frames.
    good = ("–", "–")
    if who in {"alone", "segmentkit"}:
        psnr, ssim = quality(scene, out)
        good = (f"{psnr:.2f}", f"{ssim:.4f}")
    memory = max(run.memory for run in runs)
    return (
        f"| {NAMES[who]} | {preset} | {wall:.1f} | {wall / base_wall:.2f} | {cpu:.1f} | {cpu / base_cpu:.2f} |"
        f" {memory:.0f} | {size} | {good[0]} | {good[1]} |"
    )


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python3 -m tests.benchmarks", description="Compares renderers.")
    parser.add_argument("--seconds", type=int, default=60, help="length; 10 and a multiple of 10")
    parser.add_argument("--strokes", type=int, default=3, help="on each frozen picture")
    parser.add_argument("--rate", default="30", help="frames a second, such as 25 or 60000/1001")
    parser.add_argument("--size", default="1920x1080")
    parser.add_argument("--presets", nargs="+", default=["veryfast", "medium"])
    parser.add_argument("--crf", type=int, default=20)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--rival-rounds", type=int, default=1)
    parser.add_argument("--without", nargs="*", default=[], choices=sorted(NAMES))
    parser.add_argument("--keep", action="store_true", help="keep the raw pictures")
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "segmentkit-benchmark")
    return parser.parse_args()


if __name__ == "__main__":
    main()

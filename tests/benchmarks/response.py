"""How soon the program answers: help, check, stills, previews, and what happens at a save. Prints a Markdown table.

    python3 -m tests.benchmarks.response                  copies the demo, prepares it, then measures: some minutes
    python3 -m tests.benchmarks.response --store FOLDER   a working folder that is kept, so that a second run is soon
    python3 -m tests.benchmarks.response --times 9 --beat compare

Each figure is the median of several runs, on the clock and of the processors (children included), beside its target.
"Ready" is a program that was left running with --watch: it has read the storyboard once. "New" is a program that is
started for each answer. The clock depends on what else the machine does, the processor hardly; on an idle machine the
clock shows little more than the processor, and a quarter of a second for a save to be over.
"""

from __future__ import annotations

import argparse
import os
import queue
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from time import monotonic

from tests.benchmarks.measure import measured

DEMO = Path(__file__).parents[2] / "demo_project"
BOARD = "storyboard.yaml"
POINT = "gap_line: [0.4079, 0.5880]"
"""In the demo: where a double arrow of the beat `impact` begins."""
SPOKEN, CARD = "a committed finish", "lines: [Thin, Right]"
"""In the demo: words of the beat `praise`, which has a take; and the words on a card of the beat `miss`."""
HELP, CHECK, STILL, FIRST = 0.3, 2.0, 0.3, 1.0
"""Targets in seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A line of the table: seconds on the clock and of the processors, and the most the clock may show."""

    what: str
    wall: Sequence[float]
    cpu: Sequence[float]
    target: float | None

    def __str__(self) -> str:
        wall, cpu = median(self.wall), median(self.cpu)
        target = "" if self.target is None else f"{self.target:.1f}"
        met = ["" if self.target is None else "yes" if found <= self.target else "no" for found in (wall, cpu)]
        return f"| {self.what} | {target} | {wall:.2f} | {met[0]} | {cpu:.2f} | {met[1]} |"


class Stayer:
    """A verb that was left running: what it says, and what it used."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self._said: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._said.put(line)

    def until(self, *texts: str) -> str:
        """Waits for a line with one of some texts in it.

        Raises:
            RuntimeError: when none comes within two minutes.
        """
        said = []
        while True:
            try:
                said.append(self._said.get(timeout=120))
            except queue.Empty:
                raise RuntimeError(f"nothing said {' or '.join(texts)}: {''.join(said)}") from None
            if any(text in said[-1] for text in texts):
                return said[-1]

    def cpu(self) -> float:
        """Processor seconds so far, with those of children that ended; 0 where the system does not tell."""
        try:
            fields = Path(f"/proc/{self.process.pid}/stat").read_text().rsplit(")", 1)[1].split()
        except OSError:
            return 0.0
        return sum(map(int, fields[11:15])) / os.sysconf("SC_CLK_TCK")

    def timed(self, ask: Callable[[], object], *marks: tuple[str, ...]) -> list[tuple[float, float]]:
        """Asks, and measures the time and the work until each of some lines."""
        began, used = monotonic(), self.cpu()
        ask()
        found = []
        for texts in marks:
            self.until(*texts)
            found.append((monotonic() - began, self.cpu() - used))
        return found


@contextmanager
def staying(command: Sequence[str]) -> Iterator[Stayer]:
    """A command that is left running, and is ended at the end."""
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        yield Stayer(process)
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(60)
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                stream.close()


def _row(what: str, target: float | None, found: Sequence[tuple[float, float]]) -> Row:
    return Row(what=what, wall=[one[0] for one in found], cpu=[one[1] for one in found], target=target)


def started(folder: Path, times: int, moments: Sequence[str]) -> Iterator[Row]:
    """What a program answers that is started for each answer."""
    from segmentkit.cli.main import VERBS

    board = str(folder / BOARD)

    def runs(*arguments: str, count: int = times) -> list[tuple[float, float]]:
        made = [measured([sys.executable, "-m", "segmentkit", *arguments], folder) for _ in range(count)]
        return [(run.wall, run.cpu) for run in made]

    yield _row("`--help`", HELP, runs("--help"))
    helps = [(*runs(verb, "--help", count=1)[0], verb) for verb in VERBS]
    slowest = max(helps, key=lambda one: one[1])[2]
    yield _row(f"`{slowest} --help`, the dearest of {len(helps)}", HELP, runs(slowest, "--help"))
    yield _row("`check` of all versions", CHECK, runs("check", board))
    stills = [runs("still", board, "--at", at, "-o", str(folder / "still.png"), count=1)[0] for at in moments]
    yield _row(f"`still`, new, {len(moments)} moments", None, stills)


def stills(folder: Path, moments: Sequence[str]) -> Iterator[Row]:
    """Pictures of moments that nobody asked for before."""
    command = [sys.executable, "-m", "segmentkit", "still", str(folder / BOARD), "--at", "f0", "--watch"]
    with staying([*command, "-o", str(folder / "still.png")]) as still:
        still.until(", in ")
        assert still.process.stdin is not None
        pipe = still.process.stdin

        def ask(moment: str) -> None:
            pipe.write(f"{moment}\n")
            pipe.flush()

        found = [still.timed(lambda at=at: ask(at), (", in ",))[0] for at in moments]  # type: ignore[misc]
        yield _row(f"`still`, ready, {len(moments)} moments", STILL, found)
        board = folder / BOARD
        text, saves = board.read_text(), []
        ask("1:05")
        still.until(", in ")
        for k in range(len(moments) // 2 or 1):
            other = text.replace(POINT, f"gap_line: [0.4079, 0.{5890 + k}]")
            saves += still.timed(lambda other=other: board.write_text(other), (", in ",))  # type: ignore[misc]
        board.write_text(text)
        yield _row("`still --watch`, a stroke moved and saved", FIRST, saves)


def previews(folder: Path, beat: str, times: int) -> Iterator[Row]:
    """A beat from nothing, and after saves."""
    board, out = folder / BOARD, folder / "preview.mp4"
    base = [sys.executable, "-m", "segmentkit"]
    first, whole = [], []
    for _ in range(times):
        with staying(
            [*base, "--store-limit", "0", "preview", str(board), "--beat", beat, "--watch", "-o", str(out)]
        ) as preview:
            began = monotonic()
            preview.until("preview.png: ")
            first.append((monotonic() - began, preview.cpu()))
            preview.until("preview.mp4: ")
            whole.append((monotonic() - began, preview.cpu()))
    length = _length(out)
    yield _row(f"`preview --beat {beat}`, new: first picture", FIRST, first)
    yield _row(f"`preview --beat {beat}`, new: all of its {length:.1f} s", length, whole)
    text = board.read_text()
    with staying([*base, "preview", str(board), "--beat", beat, "--watch", "-o", str(out)]) as preview:
        preview.until("preview.mp4: ")
        for name, was, now in (
            ("a stroke moved", POINT, "gap_line: [0.4079, 0.59{:02}]"),
            ("a word on a card changed", CARD, "lines: [Thin, Right {}]"),
        ):
            pictures, movies = [], []
            for k in range(times):
                other = text.replace(was, now.format(k + 10))
                assert other != text, f"{board} — has no {was!r} to change — measure with the demo"
                seen = preview.timed(
                    lambda other=other: board.write_text(other), ("preview.png: ",), ("preview.mp4: ",)  # type: ignore[misc]
                )  # fmt: skip
                pictures.append(seen[0])
                movies.append(seen[1])
            yield _row(f"`preview --watch`, {name}: first picture", FIRST, pictures)
            yield _row(f"`preview --watch`, {name}: its beat, {_length(out):.1f} s", _length(out), movies)
            preview.timed(lambda: board.write_text(text), ("preview.mp4: ",))
        words = []
        for k in range(times):
            other = text.replace(SPOKEN, f"a finish worth {k + 10}")
            words += preview.timed(
                lambda other=other: board.write_text(other), ("nothing looks or sounds", "preview.mp4: ")  # type: ignore[misc]
            )  # fmt: skip
        yield _row("`preview --watch`, a spoken word changed that has a take", CHECK, words)
        board.write_text(text)


def _length(path: Path) -> float:
    import av

    with av.open(str(path)) as container:
        return float(container.duration or 0) / 1_000_000


def main() -> None:
    """Prepares the demo, measures, prints."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--times", type=int, default=5, help="runs of each; the median counts")
    parser.add_argument("--beat", default="impact", help="the beat to preview")
    parser.add_argument("--moments", type=int, default=15, help="stills, spread over the segment")
    parser.add_argument("--store", type=Path, help="a working folder to keep; else a new one is prepared and removed")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "demo"
        shutil.copytree(DEMO, folder, ignore=shutil.ignore_patterns(".segmentkit", "out", "season", "footage"))
        os.environ["SEGMENTKIT_STORE"] = str((given.store or folder / ".segmentkit").absolute())
        # Makes working copies, readings and tracks: once for a project, not what is measured here.
        measured([sys.executable, "-m", "segmentkit", "check", str(folder / BOARD)], folder)
        step = 4500 // given.moments
        moments = [f"f{k * step + step // 2}" for k in range(given.moments)]
        print("| what | target, s | clock, s | met | processor, s | met |\n|---|---|---|---|---|---|")
        for rows in (
            started(folder, given.times, moments), stills(folder, moments), previews(folder, given.beat, given.times)
        ):  # fmt: skip
            for row in rows:
                print(row, flush=True)
        if hasattr(os, "getloadavg"):
            print(
                f"\n{os.cpu_count()} processors, on which {os.getloadavg()[1]:.1f} programs wanted to work at a time."
            )


if __name__ == "__main__":
    main()

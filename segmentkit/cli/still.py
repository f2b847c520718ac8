"""`segmentkit still`: the picture of any moment; once, or again and again."""

from __future__ import annotations

import contextlib
import os
import queue
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, read_moment, version_option
from segmentkit.cli.watching import EVERY, Watch
from segmentkit.errors import SegmentkitError
from segmentkit.timebase import Rate, label_of_frame

if TYPE_CHECKING:
    from segmentkit.pipeline import Planned
    from segmentkit.render.picture import Composer


@click.command("still")
@STORYBOARD
@click.option(
    "--at", "moments", required=True, multiple=True, metavar="MOMENT",
    help="A moment of the segment: 1:05.2, 00:01:05:05, or f1630; may be given again.",
)  # fmt: skip
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The PNG; else out/<name>-f<frame>.png."
)
@click.option(
    "--watch", is_flag=True,
    help="Stay: save the picture anew at each save of the storyboard, and that of any moment you type.",
)  # fmt: skip
@version_option
def command(storyboard: Path, moments: tuple[str, ...], out: Path | None, watch: bool, profile: str | None) -> int:
    """Save the picture of a moment of STORYBOARD as a PNG, as it would be in the finished segment.

    With --watch the program stays ready, and pictures come at once: type a moment and press Enter. With -o each
    picture takes the place of the one before.
    """
    if out is not None and len(moments) > 1:
        raise click.UsageError("-o names one picture and --at several moments — give one --at, or leave -o out")
    if watch:
        _stay(storyboard, moments, out, profile)
    with _Artist(storyboard, out, profile) as artist:
        artist.read()
        for frame in artist.frames(moments):
            artist.save(frame)
    return 0


class _Artist:
    """A storyboard that was planned, and what draws its pictures; ready for one more."""

    def __init__(self, storyboard: Path, out: Path | None, profile: str | None) -> None:
        self._storyboard, self._out, self._profile = storyboard, out, profile
        self._planned: Planned | None = None
        self._composer: Composer | None = None

    def __enter__(self) -> _Artist:
        return self

    def __exit__(self, *_: object) -> None:
        if self._composer is not None:
            self._composer.__exit__(None, None, None)

    def read(self, watch: Watch | None = None) -> None:
        """Reads the storyboard; what was read before stays when it cannot be."""
        from segmentkit.pipeline import look_at, stills_of  # noqa: PLC0415
        from segmentkit.storyboard.load import load  # noqa: PLC0415

        loaded = load(self._storyboard)
        if watch is not None:
            from segmentkit.storyboard.sources import sources  # noqa: PLC0415

            watch.follow(sources(loaded))
        with progress(quiet=True) as report:
            planned = look_at(
                self._storyboard, deliver=[self._profile or loaded.board.deliver[0]], progress=report
            )  # fmt: skip
        composer = stills_of(planned)
        self.__exit__()
        self._planned, self._composer = planned, composer

    @property
    def ready(self) -> bool:
        """Whether the storyboard was read at least once."""
        return self._planned is not None

    @property
    def rate(self) -> Rate:
        """Frames a second of the segment."""
        assert self._planned is not None
        return self._planned.plan.rate

    def frames(self, moments: Sequence[str]) -> list[int]:
        """The frames of some moments."""
        assert self._planned is not None
        plan, found = self._planned.plan, []
        for moment in moments:
            frame = read_moment(moment, plan.rate)
            if not 0 <= frame < plan.frames:
                raise click.BadParameter(
                    f"frame {frame} is outside the segment's 0 to {plan.frames - 1}", param_hint="--at"
                )
            found.append(frame)
        return found

    def save(self, frame: int) -> Path:
        """Saves a picture and says where."""
        from segmentkit.pipeline import save_picture  # noqa: PLC0415

        assert self._composer is not None
        target = self._out or self._storyboard.parent / "out" / f"{self._storyboard.stem}-f{frame}.png"
        save_picture(self._composer, frame, target)
        click.echo(str(target))
        return target


def _stay(storyboard: Path, moments: Sequence[str], out: Path | None, profile: str | None) -> None:
    """Draws at each save and for each moment that is typed, until a person stops it."""
    watch, typed = Watch(storyboard), _typed()
    good = wanted = list(moments)
    old = True
    click.echo(f"watching {storyboard.name} and what it names; type a moment, Ctrl-C ends", err=True)
    with _Artist(storyboard, out, profile) as artist:
        while True:
            began = time.monotonic()
            try:
                if old:
                    artist.read(watch)
                for frame in artist.frames(wanted):
                    artist.save(frame)
                    took = time.monotonic() - began
                    click.echo(f"{label_of_frame(frame, artist.rate)}, in {took:.2f} s", err=True)
                good = wanted
            except click.BadParameter as error:
                click.echo(error.format_message(), err=True)
            except SegmentkitError as error:
                click.echo(str(error), err=True)
            moment = _next(watch, typed)
            # After a fault, moments that are typed are still those of the last storyboard that could be read.
            old = moment is None or not artist.ready
            wanted = good if moment is None else [moment]


def _next(watch: Watch, typed: queue.SimpleQueue[str]) -> str | None:
    """Waits for a moment that is typed, or for a save: None."""
    while not watch.saved():
        with contextlib.suppress(queue.Empty):
            return typed.get(timeout=EVERY)
    return None


def _typed() -> queue.SimpleQueue[str]:
    """The lines of standard input, as they come."""
    lines: queue.SimpleQueue[str] = queue.SimpleQueue()

    def read() -> None:
        # Bytes straight from the system: a thread that waits in sys.stdin would hold its lock when the program ends.
        rest = b""
        while block := os.read(0, 4096):
            *whole, rest = (rest + block).split(b"\n")
            for line in whole:
                if text := line.decode(errors="replace").strip():
                    lines.put(text)

    threading.Thread(target=read, daemon=True, name="typed").start()
    return lines

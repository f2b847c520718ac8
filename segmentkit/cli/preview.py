"""`segmentkit preview`: a part of the segment, small and soon; once, or again at each save."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from pathlib import Path

import click

from segmentkit.cli.console import counted, progress
from segmentkit.cli.options import STORYBOARD, looked_at, read_moment, version_option
from segmentkit.errors import SegmentkitError
from segmentkit.geometry import Size
from segmentkit.pipeline import Checked, check
from segmentkit.timebase import Rate, Span, label_of_frame

_EVERY = 0.25  # seconds between two looks at the files


@click.command("preview")
@STORYBOARD
@click.option("--beat", help="This beat alone; else all of the segment.")
@click.option("--from", "start", metavar="MOMENT", help="From a moment of the segment, such as 1:05; else its start.")
@click.option("--to", "end", metavar="MOMENT", help="Up to a moment; else the end.")
@click.option("--size", metavar="WxH", help="Of the picture, such as 640x360; else 640 for the longer side.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The file; else out/<name>-preview.mp4."
)
@click.option("--watch", is_flag=True, help="Stay, and at each save render the beats that were touched.")
@version_option
def command(
    storyboard: Path,
    beat: str | None,
    start: str | None,
    end: str | None,
    size: str | None,
    out: Path | None,
    watch: bool,
    profile: str | None,
) -> int:
    """Render a part of STORYBOARD at a low size, with its sound, however it is judged; for looking, not for air."""
    if beat is not None and (start is not None or end is not None):
        raise click.UsageError("--beat names a part and so do --from and --to — give one of them")
    target = out or storyboard.parent / "out" / f"{storyboard.stem}-preview.mp4"
    with progress(quiet=watch) as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
    span = _span(checked, beat, start, end)
    _render(checked, span, size, target, quiet=watch)
    if watch:
        _watch(storyboard, profile, checked, size, target)
    return 0


def _span(checked: Checked, beat: str | None, start: str | None, end: str | None) -> Span:
    plan = checked.plan
    if beat is not None:
        names = [one.id for one in plan.beats]
        if beat not in names:
            raise click.BadParameter(
                f"{beat!r} is no beat — {', '.join(names)} are — name one of them", param_hint="--beat"
            )
        return plan.beat(beat).span
    first = 0 if start is None else _moment(start, plan.rate, "--from")
    last = plan.frames if end is None else _moment(end, plan.rate, "--to")
    if not 0 <= first < last <= plan.frames:
        raise click.BadParameter(
            f"frames {first} to {last} — 0 to {plan.frames} is the segment, and the start comes before the end"
            " — give other moments",
            param_hint="--from, --to",
        )
    return Span(first, last)


def _moment(text: str, rate: Rate, option: str) -> int:
    try:
        return read_moment(text, rate)
    except click.BadParameter as error:
        raise click.BadParameter(error.message, param_hint=option) from None


def _size(text: str | None, whole: Size) -> Size:
    from segmentkit.render.preview import preview_size  # noqa: PLC0415

    if text is None:
        return preview_size(whole)
    match = re.fullmatch(r"(\d{2,4})x(\d{2,4})", text.strip(), re.ASCII)
    if match is None:
        raise click.BadParameter(f"{text!r} is not a size — write one such as 640x360", param_hint="--size")
    size = Size(int(match[1]), int(match[2]))
    same = preview_size(whole, max(size.width, size.height))
    if size != same:
        raise click.BadParameter(
            f"{size} has not the shape of {whole}, or an odd side — {same} has — write that one", param_hint="--size"
        )
    return size


def _render(checked: Checked, span: Span, size: str | None, out: Path, *, quiet: bool) -> None:
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.render.preview import make_preview  # noqa: PLC0415

    plan = checked.plan
    began = time.monotonic()
    with progress(quiet=quiet) as report:
        movie = make_preview(
            plan, checked.facts, checked.look, out, span=span, size=_size(size, plan.size),
            store=Store.of(checked.loaded.folder), progress=report,
        )  # fmt: skip
    click.echo(
        f"{movie.path}: {label_of_frame(span.start, plan.rate)} to {label_of_frame(span.end, plan.rate)}, {movie.size},"
        f" in {time.monotonic() - began:.1f} s; {counted(checked.findings)}"
    )


def _watch(storyboard: Path, profile: str | None, last: Checked, size: str | None, out: Path) -> None:
    """Renders the touched beats at each save, until a person stops it."""
    from segmentkit.render.preview import touched  # noqa: PLC0415

    click.echo(f"watching {storyboard.name} and what it names; Ctrl-C ends", err=True)
    seen = _stamps(storyboard, last)
    while True:
        time.sleep(_EVERY)
        now = _stamps(storyboard, last)
        if now == seen:
            continue
        seen = now
        try:
            with progress(quiet=True) as report:
                checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
            beats = touched(last.plan, last.facts, checked.plan, checked.facts, (last.look, checked.look))
            last = checked
            if beats:
                spans = [checked.plan.beat(beat).span for beat in beats]
                click.echo(f"touched: {', '.join(beats)}", err=True)
                _render(checked, Span(spans[0].start, spans[-1].end), size, out, quiet=True)
            else:
                click.echo("nothing looks or sounds otherwise", err=True)
        except SegmentkitError as error:
            click.echo(str(error), err=True)
        seen = _stamps(storyboard, last)


def _stamps(storyboard: Path, checked: Checked) -> dict[Path, tuple[int, int]]:
    """Time of change and size of all files that the storyboard is made from."""
    found = {}
    for path in _named(storyboard, checked):
        try:
            stat = path.stat()
        except OSError:
            continue
        found[path] = (stat.st_mtime_ns, stat.st_size)
    return found


def _named(storyboard: Path, checked: Checked) -> Iterator[Path]:
    yield storyboard
    board, folder = checked.loaded.board, checked.loaded.folder
    yield folder / board.look
    yield from (folder / clip.file for clip in board.clips.values())
    yield from (folder / still.file for still in board.stills.values())
    yield from (folder / cue.file for cue in board.music)
    if board.voice.takes:
        yield from sorted((folder / board.voice.takes).glob("*"))

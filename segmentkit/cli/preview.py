"""`segmentkit preview`: a part of the segment, small and soon; once, or again at each save."""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import counted, progress
from segmentkit.cli.options import STORYBOARD, house_rules, read_moment, rules_file, version_option
from segmentkit.cli.watching import Superseded, Watch
from segmentkit.errors import SegmentkitError
from segmentkit.geometry import Size
from segmentkit.timebase import Rate, Span, label_of_frame

if TYPE_CHECKING:
    from segmentkit.measure import Progress
    from segmentkit.pipeline import Planned
    from segmentkit.plan.model import Plan
    from segmentkit.render.preview import Prints


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wish:
    """What a person wants to look at."""

    storyboard: Path
    profile: str | None
    rules: Path | None
    size: str | None
    out: Path
    span: Callable[[Plan], Span]


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
@rules_file
def command(
    storyboard: Path,
    beat: str | None,
    start: str | None,
    end: str | None,
    size: str | None,
    out: Path | None,
    watch: bool,
    profile: str | None,
    rules: Path | None,
) -> int:
    """Render a part of STORYBOARD at a low size, with its sound, however it is judged; for looking, not for air.

    A picture of its first shot, as the shot ends, is there at once: a PNG beside the file.

    With --watch a faulty storyboard is told of and the last good preview stays; clips, takes, stills, the look and
    rules are watched as well.
    """
    if beat is not None and (start is not None or end is not None):
        raise click.UsageError("--beat names a part and so do --from and --to — give one of them")
    wish = _Wish(
        storyboard=storyboard, profile=profile, rules=rules, size=size,
        out=out or storyboard.parent / "out" / f"{storyboard.stem}-preview.mp4",
        span=lambda plan: _span(plan, beat, start, end),
    )  # fmt: skip
    if watch:
        _watch(wish)
    with progress() as report:
        _looked(wish, report)
    return 0


def _span(plan: Plan, beat: str | None, start: str | None, end: str | None) -> Span:
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


def _looked(wish: _Wish, report: Progress, watch: Watch | None = None, before: Prints | None = None) -> Prints | None:
    """Reads the storyboard, and renders what was asked for; where something was rendered before, what was touched.

    Returns:
        What tells it from the next one, for whoever watches.
    """
    from segmentkit.pipeline import look_at  # noqa: PLC0415
    from segmentkit.pipeline import shown as as_shown  # noqa: PLC0415
    from segmentkit.render.preview import first_otherwise, prints, telling_frame, touched  # noqa: PLC0415
    from segmentkit.storyboard.load import load  # noqa: PLC0415

    began = time.monotonic()
    loaded, rules = load(wish.storyboard), house_rules(wish.rules)
    if watch is not None:
        from segmentkit.storyboard.sources import sources  # noqa: PLC0415

        watch.follow(sources(loaded))
    deliver = [wish.profile or loaded.board.deliver[0]]
    planned = look_at(wish.storyboard, deliver=deliver, rules=rules, progress=report)
    plan = as_shown(planned.versions[0], planned.look, planned.versions[0].deliveries[0])
    now = prints(plan, planned.facts, planned.look) if watch is not None else None
    if before is None or now is None:
        span = wish.span(plan)
        _render(wish, planned, plan, span, telling_frame(plan, span), began, report)
        return now
    beats = touched(before, now)
    if not beats:
        click.echo(f"nothing looks or sounds otherwise; {_verdict(planned)}", err=True)
        return now
    click.echo(f"touched: {', '.join(beats)}", err=True)
    span = Span(plan.beat(beats[0]).span.start, plan.beat(beats[-1]).span.end)
    other = first_otherwise(before, now)
    frame = telling_frame(plan, span) if other is None else other.end - 1
    _render(wish, planned, plan, span, frame, began, report)
    return now


def _render(wish: _Wish, planned: Planned, plan: Plan, span: Span, frame: int, began: float, report: Progress) -> None:
    """Saves the picture of a frame, then the span as a movie, then says how all is judged."""
    from segmentkit.media.store import Store  # noqa: PLC0415
    from segmentkit.render.preview import first_picture, make_preview  # noqa: PLC0415

    facts, look, size = planned.facts, planned.look, _size(wish.size, plan.size)
    picture = wish.out.with_suffix(".png")
    first_picture(plan, facts, look, picture, frame=frame, size=size)
    click.echo(f"{picture}: {label_of_frame(frame, plan.rate)}, in {time.monotonic() - began:.1f} s", err=True)
    store = Store.of(planned.loaded.folder)
    movie = make_preview(plan, facts, look, wish.out, span=span, size=size, store=store, progress=report)
    took = time.monotonic() - began
    click.echo(
        f"{movie.path}: {label_of_frame(span.start, plan.rate)} to {label_of_frame(span.end, plan.rate)}, {movie.size},"
        f" in {took:.1f} s; {_verdict(planned)}"
    )


def _verdict(planned: Planned) -> str:
    """How the storyboard is judged; last, since whoever looks does not wait for it."""
    from segmentkit.pipeline import judge  # noqa: PLC0415

    return counted(judge(planned).findings)


def _watch(wish: _Wish) -> None:
    """Renders the touched beats at each save, until a person stops it."""
    watch = Watch(wish.storyboard, *([wish.rules] if wish.rules else []))
    click.echo(f"watching {wish.storyboard.name} and what it names; Ctrl-C ends", err=True)
    before: Prints | None = None
    while True:
        try:
            with progress(quiet=True) as report:
                # Kept only when all was made: what a further save keeps from being made is still to be made then.
                before = _looked(wish, watch.heeding(report), watch, before)
        except Superseded:
            click.echo("saved again: begun anew", err=True)
        except click.UsageError as error:
            click.echo(error.format_message(), err=True)
        except SegmentkitError as error:
            click.echo(str(error), err=True)
        watch.wait()

"""`segmentkit still`: the picture of any moment."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, looked_at, read_moment, version_option
from segmentkit.pipeline import check, save_still


@click.command("still")
@STORYBOARD
@click.option("--at", "moment", required=True, help="A moment of the segment: 1:05.2, 00:01:05:05, or f1630.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The PNG; else out/<name>-f<frame>.png."
)
@version_option
def command(storyboard: Path, moment: str, out: Path | None, profile: str | None) -> int:
    """Save the picture of one moment of STORYBOARD as a PNG, as it would be in the finished segment."""
    with progress(quiet=True) as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
    frame = read_moment(moment, checked.plan.rate)
    if not 0 <= frame < checked.plan.frames:
        raise click.BadParameter(
            f"frame {frame} is outside the segment's 0 to {checked.plan.frames - 1}", param_hint="--at"
        )
    target = out or storyboard.parent / "out" / f"{storyboard.stem}-f{frame}.png"
    save_still(checked, frame, target)
    click.echo(str(target))
    return 0

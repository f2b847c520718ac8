"""`segmentkit chart`: the timing chart."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, looked_at, version_option


@click.command("chart")
@STORYBOARD
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False),
    help="The file, .html, .svg or .png; else out/<name>-chart.html.",
)  # fmt: skip
@click.option("--no-pictures", is_flag=True, help="Leave the small pictures out; quicker.")
@version_option
def command(storyboard: Path, out: Path | None, no_pictures: bool, profile: str | None) -> int:
    """Draw all of STORYBOARD on one sheet: clock, beats and their room, pictures, strokes, words, cards and sound."""
    from segmentkit.deliver.chart import write_chart  # noqa: PLC0415
    from segmentkit.deliver.envelope import envelopes  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415
    from segmentkit.render.thumbnails import shot_thumbnails  # noqa: PLC0415
    from segmentkit.storyboard.load_look import load_look  # noqa: PLC0415

    with progress() as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
        plan, board = checked.plan, checked.loaded.board
        report("chart", 0, 1)
        look = load_look(board.look, checked.loaded.folder)
        pictures = {} if no_pictures else shot_thumbnails(plan, checked.facts, look)
        target = out or storyboard.parent / "out" / f"{storyboard.stem}-chart.html"
        write_chart(target, plan, board, thumbnails=pictures, envelopes=envelopes(plan))
    click.echo(str(target))
    return 0

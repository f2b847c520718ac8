"""`segmentkit captions`: captions, chapters, transcript, as-broadcast script."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD
from segmentkit.pipeline import check


@click.command("captions")
@STORYBOARD
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="The folder; else out/captions.")
@click.option(
    "--rules", "names", multiple=True, help="A set of rules, such as web; else those that the deliveries need."
)
def command(storyboard: Path, out: Path | None, names: tuple[str, ...]) -> int:
    """Write the words of STORYBOARD: WebVTT, SubRip-style, IMSC and EBU-TT-D captions, chapters, transcript, script."""
    from segmentkit.deliver.captions_files import write_captions, write_words  # noqa: PLC0415
    from segmentkit.plan.captions import captions_by  # noqa: PLC0415
    from segmentkit.render.areas import taken_areas  # noqa: PLC0415

    with progress() as report:
        checked = check(storyboard, progress=report)
    plan, board = checked.plan, checked.loaded.board
    taken = taken_areas(plan, checked.look, checked.facts)
    sets = captions_by(plan, names, board.segment.language, taken) if names else checked.captions
    folder = out or storyboard.parent / "out" / "captions"
    written = [file for made in sets for file in write_captions(folder, storyboard.stem, plan, board, made)]
    for file in (*written, *write_words(folder, storyboard.stem, plan, board)):
        click.echo(str(file))
    return 0

"""`segmentkit papers`: take-home sheet, contact sheet, rights and cue sheets, thumbnails, timeline."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, day, read_day

# Written out, so that --help need not load what makes them; a test holds them against the real ones.
KINDS = ("takehome", "contact", "rights", "thumbnails", "timeline")
SIZES = ("a4", "letter")


@click.command("papers")
@STORYBOARD
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="The folder; else out/papers.")
@click.option("--only", multiple=True, type=click.Choice(KINDS), help="Write this alone; may be given again.")
@click.option("--paper", type=click.Choice(SIZES), default="a4", show_default=True, help="Size of the paper.")
@click.option("--png", is_flag=True, help="Write sheets as PNG and not as PDF.")
@click.option("--grid", is_flag=True, help="Draw thirds over the pictures of the contact sheet.")
@click.option("--safe-area", is_flag=True, help="Draw the safe area over the pictures of the contact sheet.")
@click.option("--notes", is_flag=True, help="Leave room for notes beside the pictures of the contact sheet.")
@day
def command(
    storyboard: Path,
    out: Path | None,
    only: tuple[str, ...],
    paper: str,
    png: bool,
    grid: bool,
    safe_area: bool,
    notes: bool,
    today: str | None,
) -> int:
    """Write the papers of STORYBOARD; the take-home sheet needs `sheet:` in it."""
    from segmentkit.deliver.contact import ContactOptions  # noqa: PLC0415
    from segmentkit.deliver.paper import FORMATS  # noqa: PLC0415
    from segmentkit.papers import PaperChoice, write_papers  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415

    day_ = read_day(today) or datetime.date.today()
    with progress() as report:
        checked = check(storyboard, today=day_, progress=report)
        board, stem = checked.loaded.board, storyboard.stem
        folder = out or storyboard.parent / "out" / "papers"
        choice = PaperChoice(
            kinds=only or KINDS,
            paper=FORMATS[paper],
            suffix="png" if png else "pdf",
            contact=ContactOptions(format=FORMATS[paper], grid=grid, safe_area=safe_area, notes=notes),
        )
        written = write_papers(checked, checked.look, folder, stem, choice, day_, report)
    for file in written:
        click.echo(str(file))
    if board.sheet is None:
        click.echo("no take-home sheet: the storyboard has no `sheet:`", err=True)
    return 0

"""`segmentkit sheet`: the page that tells viewers how to film, with the numbers of the limits file."""

from __future__ import annotations

from pathlib import Path

import click


@click.command("sheet")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), default="how-to-film.html", show_default=True
)
@click.option("--limits", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="Limits of your own.")
@click.option("--words", type=click.Path(path_type=Path, file_okay=False), help="Folder with words of your own.")
def command(out: Path, limits: Path | None, words: Path | None) -> int:
    """Write the shooting instructions as one page to print, with two plans and a frame."""
    from segmentkit.intake.record import write_text  # noqa: PLC0415
    from segmentkit.intake.sheet import sheet_page  # noqa: PLC0415
    from segmentkit.storyboard.limits_file import intake_limits  # noqa: PLC0415

    click.echo(str(write_text(out, sheet_page(intake_limits(limits), words))))
    return 0

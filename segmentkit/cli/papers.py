"""`segmentkit papers`: take-home sheet, contact sheet, rights and cue sheets, thumbnails, timeline."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, day, read_day
from segmentkit.deliver.contact import ContactOptions, write_contact
from segmentkit.deliver.frozen import frozen_pictures
from segmentkit.deliver.manifest import write_delivery_list
from segmentkit.deliver.paper import FORMATS
from segmentkit.deliver.papers import write_rights, write_timeline
from segmentkit.deliver.takehome import take_home
from segmentkit.deliver.takehome_page import sheet_frames, write_take_home
from segmentkit.deliver.thumbs import thumbnails, write_thumbnails
from segmentkit.pipeline import Checked, check
from segmentkit.render.stills import bare, stills

KINDS = ("takehome", "contact", "rights", "thumbnails", "timeline")


@click.command("papers")
@STORYBOARD
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="The folder; else out/papers.")
@click.option("--only", multiple=True, type=click.Choice(KINDS), help="Write this alone; may be given again.")
@click.option("--paper", type=click.Choice(list(FORMATS)), default="a4", show_default=True, help="Size of the paper.")
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
    day_ = read_day(today) or datetime.date.today()
    with progress() as report:
        checked = check(storyboard, today=day_, progress=report)
        plan, board, stem = checked.plan, checked.loaded.board, storyboard.stem
        folder = out or storyboard.parent / "out" / "papers"
        wanted = only or KINDS
        suffix = "png" if png else "pdf"
        written: list[Path] = []
        if "rights" in wanted:
            written += write_rights(folder, stem, plan, board)
        if "timeline" in wanted:
            written.append(write_timeline(folder, stem, plan, checked.facts))
        report("pictures", 0, 1)
        if "takehome" in only or ("takehome" in wanted and board.sheet is not None):
            written.append(_take_home(checked, folder / f"{stem}-takehome.{suffix}", paper, day_))
        if "contact" in wanted:
            options = ContactOptions(format=FORMATS[paper], grid=grid, safe_area=safe_area, notes=notes)
            written += _contact(checked, folder / f"{stem}-contact.{suffix}", options)
        if "thumbnails" in wanted:
            written += _thumbnails(checked, folder, stem)
    written.append(write_delivery_list(folder / f"{stem}-papers.json", plan, written))
    for file in written:
        click.echo(str(file))
    if board.sheet is None:
        click.echo("no take-home sheet: the storyboard has no `sheet:`", err=True)
    return 0


def _take_home(checked: Checked, out: Path, paper: str, today: datetime.date) -> Path:
    sheet = take_home(checked.plan, checked.loaded.board, today)
    pictures = stills(bare(checked.plan), checked.facts, checked.look, sheet_frames(sheet))
    return write_take_home(out, sheet, pictures, FORMATS[paper])


def _contact(checked: Checked, out: Path, options: ContactOptions) -> tuple[Path, ...]:
    frozen = frozen_pictures(checked.plan)
    pictures = stills(checked.plan, checked.facts, checked.look, [one.frame for one in frozen])
    return write_contact(out, checked.plan, checked.loaded.board, frozen, pictures, options)


def _thumbnails(checked: Checked, folder: Path, stem: str) -> tuple[Path, ...]:
    chosen = thumbnails(checked.plan)
    pictures = stills(bare(checked.plan), checked.facts, checked.look, [one.frame for one in chosen])
    return write_thumbnails(folder, stem, checked.plan, chosen, pictures)

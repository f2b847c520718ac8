"""`segmentkit season`: a season in figures, on one page that names nobody."""

from __future__ import annotations

import datetime
import json
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import day, json_output, read_day

if TYPE_CHECKING:
    from segmentkit.season.report import Lengths
    from segmentkit.storyboard.load import LoadedStoryboard


@click.command("season")
@click.argument("file", metavar="SEASON", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The page; else statistics.html.")
@click.option(
    "--people", type=click.Path(path_type=Path, dir_okay=False),
    help="Also write whose turn it is: follow-ups due, releases that end. It names people; keep it apart.",
)  # fmt: skip
@click.option("--made", type=click.Path(path_type=Path, file_okay=False), help="Folder of finished files; else out/.")
@click.option("--days", metavar="N", type=click.IntRange(1, 1000), help="Days from an airing to its follow-up; 100.")
@click.option("--quick", is_flag=True, help="Plan no storyboard: without lengths of music and disclosures.")
@day
@json_output
def command(
    file: Path, out: Path | None, people: Path | None, made: Path | None, days: int | None, quick: bool,
    today: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Count SEASON: what came and was used, what is on air when, who demonstrates, how long it took, what ends when.

    Writes a page with plots, and beside it the same as JSON and CSV. Nobody is named in them: viewers are counted,
    places with few viewers are folded together, demonstrators are letters.
    """
    from segmentkit.intake.record import write_text  # noqa: PLC0415
    from segmentkit.season.follow_due import DAYS  # noqa: PLC0415
    from segmentkit.season.report import figures, open_follow_ups  # noqa: PLC0415
    from segmentkit.season.report_data import as_data, csv_text, people_text, write_people  # noqa: PLC0415
    from segmentkit.season.report_page import season_page  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    date = read_day(today) or datetime.date.today()
    season = load_season(file)
    with progress(quiet=as_json or quick) as report:
        times = None if quick else _times(date, file, len(season.season.items), report)
        counted = figures(season, date, days=days or DAYS, times=times, out=made)
    page = out or file.parent / "statistics.html"
    write_text(page, season_page(counted))
    data = json.dumps(as_data(counted), indent=2, ensure_ascii=False) + "\n"
    write_text(page.with_suffix(".json"), data)
    write_text(page.with_suffix(".csv"), csv_text(counted))
    if people is not None:
        write_people(people, people_text(season, counted, open_follow_ups(season, date, days or DAYS)))
    if as_json:
        click.echo(data, nl=False)
        return 0
    click.echo(f"{counted.items} items, {counted.aired} aired; {counted.came} submissions, {counted.used} used")
    if counted.median is not None:
        click.echo(f"from receipt to air: median {counted.median:g} days, nine in ten within {counted.ninety:g}")
    if counted.asked:
        click.echo(f"follow-ups: {counted.answered} of {counted.asked} answered, {counted.due} due")
    if counted.failed:
        of = ", ".join(f"{number} {profile}" for profile, number in counted.failed)
        click.echo(f"failed quality control and kept aside: {of}")
    for clash in counted.clashes:
        click.echo(f"neighbours: {clash}")
    for path in (page, page.with_suffix(".json"), page.with_suffix(".csv"), *([people] if people else [])):
        click.echo(str(path))
    return 0


def _times(
    today: datetime.date, file: Path, items: int, report: Callable[[str, int, int], None]
) -> Callable[[LoadedStoryboard], Lengths]:
    """Plans storyboards one after the other, in the season's own working folder."""
    from segmentkit.season.report_times import lengths_on  # noqa: PLC0415  loads decoders
    from segmentkit.season.run import store_of  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    os.environ["SEGMENTKIT_STORE"] = str(store_of(load_season(file)).root)
    done = iter(range(items + 1))

    def told(plan: Callable[[LoadedStoryboard], Lengths], board: LoadedStoryboard) -> Lengths:
        report("storyboards", next(done), items)
        return plan(board)

    return partial(told, partial(lengths_on, today))

"""`segmentkit batch`: a season of viewers, from what they sent to what is delivered."""

from __future__ import annotations

import json
import re
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import day, house_rules, read_day, rules_file
from segmentkit.cli.stopping import heed
from segmentkit.errors import StoryboardUnreadable

if TYPE_CHECKING:
    import datetime

    from segmentkit.season.carry import Carrier
    from segmentkit.season.crew import Crew
    from segmentkit.season.outcome import Outcome, SeasonReport
    from segmentkit.season.room import Room
    from segmentkit.storyboard.season import LoadedSeason


_LEAST = 600_000_000
"""Bytes below which a worker could not even load its libraries."""
MORE = """\b
Keys of a season: season (its title), programme, template, deliver, store, papers, items.
Keys of an item, which are also the columns of a table:
  id          names its folder
  submission  folder of the intake record; folder#name where it holds several
  storyboard  a storyboard that is ready, or
  template    a template, filled into <id>/storyboard.yaml; edited by hand it stays
  fill        its blanks: a mapping or a file; in a table also fill.remark and so on
  name        the viewer's name, to hold the row against the record
  air         day of airing: earlier ones are made first; received: when it came
  deliver     profiles, where they are not the season's
  fault       what it teaches; model: who demonstrates; not the same twice in a row
  follows     the earlier item of the same viewer

\b
Exit codes:
  0    all is there
  1    some items are explained instead, or a file failed quality control
  2    nothing was begun: unreadable, rows have slipped, or the disk has no room
  5    the disk refused on the way
  130  stopped by a person; nothing is left half"""


@click.command("batch", epilog=MORE)
@click.argument("season", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--only", metavar="ID", multiple=True, help="Only this item; may be given several times.")
@click.option("--until", metavar="DATE", help="Only what is aired up to this day.")
@click.option(
    "--jobs", metavar="N", type=click.IntRange(1, 256), help="Items made at once here; else half the processors."
)
@click.option(
    "--memory", metavar="SIZE", help="Memory of each of them, such as 3GB; else an equal part of what is free."
)
@click.option("--scheduler", metavar="ADDRESS", help="Many machines: a dask scheduler, such as tcp://10.0.0.5:8786.")
@click.option("--retries", metavar="N", type=click.IntRange(0, 9), default=2, help="Further tries of what may pass; 2.")
@click.option(
    "--papers/--no-papers", default=None, help="Papers of each item beside its files; else as the season says."
)
@click.option("--dry", is_flag=True, help="Say what would be made and how much room it needs.")
@click.option("--rehearsal", is_flag=True, help="Let guide voices stand in for what is not recorded.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="Folder of finished files; else out/."
)
@rules_file
@day
@click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object a line: each item as it is done, then the sum."
)
def command(
    season: Path,
    only: tuple[str, ...],
    until: str | None,
    jobs: int | None,
    memory: str | None,
    scheduler: str | None,
    retries: int,
    papers: bool | None,
    dry: bool,
    rehearsal: bool,
    out: Path | None,
    rules: Path | None,
    today: str | None,
    as_json: bool,
) -> int:
    """Make every item of SEASON (YAML, or a table as CSV): consent, check, render in each profile.

    What was made before and has not changed is left alone, so the same command goes on after any stop. What cannot be
    made is explained and holds up nobody else; a release that was taken back takes its files away. A file that fails
    quality control is kept aside under a name that says so, with its report, and is no delivery. Writes a folder for
    each item with its files, captions, manifests and, where asked for, papers; season.html to look at, wall.png with
    each name beside its face, deliveries.html and deliveries.csv with length, levels, checksum and verdict of every
    file, and journal.jsonl. The delivery card of one item: `segmentkit deliver`.
    """
    import datetime  # noqa: PLC0415

    from segmentkit.season.outcome import Options  # noqa: PLC0415
    from segmentkit.season.run import run_season  # noqa: PLC0415  loads decoders
    from segmentkit.season.summary import outcome_data, report_data, summary  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    try:
        loaded = load_season(season)
    except StoryboardUnreadable as error:
        click.echo(str(error), err=True)
        return 2
    _known(only, loaded)
    target = out or season.parent / "out"
    options = Options(
        only=only, until=read_day(until), today=read_day(today) or datetime.date.today(), retries=retries, dry=dry,
        final=not rehearsal, rules=house_rules(rules), papers=loaded.season.papers if papers is None else papers,
    )  # fmt: skip

    room = _room(jobs, memory)
    if room.said and scheduler is None and not dry:
        click.echo(room.said, err=True)

    def told(outcome: Outcome) -> None:
        if as_json:
            click.echo(json.dumps({"event": "item", **outcome_data(outcome)}, ensure_ascii=False))

    shown = nullcontext(lambda *_: heed()) if as_json else progress()
    with shown as report:
        made = run_season(loaded, target, options, lambda: _hired(room, scheduler, target), progress=report, seen=told)
    page = "" if dry else str(_pages(made, loaded, options.today))
    if as_json:
        if dry:
            for outcome in made.outcomes:
                told(outcome)
        click.echo(json.dumps({"event": "season", **report_data(made), "page": page}, ensure_ascii=False))
    else:
        for line in summary(made, page):
            click.echo(line)
    return made.exit_code


def _room(jobs: int | None, memory: str | None) -> Room:
    from segmentkit.season.crew import usual_workers  # noqa: PLC0415
    from segmentkit.season.room import free_memory, room_for  # noqa: PLC0415

    return room_for(jobs or usual_workers(), free_memory(), _bytes(memory))


def _bytes(text: str | None) -> int | None:
    if text is None:
        return None
    match = re.fullmatch(r"(\d{1,6}(?:\.\d{1,3})?)\s*([MG])B", text.strip(), re.IGNORECASE | re.ASCII)
    size = int(float(match[1]) * (10**9 if match[2].upper() == "G" else 10**6)) if match else 0
    if size < _LEAST:
        raise click.BadParameter(
            f"{text!r} is no size a worker can do with — write it such as 3GB, at least 600MB", param_hint="--memory"
        )
    return size


def _hired(room: Room, scheduler: str | None, out: Path) -> tuple[Crew, Carrier]:
    from segmentkit.season.carry import Shared  # noqa: PLC0415
    from segmentkit.season.crew import LocalCrew  # noqa: PLC0415

    if scheduler is None:
        return LocalCrew(room.workers, room.memory), Shared()
    from segmentkit.season.cluster import ClusterCrew  # noqa: PLC0415

    crew = ClusterCrew(scheduler)
    return crew, crew.carrier(out)


def _pages(made: SeasonReport, season: LoadedSeason, today: datetime.date) -> Path:
    from segmentkit.season.delivery_list import write_delivery_list  # noqa: PLC0415
    from segmentkit.season.page import write_pages  # noqa: PLC0415

    write_delivery_list(made, season, today)
    return write_pages(made)[0]


def _known(only: tuple[str, ...], season: LoadedSeason) -> None:
    strangers = [id_ for id_ in only if id_ not in season.items]
    if strangers:
        raise click.BadParameter(f"{strangers[0]!r} is not an item of {season.file}", param_hint="--only")

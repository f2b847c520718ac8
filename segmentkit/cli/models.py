"""`segmentkit models`: which demonstrator's clip to put beside a viewer's, with reasons."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from segmentkit.cli.options import day, json_output, read_day
from segmentkit.errors import StoryboardUnreadable

if TYPE_CHECKING:
    from segmentkit.season.follow_compare import Sighting
    from segmentkit.season.models_rank import Ranking
    from segmentkit.storyboard.library import LoadedLibrary


@click.command("models")
@click.argument("place", metavar="CLIP")
@click.argument("library", type=click.Path(path_type=Path))
@click.option("--view", type=click.Choice(["down-the-line", "face-on"]), help="The view, if the viewer sent two.")
@click.option(
    "--season", "file", type=click.Path(path_type=Path, exists=True, dir_okay=False),
    help="A season, to see how often each was on air.",
)  # fmt: skip
@click.option("--air", metavar="DATE", help="The day of airing, to see who is on next to it.")
@click.option("--most", type=click.IntRange(1, 50), default=5, help="How many to list; 5.")
@click.option("--sheet", type=click.Path(path_type=Path, dir_okay=False), help="Write a page with all at address.")
@day
@json_output
def command(
    place: str, library: Path, view: str | None, file: Path | None, air: str | None, most: int, sheet: Path | None,
    today: str | None, as_json: bool,
) -> int:  # fmt: skip
    """Rank the clips of LIBRARY (a library.yaml or its folder) for a viewer's CLIP, with reasons.

    A library is a text with `library: 1`, and with people and clips as in a storyboard.
    CLIP is a place such as march#s03 (a submission) or hips/storyboard.yaml#marta_dtl (a clip). Another view, another
    kind of club or a release that does not hold keeps a clip out of the list. Exit code 1: nobody fits.
    """
    from segmentkit.cli.console import show_json  # noqa: PLC0415
    from segmentkit.season.follow import refuse_barred  # noqa: PLC0415
    from segmentkit.season.follow_find import sightings  # noqa: PLC0415
    from segmentkit.season.models_rank import rank, recently  # noqa: PLC0415
    from segmentkit.storyboard.library import load_library  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    seen = [one for one in sightings(place) if view in {None, one.view.value}]
    if len(seen) != 1:
        raise StoryboardUnreadable(
            f"{place} — has {len(seen)} clips{f' filmed {view}' if view else ''} — one is needed — say which with"
            " --view"
        )
    used = recently(load_season(file), _air(air)) if file is not None else None
    date = read_day(today) or datetime.date.today()
    ranking = rank(seen[0], load_library(library), date, used, most)
    if sheet is not None:
        refuse_barred(seen[0], date)
        _sheet(sheet, seen[0], ranking, load_library(library))
    if as_json:
        show_json({
            "clip": seen[0].name,
            "best": [
                {"clip": c.id, "person": c.who, "file": str(c.file), "mirror": c.mirror, "reasons": list(c.reasons)}
                for c in ranking.best
            ],
            "refused": [{"clip": id_, "why": why} for id_, why in ranking.refused],
        })  # fmt: skip
    else:
        for number, one in enumerate(ranking.best, 1):
            click.echo(f"{number}. {click.style(one.id, bold=True)} ({one.who})")
            for reason in one.reasons:
                click.echo(f"     {reason}")
        if not ranking.best:
            click.echo("nobody in the library fits this clip")
        for id_, why in ranking.refused:
            click.echo(f"not {id_}: {why}")
    return 0 if ranking.best else 1


def _sheet(path: Path, viewer: Sighting, ranking: Ranking, library: LoadedLibrary) -> None:
    """The viewer and the best clips at address, at one size, with the reasons."""
    from segmentkit.intake.record import write_text  # noqa: PLC0415
    from segmentkit.season.beside import Column, beside_page  # noqa: PLC0415
    from segmentkit.season.follow_find import sighting_of  # noqa: PLC0415

    columns = [Column(one=viewer, name=viewer.name)]
    for number, one in enumerate(ranking.best, 1):
        clip = library.library.clips[one.id]
        shown = sighting_of(one.id, clip, one.who, library.library.people[one.who], library.folder)
        columns.append(Column(one=shown, name=f"{number}. {one.id}", mirror=one.mirror, reasons=one.reasons))
    write_text(path, beside_page("Who may stand beside this clip", columns, ("address",)))


def _air(text: str | None) -> datetime.date | None:
    try:
        return None if text is None else datetime.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a date — write year-month-day", param_hint="--air") from None

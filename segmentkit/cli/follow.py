"""`segmentkit follow`: who is due to be asked again, whether then and now are comparable, and the follow-up begun."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from segmentkit.cli.console import progress, show_json
from segmentkit.cli.options import day, json_output, read_day
from segmentkit.errors import StoryboardUnreadable

if TYPE_CHECKING:
    from segmentkit.season.follow import Pair
    from segmentkit.season.follow_compare import Sighting
    from segmentkit.season.follow_due import Due
    from segmentkit.season.follow_start import Started
    from segmentkit.storyboard.template import Values


@click.command("follow")
@click.argument("places", metavar="SEASON | EARLIER LATER", nargs=-1, required=True)
@click.option("--model", metavar="PLACE", help="The demonstrator's clip: storyboard.yaml#clip or library.yaml#clip.")
@click.option("--view", type=click.Choice(["down-the-line", "face-on"]), help="The view to compare, if there are two.")
@click.option("--then", metavar="DATE", help="The day of the earlier clip, if its record does not say it.")
@click.option("--now", metavar="DATE", help="The day of the later clip, if its record does not say it.")
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="Start the follow-up here.")
@click.option(
    "--sheet", type=click.Path(path_type=Path, dir_okay=False),
    help="Write a page with then, now and the demonstrator beside one another.",
)  # fmt: skip
@click.option("--values", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="Values for its blanks.")
@click.option("--set", "given", multiple=True, metavar="NAME=VALUE", help="One value, such as topic=Hips.")
@click.option("--days", metavar="N", type=click.IntRange(1, 1000), help="Days from the airing to the letter; 100.")
@click.option("--letters", is_flag=True, help="Write the letters to those who are due, into letters/ or --out.")
@click.option("--limits", type=click.Path(path_type=Path, exists=True, dir_okay=False), help="Limits of your own.")
@click.option("--words", type=click.Path(path_type=Path, file_okay=False), help="Folder with words of your own.")
@day
@json_output
def command(
    places: tuple[str, ...], model: str | None, view: str | None, then: str | None, now: str | None, out: Path | None,
    sheet: Path | None, values: Path | None, given: tuple[str, ...], days: int | None, letters: bool,
    limits: Path | None, words: Path | None, today: str | None, as_json: bool,
) -> int:  # fmt: skip
    """With a SEASON: list who is due to be asked how it is going. With two clips: compare them.

    EARLIER and LATER are places such as march#s03 (a submission), or hips/storyboard.yaml#marta_dtl (a clip). View,
    hand, club, consent and the camera are compared, each with its tolerance; with --out the follow-up is started:
    then, now and the demonstrator at the same moments, from the template follow_up.

    The list names people; it is no part of any statistics. Exit code 1: not comparable.
    """
    from segmentkit.storyboard.limits_file import intake_limits  # noqa: PLC0415

    date, numbers = read_day(today) or datetime.date.today(), intake_limits(limits)
    if len(places) == 1:
        return _listed(Path(places[0]), date, days, numbers, words, out, letters, as_json)
    if len(places) > 2:
        raise click.UsageError("name a season, or two clips: the earlier one and the later one")
    from segmentkit.season.follow import compare, pair_up, refuse_barred  # noqa: PLC0415
    from segmentkit.season.follow_compare import Answer  # noqa: PLC0415
    from segmentkit.season.follow_find import sightings  # noqa: PLC0415
    from segmentkit.season.follow_start import start  # noqa: PLC0415
    from segmentkit.storyboard.people import View  # noqa: PLC0415

    first, second = pair_up(
        places[0], places[1], View(view) if view else None, (_date(then, "--then"), _date(now, "--now"))
    )  # fmt: skip
    with progress(quiet=as_json) as report:
        pair = compare(first, second, date, distance=numbers.distance, height=numbers.height, progress=report)
    started = None
    shown = sightings(model)[0] if model else None
    if shown is not None:
        refuse_barred(shown, date)
    if sheet is not None and pair.camera is not None:
        _sheet(sheet, pair, shown)
    if out is not None and pair.compared.answer is not Answer.NO:
        started = start(pair, shown, out, _given(values, given))
    if as_json:
        show_json(pair_data(pair, started))
    else:
        _told(pair, started)
    return 1 if pair.compared.answer is Answer.NO else 0


_LOOKED_AT = ("address", "top", "impact", "finish")


def _sheet(path: Path, pair: Pair, model: Sighting | None) -> None:
    """Then, now and the demonstrator, dates beneath, with all that must be said of them."""
    from segmentkit.intake.record import write_text  # noqa: PLC0415
    from segmentkit.season.beside import Column, beside_page  # noqa: PLC0415

    columns = [
        Column(one=pair.then, name="Then", below=str(pair.then.day)),
        Column(one=pair.now, name="Now", below=str(pair.now.day)),
    ]  # fmt: skip
    if model is not None:
        other = pair.now.person.handed is not model.person.handed and model.person.handed is not None
        columns.append(Column(one=model, name=model.person.shown, mirror=other and pair.now.person.handed is not None))
    notes = [pair.compared.answer.value, *(ground.what for ground in pair.compared.grounds), *pair.compared.without]
    write_text(path, beside_page("Then and now", columns, _LOOKED_AT, notes))


def _date(text: str | None, option: str) -> datetime.date | None:
    try:
        return None if text is None else datetime.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a date — write year-month-day", param_hint=option) from None


def _given(values: Path | None, given: tuple[str, ...]) -> Values:
    from segmentkit.storyboard.template import read_values, values_of, values_of_text  # noqa: PLC0415

    said: dict[str, str] = {}
    for pair in given:
        name, found, value = pair.partition("=")
        if not found or not name.strip():
            raise click.BadParameter(f"{pair!r} has no value — write a name and its value", param_hint="--set")
        said[name.strip()] = value
    return values_of(said, "--set").over(read_values(values) if values is not None else values_of_text("", "values"))


def _listed(
    file: Path, today: datetime.date, days: int | None, limits: Any, words: Path | None, out: Path | None,
    letters: bool, as_json: bool,
) -> int:  # fmt: skip
    from segmentkit.season.follow_due import DAYS, LETTERS, due_list, write_reminders  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    if not file.is_file():
        raise StoryboardUnreadable(f"{file} — there is no such file — name a season's file, or two clips")
    season = load_season(file)
    listed = due_list(season, today, days or DAYS)
    written = write_reminders(listed, out or season.folder / LETTERS, limits, words, today) if letters else {}
    if as_json:
        show_json([due_data(one, written.get(one.item)) for one in listed])
        return 0
    for one in listed:
        more = f": {one.why or one.by}" if one.why or one.by else ""
        click.echo(f"{one.on}  {one.item} ({one.sent.person_id}), aired {one.aired} — {one.stage.value}{more}")
    for path in written.values():
        click.echo(str(path))
    return 0


def due_data(one: Due, letter: Path | None) -> dict[str, Any]:
    """A line of the list as data."""
    return {
        "item": one.item, "person": one.sent.person_id, "submission": one.sent.name, "aired": one.aired.isoformat(),
        "on": one.on.isoformat(), "stage": one.stage.value, "by": one.by, "why": one.why,
        "letter": None if letter is None else str(letter),
    }  # fmt: skip


def pair_data(pair: Pair, started: Started | None) -> dict[str, Any]:
    """A comparison as data."""
    from segmentkit.season.follow_compare import CANNOT  # noqa: PLC0415

    return {
        "then": pair.then.name, "now": pair.now.name, "view": pair.then.view.value,
        "answer": pair.compared.answer.value,
        "grounds": [
            {"id": ground.id, "what": ground.what, "answer": ground.answer.value, "so": ground.so}
            for ground in pair.compared.grounds
        ],
        "without": list(pair.compared.without), "cannot_be_known": list(CANNOT),
        "storyboard": None if started is None or started.storyboard is None else str(started.storyboard),
        "values": None if started is None else str(started.values),
        "wanted": [] if started is None else list(started.wanted),
    }  # fmt: skip


def _told(pair: Pair, started: Started | None) -> None:
    from segmentkit.season.follow_compare import CANNOT, Answer  # noqa: PLC0415

    colours = {Answer.YES: "green", Answer.WITH_CARE: "yellow", Answer.NO: "red"}
    click.echo(f"then: {pair.then.name}    now: {pair.now.name}")
    for ground in pair.compared.grounds:
        mark = {Answer.YES: "fits", Answer.WITH_CARE: "care", Answer.NO: "no"}[ground.answer]
        click.echo(f"  {click.style(f'{mark:4}', fg=colours[ground.answer])}  {ground.what}")
    answer = pair.compared.answer
    click.echo(click.style(answer.value, fg=colours[answer], bold=True))
    for one in pair.compared.without:
        click.echo(f"  say or leave out: {one}")
    if pair.camera is not None:
        click.echo("not to be known from these pictures:")
        for one in CANNOT:
            click.echo(f"  {one}")
    if started is None:
        return
    click.echo(str(started.values))
    if started.storyboard is not None:
        click.echo(str(started.storyboard))
        return
    for line in started.wanted:
        click.echo(f"  wanted: {line}")
    click.echo(f"fill in {started.values}, then call this again with --values {started.values}")

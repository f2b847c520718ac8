"""`segmentkit keep`: what must go by when, and away with what is due."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from segmentkit.cli.options import day, json_output, read_day


@click.command("keep")
@click.argument("file", metavar="SEASON", type=click.Path(path_type=Path, exists=True, dir_okay=False))
@click.option("--by", metavar="DATE", help="List what must go up to this day; else all that has an end.")
@click.option("--unused", metavar="DAYS", type=click.IntRange(1, 3650), help="Keep what nobody used for so long; 180.")
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="Finished files; else out/.")
@click.option("--yes", is_flag=True, help="Remove what is due today. Without this nothing is touched.")
@day
@json_output
def command(
    file: Path, by: str | None, unused: int | None, out: Path | None, yes: bool, today: str | None, as_json: bool
) -> int:
    """List whose things must go by when in SEASON; with --yes, remove what is due today.

    A person's things go when the last of their releases has ended, when the release was taken back, or when what they
    sent was not used for a while. Licences of music, stills and clips are listed with their ends as well; finished
    files whose licence has ended are taken away by `segmentkit batch` and not here. The list names people and stays in
    the house.

    Exit code 0: nothing is due, or what was due is gone; 1: something is due, or could not be removed.
    """
    from segmentkit.cli.console import show_json  # noqa: PLC0415
    from segmentkit.season.ageing import UNUSED, endings, let_go  # noqa: PLC0415
    from segmentkit.season.licences import licence_ends  # noqa: PLC0415
    from segmentkit.storyboard.season import load_season  # noqa: PLC0415

    date = read_day(today) or datetime.date.today()
    until = _read(by)
    season = load_season(file)
    target = out or file.parent / "out"
    listed = [one for one in endings(season, unused or UNUSED) if until is None or one.due(until)]
    due = [one for one in listed if one.due(date)]
    licences = [one for one in licence_ends(season, target) if until is None or (one.until and one.until < until)]
    ended = [one for one in licences if one.due(date)]
    gone = {}
    if yes:
        for ending, withdrawal, left in let_go(due, file, target, date):
            gone[ending.who] = {"found": len(withdrawal.found), "left": left}
    if as_json:
        show_json([
            *({
                "person": one.who, "on": one.on.isoformat() if one.on else None, "why": one.why, "due": one.due(date),
                "submissions": [sent.name for sent in one.sents], **gone.get(one.who, {}),
            } for one in listed),
            *({
                "licence": one.name, "by": one.by, "reference": one.reference, "territory": one.territory,
                "until": one.until.isoformat() if one.until else None, "due": one.due(date), "items": list(one.items),
            } for one in licences),
        ])  # fmt: skip
    else:
        for one in listed:
            when = one.on.isoformat() if one.on else "no end"
            state = "due" if one.due(date) else "kept"
            done = f"; {gone[one.who]['found']} files removed, {gone[one.who]['left']} left" if one.who in gone else ""
            click.echo(f"{when}  {state:4}  {one.who}: {one.why}{done}")
        for licence in licences:
            end = licence.until.isoformat() if licence.until else "no end"
            click.echo(f"{end}  {'due' if licence.due(date) else 'kept':4}  {licence}")
        if ended:
            click.echo(f"{len(ended)} licences have ended: `segmentkit batch` takes their files away", err=True)
        if due and not yes:
            click.echo(f"nothing was touched: {len(due)} are due; remove what is theirs with --yes", err=True)
    if yes:
        return 1 if ended or any(one["left"] for one in gone.values()) else 0
    return 1 if due or ended else 0


def _read(text: str | None) -> datetime.date | None:
    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise click.BadParameter(f"{text!r} is not a date — write year-month-day", param_hint="--by") from None

"""`segmentkit deliver`: everything that a storyboard delivers."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import counted, progress, show_findings, show_json, show_refusal
from segmentkit.cli.options import (
    STORYBOARD,
    day,
    house_rules,
    json_output,
    override_options,
    read_day,
    read_override,
    rules_file,
)
from segmentkit.errors import NotFit


@click.command("deliver")
@STORYBOARD
@click.option("--only", multiple=True, metavar="PROFILE", help="These deliveries alone: names, parted by commas.")
@click.option("-o", "--out", type=click.Path(path_type=Path, file_okay=False), help="The folder; else out/<name>.")
@click.option("--rehearsal", is_flag=True, help="Let a guide voice stand in for what is not recorded.")
@click.option("--no-papers", is_flag=True, help="Leave out sheets, lists and transcripts.")
@override_options
@rules_file
@day
@json_output
def command(
    storyboard: Path,
    only: tuple[str, ...],
    out: Path | None,
    rehearsal: bool,
    no_papers: bool,
    override_by: str | None,
    because: str | None,
    rules: Path | None,
    today: str | None,
    as_json: bool,
) -> int:
    """Make all that `deliver:` of STORYBOARD names: files, captions, papers, a card to look at, one list of all.

    A delivery that cannot be made does not stop the others; the exit code tells of it.
    """
    from segmentkit.deliveries import deliver_all  # noqa: PLC0415

    folder = out or storyboard.parent / "out" / storyboard.stem
    try:
        with progress(quiet=as_json) as report:
            made = deliver_all(
                storyboard,
                folder,
                only=[name.strip() for names in only for name in names.split(",") if name.strip()],
                final=not rehearsal,
                papers=not no_papers,
                today=read_day(today),
                rules=house_rules(rules),
                override=read_override(override_by, because, today),
                progress=report,
            )
    except NotFit as refused:
        return show_refusal(refused, "delivered", as_json=as_json)
    if as_json:
        show_json(
            {
                "folder": str(folder),
                "files": {item.delivery.name: str(item.out) if item.movie else None for item in made.items},
                "card": str(made.card),
                "list": str(made.listed),
                "findings": [finding.as_data() for finding in made.checked.findings],
            }
        )
        return made.exit_code
    show_findings(made.checked.findings)
    for item in made.items:
        if item.movie is not None:
            click.echo(f"{item.delivery.name}: {item.out}")
        else:
            first = str(item.problem).splitlines()[0]
            click.echo(f"{item.delivery.name}: {click.style('not delivered', fg='red')} — {first}")
    done = sum(item.movie is not None for item in made.items)
    click.echo(f"{done} of {len(made.items)} delivered; look at {made.card}; {counted(made.checked.findings)}")
    return made.exit_code

"""`segmentkit cards`: the wall of all cards."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, looked_at, version_option


@click.command("cards")
@STORYBOARD
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), help="The PNG; else out/<name>-cards.png."
)
@version_option
def command(storyboard: Path, out: Path | None, profile: str | None) -> int:
    """Draw every card and label of STORYBOARD on one sheet: how long it stands, how long it needs, what was found."""
    from segmentkit.deliver.wall import wall_entries, write_wall  # noqa: PLC0415
    from segmentkit.pipeline import check  # noqa: PLC0415
    from segmentkit.render.stills import stills  # noqa: PLC0415

    with progress() as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
        entries = wall_entries(checked.plan, checked.findings)
        report("cards", 0, 1)
        pictures = stills(checked.plan, checked.facts, checked.look, (entry.frame for entry in entries))
        target = out or storyboard.parent / "out" / f"{storyboard.stem}-cards.png"
        write_wall(target, checked.plan, entries, pictures)
    click.echo(str(target))
    return 0

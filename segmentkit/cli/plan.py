"""`segmentkit plan`: when everything happens."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD, looked_at, version_option


@click.command("plan")
@STORYBOARD
@version_option
def command(storyboard: Path, profile: str | None) -> int:
    """Show the plan of STORYBOARD: label, first frame, frames, kind and what, one line an event."""
    from segmentkit.pipeline import check  # noqa: PLC0415
    from segmentkit.plan.text import plan_text  # noqa: PLC0415

    with progress() as report:
        checked = check(storyboard, deliver=looked_at(storyboard, profile), progress=report)
    click.echo(plan_text(checked.plan), nl=False)
    return 0

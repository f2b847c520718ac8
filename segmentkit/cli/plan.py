"""`segmentkit plan`: when everything happens."""

from __future__ import annotations

from pathlib import Path

import click

from segmentkit.cli.console import progress
from segmentkit.cli.options import STORYBOARD
from segmentkit.pipeline import check
from segmentkit.plan.text import plan_text


@click.command("plan")
@STORYBOARD
def command(storyboard: Path) -> int:
    """Show the plan of STORYBOARD: label, first frame, frames, kind and what, one line an event."""
    with progress() as report:
        checked = check(storyboard, progress=report)
    click.echo(plan_text(checked.plan), nl=False)
    return 0

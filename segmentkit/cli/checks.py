"""`segmentkit checks`: what is looked for, and why."""

from __future__ import annotations

import textwrap

import click

from segmentkit.cli.console import show_json
from segmentkit.cli.options import json_output


@click.command("checks")
@json_output
def command(as_json: bool) -> int:
    """List every check: its id, how much it weighs, and why it matters."""
    from segmentkit.checks.registry import ALL  # noqa: PLC0415

    if as_json:
        show_json([{"id": c.id, "severity": c.severity.value, "locked": c.locked, "why": c.why} for c in ALL])
        return 0
    for check in ALL:
        lock = ", cannot be lowered" if check.locked else ""
        click.echo(f"{click.style(check.id, bold=True)} ({check.severity.value}{lock})")
        click.echo(textwrap.fill(check.why, 96, initial_indent="    ", subsequent_indent="    "))
    return 0

"""`segmentkit keys`: every key of a storyboard."""

from __future__ import annotations

import click


@click.command("keys")
def command() -> int:
    """Explain every key of a storyboard: what it takes, what holds without it."""
    from segmentkit.storyboard.reference import key_reference  # noqa: PLC0415

    click.echo(key_reference(), nl=False)
    return 0
